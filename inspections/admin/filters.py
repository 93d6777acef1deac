"""Filters whose choices are known, so that a list does not search its table for them."""

from collections.abc import Iterable
from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from inspections.admin import roles, shown
from inspections.models import User


def closed_list(field: str, values: Iterable[str], called: str = "") -> type[admin.SimpleListFilter]:
    """Return a filter over the words of a closed list."""
    known = [(value, shown.words(value)) for value in values]

    class ClosedList(admin.SimpleListFilter):
        title = called or shown.words(field)
        parameter_name = field

        def lookups(self, request: HttpRequest, model_admin: Any) -> list[tuple[str, str]]:
            return known

        def queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> QuerySet[Any] | None:
            return queryset.filter(**{field: self.value()}) if self.value() else None

    return ClosedList


class InspectorFilter(admin.SimpleListFilter):
    """Jobs of one inspector of the organisation, or of nobody yet."""

    title = "inspector"
    parameter_name = "inspector"

    def lookups(self, request: HttpRequest, model_admin: Any) -> list[tuple[str, str]]:
        people = roles.visible(request, User.objects.filter(role="inspector"), "organisation").order_by("username")
        return [("nobody", "nobody yet"), *((str(one.pk), one.get_full_name() or one.username) for one in people)]

    def queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> QuerySet[Any] | None:
        chosen = self.value()
        if chosen == "nobody":
            return queryset.filter(inspector=None)
        return queryset.filter(inspector=int(chosen)) if chosen and chosen.isdigit() else None
