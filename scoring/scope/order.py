"""In which order the sections of a plan are worked, and what it means where two of them meet."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from scoring.scope.takeoff import DIGGING, LINING
from scoring.scope.types import Section, Shared

CLEANING: Final = ("root_cutting_and_cleaning", "descaling")
# Steps in the order of work, common practice without a published source; sections of one step go on from the main.
_STEPS: Final[tuple[tuple[tuple[str, ...], str], ...]] = (
    (("new_clean_out",), "Access first: the clean-out is what later steps work from."),
    (CLEANING, "Cleaning before digging and lining: what roots and deposits hid is judged before more is done."),
    (("pipe_bursting",), "Bursting before digging: a burst head would break pipe that was laid new."),
    (DIGGING, "Digging before lining: a liner is drawn through a pipe that is whole and to grade."),
    (LINING, "Lining last: nothing may be cut or dug where a liner lies."),
)
SOURCE: Final = "common practice, no source"
FROM_THE_MAIN: Final = "Within a step from the main up: pipe is laid from its low end."
_DUG_THEN_LINED: Final = (
    "Dug up in step {first}, lined through in step {second}: each is priced once, in its own step."
)
_CLEANED_THEN_LINED: Final = (
    "Cleaned in step {first}; cleaning right before the liner goes in is a visit of its own, priced in step {second}."
)
_DUG_TWICE: Final = (
    "Steps {first} and {second} open the same ground: neither method alone may do both. Both are priced whole here;"
    " one pit for both saves what they share."
)
_OTHER: Final = "Steps {first} and {second} both work here, in this order; each is priced once, in its own step."


def _step(method: str) -> int:
    return next(number for number, (methods, _) in enumerate(_STEPS) if method in methods)


def in_order(sections: Sequence[Section]) -> tuple[Section, ...]:
    """Return the sections, along the line as they came, each with its place in the order of work and why."""
    work = sorted(
        range(len(sections)), key=lambda n: (_step(sections[n].method), -sections[n].to_m, -sections[n].from_m)
    )
    places = {number: place for place, number in enumerate(work, start=1)}
    return tuple(
        replace(
            section,
            order=places[number],
            order_reasons=_reasons(section, sections),
            shares=_shared(number, sections, places),
        )
        for number, section in enumerate(sections)
    )


def _reasons(section: Section, sections: Sequence[Section]) -> tuple[str, ...]:
    """Return why a section comes where it does; nothing where it stands alone."""
    if len(sections) == 1:
        return ()
    step = _step(section.method)
    said = [f"{_STEPS[step][1]} ({SOURCE})"]
    if sum(1 for other in sections if _step(other.method) == step) > 1:
        said.append(f"{FROM_THE_MAIN} ({SOURCE})")
    return tuple(said)


def _shared(number: int, sections: Sequence[Section], places: dict[int, int]) -> tuple[Shared, ...]:
    own = sections[number]
    found = []
    for other_number, other in enumerate(sections):
        first, last = max(own.from_m, other.from_m), min(own.to_m, other.to_m)
        if other_number != number and first < last:
            earlier, later = sorted((number, other_number), key=lambda n: places[n])
            note = _note(sections[earlier].method, sections[later].method)
            words = note.format(first=places[earlier], second=places[later])
            found.append(Shared(places[other_number], first, last, words))
    return tuple(sorted(found, key=lambda one: one.order))


def _note(earlier: str, later: str) -> str:
    if later in LINING and earlier in DIGGING:
        return _DUG_THEN_LINED
    if later in LINING and earlier in CLEANING:
        return _CLEANED_THEN_LINED
    return _DUG_TWICE if earlier in DIGGING and later in DIGGING else _OTHER
