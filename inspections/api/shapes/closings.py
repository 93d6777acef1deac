"""Reports that close a repair scope: what was built, which runs and pressure tests came after it."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, Final

from inspections import vocabulary as words
from inspections.api.fields import Day, Id, ListOf, Moment, Number, OneOf, Shape, Text, Whole, YesNo
from inspections.api.shapes.lateral import METHODS, Station
from inspections.errors import Fault
from scoring.checks import HEAD_TESTS

_STANDARDS: Final[words.Values] = {"F1417": "plastic pipe and liners", "C828": "clay pipe"}
_CODES: Final[words.Values] = {
    code: f"{test.head_ft} ft for {test.hold_s} s: {test.source}" for code, test in HEAD_TESTS.items()
}
# A test may be of a little more or less pipe than lies between its stations; house rule.
_LENGTH_OFF: Final = Decimal("0.02")
_LENGTH_OFF_LEAST: Final = Decimal(1)


class BuiltShape(Shape):
    """What was done in one section of the plan; what is not said is as the plan has it."""

    section = Whole(least="1", most="1000", required=True, help_text="Section of the plan, the first is 1.")
    method = OneOf(METHODS, help_text="As built; null: as planned.")
    locals()["from"] = Station(help_text="As built, a station of the lateral; null: as planned.")
    to = Station(help_text="As built; null: as planned.")
    material = OneOf(words.MATERIALS, help_text="Of the new pipe or liner.")
    done_on = Day(required=True)
    warranty_until = Day()
    contractor = Text(longest=200)
    test_demanded = YesNo(absent=None, help_text="Whether a pressure test is demanded; null: as the scope says.")
    note = Text(longest=2000)

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        start, end = values.get("from"), values.get("to")
        if start is not None and end is not None and end < start:
            yield Fault(("to",), "to_before_from", f"`to` ({end}) may not lie before `from` ({start}).")
        done, until = values.get("done_on"), values.get("warranty_until")
        if done and until and until < done:
            yield Fault(("warranty_until",), "before_done", f"The warranty ends before the work was done ({done}).")
        if values.get("test_demanded") is False and not values.get("note"):
            yield Fault(("note",), "required", "Say who does without the pressure test, and why.")


class AirPipeShape(Shape):
    """A stretch of one size under test."""

    diameter = Number(least="0", most="10000", required=True, help_text="in or mm.")
    length = Number(above="0", most="100000", required=True, help_text="ft or m.")


class AirReadingShape(Shape):
    """An air test, as `/checks/air-test` takes it; without measured_s it is asked for and not read."""

    standard = OneOf(_STANDARDS, required=True)
    sections = ListOf(child=AirPipeShape(), least=1, most=100)
    pressure_drop_psi = Number(least="0", most="100", help_text="0.5 or 1.0 in F1417, 1.0 in C828.")
    measured_s = Number(least="0", most="1000000", help_text="How long the drop took.")


class WaterReadingShape(Shape):
    """A leakage test, as `/checks/water-test` takes it."""

    diameter = Number(least="0", most="10000", required=True, help_text="in or mm.")
    length = Number(above="0", most="100000", required=True, help_text="ft or m.")
    limit_gpd_per_inch_mile = Number(least="0", most="100000", required=True)
    measured_gph = Number(least="0", most="1000000")


class HeadReadingShape(Shape):
    """A head of water that stands for a time."""

    code = OneOf(_CODES, required=True)
    head = Number(least="0", most="1000", help_text="ft or m.")
    held_s = Number(least="0", most="1000000")


class TestShape(Shape):
    """One pressure test of a stretch: exactly one kind of reading."""

    __test__ = False
    locals()["from"] = Station(required=True, help_text="A station of the lateral.")
    to = Station(required=True)
    made_at = Moment(required=True)
    made_by = Text(longest=200)
    air_test = AirReadingShape(optional=True)
    water_test = WaterReadingShape(optional=True)
    water_head = HeadReadingShape(optional=True)
    note = Text(longest=2000)

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        start, end = values.get("from"), values.get("to")
        if start is not None and end is not None and end <= start:
            yield Fault(("to",), "to_before_from", f"`to` ({end}) must lie beyond `from` ({start}).")
        elif start is not None and end is not None:
            yield from _length_faults(values, end - start)
        sent = [kind for kind in words.PRESSURE_TESTS if values.get(kind, kind) is not None]
        if len(sent) != 1:
            known = ", ".join(words.PRESSURE_TESTS)
            yield Fault((sent[1] if sent else "air_test",), "one_of_three", f"Send exactly one of {known}.")


def _length_faults(values: Mapping[str, Any], stretch: Any) -> Iterator[Fault]:
    """The limit of a test hangs on the length: it may not be of another pipe than its stations say."""
    air, water = values.get("air_test"), values.get("water_test")
    pipes = (air or {}).get("sections") or []
    if pipes and all(pipe and pipe.get("length") is not None for pipe in pipes):
        yield from _off(("air_test", "sections"), sum(pipe["length"] for pipe in pipes), stretch)
    if water and water.get("length") is not None:
        yield from _off(("water_test", "length"), water["length"], stretch)


def _off(place: tuple[str, ...], length: Any, stretch: Any) -> Iterator[Fault]:
    if abs(length - stretch) > max(_LENGTH_OFF * stretch, _LENGTH_OFF_LEAST):
        detail = f"The pipe under test is {length} long, its stations lie {stretch} apart; correct one of them."
        yield Fault(place, "length_does_not_fit", detail)


class ClosingRequest(Shape):
    """A plan reported as carried out, or part of it."""

    external_ref = Text(longest=200)
    units = OneOf(words.UNITS, required=True)
    plan = OneOf(words.PLAN_NAMES, required=True)
    closed_on = Day(required=True, help_text="The day of the report.")
    sections = ListOf(child=BuiltShape(), least=1, most=200)
    runs = ListOf(
        child=Id(required=True), most=50, help_text="Submitted runs made after the work; jobs stand for theirs."
    )
    tests = ListOf(child=TestShape(), most=100)
    note = Text(longest=2000)

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        closed = values.get("closed_on")
        for number, one in enumerate(values.get("sections") or ()):
            done = (one or {}).get("done_on")
            if closed and done and done > closed:
                detail = f"The work was done after the day of the report ({closed}); correct one of them."
                yield Fault(("sections", number, "done_on"), "after_closed", detail)
