"""The bids on one plan of a scope, held against its quantities and prices and against each other."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from inspections import exact_json
from inspections.errors import Fault, Invalid
from inspections.models import Bid, RepairScope, Site
from inspections.services import laterals, schemes, scoping
from inspections.services.bids import computed_scope
from inspections.translate import scoring_bid, scoring_site
from scoring import RULES_VERSION, bids, scope
from scoring import grading as scoring_grading
from scoring.scope.watching import Scale
from scoring.units import Units

Document = dict[str, Any]

_NO_BID: Final = "No complete bid is there yet."
_NO_PROGRAMME: Final = "No programme of the rule set counts from the lowest bid: see the payers of the plan."
_OLD_SCOPE: Final = (
    "The lateral or its site changed since the scope was computed: who pays hangs on both. Ask for a new scope."
)
_CREDITS: Final = (
    "Credits leave a section below nothing: who pays what cannot be said. Ask the bidder to put them right."
)


@dataclass(frozen=True, slots=True)
class Compared:
    """A comparison with the digest of what it follows from."""

    document: Document
    inputs_sha256: str


def comparison_of(row: RepairScope, *, plan: str | None, on: date | None, units: Units) -> Compared:
    """Compare the bids on a plan; where none is named, on the only one that is bid on.

    Raises ScopeNotComputed, and Invalid where the plan is not there or has to be named.
    """
    computed = computed_scope(row)
    rows = list(Bid.objects.filter(repair_scope=row).order_by("received_on", "created_at", "id"))
    name = _plan_named(computed, [one for one in rows if one.state == "received"], plan)
    mine = [one for one in rows if one.plan == name]
    asked = bids.read_plan(exact_json.load(row.document_us or ""), computed, name, _book(row))
    standing = [one for one in mine if one.state == "received"]
    found = bids.compare(asked, [scoring_bid(one) for one in standing], on=on)
    document = bids.comparison_document(found, units)
    document["left_out"] += _withdrawn(mine)
    sha256 = exact_json.digest(_read(row, name, mine, on))
    shares, reason = _shares(row, found, computed)
    return Compared(
        {
            "repair_scope": str(row.id),
            "units": units,
            "is_current": _is_current(row),
            "on": on and on.isoformat(),
            **document,
            "programme": shares,
            "programme_reason": reason,
            "rules_version": RULES_VERSION,
            "inputs_sha256": sha256,
        },
        sha256,
    )


def _plan_named(computed: Document, standing: Sequence[Bid], plan: str | None) -> str:
    known = [one["name"] for one in computed["plans"] if one["sections"]]
    on = sorted({one.plan for one in standing})
    name = plan or (on[0] if len(on) == 1 else None)
    if name is None:
        detail = f"Name the plan: {', '.join(on or known)}."
        raise Invalid("Which plan's bids to compare is not said.", faults=[Fault(("plan",), "required", detail)])
    if name not in known:
        near = difflib.get_close_matches(name[:100], known, n=1)
        hint = f" Did you mean {near[0]}?" if near else ""
        detail = f"The scope has no work under this plan.{hint} Known are: {', '.join(known) or 'none'}."
        raise Invalid("There is no such plan.", faults=[Fault(("plan",), "unknown_value", detail)])
    return name


def _book(row: RepairScope) -> scope.RateBook:
    return scope.load_rate_book(exact_json.load(row.rate_book.document))


def _withdrawn(rows: Sequence[Bid]) -> list[Document]:
    return [
        {
            "bid": str(one.id),
            "bidder": one.bidder,
            "code": "withdrawn",
            "detail": f"It was withdrawn: {one.withdrawn_because}",
        }
        for one in rows
        if one.state == "withdrawn"
    ]


def _is_current(row: RepairScope) -> bool:
    lateral = row.lateral
    return (row.inputs_revision, row.site_revision) == (lateral.inputs_revision, lateral.site_revision)


def _read(row: RepairScope, plan: str, rows: Sequence[Bid], on: date | None) -> Document:
    return {
        "rules_version": RULES_VERSION,
        "scope": row.inputs_sha256,
        "is_current": _is_current(row),
        "plan": plan,
        "on": on and on.isoformat(),
        "bids": [{"id": str(one.id), "state": one.state, **exact_json.load(one.written)} for one in rows],
    }


def _shares(row: RepairScope, found: bids.Comparison, computed: Document) -> tuple[Document | None, str | None]:
    """Return who pays the lowest complete bid, or why that cannot be said."""
    rules = scope.load_rule_set(exact_json.load(row.rule_set.document))
    if found.lowest_complete is None:
        return None, _NO_BID
    if not any(one.is_of_lowest_bid for one in rules.programmes):
        return None, _NO_PROGRAMME
    if not _is_current(row):
        return None, _OLD_SCOPE
    shared = bids.shared(found.plan, found.lowest_complete, _place(row, rules, computed["as_of"]))
    return (None, _CREDITS) if shared is None else (bids.shared_document(shared), None)


def _place(row: RepairScope, rules: scope.RuleSet, as_of: str | None) -> bids.Place:
    pipe = laterals.reconciled(laterals.read(row.lateral))
    scheme = schemes.loaded(row.scheme)
    findings = scoring_grading.grade_lateral(pipe, scheme).findings
    policy = scoping.policy_of(exact_json.load(row.policy)["policy"], row)
    scale = Scale(scheme.worst > scheme.best, scheme.best)
    site = scoring_site(Site.objects.get(lateral=row.lateral))
    return bids.place_of(pipe, findings, policy, scale, rules, site.boundaries, as_of)
