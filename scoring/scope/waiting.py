"""What if we wait: acting now, in stages or late, with the expected condition and what each is worth today."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from scoring.scope.deterioration import CAUTION, SOURCE, WORST, after, condition, in_class, mean_class
from scoring.scope.methods import BY_NAME
from scoring.scope.present_worth import mixed, plus, present_value, worth, years_of
from scoring.scope.types import SCENARIOS, Plan, Section, Span
from scoring.scope.watching import Judged, Scale
from scoring.types import Alarm, Policy

MODEL: Final = "Markov chain, one class worse at a time"
NOTHING_TO_DO: Final = "Nothing has to be fixed under this policy, so there is nothing to put off."
ONE_STAGE: Final = "All that is done cures a finding of the worst grade, or the horizon is too short for two stages."
MAY_FALL_IN: Final = (
    "Waiting is no choice for {refs}: an alarm says that the pipe may fall in at any time. See the alarms (house rule,"
    " safety)."
)
STAGE_YEARS: Final = 5
LATE_YEARS: Final = 10
ASSUMPTIONS: Final = (
    "Prices stay as they are (house rule).",
    "Class 1 to 5 as steps from the best grade of the scheme (house rule).",
    "What is repaired starts in class 1 again, and is done again at the end of its life within the horizon; the low"
    " case takes the long life, the high case the short one.",
    "What has come to the worst class by the time of acting is taken as failed: then the whole line is renewed, at the"
    " price of the plan whole_line (house rule).",
    "Damage by a failure, emergency rates and inspections in between are not in these figures; they come on top.",
    "A programme that pays once in some years may not pay for a second stage within them.",
)
_CENT: Final = Decimal("0.01")
_NOTHING: Final = Decimal("0.00")

Document = dict[str, Any]


def no_waiting(reason: str) -> Document:
    """Return the answer where there is nothing to weigh: the caution and the reason."""
    return {"caution": CAUTION, "reason": reason, "alternatives": [], "expected": []}


def waiting_document(
    plans: Sequence[Plan],
    judged: Sequence[Judged],
    scale: Scale,
    policy: Policy,
    alarms: Sequence[Alarm],
    impossible: str | None,
) -> Document:
    """Return acting now, in stages and late beside each other over the policy's horizon, the caution first.

    What an alarm says may fall in is done in the first stage and never late.
    """
    if impossible is not None:
        return no_waiting(f"Waiting is no choice here. {impossible}")
    if not plans[0].sections:
        return no_waiting(NOTHING_TO_DO)
    return _Waiting(plans, judged, scale, policy, alarms).document()


class _Waiting:
    def __init__(
        self,
        plans: Sequence[Plan],
        judged: Sequence[Judged],
        scale: Scale,
        policy: Policy,
        alarms: Sequence[Alarm],
    ) -> None:
        raised = {alarm.ref for alarm in alarms if alarm.code == "imminent_collapse"}
        self.urgent = [ref for each in judged if (ref := each.found.defect.ref) in raised and each.to_fix]
        self.least = plans[0]
        self.whole = next(plan for plan in plans if plan.name == "whole_line")
        self.horizon, self.discount = policy.horizon_years, policy.discount_percent
        self.classes = {each.found.defect.ref: _class_of(each, scale) for each in judged}
        self.worst = max((self.classes[each.found.defect.ref] for each in judged if each.to_fix), default=1)
        # What is not fixed goes on in its own class, whatever is done about the rest.
        self.rest = max((self.classes[each.found.defect.ref] for each in judged if not each.to_fix), default=1)

    def document(self) -> Document:
        years = sorted({year for year in (0, 1, 2, 5, 10, 15, 20, self.horizon) if year <= self.horizon})
        return {
            "caution": CAUTION,
            "reason": None,
            "model": MODEL,
            "source": SOURCE,
            "horizon_years": self.horizon,
            "discount_percent": self.discount,
            "starts_in_class": self.worst,
            "expected": [{"year": year, **condition(year, self.worst)} for year in years],
            "alternatives": [self._now(), self._in_stages(), self._late()],
            "assumptions": list(ASSUMPTIONS),
        }

    def _now(self) -> Document:
        sections = self.least.sections
        value = worth(sections, 0, self.horizon, self.discount)
        return self._alternative("now", "Everything at once.", self._steps(sections, 0), value, 0, self.worst)

    def _in_stages(self) -> Document:
        worst = max(self._class(section) for section in self.least.sections)
        first = [one for one in self.least.sections if self._class(one) in (0, worst) or self._is_urgent(one)]
        second = [section for section in self.least.sections if section not in first]
        year = min(STAGE_YEARS, self.horizon // 2)
        if not second or not year:
            return _not_possible("in_stages", ONE_STAGE)
        start = max(self._class(section) for section in second)
        failed = after(year, in_class(start))[-1]
        later = mixed(self._worth(second, year), self._worth(self.whole.sections, year), failed)
        again = _paid_again(first, second)
        later = plus(later, Span(*(present_value(again.pick(s), year, self.discount) for s in SCENARIOS)))
        words = f"The worst grade now, the rest in {year} years, when crews and permit are paid for once more."
        steps = [*self._steps(first, 0), *self._steps(second, year, again.likely, failed)]
        return self._alternative("in_stages", words, steps, plus(self._worth(first, 0), later), year, start)

    def _late(self) -> Document:
        if self.urgent:
            return _not_possible("late", MAY_FALL_IN.format(refs=", ".join(self.urgent)))
        year = min(LATE_YEARS, self.horizon)
        failed = after(year, in_class(self.worst))[-1]
        now, whole = self._worth(self.least.sections, year), self._worth(self.whole.sections, year)
        words = f"Everything in {year} years; by then {(100 * failed).quantize(Decimal('0.1'))} % are taken as failed."
        steps = self._steps(self.least.sections, year, failed=failed)
        return self._alternative("late", words, steps, mixed(now, whole, failed), year, self.worst)

    def _worth(self, sections: Sequence[Section], year: int) -> Span:
        return worth(sections, year, self.horizon, self.discount)

    def _class(self, section: Section) -> int:
        """Return the worst class a section cures; 0 where it cures nothing."""
        return max((self.classes[ref] for ref in (*section.cures, *section.cures_in_part)), default=0)

    def _is_urgent(self, section: Section) -> bool:
        return not {*section.cures, *section.cures_in_part}.isdisjoint(self.urgent)

    def _alternative(
        self, name: str, words: str, steps: list[Document], value: Span, last_year: int, start: int
    ) -> Document:
        """Return one alternative; `start` is the class of what is done last, in `last_year`."""
        renewed = max(mean_class(after(self.horizon - last_year, in_class(1))), Decimal(1))
        rest = mean_class(after(self.horizon, in_class(self.rest)))
        return {
            "name": name,
            "is_possible": True,
            "reason": words,
            "steps": steps,
            "present_value": {key: getattr(value, key).quantize(_CENT) for key in ("low", "likely", "high")},
            "before_acting": {"year": last_year, **condition(last_year, start)},
            "at_the_horizon": {"year": self.horizon, "expected_class": max(renewed, rest).quantize(Decimal("0.001"))},
        }

    def _steps(
        self, sections: Sequence[Section], first_year: int, again: Decimal = _NOTHING, failed: Decimal = _NOTHING
    ) -> list[Document]:
        """Return what is done in which year, likely lives, the same work of one year together.

        `again` is what the first of these years costs beside its sections; `failed` the share that has come to the
        worst class by then, at the price of the whole line.
        """
        by_year: dict[int, list[Section]] = {}
        for section in sections:
            for year in years_of(first_year, section.life_years[1], self.horizon):
                by_year.setdefault(year, []).append(section)
        whole = sum((section.cost.likely for section in self.whole.sections), _NOTHING)
        costs = {year: sum((one.cost.likely for one in work), _NOTHING) for year, work in by_year.items()}
        costs[first_year] = costs[first_year] * (1 - failed) + whole * failed + again
        return [self._step(year, by_year[year], year > first_year, costs[year]) for year in sorted(by_year)]

    def _step(self, year: int, sections: Sequence[Section], is_renewal: bool, cost: Decimal) -> Document:
        return {
            "year": year,
            "sections": [section.order for section in sections],
            "methods": list(dict.fromkeys(section.method for section in sections)),
            "is_renewal": is_renewal,
            "cost": cost.quantize(_CENT),
            "present_value": present_value(cost, year, self.discount).quantize(_CENT),
        }


def _not_possible(name: str, reason: str) -> Document:
    return {"name": name, "is_possible": False, "reason": reason, "steps": [], "present_value": None}


def _paid_again(first: Sequence[Section], second: Sequence[Section]) -> Span:
    """Return what was paid once in the first stage and is paid again in the second: mobilisation and permit."""
    methods = {section.method for section in second}
    rates = {f"methods/{method}/once" for method in methods}
    if any(BY_NAME[method].needs_permit for method in methods):
        rates.add("items/permit")
    found = [line.due for section in first for line in section.quantities if line.rate_item in rates and line.due]
    return Span(*(sum((due.pick(s) for due in found), _NOTHING) for s in SCENARIOS))


def _class_of(each: Judged, scale: Scale) -> int:
    return min(WORST, max(1, scale.severity(each.grade) + 1))
