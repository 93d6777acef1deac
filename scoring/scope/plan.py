"""From a reconciled lateral and its grades to a scope: what to do, where, at what price, and why."""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from typing import Final

from scoring.scope.alarms import alarms_of, has_foreign_line
from scoring.scope.bill import Extra, set_up_price
from scoring.scope.cautions import scope_cautions
from scoring.scope.cover import Need
from scoring.scope.curve import Curve
from scoring.scope.ground import Ground, ceil_um, floor_um, metres_of, survey_ground
from scoring.scope.limits import (
    Block,
    Place,
    blocking,
    blocks,
    defect_refusals,
    pit_stretches,
    reach_um,
    refusal,
    zones,
)
from scoring.scope.methods import BY_NAME, CURING, Method
from scoring.scope.offer import Offer
from scoring.scope.optimum import Optimum, cheapest_plan
from scoring.scope.rate_book import RateBook
from scoring.scope.rule_set import RuleSet
from scoring.scope.sections import Brief, Objective, make_plan
from scoring.scope.takeoff import UNIT, Takeoff
from scoring.scope.trench import pit_volume_m3
from scoring.scope.types import Left, NotCurable, Plan, Proof, Refusal, Scope, Watched
from scoring.scope.waiting import waiting_document
from scoring.scope.watching import Judged, Scale, judge, watched
from scoring.types import Defect, GradedFinding, Lateral, Policy, Site

RULES: Final = ("repair-scope", "1")
NOTHING_UNTIL_REMOVED: Final = (
    "A foreign line passes through the drain: nothing is proposed anywhere on it until the line's owner has"
    " removed it."
)
ACCESS_KINDS: Final = ("clean_out", "stack_clean_out", "house_trap", "downstream_manhole")
_DIGGING_LEADS: Final = 10**22  # a cubic micrometre dug outweighs any price
DEFAULT_JOINT_REACH_M: Final = Decimal("1.524")
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
        return _impossible(lateral, policy, rate_book, rule_set, as_of)
    return Planner(lateral, judged, scale, site, policy, rate_book, rule_set, as_of).scope()


def _impossible(lateral: Lateral, policy: Policy, book: RateBook, rules: RuleSet, as_of: str | None) -> Scope:
    reason = "No run is tied to the datum, so the lateral has no extent: tie a run to it and ask again."
    return Scope(
        plans=(),
        monitor=(),
        not_curable=(),
        refused=(),
        alarms=alarms_of(lateral),
        cautions=scope_cautions(lateral, ()),
        assumptions=(),
        proof=Proof(False, Decimal(0), reason),
        waiting={},
        currency=book.currency,
        rate_book=(book.id, book.version),
        rule_set=(rules.id, rules.version),
        rules=RULES,
        as_of=as_of,
        impossible=reason,
    )


@dataclass(frozen=True, slots=True)
class Fit:
    """One method on this line: its offer and where it may not go."""

    method: Method
    offer: Offer
    blocks: list[Block]


class Planner:
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
        self.ground: Ground = survey_ground(lateral, site)
        self.place = Place(lateral, self.ground, site, policy)
        self.takeoff = Takeoff(lateral, site, self.ground, book)
        self.fits = {method.name: self._fit(method) for method in CURING}
        self.is_stopped = has_foreign_line(lateral)
        self.needs: list[Need] = []
        self.refused: dict[str, tuple[Refusal, ...]] = {}
        self.not_curable: list[NotCurable] = []

    def scope(self) -> Scope:
        """Weigh every defect, find the three plans, and put the answer together."""
        for each in self.judged:
            if each.found.defect.kind == "foreign_line":
                continue
            if each.to_fix and self.is_stopped:
                self.not_curable.append(NotCurable(each.found.defect.ref, NOTHING_UNTIL_REMOVED))
            elif each.to_fix:
                self._weigh(each)
        self._foreign_lines()
        cheapest = self._find(self.needs, self._offers())
        plans = self._plans(cheapest)
        return Scope(
            plans=plans,
            monitor=tuple(item for item in map(self._watch, self.judged) if item),
            not_curable=tuple(self.not_curable),
            refused=tuple(self.refused.items()),
            alarms=alarms_of(self.lateral),
            cautions=scope_cautions(self.lateral, plans),
            assumptions=self.ground.assumptions + self._assumed(),
            proof=plans[0].proof,
            waiting=self._waiting(plans[0]),
            currency=self.book.currency,
            rate_book=(self.book.id, self.book.version),
            rule_set=(self.rules.id, self.rules.version),
            rules=RULES,
            as_of=self.as_of,
            impossible=NOTHING_UNTIL_REMOVED if self.is_stopped else None,
        )

    def _assumed(self) -> tuple[str, ...]:
        kinds = {boundary.kind for boundary in self.site.boundaries}
        if "property_line" in kinds:
            return ()
        return ("No property line was given: everything outside the building counts as private.",)

    def _watch(self, each: Judged) -> Watched | None:
        return None if each.to_fix else watched(each, self.scale, self.as_of)

    # Needs

    def _weigh(self, each: Judged) -> None:
        """Make a need of a defect, or say why nothing can be done about it."""
        reach = reach_um(each.found)
        ref = each.found.defect.ref
        if reach is None:
            reason = "Position unknown: nothing ties its run to the datum. Tie it by an access point or a landmark."
            self.not_curable.append(NotCurable(ref, reason))
            return
        margin = ceil_um(self.policy.margin_m)
        first, last = self._clipped(reach[0] - margin, reach[1] + margin)
        material = self.ground.at(first + (last - first) // 2).material
        refusals = {
            name: self._refusals(fit, each.found.defect, material, (first, last)) for name, fit in self.fits.items()
        }
        cures = tuple(name for name, found in refusals.items() if not found)
        self.refused[ref] = tuple(one for found in refusals.values() for one in found)
        if cures:
            self.needs.append(Need(ref, first, last, cures))
        else:
            reason = "No method that may be used cures it and fits there."
            self.not_curable.append(NotCurable(ref, reason, self.refused[ref]))

    def _clipped(self, first: int, last: int) -> tuple[int, int]:
        start, end = self.ground.from_um, self.ground.to_um
        return min(max(first, start), end), max(min(last, end), start)

    def _refusals(self, fit: Fit, defect: Defect, material: str, reach: tuple[int, int]) -> list[Refusal]:
        first, last = reach
        name = fit.method.name
        if self.rules.allowed_methods is not None and name not in self.rules.allowed_methods:
            return [refusal(name, "rule_set")]
        found = defect_refusals(fit.method, defect, material, self.policy)
        if found:
            return found
        seen: dict[tuple[str, str], Refusal] = {}
        for block in blocking(fit.blocks, first, last):
            seen.setdefault((block.limit, block.what), refusal(name, block.limit, block.what))
        if seen:
            return list(seen.values())
        if fit.method.needs_clean_out and not self._has_access and self._new_clean_out_um is None:
            return [refusal(name, "no_access")]
        if fit.offer.stretch(first, last) is None:
            return [refusal(name, "pit_not_allowed")]
        return []

    def _foreign_lines(self) -> None:
        for found in self.lateral.defects:
            if found.defect.kind == "foreign_line":
                refused = tuple(refusal(method.name, "foreign_line") for method in CURING)
                cautions = scope_cautions(self.lateral, ())[:1]
                self.not_curable.append(NotCurable(found.defect.ref, NOTHING_UNTIL_REMOVED, refused, cautions))

    # Offers

    def _fit(self, method: Method) -> Fit:
        found = blocks(method, self.place)
        rates = self.book.methods[method.name]
        joints = self._joints if method.name == "spot_repair" else ()
        offer = Offer(
            method=method.name,
            set_up=set_up_price(self.takeoff, method, "likely"),
            work=self.takeoff.curve(method, "likely"),
            surface=self.takeoff.restoration_curve(method, "likely"),
            cut_back_um=ceil_um(self.book.trench.cut_back_m),
            minimum_um=ceil_um(rates.minimum_length_m),
            zones=zones(method, self.place, found),
            ends=pit_stretches(self.place) if method.name == "pipe_bursting" else None,
            joints=joints,
            joint_reach_um=ceil_um(DEFAULT_JOINT_REACH_M),
        )
        return Fit(method, offer, found)

    @cached_property
    def _joints(self) -> tuple[int, ...]:
        stations = [each.station_m for each in self.lateral.features if each.feature.kind == "joint"]
        return tuple(sorted({floor_um(station) for station in stations if station is not None}))

    def _offers(self) -> list[Offer]:
        return [fit.offer for fit in self.fits.values()]

    @cached_property
    def _has_access(self) -> bool:
        if self.lateral.datum is not None and self.lateral.datum.kind in ACCESS_KINDS:
            return True
        return any(each.feature.kind == "access_point" for each in self.lateral.features)

    @cached_property
    def _new_clean_out_um(self) -> int | None:
        """Return where a new clean-out may be put: as near to the building as the ground may be opened."""
        method = BY_NAME["new_clean_out"]
        free = zones(method, self.place, blocks(method, self.place))
        return free[0][0] if free else None

    def once_extras(self, methods: frozenset[str]) -> dict[str, list[Extra]]:
        """Return what is paid once per plan, by the method (or `new_clean_out`) that brings it."""
        extras: dict[str, list[Extra]] = {}
        used = [method for method in CURING if method.name in methods]
        for method in used:
            extras[method.name] = [Extra("mobilisation", 1, self.book.methods[method.name].once, "once per plan")]
        with_permit = [method.name for method in used if method.needs_permit]
        if with_permit:
            extras[with_permit[0]].append(Extra("permit", 1, self.book.permit, "once per plan"))
        if self._needs_clean_out(methods):
            extra = Extra("clean_out", 1, self.book.clean_out, "no clean-out on the line to work from")
            extras["new_clean_out"] = [extra]
        return extras

    def _needs_clean_out(self, methods: frozenset[str]) -> bool:
        return not self._has_access and any(BY_NAME[name].needs_clean_out for name in methods)

    def _once(self, methods: frozenset[str]) -> int:
        found = self.once_extras(methods)
        return sum(int(one.price.likely * UNIT) for extras in found.values() for one in extras)

    def _once_dug(self, methods: frozenset[str]) -> int:
        dug = self._pit_m3() if self._needs_clean_out(methods) else Decimal(0)
        return int(dug * 10**12) * _DIGGING_LEADS + self._once(methods)

    def _pit_m3(self) -> Decimal:
        trench = self.book.trench
        return pit_volume_m3(trench.pit_length_m, trench.pit_width_m, self.ground.deepest_m, Decimal(0))

    # Plans

    def _find(
        self, needs: Sequence[Need], offers: Sequence[Offer], once: Callable[[frozenset[str]], int] | None = None
    ) -> Optimum:
        return cheapest_plan(needs, offers, once or self._once)

    def _plans(self, cheapest: Optimum) -> tuple[Plan, ...]:
        brief = Brief(
            self.takeoff,
            self.rules,
            self.needs,
            {each.found.defect.ref: each for each in self.judged},
            self.refused,
            self.once_extras,
            self._new_clean_out_um,
        )
        first = make_plan(brief, LEAST_COST, cheapest, None)
        dug = self._find(self.needs, [self._by_digging(offer) for offer in self._offers()], self._once_dug)
        dug = replace(dug, lower_bound=dug.lower_bound % _DIGGING_LEADS)
        cells, left = self._whole_line()
        whole = self._find([*self.needs, *cells], self._offers())
        return (
            first,
            make_plan(brief, LEAST_DIGGING, dug, first),
            make_plan(brief, replace(WHOLE_LINE, left=tuple(left)), whole, first),
        )

    def _by_digging(self, offer: Offer) -> Offer:
        """Return an offer whose price counts the volume dug first and the money second."""
        method = BY_NAME[offer.method]
        dug = self.takeoff.dug_curve(method)
        rates = [volume * _DIGGING_LEADS + rate for volume, rate in zip(dug.rates, offer.work.rates, strict=True)]
        steps = [(at, int(self.book.connection.likely * UNIT)) for at in offer.work.steps]
        pits = int(2 * self._pit_m3() * 10**12) if method.name == "pipe_bursting" else 0
        work = Curve(offer.work.marks, rates, steps)
        return replace(offer, set_up=offer.set_up + pits * _DIGGING_LEADS, work=work)

    def _whole_line(self) -> tuple[list[Need], list[Left]]:
        """Return the line's cells as needs of the methods that renew, and what none can renew."""
        if self.is_stopped:
            return [], [Left(metres_of(self.ground.from_um), metres_of(self.ground.to_um), NOTHING_UNTIL_REMOVED)]
        renewing = [fit for fit in self.fits.values() if fit.method.renews and self._is_allowed(fit.method)]
        ends = set(self.ground.marks)
        for fit in renewing:
            ends.update(end for zone in fit.offer.zones for end in zone)
        marks = sorted(ends)
        cells, left = [], []
        for first, last in itertools.pairwise(marks):
            cures = tuple(fit.method.name for fit in renewing if fit.offer.stretch(first, last) is not None)
            if cures:
                cells.append(Need("", first, last, cures))
            else:
                left.append(Left(metres_of(first), metres_of(last), "No method that may be used can renew it."))
        return cells, left

    def _is_allowed(self, method: Method) -> bool:
        if self.policy.methods is not None and method.name not in self.policy.methods:
            return False
        if self.rules.allowed_methods is not None and method.name not in self.rules.allowed_methods:
            return False
        return not method.needs_clean_out or self._has_access or self._new_clean_out_um is not None

    def _waiting(self, cheapest: Plan) -> dict[str, object]:
        grades = [self.scale.severity(each.grade) + 1 for each in self.judged if each.is_structural]
        worst = min(5, max(grades, default=1))
        return waiting_document(cheapest.total.likely, max(1, worst), self.policy)
