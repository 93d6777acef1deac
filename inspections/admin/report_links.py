"""Links to reports at the desk: made for somebody without an account, watched, withdrawn."""

from typing import Any

from django import forms
from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.template.response import TemplateResponse
from django.urls import URLPattern, path
from django.utils.safestring import SafeString

from inspections.admin import roles, shown
from inspections.admin.desk import DeskAdmin, SealedAdmin
from inspections.errors import Refused
from inspections.models import Lateral, ReportLink
from inspections.services import report_links
from inspections.vocabulary import PLAN_NAMES

_DRAWN = [
    ("", "the cheapest plan"),
    *((name, meaning) for name, meaning in PLAN_NAMES.items() if name != "least_cost"),
]


class LinkForm(forms.Form):
    """For whom a link is, how long it shows the report, and which plan it draws."""

    note = forms.CharField(
        label="For whom", required=False, max_length=200, help_text="not shown to who opens the link"
    )
    valid_days = forms.IntegerField(
        label="Good for how many days",
        min_value=1,
        max_value=report_links.MOST_DAYS,
        initial=report_links.USUAL_DAYS,
        help_text=f"at most {report_links.MOST_DAYS}; it can be withdrawn at any time",
    )
    plan = forms.ChoiceField(label="Plan that is drawn", choices=_DRAWN, required=False)

    def asked(self) -> dict[str, Any]:
        """Return what was typed as the service takes it."""
        typed = self.cleaned_data
        return {
            "note": typed["note"],
            "valid_days": typed["valid_days"],
            "plan": typed["plan"] or None,
            "expires_at": None,
            "scope": None,
            "units": None,
        }


class Sharing(DeskAdmin):
    """A page of laterals whose reports can be shared."""

    change_form_template = "admin/desk/lateral.html"

    def render_change_form(self, request: HttpRequest, context: Any, *args: Any, **options: Any) -> HttpResponse:
        lateral: Lateral | None = options.get("obj")
        is_there = lateral is not None and bool(lateral.inputs_revision)
        context["may_share"] = is_there and roles.may(request, "act", ReportLink)
        return super().render_change_form(request, context, *args, **options)

    def get_urls(self) -> list[URLPattern]:
        own = path("<uuid:id>/share/", self.admin_site.admin_view(self.share_view), name="lateral_share")
        return [own, *super().get_urls()]

    def share_view(self, request: HttpRequest, id: Any) -> HttpResponse:
        """Ask for whom and how long, then show the link: this once, in the answer itself and nowhere else."""
        if not roles.may(request, "act", ReportLink):
            raise PermissionDenied
        lateral = self.get_queryset(request).select_related("organisation", "property").filter(pk=id).first()
        if lateral is None:
            raise Http404("There is no such lateral here.")
        form, link = LinkForm(request.POST or None), None
        if request.method == "POST" and form.is_valid():
            try:
                actor = self.actor(request, lateral)
                row, key = report_links.link_make(actor=actor, lateral_id=lateral.pk, asked=form.asked())
                link = {"row": row, "url": request.build_absolute_uri(report_links.address_of(key))}
            except Refused as error:
                self.tell(request, error)
        context = {
            **self.admin_site.each_context(request),
            "title": f"Share the report of {lateral.property}",
            "opts": self.opts,
            "lateral": lateral,
            "form": form,
            "link": link,
        }
        response = TemplateResponse(request, "admin/desk/share.html", context)
        response["Cache-Control"] = "no-store, private"
        return response


@admin.register(ReportLink)
class ReportLinkAdmin(SealedAdmin):
    """Who can read which report without an account, and how often that was done. Its history names each opening."""

    record_type = "report_link"
    within = "organisation"
    ordering = ("-created_at", "-id")
    list_display = ("link", "leads_to", "note", "made_by", "standing", "expires_at", "openings", "last_opened_at")
    list_display_links = ("link",)
    list_filter = (("revoked_at", admin.EmptyFieldListFilter),)
    list_select_related = ("lateral__property",)
    search_fields = ("note", "made_by", "lateral__property__line1", "lateral__property__locality")
    actions = ("revoke",)
    fields = readonly_fields = (
        "leads_to",
        "note",
        "plan",
        "standing",
        "made_by",
        "created_at",
        "expires_at",
        "revoked_at",
        "openings",
        "last_opened_at",
    )

    @admin.display(description="link", ordering="created_at")
    def link(self, row: ReportLink) -> str:
        return str(row)

    @admin.display(description="report of")
    def leads_to(self, row: ReportLink) -> SafeString:
        return shown.link(row.lateral, row.lateral.property)

    @admin.display(description="state")
    def standing(self, row: ReportLink) -> str:
        return row.state

    @admin.action(description="Withdraw: it shows nothing any more", permissions=["act"])
    def revoke(self, request: HttpRequest, rows: QuerySet[Any]) -> None:
        """Withdraw each chosen link."""
        chosen = list(rows.select_related("organisation"))
        ended = [row for row in chosen if report_links.link_revoke(actor=self.actor(request, row), row=row)]
        messages.success(request, f"{len(ended)} withdrawn.")
