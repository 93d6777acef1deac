"""What a run still lacks. A draft is stored with its problems; those that stop grading stop a submit."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from inspections.errors import Fault


@dataclass(frozen=True, slots=True)
class Problem:
    """Something missing: where, a code, a sentence, and whether the run can be submitted without it."""

    fault: Fault
    stops_submit: bool = False

    def document(self) -> dict[str, Any]:
        """Return the problem as a reader of the run sees it."""
        return {
            "pointer": self.fault.pointer,
            "code": self.fault.code,
            "detail": self.fault.detail,
            "stops_submit": self.stops_submit,
        }


def problems_of(document: Mapping[str, Any]) -> list[Problem]:
    """Return everything a run document lacks, the ones that stop a submit first."""
    found = [*_missing(document), *_gaps(document), *_unmeasured(document)]
    return sorted(found, key=lambda problem: not problem.stops_submit)


def _missing(document: Mapping[str, Any]) -> Iterator[Problem]:
    needed = {
        "lateral": "Name the lateral; the property has more than one.",
        "counter_end": "Give the counter reading at the far end; without it no length is known.",
        "reached": "Say what was reached: main, building, access_point or stopped.",
    }
    for name, detail in needed.items():
        if document[name] is None:
            yield Problem(Fault((name,), "missing", detail), stops_submit=True)
    wanted = {
        "start_access": "Describe the access point, so that a crew finds it and other runs can be tied to it.",
        "started_at": "Say when the run was made.",
        "inspector": "Say who made the run.",
    }
    for name, detail in wanted.items():
        if document[name] is None:
            yield Problem(Fault((name,), "missing", detail))
    if document["reached"] == "stopped" and document["stopped_by"] is None:
        yield Problem(Fault(("stopped_by",), "missing", "Say what stopped the camera."))
    if not document["segments"]:
        yield Problem(
            Fault(("segments",), "missing", "Give material and diameter of the pipe from counter to counter.")
        )


def _gaps(document: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield the stretches of the run that no segment describes."""
    if not document["segments"] or document["counter_end"] is None:
        return
    at = document["counter_start"]
    for number, segment in sorted(enumerate(document["segments"]), key=lambda pair: pair[1]["from"]):
        if segment["from"] > at:
            yield Problem(Fault(("segments", number, "from"), "gap", f"No segment from {at} to {segment['from']}."))
        at = segment["to"]
    if at < document["counter_end"]:
        detail = f"No segment from {at} to {document['counter_end']}."
        yield Problem(Fault(("segments",), "gap", detail))


def _unmeasured(document: Mapping[str, Any]) -> Iterator[Problem]:
    for number, segment in enumerate(document["segments"]):
        for name in ("material", "diameter"):
            if segment[name] is None:
                yield Problem(Fault(("segments", number, name), "missing", f"Give the {name} of this segment."))
