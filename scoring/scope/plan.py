"""From a reconciled lateral and its grades to a scope: what to do, where, at what price, and why."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from scoring.scope.alarms import alarms_of, has_foreign_line
from scoring.scope.blocks import Place
from scoring.scope.cautions import scope_cautions
from scoring.scope.dividing import Zones
from scoring.scope.extents import RULE
from scoring.scope.fits import by_digging, fits_of
from scoring.scope.ground import survey_ground
from scoring.scope.impossible import no_plans, no_proof, without_extent
from scoring.scope.needs import NOT_WHILE_A_LINE_PASSES, Needs
from scoring.scope.optimum import cheapest_plan
from scoring.scope.paid_once import DIGGING_LEADS, PaidOnce
from scoring.scope.payers import Payers
from scoring.scope.protection import protection_words
from scoring.scope.rate_book import RateBook
from scoring.scope.rule_set import RuleSet
from scoring.scope.sections import Brief, Objective, make_plan
from scoring.scope.stops import ASSUMED, LOOK_AGAIN
from scoring.scope.takeoff import Takeoff
from scoring.scope.types import Plan, Scope, Watched
from scoring.scope.waiting import waiting_document
from scoring.scope.watching import Judged, Scale, judge, watched, watched_at_a_stop
from scoring.scope.whole_line import beyond, renewed_cells
from scoring.types import GradedFinding, Lateral, Policy, Site

RULES: Final = ("repair-scope", "2")
NOTHING_CAN_BE_DONE: Final = (
    "Nothing that must be fixed can be: not_curable says why for each finding. There is no work, and so no price."
)
LEAST_COST: Final = Objective("least_cost", "the lowest likely cost", "the likely cost")
LEAST_DIGGING: Final = Objective(
    "least_digging",
    "the least volume dug, then the lowest likely cost",
    "the likely cost among plans that dig as little",
)
WHOLE_LINE: Final = Objective(
    "whole_line",
    "the lowest likely cost with the whole line renewed",
    "the likely cost of plans that renew the whole line",
)
OBJECTIVES: Final = (LEAST_COST, LEAST_DIGGING, WHOLE_LINE)


def plan(
    lateral: Lateral,
    findings: Sequence[GradedFinding],
    site: Site,
    policy: Policy,
    rate_book: RateBook,
    rule_set: RuleSet,
    *,
    as_of: str | None = None,
    is_higher_worse: bool = True,
    best_grade: int | None = None,
) -> Scope:
    """Return the repair scope of a lateral.

    `as_of` is the date of the latest inspection (ISO), from which dates to look again are counted. `best_grade` is the
    scheme's best grade of something found (open-five: 1). A lateral without an extent gives a scope that says why
    nothing could be planned.
    """
    best = best_grade if best_grade is not None else (1 if is_higher_worse else 5)
    scale = Scale(is_higher_worse, best)
    judged = judge(lateral.defects, tuple(findings), policy, scale)
    if lateral.from_m is None or lateral.to_m is None or lateral.from_m >= lateral.to_m:
        return without_extent(lateral, rate_book, rule_set, RULES, as_of)
    return Planner(lateral, judged, scale, site, policy, rate_book, rule_set, as_of).scope()


class Planner:
    """The scope of one lateral in the making: what must be fixed, what each method asks, the plans found."""

    def __init__(
        self,
        lateral: Lateral,
        judged: Sequence[Judged],
        scale: Scale,
        site: Site,
        policy: Policy,
        book: RateBook,
        rules: RuleSet,
        as_of: str | None,
    ) -> None:
        self.lateral, self.judged, self.scale, self.site = lateral, judged, scale, site
        self.policy, self.book, self.rules, self.as_of = policy, book, rules, as_of
        self.ground = survey_ground(lateral, site)
        place = Place(lateral, self.ground, site, policy)
        self.takeoff = Takeoff(lateral, site, self.ground, book)
        self.fits = fits_of(place, self.takeoff)
        self.once = PaidOnce(place, self.takeoff)
        self.is_stopped = has_foreign_line(lateral)
        self.weighed = Needs(place, self.fits, self.once, rules)
        self.weighed.weigh(judged, self.is_stopped)

    def scope(self) -> Scope:
        """Find the three plans and put the answer together."""
        impossible, alarms = self._impossible(), alarms_of(self.lateral)
        plans = self._plans() if impossible is None else no_plans(OBJECTIVES, impossible, self.weighed.stops)
        return Scope(
            plans=plans,
            monitor=tuple(item for item in map(self._watch, self.judged) if item),
            not_curable=tuple(self.weighed.not_curable),
            refused=tuple(self.weighed.refused.items()),
            alarms=alarms,
            cautions=scope_cautions(self.lateral, plans),
            assumptions=(*self.ground.assumptions, *self._assumed()),
            proof=plans[0].proof if impossible is None else no_proof(impossible),
            waiting=waiting_document(plans, self.judged, self.scale, self.policy, alarms, impossible),
            currency=self.book.currency,
            rate_book=(self.book.id, self.book.version),
            rule_set=(self.rules.id, self.rules.version),
            rules=RULES,
            as_of=self.as_of,
            impossible=impossible,
        )

    def _impossible(self) -> str | None:
        if self.is_stopped:
            return NOT_WHILE_A_LINE_PASSES
        return NOTHING_CAN_BE_DONE if self.weighed.not_curable and not self.weighed.needs else None

    def _assumed(self) -> tuple[str, ...]:
        found = [protection_words(self.book.trench.protection, self.site.soil), RULE]
        if "property_line" not in {boundary.kind for boundary in self.site.boundaries}:
            found.append("No property line was given: everything outside the building counts as private.")
        if self.weighed.stops:
            found.append(ASSUMED)
        return (*found, *self._payers().closed())

    def _watch(self, each: Judged) -> Watched | None:
        if each.found.defect.ref in self.weighed.stopped_at:
            return watched_at_a_stop(each, LOOK_AGAIN, self.as_of)
        return None if each.to_fix else watched(each, self.scale, self.as_of)

    def _plans(self) -> tuple[Plan, ...]:
        brief = self._brief()
        needs, offers, once = self.weighed.needs, [fit.offer for fit in self.fits.values()], self.once
        cheapest = cheapest_plan(needs, offers, once.price)
        first = make_plan(brief, LEAST_COST, cheapest, None)
        digging = [by_digging(offer, self.takeoff) for offer in offers]
        dug = cheapest_plan(needs, digging, once.price_dug_first, cheapest.used)
        dug = replace(dug, lower_bound=dug.lower_bound % DIGGING_LEADS)
        cells, left = renewed_cells(self.ground, self.fits, self._allowed(), needs)
        objective = replace(WHOLE_LINE, cells=cells, left=(*left, *beyond(self.weighed.stops)))
        whole = cheapest_plan([*needs, *cells], offers, once.price, cheapest.used)
        return first, make_plan(brief, LEAST_DIGGING, dug, first), make_plan(brief, objective, whole, first)

    def _brief(self) -> Brief:
        return Brief(
            takeoff=self.takeoff,
            payers=self._payers(),
            rules=self.rules,
            zones=Zones(self.site.boundaries),
            fits=self.fits,
            needs=self.weighed.needs,
            judged={each.found.defect.ref: each for each in self.judged},
            refused=self.weighed.refused,
            stops=self.weighed.stops,
            stopped_at=self.weighed.stopped_at,
            not_curable=len(self.weighed.not_curable),
            once_extras=self.once.extras,
            clean_out_um=self.once.new_clean_out_um,
        )

    def _payers(self) -> Payers:
        return Payers(self.rules, dict(self.policy.programmes_paid_on), self.as_of)

    def _allowed(self) -> frozenset[str]:
        """Return the methods that policy and rule set allow and that can be reached."""
        allowed = set(self.fits)
        for only in (self.policy.methods, self.rules.allowed_methods):
            allowed &= allowed if only is None else set(only)
        if not self.once.can_work_from_a_clean_out:
            allowed = {name for name in allowed if not self.fits[name].method.needs_clean_out}
        return frozenset(allowed)
