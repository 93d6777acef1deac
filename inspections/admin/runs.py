"""Runs as they were read in the pipe: looked at, accepted or returned, never edited."""

from typing import Any

from django import forms
from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.response import TemplateResponse
from django.urls import URLPattern, path, reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from inspections import exact_json
from inspections.admin import shown
from inspections.admin.desk import SealedAdmin
from inspections.admin.lateral_report import drawing
from inspections.admin.run_parts import ClipParts, DefectParts, FeatureParts, SegmentParts, UnseenParts
from inspections.errors import Refused
from inspections.models import Amendment, Run, RunGrading
from inspections.queries import find, results
from inspections.services import runs
from inspections.services.revisions import Expected
from inspections.services.run_problems import problems_of
from inspections.translate import Document, run_document

_VERDICTS = {"accepted": "accept: the run stands as it is", "returned": "return it, with reasons"}


class ReviewForm(forms.Form):
    """Accept, or return with reasons, at the revision that was looked at."""

    verdict = forms.ChoiceField(choices=list(_VERDICTS.items()), widget=forms.RadioSelect)
    reasons = forms.CharField(
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 6, "cols": 80}),
        help_text="one reason a line; who made the run reads them and amends it",
    )
    seen_revision = forms.IntegerField(widget=forms.HiddenInput)

    def clean_reasons(self) -> list[str]:
        lines = [line.strip() for line in self.cleaned_data["reasons"].splitlines()]
        return [line for line in lines if line]

    def clean(self) -> dict[str, Any] | None:
        typed = super().clean() or {}
        if typed.get("verdict") == "returned" and not typed.get("reasons"):
            self.add_error("reasons", "Say why the run is returned, one reason a line.")
        return typed


@admin.register(Run)
class RunAdmin(SealedAdmin):
    """Camera runs with everything read in them."""

    record_type = "run"
    heavy = ("written",)
    ordering = ("-created_at", "-id")
    list_display = (
        "reference",
        "state",
        "job",
        "address",
        "direction",
        "measured",
        "reached",
        "inspector",
        "submitted_at",
    )
    list_filter = ("state", "started_at", "direction", "reached", "units")
    list_select_related = ("job__property",)
    search_fields = (
        "external_ref",
        "inspector",
        "job__external_ref",
        "job__property__line1",
        "job__property__locality",
    )
    change_form_template = "admin/desk/run.html"
    inlines = (SegmentParts, FeatureParts, DefectParts, UnseenParts, ClipParts)
    readonly_fields = ("alarms", "lacks", "gradings", "drawn", "measured", "access", "reasons", "rest")
    fieldsets = (
        (None, {"fields": ("state", "alarms", "lacks", "reasons", "gradings", "drawn")}),
        (
            "The run",
            {
                "fields": (
                    ("job", "lateral"),
                    ("external_ref", "source"),
                    ("direction", "recorded"),
                    "access",
                    ("measured", "reached", "stopped_by"),
                    ("started_at", "ended_at", "inspector"),
                    ("submitted_at", "reviewed_at"),
                    "rest",
                )
            },
        ),
    )

    @admin.display(description="run", ordering="external_ref")
    def reference(self, row: Run) -> str:
        return row.external_ref or str(row.pk)[:8]

    @admin.display(description="property", ordering="job__property__line1")
    def address(self, row: Run) -> str:
        return str(row.job.property)

    @admin.display(description="counter")
    def measured(self, row: Run) -> str:
        end = shown.length(row.counter_end_m, row.units)
        return f"{shown.length(row.counter_start_m, row.units)} to {'?' if end == shown.NOTHING else end}"

    @admin.display(description="start access")
    def access(self, row: Run) -> str:
        return ", ".join(word for word in (shown.words(row.access_kind), row.access_label) if word)

    @admin.display(description="must not wait")
    def alarms(self, row: Run) -> SafeString:
        return shown.listing([alarm["detail"] for alarm in results.run_alarms(run_document(row))])

    @admin.display(description="what is missing")
    def lacks(self, row: Run) -> SafeString:
        return shown.listing([problem.fault.detail for problem in problems_of(run_document(row))])

    @admin.display(description="reasons of the review")
    def reasons(self, row: Run) -> SafeString:
        return shown.listing([str(reason) for reason in row.review_reasons])

    @admin.display(description="gradings")
    def gradings(self, row: Run) -> SafeString | str:
        graded = row.gradings.filter(run_revision=row.content_revision).select_related("scheme").order_by("created_at")
        lines = [(shown.link(one, one.scheme), in_words(one.document)) for one in graded]
        return format_html_join("", "<div>{}: {}</div>", lines) or "not graded yet"

    @admin.display(description="pipe")
    def drawn(self, row: Run) -> SafeString:
        return drawing(row.lateral)

    @admin.display(description="as written")
    def rest(self, row: Run) -> SafeString:
        """Show what the head of the document says beside the columns above."""
        told = {"camera", "conditions", "start_access", "units", "counter_start", "counter_end"}
        written: Document = exact_json.load(row.written)
        return shown.outline({name: value for name, value in written.items() if name in told})

    def render_change_form(self, request: HttpRequest, context: Any, *args: Any, **options: Any) -> Any:
        run: Run = options["obj"]
        context["may_review"] = run.state == "submitted" and self.has_act_permission(request)
        return super().render_change_form(request, context, *args, **options)

    # --- review ----------------------------------------------------------------------------------

    def get_urls(self) -> list[URLPattern]:
        own = path("<uuid:id>/review/", self.admin_site.admin_view(self.review_view), name="run_review")
        return [own, *super().get_urls()]

    def review_view(self, request: HttpRequest, id: Any) -> HttpResponse:
        """Accept a submitted run, or return it with reasons."""
        if not self.has_act_permission(request):
            raise PermissionDenied
        run = self.get_queryset(request).select_related("organisation", "job").filter(pk=id).first()
        if run is None:
            raise Http404("There is no such run here.")
        form = ReviewForm(request.POST or None, initial={"seen_revision": run.revision})
        if request.method == "POST" and form.is_valid() and self._reviewed(request, run, form.cleaned_data):
            return HttpResponseRedirect(reverse("admin:inspections_run_change", args=[run.pk]))
        context = {
            **self.admin_site.each_context(request),
            "title": f"Review of run {run}",
            "opts": self.opts,
            "run": run,
            "form": form,
            "alarms": self.alarms(run),
            "lacks": self.lacks(run),
            "gradings": self.gradings(run),
        }
        return TemplateResponse(request, "admin/desk/review.html", context)

    def _reviewed(self, request: HttpRequest, run: Run, typed: dict[str, Any]) -> bool:
        actor = self.actor(request, run)
        seen = Expected(is_given=True, revisions=frozenset({typed["seen_revision"]}))
        reasons = typed["reasons"] if typed["verdict"] == "returned" else []
        try:
            with transaction.atomic():
                seen.hold_against(find.one(Run, actor.organisation, run.pk, lock=True).revision)
                runs.run_review(actor=actor, id=run.pk, verdict=typed["verdict"], reasons=reasons)
        except Refused as error:
            self.tell(request, error)
            return False
        messages.success(request, f"The run is {typed['verdict']}.")
        return True


def in_words(grading: str) -> str:
    """Return a grading kept as JSON text in one line: overall with what was seen of the pipe, then its two sides."""
    document: Document = exact_json.load(grading)
    sides = [f"{side} {shown.said(document[side]['grade'])}" for side in ("structural", "service")]
    return f"{document['verdict']} ({', '.join(sides)})"


@admin.register(RunGrading)
class RunGradingAdmin(SealedAdmin):
    """Gradings of runs, with what they rest on."""

    ordering = ("-created_at", "-id")
    list_display = ("run", "scheme", "grade", "created_at")
    list_select_related = ("run", "scheme")
    search_fields = ("run__external_ref", "run__job__external_ref", "inputs_sha256")
    fields = readonly_fields = (
        "run",
        "run_revision",
        "scheme",
        "grade",
        "content",
        "rules_version",
        "inputs_sha256",
        "calculation",
        "created_at",
    )

    @admin.display(description="grade")
    def grade(self, row: RunGrading) -> str:
        return in_words(row.document)

    @admin.display(description="in full (m, mm)")
    def content(self, row: RunGrading) -> SafeString:
        return shown.kept(row.document)


@admin.register(Amendment)
class AmendmentAdmin(SealedAdmin):
    """Changes of sealed runs, with their reasons."""

    record_type = "amendment"
    ordering = ("-created_at", "-id")
    heavy = ("changes", "before")
    list_display = ("run", "reason", "by", "created_at")
    list_select_related = ("run",)
    search_fields = ("reason", "by", "run__external_ref", "run__job__external_ref")
    fields = readonly_fields = ("run", "run_revision", "reason", "by", "changed_to", "stood_before", "created_at")

    @admin.display(description="changes")
    def changed_to(self, row: Amendment) -> SafeString:
        return shown.kept(row.changes)

    @admin.display(description="what stood before")
    def stood_before(self, row: Amendment) -> SafeString:
        return shown.kept(row.before)
