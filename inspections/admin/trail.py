"""The trail, the events and the kept answers: read, and checked."""

from typing import Any

from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import URLPattern, path, reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST

from inspections import exact_json
from inspections.admin import roles, shown
from inspections.admin.desk import SealedAdmin
from inspections.admin.filters import closed_list
from inspections.errors import Malformed
from inspections.models import AuditEntry, AuditHead, Event, KeptAnswer
from inspections.queries import personal
from inspections.services import trail

# The kinds of record in the trail, and the pages that show them.
_PAGES = {
    "organisation": "organisation",
    "user": "user",
    "token": "apitoken",  # nosec B105 # a kind of record
    "customer": "customer",
    "property": "property",
    "access_point": "accesspoint",
    "lateral": "lateral",
    "site": "site",
    "job": "job",
    "run": "run",
    "calculation": "calculation",
    "match_decision": "matchdecision",
    "repair_scope": "repairscope",
    "report_link": "reportlink",
    "amendment": "amendment",
    "import": "import",
    "recomputation": "recomputation",
    "bid": "bid",
    "closing": "closing",
    "subscription": "subscription",
    "delivery": "delivery",
    "grading_scheme": "gradingscheme",
    "rate_book": "ratebook",
    "rule_set": "ruleset",
    "code_map": "codemap",
}
_THROUGH = ("api", "admin", "command", "worker", "link")


@admin.register(AuditEntry)
class AuditEntryAdmin(SealedAdmin):
    """Who changed what, when, through what, why."""

    ordering = ("-id",)
    heavy = ("before", "after")
    list_display = ("at", "actor", "through", "record", "what", "reason")
    list_display_links = ("at",)
    list_filter = (closed_list("record_type", _PAGES, "kind of record"), closed_list("through", _THROUGH), "at")
    search_fields = ("record_id", "actor", "action", "reason", "request_id")
    change_list_template = "admin/desk/trail.html"
    fields = readonly_fields = (
        "at",
        "actor",
        "through",
        "request_id",
        "record",
        "what",
        "reason",
        "from_to",
        "number",
        "previous_hash",
        "hash",
    )

    @admin.display(description="record", ordering="record_type")
    def record(self, row: AuditEntry) -> SafeString:
        page = _PAGES.get(row.record_type, row.record_type)
        return shown.link_to(page, row.record_id, f"{shown.words(row.record_type)} {row.record_id[:8]}")

    @admin.display(description="did", ordering="action")
    def what(self, row: AuditEntry) -> str:
        return shown.words(row.action)

    @admin.display(description="from what to what")
    def from_to(self, row: AuditEntry) -> SafeString | str:
        lines = [(one.place, one.before, one.after) for one in shown.differences(*personal.opened([row])[0])]
        if not lines:
            return shown.NOTHING
        head = format_html("<tr><th>{}</th><th>{}</th><th>{}</th></tr>", "what", "before", "after")
        body = format_html_join("", "<tr><td>{}</td><td>{}</td><td>{}</td></tr>", lines)
        return format_html("<table>{}{}</table>", head, body)

    def changelist_view(self, request: HttpRequest, extra_context: Any = None) -> Any:
        may_verify = {"may_verify": self.has_act_permission(request)}
        return super().changelist_view(request, {**(extra_context or {}), **may_verify})

    def get_urls(self) -> list[URLPattern]:
        view = self.admin_site.admin_view(require_POST(self.verify_view))
        return [path("verify/", view, name="trail_verify"), *super().get_urls()]

    def verify_view(self, request: HttpRequest) -> HttpResponse:
        """Check every chain of the trail and say whether all of it fits."""
        if not self.has_act_permission(request):
            raise PermissionDenied
        found = trail.first_bad_row()
        if found is None:
            messages.success(request, "The trail is whole: every entry follows from the one before it.")
        else:
            messages.error(request, self._broken(request, *found))
        return HttpResponseRedirect(reverse("admin:inspections_auditentry_changelist"))

    def _broken(self, request: HttpRequest, row: AuditEntry | AuditHead, reason: str) -> str:
        """Say where the trail is broken, to those the record belongs to."""
        chain = AuditEntry.objects.filter(record_type=row.record_type, record_id=row.record_id)
        if roles.sees_all(request) or roles.visible(request, chain, "organisation").exists():
            place = f"{shown.words(row.record_type)} {row.record_id}, entry {row.number}"
            return f"The trail is broken at {place}: {reason}. Tell whoever runs the service."
        return "The trail is broken in a record of another organisation. Tell whoever runs the service."


@admin.register(AuditHead)
class AuditHeadAdmin(SealedAdmin):
    """Where each chain ends; it belongs to no organisation, so only who runs the service sees it."""

    within = None
    ordering = ("-id",)
    list_display = ("record_type", "record_id", "number", "hash")
    search_fields = ("record_id",)

    def has_module_permission(self, request: HttpRequest) -> bool:
        return roles.sees_all(request)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return roles.sees_all(request)


@admin.register(Event)
class EventAdmin(SealedAdmin):
    """What others were told."""

    ordering = ("-number",)
    heavy = ("data",)
    list_display = ("time", "type", "subject")
    search_fields = ("type", "subject")
    list_filter = ("time",)
    fields = readonly_fields = ("number", "id", "type", "time", "subject", "content")

    @admin.display(description="data")
    def content(self, row: Event) -> SafeString:
        return shown.kept(row.data)


@admin.register(KeptAnswer)
class KeptAnswerAdmin(SealedAdmin):
    """First answers, kept so that a request sent twice is done once."""

    ordering = ("-id",)
    heavy = ("headers", "body")
    list_display = ("created_at", "client", "key", "status")
    list_display_links = ("created_at", "key")
    search_fields = ("client", "key")
    fields = readonly_fields = ("client", "key", "status", "fingerprint", "answer", "created_at")

    @admin.display(description="answer")
    def answer(self, row: KeptAnswer) -> SafeString:
        try:
            return shown.outline(exact_json.read(bytes(row.body)))
        except Malformed:  # an import is answered line by line, which is no one document
            return format_html("{}", bytes(row.body).decode("utf-8", "replace"))
