"""Filters whose choices are known, so that a list does not search its table for them."""

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from django.contrib import admin
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.utils import timezone

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


class WhenFilter(admin.SimpleListFilter):
    """Jobs by their window, from now. A calendar by year and month would read every job to offer its years."""

    title = "when"
    parameter_name = "when"

    def lookups(self, request: HttpRequest, model_admin: Any) -> list[tuple[str, str]]:
        return [
            ("coming", "the coming 7 days"),
            ("later", "later than that"),
            ("past", "the past 7 days"),
            ("no_time", "no time yet"),
        ]

    def queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> QuerySet[Any] | None:
        now, week = timezone.now(), timedelta(days=7)
        chosen = {
            "coming": Q(window_start__gte=now, window_start__lt=now + week),
            "later": Q(window_start__gte=now + week),
            "past": Q(window_start__gte=now - week, window_start__lt=now),
            "no_time": Q(window_start=None),
        }.get(self.value() or "")
        return None if chosen is None else queryset.filter(chosen)
