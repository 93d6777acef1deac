"""Site data of a lateral and the request for a repair scope."""

import itertools
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any, Final

from inspections import vocabulary as words
from inspections.api.fields import Day, ListOf, Number, OneOf, Shape, Text, Whole
from inspections.api.shapes.run import SHORTEST
from inspections.errors import Fault
from scoring.scope.methods import METHODS as METHODS_KNOWN

METHODS: Final[words.Values] = {method.name: method.title for method in METHODS_KNOWN}


def Station(**options: Any) -> Number:
    """Return a field for a station, in ft or m by the document's units; negative upstream of the datum."""
    return Number(least="-100000", most="100000", **options)


class BoundaryShape(Shape):
    """Where responsibility changes hands."""

    kind = OneOf(words.BOUNDARY_KINDS, required=True)
    station = Station(required=True)


class DepthShape(Shape):
    """Depth of the pipe under the surface at a station."""

    station = Station(required=True)
    depth = Number(least="0", most="1000", required=True, help_text="ft or m.")
    to = OneOf(words.DEPTH_TO, required=True)


class SurfaceShape(Shape):
    """What lies on top, from station to station."""

    locals()["from"] = Station(required=True)
    to = Station(required=True)
    kind = OneOf(words.SURFACES, required=True)

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        start, end = values.get("from"), values.get("to")
        if start is not None and end is not None and end - start < SHORTEST:
            yield Fault(("to",), "to_before_from", f"`to` ({end}) must lie beyond `from` ({start}).")


class SiteShape(Shape):
    """What is known of the ground over a lateral."""

    units = OneOf(words.UNITS, required=True)
    boundaries = ListOf(child=BoundaryShape(), most=10)
    depths = ListOf(child=DepthShape(), most=1000)
    surfaces = ListOf(child=SurfaceShape(), most=200)
    soil = OneOf(words.SOILS, help_text="Type by 29 CFR 1926 Subpart P.")
    groundwater_depth = Number(least="0", most="1000", help_text="Below the surface, ft or m.")
    drainage_fixture_units = Number(least="0", most="100000")

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        yield from _boundary_faults(values.get("boundaries") or [])
        yield from _depth_faults(values.get("depths") or [])
        placed = [
            (one["from"], one["to"], number)
            for number, one in enumerate(values.get("surfaces") or [])
            if one and one.get("from") is not None and one.get("to") is not None
        ]
        placed.sort()
        for (_, end, before), (start, _, number) in itertools.pairwise(placed):
            if start < end:
                detail = f"This surface begins at {start}, inside surface {before}, which ends at {end}."
                yield Fault(("surfaces", number, "from"), "surfaces_overlap", detail)


def _boundary_faults(boundaries: list[Any]) -> Iterator[Fault]:
    seen: list[Any] = []
    for number, one in enumerate(boundaries):
        kind = (one or {}).get("kind")
        if kind is not None and kind in seen:
            yield Fault(("boundaries", number, "kind"), "stands_twice", "This kind stands above already; keep one.")
        seen.append(kind)


def _depth_faults(depths: list[Any]) -> Iterator[Fault]:
    placed = sorted((one["station"], n) for n, one in enumerate(depths) if (one or {}).get("station") is not None)
    for (before, _), (station, number) in pairwise(placed):
        if station - before < SHORTEST:
            yield Fault(("depths", number, "station"), "stands_twice", "This station has a depth already; keep one.")


class ProgrammePaid(Shape):
    """A repair programme that paid for work on this lateral before."""

    programme = Text(longest=100, required=True, help_text="Its id in the rule set.")
    paid_on = Day(required=True, help_text="The day it last paid; one that pays once in some years waits from then.")


class PolicyShape(Shape):
    """What the scope is to reach. Grades count as in the scheme named."""

    fix_from_grade = Whole(least="0", most="100", required=True, help_text="Fix what is graded so or worse.")
    margin = Number(least="0", most="100", help_text="Sound pipe on each side of a defect, ft or m.")
    methods = ListOf(child=OneOf(METHODS, required=True), optional=True, help_text="Only these methods; null: all.")
    dig_allowed_in = ListOf(
        child=OneOf(words.SURFACES, required=True),
        optional=True,
        help_text="Dig only under these surfaces; null: anywhere.",
    )
    horizon_years = Whole(least="1", most="100")
    discount_percent = Number(least="0", most="30")
    scheme = Text(longest=100, help_text="Code or id of a grading scheme; null: the default.")
    programmes_paid = ListOf(
        child=ProgrammePaid(), optional=True, most=20, help_text="Programmes that paid here before; null: none."
    )

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        seen: set[str] = set()
        for number, paid in enumerate(values.get("programmes_paid") or ()):
            name = paid.get("programme")
            if name in seen:
                detail = f"{name} is named twice; say only when it paid last."
                yield Fault(("programmes_paid", number, "programme"), "stands_twice", detail)
            seen.add(name)


class ScopeRequest(Shape):
    """What to compute a repair scope with. Only policy.fix_from_grade is required."""

    units = OneOf(words.UNITS, help_text="Units of the margin and of the answer; null: the lateral's own.")
    policy = PolicyShape(required=True)
    rate_book = Text(longest=100, help_text="Code or id; null: the default.")
    rule_set = Text(longest=100, help_text="Code or id; null: the property's, else the default.")
