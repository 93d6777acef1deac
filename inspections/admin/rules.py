"""Grading schemes, rate books and rule sets: a new version is loaded, an old one never changes."""

from typing import Any

from django import forms
from django.contrib import admin
from django.utils.safestring import SafeString

from inspections import exact_json
from inspections.actor import Actor
from inspections.admin import shown
from inspections.admin.desk import DeskAdmin, DeskForm
from inspections.errors import Invalid, Malformed
from inspections.models import CodeMap, GradingScheme, RateBook, RuleSet
from inspections.services import versions


class VersionForm(DeskForm):
    """A whole document, pasted; it names its own code and version."""

    pasted = forms.CharField(
        label="document",
        max_length=2_000_000,
        widget=forms.Textarea(attrs={"rows": 30, "cols": 100}),
        help_text="JSON; its id and version must not be here yet",
    )
    is_default = forms.BooleanField(required=False, help_text="holds from now on wherever nothing else is named")

    def clean_pasted(self) -> dict[str, Any]:
        try:
            document = exact_json.read(self.cleaned_data["pasted"].encode())
        except Malformed as error:
            raise forms.ValidationError([error.detail, *(fault.detail for fault in error.faults)]) from error
        if not isinstance(document, dict) or not {"id", "version"} <= document.keys():
            raise forms.ValidationError("The document is an object that names its id and version.")
        return document


class VersionAdmin(DeskAdmin):
    """One kind of versioned data."""

    kind: versions.Kind
    form = VersionForm
    ordering = ("code", "-version")
    heavy = ("document",)
    list_display = ("title", "code", "version", "is_default", "created_at")
    list_filter = ("is_default",)
    search_fields = ("title", "code", "external_ref")

    def get_fields(self, request: Any, obj: Any = None) -> Any:
        told = ("title", "code", "version", "is_default", "content", "source", "created_at")
        return ("pasted", "is_default") if obj is None else told

    def get_readonly_fields(self, request: Any, obj: Any = None) -> Any:
        return () if obj is None else self.get_fields(request, obj)

    @admin.display(description="document")
    def content(self, row: Any) -> SafeString:
        return shown.kept(row.document)

    def made(self, actor: Actor, row: Any, form: Any) -> None:
        pasted: dict[str, Any] = form.cleaned_data["pasted"]
        is_default: bool = form.cleaned_data["is_default"]
        outcome = versions.version_load(actor=actor, kind=self.kind, document=pasted, is_default=is_default)
        if not outcome.is_new:
            raise Invalid(f"{outcome.row} is here already, with the same content; there is nothing to load.")
        row.pk, row.code, row.version = outcome.row.pk, outcome.row.code, outcome.row.version


@admin.register(GradingScheme)
class GradingSchemeAdmin(VersionAdmin):
    """From findings to grades."""

    kind = versions.GRADING_SCHEME
    record_type = "grading_scheme"


@admin.register(RateBook)
class RateBookAdmin(VersionAdmin):
    """Unit prices."""

    kind = versions.RATE_BOOK
    record_type = "rate_book"


@admin.register(RuleSet)
class RuleSetAdmin(VersionAdmin):
    """What one jurisdiction or programme demands."""

    kind = versions.RULE_SET
    record_type = "rule_set"


@admin.register(CodeMap)
class CodeMapAdmin(VersionAdmin):
    """What a customer's own codes mean."""

    kind = versions.CODE_MAP
    record_type = "code_map"
