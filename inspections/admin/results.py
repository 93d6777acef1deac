"""What the workers computed, and what they could not."""

from typing import Any

from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import URLPattern, path, reverse
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST

from inspections import exact_json
from inspections.admin import shown
from inspections.admin.desk import SealedAdmin
from inspections.admin.lateral_report import lateral_alarms
from inspections.admin.runs import in_words
from inspections.models import Calculation, LateralGrading, ReconciledLateral, RepairScope
from inspections.services import calculations
from inspections.translate import Document

_PAGE_OF_SUBJECT = {
    "grade_run": "run",
    "reconcile_lateral": "lateral",
    "recompute": "recomputation",
    "repair_scope": "repairscope",
    "close_scope": "closing",
}


def subject_link(row: Calculation) -> SafeString:
    """Return a link to what is computed."""
    page = _PAGE_OF_SUBJECT[row.kind]
    return shown.link_to(page, row.subject, f"{page.replace('repairscope', 'repair scope')} {str(row.subject)[:8]}")


@admin.register(Calculation)
class CalculationAdmin(SealedAdmin):
    """Work for the workers, and how far it is."""

    record_type = "calculation"
    ordering = ("-created_at", "-id")
    list_display = ("what", "about", "state", "attempts", "error", "created_at", "finished_at")
    list_filter = ("state", "kind")
    search_fields = ("error", "request_id", "id__exact", "subject__exact")
    actions = ("run_again",)
    change_form_template = "admin/desk/calculation.html"
    fields = (
        "kind",
        "about",
        "state",
        "error",
        "attempts",
        "lease_until",
        "run_after",
        "superseded_by",
        "rules_version",
        "inputs_sha256",
        "request_id",
        "created_at",
        "updated_at",
        "finished_at",
    )
    readonly_fields = ("about",)

    @admin.display(description="calculation", ordering="kind")
    def what(self, row: Calculation) -> str:
        return row.get_kind_display()

    @admin.display(description="of")
    def about(self, row: Calculation) -> SafeString:
        return subject_link(row)

    def render_change_form(self, request: HttpRequest, context: Any, *args: Any, **options: Any) -> Any:
        row: Calculation = options["obj"]
        context["may_run_again"] = row.state == "failed" and self.has_act_permission(request)
        return super().render_change_form(request, context, *args, **options)

    @admin.action(description="Run the failed ones again", permissions=["act"])
    def run_again(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        """Queue each chosen calculation that failed."""
        queued = [
            row
            for row in rows.select_related("organisation")
            if calculations.calculation_run_again(actor=self.actor(request, row), row=row)
        ]
        messages.success(request, f"{len(queued)} queued again; only failed ones are.")

    def get_urls(self) -> list[URLPattern]:
        view = self.admin_site.admin_view(require_POST(self.again_view))
        return [path("<uuid:id>/again/", view, name="calculation_again"), *super().get_urls()]

    def again_view(self, request: HttpRequest, id: Any) -> HttpResponse:
        """Queue one calculation that failed, and go back to the desk."""
        if not self.has_act_permission(request):
            raise PermissionDenied
        row = self.get_queryset(request).select_related("organisation").filter(pk=id).first()
        if row is None:
            raise Http404("There is no such calculation here.")
        if calculations.calculation_run_again(actor=self.actor(request, row), row=row):
            messages.success(request, "The calculation is queued again.")
        else:
            messages.warning(request, "The calculation is not failed any more.")
        return HttpResponseRedirect(reverse("admin:desk"))


@admin.register(ReconciledLateral)
class ReconciledLateralAdmin(SealedAdmin):
    """Laterals put together from all their runs."""

    ordering = ("-created_at", "-id")
    heavy = ("document",)
    list_display = ("lateral", "inputs_revision", "created_at")
    list_select_related = ("lateral__property",)
    search_fields = ("lateral__property__line1", "lateral__property__locality", "inputs_sha256")
    fields = readonly_fields = (
        "lateral",
        "grades",
        "inputs_revision",
        "pipe_in_full",
        "rules_version",
        "inputs_sha256",
        "calculation",
        "created_at",
    )

    @admin.display(description="grades, each under its scheme")
    def grades(self, row: ReconciledLateral) -> SafeString:
        rows = row.gradings.select_related("scheme").order_by("scheme__code", "scheme__version")
        return shown.listing([f"{one.scheme}: {in_words(one.document)}" for one in rows])

    @admin.display(description="pipe in full (m, mm)")
    def pipe_in_full(self, row: ReconciledLateral) -> SafeString:
        return shown.kept(row.document)


@admin.register(LateralGrading)
class LateralGradingAdmin(SealedAdmin):
    """Gradings of laterals, each under its scheme, with what they rest on."""

    ordering = ("-created_at", "-id")
    list_display = ("about", "scheme", "grade", "created_at")
    list_select_related = ("reconciled__lateral__property", "scheme")
    search_fields = ("reconciled__lateral__property__line1", "inputs_sha256")
    fields = readonly_fields = (
        "reconciled",
        "scheme",
        "grade",
        "content",
        "inputs_sha256",
        "calculation",
        "created_at",
    )

    @admin.display(description="lateral")
    def about(self, row: LateralGrading) -> str:
        return str(row.reconciled.lateral)

    @admin.display(description="grade")
    def grade(self, row: LateralGrading) -> str:
        return in_words(row.document)

    @admin.display(description="in full (m, mm)")
    def content(self, row: LateralGrading) -> SafeString:
        return shown.kept(row.document)


@admin.register(RepairScope)
class RepairScopeAdmin(SealedAdmin):
    """What to repair, at what price."""

    record_type = "repair_scope"
    ordering = ("-created_at", "-id")
    heavy = ("policy", "document_us", "document_si")
    list_display = ("lateral", "state", "rate_book", "rule_set", "created_at")
    list_filter = ("calculation__state",)
    list_select_related = ("lateral__property", "calculation", "rate_book", "rule_set")
    search_fields = ("external_ref", "lateral__property__line1", "lateral__property__locality", "inputs_sha256")
    fields = readonly_fields = (
        "lateral",
        "state",
        "is_current",
        "alarms",
        "plans",
        "closing",
        "cautions",
        "asked",
        "rate_book",
        "rule_set",
        "scheme",
        "in_full",
        "inputs_sha256",
        "calculation",
        "source",
        "created_at",
    )

    @admin.display(description="state", ordering="calculation__state")
    def state(self, row: RepairScope) -> str:
        return shown.words(row.calculation.state if row.calculation else "queued")

    @admin.display(description="computed from what is known now", boolean=True)
    def is_current(self, row: RepairScope) -> bool:
        lateral = row.lateral
        return (row.inputs_revision, row.site_revision) == (lateral.inputs_revision, lateral.site_revision)

    @admin.display(description="must not wait")
    def alarms(self, row: RepairScope) -> SafeString:
        """Show what the scope warns of, and what the grading of its lateral does beside that."""
        own = _document(row).get("alarms", [])
        known = {(alarm["code"], alarm["ref"]) for alarm in own}
        of_lateral = [one for one in lateral_alarms(row.lateral) if (one["code"], one["ref"]) not in known]
        return shown.listing([alarm["detail"] for alarm in [*own, *of_lateral]])

    @admin.display(description="cautions")
    def cautions(self, row: RepairScope) -> SafeString:
        return shown.listing(_document(row).get("cautions", []))

    @admin.display(description="plans")
    def plans(self, row: RepairScope) -> SafeString | str:
        return shown.listing(plan_lines(_document(row))) if _kept(row) else "not computed yet"

    @admin.display(description="asked for")
    def asked(self, row: RepairScope) -> SafeString:
        return shown.kept(row.policy)

    @admin.display(description="in full")
    def in_full(self, row: RepairScope) -> SafeString:
        return shown.kept(_kept(row))


def _kept(row: RepairScope) -> str | None:
    return row.document_us if row.units == "us" else row.document_si


def _document(row: RepairScope) -> Document:
    document: Document = exact_json.load(_kept(row) or "{}")
    return document


def plan_lines(scope: Document) -> list[str]:
    """Return one line a plan: its range of cost, and each section with its method."""
    unit = "ft" if scope["units"] == "us" else "m"
    return [_plan_line(plan, scope.get("currency") or "", unit) for plan in scope["plans"]]


def _plan_line(plan: Document, currency: str, unit: str) -> str:
    total = plan["total"]
    if total is None:
        return f"{shown.words(plan['name'])}: not possible, no price. {plan['reason']}"
    cost = f"{total['low']} to {total['high']} {currency}, likely {total['likely']}"
    sections = [
        f"{shown.words(one['method'])} {one['from']} to {one['to']} {unit}{_flaw(one)}" for one in plan["sections"]
    ]
    return f"{shown.words(plan['name'])}: {cost}; {', '.join(sections) or 'nothing to do'}"


def _flaw(section: Document) -> str:
    """Say that the work of a section is not complete; scopes kept by earlier rules do not know."""
    return " (incomplete: a run was stopped there)" if section.get("incomplete") else ""
