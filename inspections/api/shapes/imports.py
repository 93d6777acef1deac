"""Rows of observations and records as lines of an import."""

from collections.abc import Iterator, Mapping
from typing import Any

from inspections import vocabulary as words
from inspections.api.fields import Id, Number, OneOf, Shape, Text, YesNo
from inspections.api.lists import DEGREES, FINDING_KINDS, MARKS
from inspections.api.shapes.access_point import AccessPointShape
from inspections.api.shapes.job import CustomerShape, JobShape
from inspections.api.shapes.property import OwnedProperty
from inspections.api.shapes.run import Position, RunShape
from inspections.errors import Fault


def ClockAsRecorded(**options: Any) -> Number:
    """Return a field for a clock position as rows have it: 0 is flagged and taken as not recorded."""
    return Number(least="0", most="12", **options)


class ObservationRow(Shape):
    """One observation of one run. Rows that tie to one run may come in several imports, in any order."""

    job = Text(longest=200, required=True, help_text="external_ref of the job.")
    run = Text(longest=200, required=True, help_text="external_ref of the run; a draft under that job.")
    ref = Text(longest=100, required=True, help_text="Your own key of the row, once in a run.")
    units = OneOf(words.UNITS, required=True, help_text="Those of the run.")
    at = Position(required=True, help_text="Counter reading.")
    to = Position(help_text="Where a stretch ends that is told in one row.")
    kind = OneOf(FINDING_KINDS, help_text="A kind of defect or feature; or else `code`.")
    code = Text(longest=100, help_text="A code of your own, read by a code map.")
    code_map = Text(longest=100, help_text="Code of the code map; the default one where absent.")
    label = Text(
        longest=100, help_text="Ties start and finish of a stretch; text: S1 and S01 are two. Names a feature."
    )  # type: ignore[assignment] # DRF takes it off the class
    mark = OneOf(MARKS, help_text="start or finish of a stretch; absent: a point.")
    clock_from = ClockAsRecorded()
    clock_to = ClockAsRecorded()
    pattern = OneOf(words.PATTERNS)
    at_joint = YesNo()
    degree = OneOf(DEGREES)
    opening = OneOf(words.OPENINGS)
    width_mm = Number(least="0", most="1000", help_text="mm in both unit systems.")
    offset = Number(least="0", most="10000", help_text="in or mm.")
    gap = Number(least="0", most="10000", help_text="in or mm.")
    percent = Number(least="0", most="100")
    thickness = Number(least="0", most="10000", help_text="in or mm.")
    soil_seen = YesNo()
    void_seen = YesNo()
    video_s = Number(least="0", most="1000000")
    note = Text(longest=3800)
    direction = OneOf(words.DIRECTIONS, help_text="Where the run is not here yet, a draft is made with it.")
    surveyed_length = Position(help_text="Length of the run; counter_end of a draft that is made, from counter 0.")

    def cross_faults(self, values: Mapping[str, Any]) -> Iterator[Fault]:
        if "kind" in values and "code" in values and (values["kind"] is None) == (values["code"] is None):
            yield Fault(("kind",), "kind_or_code", "Give either a kind or a code of your own.")
        if values.get("to") is not None and values.get("mark") is not None:
            yield Fault(("to",), "to_beside_mark", "A row with a mark is one end of a stretch; leave `to` out.")


class CustomerLine(CustomerShape):
    """A customer as a line of an import."""

    id = Id(help_text="Under an id of your own, or one that is here already.")


class PropertyLine(OwnedProperty):
    """A property as a line of an import."""

    id = Id(help_text="Under an id of your own, or one that is here already.")
    customer_ref = Text(longest=200, help_text="Instead of customer_id: the external_ref of a customer of yours.")


class AccessPointLine(AccessPointShape):
    """An access point as a line of an import."""

    id = Id(help_text="Under an id of your own, or one that is here already.")
    property = Id()
    property_ref = Text(longest=200, help_text="Instead of property: the external_ref of a property of yours.")


class JobLine(JobShape):
    """A job as a line of an import."""

    id = Id(help_text="Under an id of your own, or one that is here already.")


class RunLine(RunShape):
    """A whole run as a line of an import; it comes in as a draft."""

    id = Id(help_text="Under an id of your own, or one that is here already.")
    job = Id()
    job_ref = Text(longest=200, help_text="Instead of job: the external_ref of a job of yours.")
