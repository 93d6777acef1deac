"""Links to reports: made, withdrawn, opened. Whoever holds one reads one report and nothing else.

A link shows the newest state of its lateral, never a copy of an earlier one: an alarm that came up since must reach
who reads it, and what was erased stays erased. Each opening notes the digests of what it showed.
"""

import hmac
import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from inspections.actor import Actor
from inspections.errors import Fault, Invalid, LinkEnded, NotFound, NothingInspected
from inspections.models import Lateral, RepairScope, ReportLink
from inspections.queries import find, results
from inspections.reports import ReportInput
from inspections.services import reporting, trail
from inspections.services.keys import is_well_formed, key_digest, key_new

PREFIX: Final = "pbr_"
USUAL_DAYS: Final = 30
MOST_DAYS: Final = 365
Document = Mapping[str, Any]


def link_make(*, actor: Actor, lateral_id: uuid.UUID, asked: Document) -> tuple[ReportLink, str]:
    """Make a link to a lateral's report; return its row and the key in its address, which is not readable again.

    `asked`: expires_at or valid_days, scope, plan, units, note; each may be None.
    Raises NotFound, Invalid, NothingInspected.
    """
    now = timezone.now()
    expires_at = _end(now, asked)
    with transaction.atomic():
        lateral = find.one(Lateral, actor.organisation, lateral_id)
        if not lateral.inputs_revision:
            raise NothingInspected("No run of this lateral has been submitted; there is no report to show yet.")
        key = key_new(PREFIX)
        row = ReportLink.objects.create(
            organisation=actor.organisation,
            lateral=lateral,
            scope=_scope(lateral, asked["scope"]),
            plan=asked["plan"],
            units=asked["units"],
            note=asked["note"] or "",
            customer=reporting.customer_of(lateral),
            digest=key_digest(key),
            made_by=actor.name,
            expires_at=expires_at,
        )
        _noted(actor, row, "made", after=told(row))
    return row, key


def _end(now: datetime, asked: Document) -> datetime:
    expires_at: datetime | None = asked["expires_at"]
    if expires_at is not None and asked["valid_days"] is not None:
        detail = "Send expires_at or valid_days, not both."
        raise Invalid(detail, faults=[Fault(("valid_days",), "one_of_two", detail)])
    if expires_at is None:
        return now + timedelta(days=asked["valid_days"] or USUAL_DAYS)
    if not now < expires_at <= now + timedelta(days=MOST_DAYS):
        detail = f"A link ends after now and within {MOST_DAYS} days."
        raise Invalid("The link would not be good.", faults=[Fault(("expires_at",), "not_within_a_year", detail)])
    return expires_at


def _scope(lateral: Lateral, id: uuid.UUID | None) -> RepairScope | None:
    found = RepairScope.objects.filter(lateral=lateral, pk=id).first() if id is not None else None
    if id is not None and found is None:
        detail = "There is no such repair scope of this lateral; check the id."
        raise Invalid(detail, faults=[Fault(("scope",), "no_such_record", detail)])
    return found


def link_revoke(*, actor: Actor, row: ReportLink) -> bool:
    """End a link at once and for good; False when it was withdrawn before."""
    now = timezone.now()
    with transaction.atomic():
        if not ReportLink.objects.filter(pk=row.pk, revoked_at=None).update(revoked_at=now):
            return False
        _noted(actor, row, "revoked", before={"revoked_at": None}, after={"revoked_at": now.isoformat()})
        return True


def link_holding(*, key: str) -> ReportLink:
    """Return the row of a link that still leads somewhere. Raises NotFound, LinkEnded."""
    digest = key_digest(key)
    rows = ReportLink.objects.select_related("organisation", "lateral__site", "lateral__property__customer", "scope")
    row = rows.filter(digest=digest).first() if is_well_formed(PREFIX, key) else None
    if row is None or not hmac.compare_digest(row.digest, digest):
        raise NotFound("There is no such link; it may have been cut short. Ask who sent it to send it again.")
    if row.revoked_at is not None:
        raise LinkEnded(f"This link was withdrawn. Ask {row.organisation.name} for a new one.")
    if row.expires_at <= timezone.now():
        raise LinkEnded(f"This link ended on {_day(row.expires_at)}. Ask {row.organisation.name} for a new one.")
    return row


def link_report(row: ReportLink) -> ReportInput:
    """Return what a link shows now, saying in its heading that and until when it does."""
    found = results.reconciled(row.lateral)
    units = row.units or (found.units if found else "us")
    shared = f"Shown by a link made on {_day(row.created_at)}, which ends on {_day(row.expires_at)}."
    return reporting.report_input(
        row.lateral, "si" if units == "si" else "us", scope_id=row.scope_id, plan=row.plan, shared=shared
    )


def _day(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d at %H:%M} UTC"


def link_opened(*, row: ReportLink, form: str, reader: str, shown: ReportInput, request_id: str) -> None:
    """Note that a link was opened: when, in which form, with what kind of program, and the digests of what it showed.

    Raises LinkEnded when it ended meanwhile. Nothing that identifies the reader is kept.
    """
    now = timezone.now()
    actor = Actor(row.organisation, "report link", f"report link {str(row.pk)[:8]}", "link", request_id)
    with transaction.atomic():
        open_now = ReportLink.objects.filter(pk=row.pk, revoked_at=None, expires_at__gt=now)
        if not open_now.update(openings=F("openings") + 1, last_opened_at=now):
            raise LinkEnded(f"This link has ended. Ask {row.organisation.name} for a new one.")
        row.refresh_from_db(fields=["openings"])
        after = {"openings": row.openings, "form": form, "reader": reader, **shown.digests}
        _noted(actor, row, "opened", before={"openings": row.openings - 1}, after=after)


def address_of(key: str) -> str:
    """Return the path at which a link's report is read."""
    return f"/reports/{key}"


def told(row: ReportLink) -> dict[str, Any]:
    """Return what the trail and those who follow are told of a link: neither its key nor its note."""
    return {
        "id": str(row.pk),
        "lateral": str(row.lateral_id),
        "scope": str(row.scope_id) if row.scope_id else None,
        "plan": row.plan,
        "units": row.units,
        "expires_at": row.expires_at,
    }


def _noted(actor: Actor, row: ReportLink, action: str, *, before: Any = None, after: Any = None) -> None:
    trail.entry(actor=actor, record_type="report_link", record_id=row.pk, action=action, before=before, after=after)
    subject = f"report-links/{row.pk}"
    data = told(row) | (after if action == "opened" else {})
    trail.event(organisation=actor.organisation, type=f"report_link.{action}", subject=subject, data=data)
