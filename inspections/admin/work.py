"""Jobs: asked for, assigned, moved and called off."""

from datetime import datetime
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import admin, messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from inspections.actor import Actor
from inspections.admin import roles, shown, today
from inspections.admin.desk import DeskAdmin, DeskForm
from inspections.admin.filters import InspectorFilter, WhenFilter
from inspections.models import Job, User
from inspections.services import jobs
from inspections.services.revisions import Expected
from inspections.translate import Document, moment

_TOLD = ("external_ref", "purpose", "customer", "property", "runs_sent", "source", "created_at", "updated_at")
_WINDOW = {"window_start": "start", "window_end": "end"}


class JobForm(DeskForm):
    """A job with what may be changed of it; its state goes only where a job can go from where it is."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        state = self.fields.get("state")
        if isinstance(state, forms.ChoiceField):
            ways = [self.instance.state, *sorted(jobs.NEXT_STATES[self.instance.state])]
            state.choices = [(way, shown.words(way)) for way in ways]
        inspector = self.fields.get("inspector")
        if isinstance(inspector, forms.ModelChoiceField):
            own = Q(role="inspector", organisation=self.instance.organisation_id) | Q(pk=self.instance.inspector_id)
            inspector.queryset = User.objects.filter(own, is_active=True).order_by("username")
            inspector.label_from_instance = _called  # type: ignore[method-assign,assignment] # a function of the row
        for name in _WINDOW.keys() & self.fields.keys():
            self.fields[name].help_text = f"time of {settings.DESK_TIME_ZONE}"
        if "external_ref" in self.fields:
            self.fields["external_ref"].required = True


def _called(person: User) -> str:
    return person.get_full_name() or person.username


@admin.register(Job)
class JobAdmin(DeskAdmin):
    """Visits that were asked for."""

    record_type = "job"
    form = JobForm
    ordering = ("-created_at", "-id")
    heavy = ("written",)
    list_display = ("reference", "state", "window", "inspector", "property", "customer", "purpose")
    list_filter = ("state", WhenFilter, InspectorFilter, "purpose")
    list_select_related = ("inspector", "property", "customer")
    search_fields = ("external_ref", "customer__name", "property__line1", "property__locality", "inspector__username")
    autocomplete_fields = ("customer", "property")
    change_list_template = "admin/desk/job_list.html"
    change_fields = ("inspector", "state", "window_start", "window_end", "instructions")
    add_fields = ("external_ref", "purpose", "customer", "property", "window_start", "window_end", "instructions")

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        if obj is None:
            return self.add_fields
        return (*_TOLD, *self.change_fields, "day", "seen_revision")

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        if obj is None:
            return ()
        # An inspector says how far the job is; who goes where and when is the dispatcher's.
        planned = () if roles.role_of(request) != "inspector" else tuple(set(self.change_fields) - {"state"})
        return (*_TOLD, "day", *planned)

    @admin.display(description="job", ordering="external_ref")
    def reference(self, row: Job) -> str:
        return row.external_ref or str(row.pk)

    @admin.display(description="when", ordering="window_start")
    def window(self, row: Job) -> str:
        ends = [shown.moment(one) if one else "open" for one in (row.window_start, row.window_end)]
        return shown.NOTHING if ends == ["open", "open"] else " to ".join(ends)

    @admin.display(description="runs")
    def runs_sent(self, row: Job) -> SafeString | str:
        runs = row.runs.only("id", "external_ref", "direction", "state").order_by("created_at", "id")
        lines = [(shown.link(run), shown.words(run.state)) for run in runs]
        return format_html_join("", "<div>{}: {}</div>", lines) or shown.NOTHING

    @admin.display(description="the inspector's day")
    def day(self, row: Job) -> SafeString | str:
        """Show what else the inspector does that day, so that a collision is seen before it is saved."""
        lines = [(one.hours, shown.link(one.job, one.reference), _collisions(one)) for one in today.day_of(row)]
        return format_html_join("", "<div>{} {} <strong>{}</strong></div>", lines) or "nobody is given this job yet"

    def response_change(self, request: HttpRequest, obj: Any) -> HttpResponse:
        mine = next((one for one in today.day_of(Job.objects.get(pk=obj.pk)) if one.job.pk == obj.pk), None)
        if mine is not None and mine.overlaps:
            messages.warning(request, f"Collision: {mine.reference} {_collisions(mine)} in the inspector's day.")
        return super().response_change(request, obj)

    # --- through the service ---------------------------------------------------------------------

    def made(self, actor: Actor, row: Any, form: Any) -> None:
        typed = form.cleaned_data
        document = {
            "external_ref": typed["external_ref"],
            "purpose": typed["purpose"],
            "window": _moved(None, form),
            "instructions": typed["instructions"],
            "customer": None,
            "customer_id": str(typed["customer"].pk),
            "property": None,
            "property_id": str(typed["property"].pk),
        }
        row.pk = jobs.job_request(actor=actor, document=document, id=row.pk).row.pk

    def changed(self, actor: Actor, row: Any, form: Any) -> None:
        def edit(before: Document) -> Document:
            moved = {"window": _moved(before["window"], form)} if form.changes(*_WINDOW) else {}
            return {**before, **form.changes("state", "instructions"), **moved}

        outcome = jobs.job_change(actor=actor, id=row.pk, edit=edit, expected=form.expected)
        if "inspector" in form.changed_data:
            seen = outcome.row.revision if outcome.is_changed else form.cleaned_data["seen_revision"]
            now = Expected(is_given=True, revisions=frozenset({seen or 0}))
            jobs.job_assign(actor=actor, id=row.pk, inspector=form.cleaned_data["inspector"], expected=now)


def _collisions(visit: today.Visit) -> str:
    return f"overlaps {', '.join(visit.overlaps)}" if visit.overlaps else ""


def _moved(window: Document | None, form: DeskForm) -> Document | None:
    """Return the window with the times that were typed, each in the offset it was written in before."""
    moved = dict(window or {"start": None, "end": None})
    for name, value in form.changes(*_WINDOW).items():
        key = _WINDOW[name]
        written = moment(moved[key])
        moved[key] = None if value is None else _at_offset_of(written, value).isoformat()
    return None if moved == {"start": None, "end": None} else moved


def _at_offset_of(written: datetime | None, value: datetime) -> datetime:
    return value.astimezone(written.tzinfo) if written is not None else value
