"""A repair scope closed section by section: done, failed, partly done, not seen, with what each rests on.

What the scope set out to fix may not be there any more (house rule after the acceptance criteria of public programmes:
a post-repair recording and a passed test); an unseen stretch is never taken for sound.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Final

from scoring.acceptance.seeing import Seen, View
from scoring.acceptance.testing import TIGHT, counted, material_of, tight
from scoring.acceptance.types import Built, Closing, Criterion, Later, Planned, PressureTest, SectionResult, State
from scoring.scope.methods import BY_NAME
from scoring.scope.watching import Scale
from scoring.types import Lateral, Policy
from scoring.units import Units, length_in, plain

RULES: Final = "acceptance/1"
NO_DEFECT: Final = "no_defect_left"
WHOLLY_SEEN: Final = "wholly_seen"
BUILT: Final = "built_as_planned"
ACCESS: Final = "access_seen"
MATERIAL: Final = "material_seen"
ACCESS_NEAR_M: Final = Decimal(1)  # a new clean-out may be set this far from where it was planned; house rule
_HOUSE: Final = "house rule"
_UNSEEN: Final = "house rule: an unseen stretch is never taken for sound"
_POLICY: Final = "the policy of the scope; house rule: what it set out to fix may not be there any more"
_CAUTIONS: Final = (
    "A recording is not a pressure test, and a test says nothing about the wall.",
    "A decision aid: the authority that demands the repair decides whether it is accepted.",
)


class Closer:
    """Judges the sections of one plan; what each later inspection says is worked out once."""

    def __init__(self, earlier: Lateral, policy: Policy, scale: Scale, units: Units) -> None:
        self.earlier, self.policy, self.scale, self.units = earlier, policy, scale, units
        self._views: dict[tuple[str, ...], View] = {}

    def close(
        self,
        plan: Sequence[Planned],
        built: Mapping[int, Built],
        later: Mapping[int, Later | None],
        tests: Sequence[PressureTest],
    ) -> Closing:
        """Return the scope as it stands after the work. `later`: by section, what was seen once it was done."""
        sections = tuple(self._section(one, built.get(one.number), later.get(one.number), tests) for one in plan)
        return Closing(_whole([one.state for one in sections]), sections, tuple(self._cautions(later.values())))

    def _section(
        self, planned: Planned, built: Built | None, later: Later | None, tests: Sequence[PressureTest]
    ) -> SectionResult:
        if built is None:
            criterion = Criterion(BUILT, False, "No work is reported for this section.", _HOUSE)
            return SectionResult(planned, None, "not_done", (criterion,))
        view = None if later is None else self._view(later)
        if not BY_NAME[planned.method].cures:
            return self._access(planned, built, view)
        first, last = min(planned.from_m, built.from_m), max(planned.to_m, built.to_m)
        seen = None if view is None else view.section(first, last, planned.cures)
        own_tests = counted(built, tests)
        criteria = [self._as_planned(planned, built), *self._sight(built, seen), *_material(built, view)]
        tightness = tight(planned, built, own_tests)
        if tightness is not None:
            criteria.append(tightness)
        return SectionResult(
            planned=planned,
            built=built,
            state=_state(criteria, seen),
            criteria=tuple(criteria),
            runs=() if later is None else later.runs,
            share=Decimal(0) if seen is None else seen.share,
            hidden=() if seen is None else seen.hidden,
            left=() if seen is None else seen.left,
            cured=() if seen is None else seen.cured,
            tests=own_tests,
        )

    def _view(self, later: Later) -> View:
        if later.runs not in self._views:
            self._views[later.runs] = View(self.earlier, later, self.policy, self.scale)
        return self._views[later.runs]

    def _access(self, planned: Planned, built: Built, view: View | None) -> SectionResult:
        """A new clean-out cures nothing: it is done when a run starts from it or passes it."""
        is_seen = view is not None and view.passes(built.from_m, ACCESS_NEAR_M)
        detail = "A run starts from it or passes it." if is_seen else "No run after the work starts from or passes it."
        criterion = Criterion(ACCESS, is_seen or None, detail, _HOUSE)
        runs = () if view is None else view.later.runs
        state: State = "done" if is_seen else "not_seen"
        return SectionResult(planned, built, state, (criterion,), runs)

    # Criteria

    def _as_planned(self, planned: Planned, built: Built) -> Criterion:
        short = [
            f"{self._words(gap)} short at its {end} end"
            for gap, end in ((built.from_m - planned.from_m, "upstream"), (planned.to_m - built.to_m, "downstream"))
            if gap > self.policy.margin_m
        ]
        kinds = {one.defect.ref: one.defect.kind for one in self.earlier.defects}
        cured = BY_NAME[built.method].cures
        uncured = [
            f"{ref} ({kinds[ref].replace('_', ' ')})"
            for ref in planned.cures
            if ref in kinds and kinds[ref] not in cured
        ]
        method = built.method.replace("_", " ")
        said = f"Built as {method}"
        said += "" if built.method == planned.method else f" instead of {planned.method.replace('_', ' ')}"
        is_longer = built.from_m < planned.from_m or built.to_m > planned.to_m
        faults = [f"Built {', '.join(short)}."] if short else []
        faults += [f"A {method} does not cure {', '.join(uncured)}."] if uncured else []
        margin = f"the margin of the policy, {self._words(self.policy.margin_m)}, counts as within"
        if not faults and planned.incomplete is not None and not is_longer:
            return Criterion(BUILT, None, f"{said}, and no further: {planned.incomplete}", _HOUSE)
        return Criterion(BUILT, not faults, " ".join(faults) or f"{said}.", f"house rule: {margin}")

    def _sight(self, built: Built, seen: Seen | None) -> Iterable[Criterion]:
        if seen is None:
            detail = f"No run was made on or after {built.done_on}, when the work was done."
            yield Criterion(WHOLLY_SEEN, False, detail, _UNSEEN)
            yield Criterion(NO_DEFECT, None, "Nothing of the section was seen.", _POLICY)
            return
        yield Criterion(WHOLLY_SEEN, not seen.hidden, self._hidden(seen), _UNSEEN)
        yield self._no_defect(seen)

    def _hidden(self, seen: Seen) -> str:
        if not seen.hidden:
            return "The whole section was seen."
        stretches = ", ".join(
            f"{self._at(one.from_m)} to {self._at(one.to_m)} ({one.reason.replace('_', ' ')})" for one in seen.hidden
        )
        return f"Not seen: {stretches} {self._unit}."

    def _no_defect(self, seen: Seen) -> Criterion:
        inside = [one for one in seen.left if one.is_inside]
        edge = [one for one in seen.left if not one.is_inside]
        named = ", ".join(
            f"{one.kind.replace('_', ' ')} at {self._at(one.from_m)} {self._unit}"
            + (f", grade {one.grade}" if one.grade is not None else "")
            for one in (inside or edge)
        )
        limit = f"grade {self.policy.fix_from_grade} or worse ({self.policy.scheme})"
        if inside:
            return Criterion(NO_DEFECT, False, f"Still there, {limit}: {named}.", _POLICY)
        if edge:
            detail = f"At the edge, within the doubt of its station: {named}. Have it looked at."
            return Criterion(NO_DEFECT, None, detail, _POLICY)
        if seen.seen_m <= 0:
            return Criterion(NO_DEFECT, None, "Nothing of the section was seen.", _POLICY)
        where = "what was seen of it" if seen.hidden else "it"
        is_met = None if seen.hidden else True
        return Criterion(NO_DEFECT, is_met, f"Nothing of {limit} in {where}.", _POLICY)

    # Words

    @property
    def _unit(self) -> str:
        return "ft" if self.units == "us" else "m"

    def _at(self, station_m: Decimal) -> Decimal:
        return plain(length_in(station_m, self.units), Decimal("0.01"))

    def _words(self, length_m: Decimal) -> str:
        return f"{self._at(length_m)} {self._unit}"

    def _cautions(self, later: Iterable[Later | None]) -> Iterable[str]:
        yield from _CAUTIONS
        loose = {one.run for seen in later if seen is not None for one in seen.pipe.placements if not one.is_tied}
        for run in sorted(loose):
            yield f"Nothing ties run {run} to the lateral: what it saw counts nowhere. Name a landmark in it."


def _material(built: Built, view: View | None) -> Iterable[Criterion]:
    """Yield whether the pipe looks as it should; nothing where nobody says what it is of."""
    wanted = material_of(built)
    shown = frozenset[str]() if view is None else view.materials(built.from_m, built.to_m)
    if wanted is None or not shown:
        return
    others = sorted(material.replace("_", " ") for material in shown if material != wanted)
    name = wanted.replace("_", " ")
    if others:
        detail = f"The runs show {', '.join(others)} where {name} was built; amend the segments, or look again."
        yield Criterion(MATERIAL, False, detail, _HOUSE)
    else:
        yield Criterion(MATERIAL, True, f"The runs show {name}.", _HOUSE)


def _state(criteria: Sequence[Criterion], seen: Seen | None) -> State:
    if any(one.is_met is False for one in criteria if one.name in (NO_DEFECT, TIGHT)):
        return "failed"
    if seen is None or seen.seen_m <= 0:
        return "not_seen"
    return "done" if all(one.is_met for one in criteria) else "partly_done"


def _whole(states: Sequence[State]) -> State:
    """Return the state of the scope: one failed section fails it, and only all done is done."""
    if "failed" in states:
        return "failed"
    if states and all(state == "done" for state in states):
        return "done"
    if "done" in states or "partly_done" in states:
        return "partly_done"
    return "not_seen" if "not_seen" in states else "not_done"
