"""Who sees and does what at the desk: one table of rights, read by every page. Nobody deletes at the desk."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, cast

from django.db.models import Model, QuerySet
from django.http import HttpRequest

from inspections import models as records
from inspections.actor import Actor
from inspections.models import Organisation, User

_NOBODY: Final = frozenset[str]()
_EVERYBODY: Final = frozenset({"dispatcher", "inspector", "auditor", "administrator"})
_PLANNING: Final = frozenset({"dispatcher", "administrator"})
_WATCHING: Final = frozenset({"auditor", "administrator"})
_KEEPING: Final = frozenset({"administrator"})


@dataclass(frozen=True, slots=True)
class Rights:
    """The roles that see records of one kind, make them, change them, and what else is done with them."""

    see: frozenset[str] = _EVERYBODY
    add: frozenset[str] = _NOBODY
    change: frozenset[str] = _NOBODY
    act: frozenset[str] = _NOBODY


_PLAIN: Final = Rights(add=_PLANNING, change=_PLANNING)
_VERSIONED: Final = Rights(see=_EVERYBODY, add=_KEEPING)
_TRAIL: Final = Rights(see=_WATCHING, act=_WATCHING)

RIGHTS: Final[Mapping[type[Model], Rights]] = {
    records.Organisation: Rights(see=_KEEPING),
    records.User: Rights(see=_WATCHING, add=_KEEPING, change=_KEEPING),
    records.ApiToken: Rights(see=_WATCHING, act=_KEEPING),  # act: revoke
    records.Customer: Rights(add=_PLANNING, change=_PLANNING, act=_KEEPING),  # act: erase
    records.Property: _PLAIN,
    records.AccessPoint: _PLAIN,
    records.Lateral: Rights(),
    records.Site: Rights(),
    records.Job: Rights(add=_PLANNING, change=_PLANNING | {"inspector"}),
    records.Run: Rights(act=_WATCHING),  # act: accept or return
    records.Amendment: Rights(),
    records.Calculation: Rights(see=_PLANNING | _WATCHING, act=_PLANNING),  # act: run again
    records.RunGrading: Rights(),
    records.MatchDecision: Rights(),
    records.Import: Rights(see=_PLANNING | _WATCHING),
    records.Recomputation: Rights(see=_PLANNING | _WATCHING),
    records.ReconciledLateral: Rights(),
    records.LateralGrading: Rights(),
    records.RepairScope: Rights(),
    records.Bid: Rights(),
    records.ReportLink: Rights(see=_PLANNING | _WATCHING, act=_PLANNING),  # act: make, withdraw
    records.Closing: Rights(),
    records.Subscription: Rights(see=_PLANNING | _WATCHING),
    records.Delivery: Rights(see=_PLANNING | _WATCHING, act=_PLANNING),  # act: send again
    records.GradingScheme: _VERSIONED,
    records.RateBook: _VERSIONED,
    records.RuleSet: _VERSIONED,
    records.CodeMap: _VERSIONED,
    records.AuditEntry: _TRAIL,
    records.AuditHead: _TRAIL,
    records.Event: _TRAIL,
    records.KeptAnswer: _TRAIL,
}

# How a record leads to the inspector whose it is. An inspector sees what belongs to jobs given to them.
_TO_INSPECTOR: Final[Mapping[type[Model], str]] = {
    records.Customer: "jobs__inspector",
    records.Property: "jobs__inspector",
    records.AccessPoint: "property__jobs__inspector",
    records.Lateral: "property__jobs__inspector",
    records.Site: "lateral__property__jobs__inspector",
    records.Job: "inspector",
    records.Run: "job__inspector",
    records.Amendment: "run__job__inspector",
    records.RunGrading: "run__job__inspector",
    records.ReconciledLateral: "lateral__property__jobs__inspector",
    records.LateralGrading: "reconciled__lateral__property__jobs__inspector",
    records.MatchDecision: "lateral__property__jobs__inspector",
    records.RepairScope: "lateral__property__jobs__inspector",
    records.Closing: "repair_scope__lateral__property__jobs__inspector",
    records.Bid: "repair_scope__lateral__property__jobs__inspector",
}


def person(request: HttpRequest) -> User:
    """Return who is signed in; pages of the desk are shown to nobody else."""
    return cast(User, request.user)


def role_of(request: HttpRequest) -> str:
    """Return the role that counts; a superuser does what an administrator does."""
    user = person(request)
    return "administrator" if user.is_superuser else user.role


def sees_all(request: HttpRequest) -> bool:
    """Tell whether somebody stands above the organisations: a superuser who belongs to none."""
    user = person(request)
    return user.is_superuser and user.organisation_id is None


def may(request: HttpRequest, right: str, model: type[Model]) -> bool:
    """Tell whether the role of who is signed in has a right (`see`, `add`, `change`, `act`) on a kind of record."""
    user = person(request)
    return user.is_active and user.is_staff and role_of(request) in getattr(RIGHTS[model], right)


def visible(request: HttpRequest, rows: QuerySet[Any], path: str | None) -> QuerySet[Any]:
    """Return the rows that are there for who is signed in; `path` leads to the organisation that owns a row."""
    if sees_all(request):
        return rows
    user = person(request)
    if path is None or user.organisation_id is None:
        return rows.none()
    rows = rows.filter(**{path: user.organisation_id})
    to_inspector = _TO_INSPECTOR.get(rows.model)
    if to_inspector is None or role_of(request) != "inspector":
        return rows
    # A subquery: the joins would list a customer once for each of the inspector's jobs.
    return rows.filter(pk__in=rows.model._default_manager.filter(**{to_inspector: user}).values("pk"))


def actor(request: HttpRequest, organisation: Organisation) -> Actor:
    """Return who acts, as the trail shows it."""
    return Actor(
        organisation=organisation,
        client="desk",
        name=f"user {person(request).get_username()}",
        through="admin",
        request_id=getattr(request, "request_id", ""),
    )
