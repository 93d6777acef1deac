"""What a run still lacks. A draft is stored with its problems; those that stop grading stop a submit."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

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
    found = [*_missing(document), *_gaps(document), *_unmeasured(document), *_unlikely(document)]
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
    if document["counter_end"] is not None and document["counter_end"] == document["counter_start"]:
        detail = "The counter did not move; a run without length cannot be judged."
        yield Problem(Fault(("counter_end",), "no_length", detail), stops_submit=True)
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


# House rule: what a house drain measures. Outside it a size was most likely sent in the other unit.
_LIKELY_DIAMETERS: Final = {"us": (Decimal("1.5"), Decimal(24)), "si": (Decimal(40), Decimal(600))}


def _unlikely(document: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield what can be written and hardly be meant."""
    least, most = _LIKELY_DIAMETERS[document["units"]]
    widest = Decimal(0)
    for number, segment in enumerate(document["segments"]):
        diameter = segment["diameter"]
        if diameter is not None and not least <= diameter <= most:
            detail = f"A house drain of {diameter} {_SIZE_UNIT[document['units']]} is unlikely; look at the unit."
            yield Problem(Fault(("segments", number, "diameter"), "unlikely", detail))
        widest = max(widest, diameter or Decimal(0))
    for number, defect in enumerate(document["defects"]):
        if widest and defect["offset"] is not None and defect["offset"] > widest:
            detail = f"An offset of {defect['offset']} is more than the pipe is wide; look at the unit."
            yield Problem(Fault(("defects", number, "offset"), "unlikely", detail))
        if defect["clock_to"] is not None and defect["clock_from"] is None:
            detail = "clock_to stands alone; say where it begins, or give clock_from only."
            yield Problem(Fault(("defects", number, "clock_from"), "missing", detail))


_SIZE_UNIT: Final = {"us": "in", "si": "mm"}
