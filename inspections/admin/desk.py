"""What every page of the desk does: shows own records only, by role, and changes nothing except through services."""

from typing import Any, ClassVar

from django import forms
from django.contrib import admin, messages
from django.contrib.admin.options import InlineModelAdmin
from django.contrib.admin.views.main import PAGE_VAR
from django.contrib.admin.widgets import AutocompleteSelect
from django.core.exceptions import PermissionDenied
from django.db.models import ForeignKey, Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.template.response import TemplateResponse

from inspections.actor import Actor
from inspections.admin import roles, searching, shown
from inspections.errors import Refused
from inspections.models import AuditEntry, Organisation
from inspections.queries import personal
from inspections.services.revisions import Expected

_ENTRIES_A_PAGE = 50


class NamedChoice(AutocompleteSelect):
    """A field that searches as one types, named for readers of screens while nothing is chosen."""

    def build_attrs(self, base_attrs: Any, extra_attrs: Any = None) -> Any:
        attrs = super().build_attrs(base_attrs, extra_attrs)
        return {**attrs, "data-placeholder": f"choose a {self.field.name.replace('_', ' ')}"}

    @property
    def media(self) -> forms.Media:
        return super().media + forms.Media(js=["admin/js/autocomplete.js", "inspections/named_choices.js"])


class DeskForm(forms.ModelForm):  # type: ignore[type-arg] # generic only in the stubs
    """A form that carries the revision it was read at, and says what a service refused."""

    seen_revision = forms.IntegerField(required=False, widget=forms.HiddenInput)
    refused: ClassVar[Refused | None] = None

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.initial["seen_revision"] = getattr(self.instance, "revision", None)
        for name, field in self.fields.items():
            if isinstance(field.widget, forms.MultiWidget):  # a day and a time of day, under one label
                for part, widget in zip(("day", "time of day"), field.widget.widgets, strict=True):
                    widget.attrs["aria-label"] = f"{shown.words(name)}, {part}"

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        if self.refused is not None:
            said = [f"{shown.place(fault.path)}: {fault.detail}" for fault in self.refused.faults]
            raise forms.ValidationError([self.refused.detail, *said])
        return cleaned

    @property
    def expected(self) -> Expected:
        """The revision that stood on the page."""
        return Expected(is_given=True, revisions=frozenset({self.cleaned_data["seen_revision"] or 0}))

    def changes(self, *names: str) -> dict[str, Any]:
        """Return what was changed on the page, of the named fields."""
        return {name: self.cleaned_data[name] for name in names if name in self.changed_data}


class RightsByRole:
    """Permissions from the table of roles; mixed into pages and into the lists inside of pages."""

    model: type[Model]

    def has_module_permission(self, request: HttpRequest) -> bool:
        return roles.may(request, "see", self.model)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return roles.may(request, "see", self.model)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        # What is made belongs to the maker's organisation; who has none cannot make it.
        return roles.person(request).organisation_id is not None and roles.may(request, "add", self.model)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return roles.may(request, "change", self.model)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_act_permission(self, request: HttpRequest) -> bool:
        """Tell whether the role may do what this kind of record offers beside editing."""
        return roles.may(request, "act", self.model)


class DeskAdmin(RightsByRole, admin.ModelAdmin):  # type: ignore[type-arg] # generic only in the stubs
    """A kind of record at the desk."""

    form = DeskForm
    within: ClassVar[str | None] = "organisation"
    record_type: ClassVar[str] = ""
    heavy: ClassVar[tuple[str, ...]] = ()  # long texts that lists do not show, and so do not read
    show_full_result_count = False
    list_per_page = 50
    show_facets = admin.ShowFacets.NEVER  # would count the whole table once for each choice of each filter
    actions_on_bottom = False

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return roles.visible(request, super().get_queryset(request), self.within).defer(*self.heavy)

    def get_search_results(self, request: HttpRequest, queryset: QuerySet[Any], search_term: str) -> Any:
        return searching.found(queryset, self.get_search_fields(request), search_term), False

    def formfield_for_foreignkey(self, db_field: Any, request: HttpRequest, **options: Any) -> Any:
        options["queryset"] = self._choices(db_field, request)
        if db_field.name in self.get_autocomplete_fields(request):
            options["widget"] = NamedChoice(db_field, self.admin_site)
        return super().formfield_for_foreignkey(db_field, request, **options)

    def _choices(self, db_field: ForeignKey[Any, Any], request: HttpRequest) -> QuerySet[Any]:
        """Return the records a reference may name: those that who chooses can see."""
        return self.admin_site.get_model_admin(db_field.related_model).get_queryset(request)

    def actor(self, request: HttpRequest, row: Any = None) -> Actor:
        """Return who acts: for the record's organisation, or for their own where something is made."""
        owner: Organisation | None = getattr(row, "organisation", None) if row is not None else None
        owner = owner or roles.person(request).organisation
        if owner is None:
            raise PermissionDenied("Only who belongs to an organisation makes records.")
        return roles.actor(request, owner)

    # --- writing: through services, whose refusals are said on the form ---------------------------

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **options: Any) -> Any:
        form = super().get_form(request, obj, change, **options)
        form.refused = getattr(request, "refused", None)  # type: ignore[attr-defined] # a DeskForm, made for this request
        return form

    def changeform_view(
        self, request: HttpRequest, object_id: str | None = None, form_url: str = "", extra_context: Any = None
    ) -> Any:
        try:
            return super().changeform_view(request, object_id, form_url, extra_context)
        except Refused as error:
            # All is rolled back; the form is read again and says it, so that nothing typed is lost.
            request.refused = error  # type: ignore[attr-defined] # read by get_form
            return super().changeform_view(request, object_id, form_url, extra_context)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        if change:
            self.changed(self.actor(request, self.model._default_manager.get(pk=obj.pk)), obj, form)
        else:
            self.made(self.actor(request), obj, form)

    def made(self, actor: Actor, row: Any, form: Any) -> None:
        """Make the record through its service. Kinds of record that are not made at the desk leave this out."""
        raise PermissionDenied

    def changed(self, actor: Actor, row: Any, form: Any) -> None:
        """Change the record through its service. Kinds of record that do not change here leave this out."""
        raise PermissionDenied

    # Django's own log would keep names of people in clear, and say less than the trail.
    def log_addition(self, request: HttpRequest, obj: Any, message: Any) -> Any:
        return None

    def log_change(self, request: HttpRequest, obj: Any, message: Any) -> Any:
        return None

    def tell(self, request: HttpRequest, error: Refused) -> None:
        """Say what a service refused, with every fault."""
        for line in [error.detail, *(fault.detail for fault in error.faults)]:
            messages.error(request, line)

    # --- the history of a record: its chain of the trail ------------------------------------------

    def history_view(self, request: HttpRequest, object_id: str, extra_context: Any = None) -> HttpResponse:
        row = self.get_object(request, object_id)
        if row is None:
            return self._get_obj_does_not_exist_redirect(request, self.opts, object_id)  # type: ignore[attr-defined,no-any-return] # of Django itself
        if not self.has_view_permission(request, row):
            raise PermissionDenied
        # Both spellings of a kind's name: "rate_book" and "ratebook" stand in the trail.
        names = {self.record_type or self.opts.model_name, self.opts.model_name}
        chain = AuditEntry.objects.filter(record_type__in=names, record_id=str(row.pk)).order_by("-id")
        page = self.get_paginator(request, chain, _ENTRIES_A_PAGE).get_page(request.GET.get(PAGE_VAR, 1))
        context = {
            **self.admin_site.each_context(request),
            "title": f"History of {row}",
            "opts": self.opts,
            "object": row,
            "page": page,
            "page_var": PAGE_VAR,
            "entries": [
                (entry, shown.words(entry.action), shown.differences(*told))
                for entry, told in zip(page, personal.opened(list(page)), strict=True)
            ],
        }
        return TemplateResponse(request, "admin/desk/history.html", context)


class SealedAdmin(DeskAdmin):
    """A kind of record that nobody writes by hand: everything is shown, nothing can be typed into."""

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class Parts(RightsByRole, InlineModelAdmin):  # type: ignore[type-arg] # generic only in the stubs
    """A list inside of a record's page, to be read."""

    template = "admin/desk/parts.html"
    extra = 0
    max_num = 0
    can_delete = False
    parent: ClassVar[type[Model]]

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return roles.may(request, "see", self.parent)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
