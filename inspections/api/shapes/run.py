"""The run document: one pass of a camera as an inspector sends it."""

import itertools
from collections.abc import Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from inspections import vocabulary as words
from inspections.api.fields import (
    AnyObject,
    Clock,
    Id,
    ListOf,
    Moment,
    Number,
    OneOf,
    Sha256,
    Shape,
    Text,
    YesNo,
)
from inspections.api.lists import DEGREES
from inspections.errors import Fault

FARTHEST: Final = "100000"
# What is shorter has no length once it is kept in metres, to 10 nm.
SHORTEST: Final = Decimal("0.000001")


def Position(**options: Any) -> Number:
    """Return a field for a counter reading, in ft or m by the document's units."""
    return Number(least="0", most=FARTHEST, **options)


class StartAccess(Shape):
    """The access point the camera went in at."""

    kind = OneOf(words.ACCESS_KINDS, help_text="What kind of opening it is.")
    label = Text(longest=100, help_text="What people there call it; the same label means the same point.")  # type: ignore[assignment] # DRF takes it off the class
    how_to_find = Text(longest=2000, help_text="How a crew finds it again, with measured ties to fixed things.")
    size = Number(above="0", most="10000", help_text="Nominal size, in or mm.")


class Camera(Shape):
    """The camera head. Which heads passed and which did not bounds the clear opening."""

    head_diameter = Number(above="0", most="10000", help_text="Outside diameter of the head, in or mm.")
    skid = Text(longest=200, help_text="Skid on the head, if any.")


class Conditions(Shape):
    """In what state the drain was filmed."""

    cleaned_before = YesNo(absent=None, help_text="Cleaned before filming?")
    water_introduced = YesNo(absent=None, help_text="Was water run before filming?")
    flow_during = OneOf(words.FLOWS, help_text="Flow while filming.")


class ClipShape(Shape):
    """A recording, by address and digest."""

    uri = Text(longest=2000, required=True, help_text="Where the recording is kept.")
    sha256 = Sha256(help_text="Its digest.")
    duration_s = Number(least="0", most="1000000", help_text="Length, seconds.")


class Stretch(Shape):
    """Something with a from and a to: `from` may not lie behind `to`."""

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        start, end = values.get("from"), values.get("to")
        if start is not None and end is not None and end < start:
            yield Fault(("to",), "to_before_from", f"`to` ({end}) lies before `from` ({start}); swap them.")


class SegmentShape(Stretch):
    """A stretch of one material and nominal size, in counter readings."""

    locals()["from"] = Position(required=True, help_text="Counter reading where it begins.")
    to = Position(required=True, help_text="Counter reading where it ends.")
    material = OneOf(words.MATERIALS)
    diameter = Number(least="0.1", most="10000", help_text="Nominal inside diameter, in or mm.")
    joint_spacing = Number(least="0.1", most="1000", help_text="Length of one pipe, ft or m.")

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        yield from super().cross_faults(values)
        start, end = values.get("from"), values.get("to")
        if start is not None and end is not None and 0 <= end - start < SHORTEST:
            yield Fault(("to",), "no_length", "A segment has a length; `to` must lie beyond `from`.")


class FeatureShape(Shape):
    """Something that is no defect: a sound joint, a trap, a bend, a connection, the main."""

    kind = OneOf(words.FEATURE_KINDS, required=True)
    at = Position(required=True, help_text="Counter reading.")
    label = Text(longest=100, help_text="For an access point: the name by which other runs know it.")  # type: ignore[assignment] # DRF takes it off the class
    clock_from = Clock()
    clock_to = Clock()


_MEASURES: Final = ("opening", "width_mm", "offset", "gap", "percent", "thickness")


class DefectShape(Shape):
    """One finding with what was measured of it."""

    ref = Text(
        longest=100,
        help_text="The inspector's own name for it, once in a run. Labels are text: 1 and 01 differ.",
    )
    kind = OneOf(words.DEFECT_KINDS, required=True)
    pattern = OneOf(words.PATTERNS, help_text="Of a crack or fracture.")
    at = Position(required=True, help_text="Counter reading; of a stretch, where it begins.")
    to = Position(help_text="Counter reading where a stretch ends.")
    at_joint = YesNo(help_text="Does it lie at a joint?")
    clock_from = Clock(help_text="Read facing away from the access point, also while pulling back.")
    clock_to = Clock(help_text="Clockwise from clock_from.")
    degree = OneOf(DEGREES)
    opening = OneOf(words.OPENINGS, help_text="Of a crack whose width was not read.")
    width_mm = Number(least="0", most="1000", help_text="Crack or fracture width, mm in both unit systems.")
    offset = Number(least="0", most="10000", help_text="Offset of a displaced joint, in or mm.")
    gap = Number(least="0", most="10000", help_text="Gap of an open joint, in or mm.")
    percent = Number(
        least="0",
        most="100",
        help_text="Of the diameter for sag and deformation, of the area for what lies in the way.",
    )
    thickness = Number(least="0", most="10000", help_text="Thickness of roots or depth of wear, in or mm.")
    soil_seen = YesNo(help_text="Is soil to be seen through it?")
    void_seen = YesNo(help_text="Is a void to be seen behind it?")
    video_s = Number(least="0", most="1000000", help_text="Moment in the clip, seconds.")
    note = Text(longest=4000, help_text="The inspector's own words.")

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        at, to, kind = values.get("at"), values.get("to"), values.get("kind")
        if at is not None and to is not None and to < at:
            yield Fault(("to",), "to_before_from", f"`to` ({to}) lies before `at` ({at}); swap them.")
        if kind is None:
            return
        yield from self._degree_faults(kind, values.get("degree"))
        allowed = words.MEASURES_OF_KIND.get(kind, frozenset())
        for measure in _MEASURES:
            if values.get(measure) is not None and measure not in allowed:
                can = f"it takes {', '.join(sorted(allowed))}" if allowed else "it takes a degree only"
                yield Fault((measure,), "measure_not_of_kind", f"A {kind} has no {measure}; {can}.")
        if values.get("pattern") is not None and kind not in ("crack", "fracture"):
            yield Fault(("pattern",), "measure_not_of_kind", "Only a crack or a fracture has a pattern.")

    @staticmethod
    def _degree_faults(kind: str, degree: str | None) -> Iterator[Fault]:
        known = words.degrees_for(kind)
        if degree is not None and degree not in known:
            yield Fault(("degree",), "degree_not_of_kind", f"A {kind} is {', '.join(known)}; not {degree}.")


class UnseenShape(Stretch):
    """A stretch where the pipe could not be judged."""

    locals()["from"] = Position(required=True, help_text="Counter reading where it begins.")
    to = Position(help_text="Counter reading where it ends; null: nobody knows how far.")
    reason = OneOf(words.UNSEEN_REASONS, required=True)


class RunShape(Shape):
    """One pass of a camera. Positions are counter readings, growing away from the start access."""

    job = Id(required=True, help_text="The job this run was made for.")
    lateral = Id(help_text="The lateral; may be left out where the property has only one.")
    external_ref = Text(longest=200, help_text="Your own key for this run.")
    units = OneOf(words.UNITS, required=True)
    start_access = StartAccess(optional=True)
    direction = OneOf(words.DIRECTIONS, required=True)
    recorded = OneOf(words.RECORDED)
    counter_start = Position(required=True, help_text="Reading at the access point.")
    counter_end = Position(help_text="Reading at the far end, however it was recorded.")
    reached = OneOf(words.REACHED)
    stopped_by = OneOf(words.STOPPED_BY, help_text="With reached: stopped.")
    camera = Camera(optional=True)
    conditions = Conditions(optional=True)
    started_at = Moment()
    ended_at = Moment()
    inspector = Text(longest=200)
    clips = ListOf(child=ClipShape(), most=200)
    segments = ListOf(child=SegmentShape(), most=500)
    features = ListOf(child=FeatureShape())
    defects = ListOf(child=DefectShape())
    unseen = ListOf(child=UnseenShape(), most=1000)

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        yield from _counter_faults(values)
        yield from _position_faults(values)
        yield from _overlap_faults(values.get("segments") or [])
        yield from _ref_faults(values.get("defects") or [])
        if values.get("stopped_by") is not None and values.get("reached") not in (None, "stopped"):
            yield Fault(("stopped_by",), "not_stopped", "stopped_by goes with reached: stopped; leave it out.")
        started, ended = values.get("started_at"), values.get("ended_at")
        if started and ended and datetime.fromisoformat(ended.upper()) < datetime.fromisoformat(started.upper()):
            yield Fault(("ended_at",), "end_before_start", "The run ended before it started; check both times.")


def _counter_faults(values: Mapping[str, Any]) -> Iterator[Fault]:
    start, end = values.get("counter_start"), values.get("counter_end")
    if start is not None and end is not None and end < start:
        detail = f"counter_end ({end}) lies before counter_start ({start}); the start is read at the access point."
        yield Fault(("counter_end",), "to_before_from", detail)


def _position_faults(values: Mapping[str, Any]) -> Iterator[Fault]:
    """Yield every position that the counter never showed."""
    start, end = values.get("counter_start"), values.get("counter_end")
    for name in ("segments", "features", "defects", "unseen"):
        for number, entry in enumerate(values.get(name) or []):
            for key in ("from", "at", "to"):
                at: Decimal | None = (entry or {}).get(key)
                if at is None or (start is not None and end is not None and start <= at <= end):
                    continue
                if end is not None and at > end:
                    detail = f"{at} lies beyond the counter's end ({end}); correct one of them."
                    yield Fault((name, number, key), "beyond_counter_end", detail)
                if start is not None and at < start:
                    detail = f"{at} lies before the counter's start ({start}); correct one of them."
                    yield Fault((name, number, key), "before_counter_start", detail)


def _overlap_faults(segments: list[Any]) -> Iterator[Fault]:
    placed = [
        (entry["from"], entry["to"], number)
        for number, entry in enumerate(segments)
        if entry and entry.get("from") is not None and entry.get("to") is not None
    ]
    placed.sort()
    for (_, end, before), (start, _, number) in itertools.pairwise(placed):
        if start < end:
            detail = f"This segment begins at {start}, inside segment {before}, which ends at {end}."
            yield Fault(("segments", number, "from"), "segments_overlap", detail)


def _ref_faults(defects: list[Any]) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for number, entry in enumerate(defects):
        ref = (entry or {}).get("ref")
        if ref is None:
            continue
        if ref in first:
            detail = f"Defect {first[ref]} has the same ref; a ref names one defect of a run."
            yield Fault(("defects", number, "ref"), "ref_taken", detail)
        first.setdefault(ref, number)


class AmendmentRequest(Shape):
    """A change of a sealed run."""

    reason = Text(longest=2000, required=True, help_text="Why the record changes; kept for ever.")
    changes = AnyObject(required=True, help_text="A merge patch (RFC 7396) of the run document.")


class ReviewReasons(Shape):
    """Why a run is returned."""

    reasons = ListOf(child=Text(longest=2000, required=True), least=1, most=100, help_text="What must be mended.")
