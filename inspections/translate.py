"""The one place that knows documents, rows and scoring types.

A document is what the API takes and gives. Its numbers are as written; rows hold the same in SI.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from inspections import exact_json
from inspections.models import Bid, Clip, Defect, Feature, MatchDecision, Run, Segment, Site, UnseenStretch
from scoring import bids
from scoring import types as pipe
from scoring.grading import ALARMING_KINDS
from scoring.reconcile import MatchDecision as PipeDecision
from scoring.units import Units, metres, millimetres

Document = dict[str, Any]

RUN_LISTS: Final = ("clips", "segments", "features", "defects", "unseen")
_TEN_NANOMETRES: Final = Decimal("1e-8")


def length(value: Decimal | int | None, units: Units) -> Any:
    """Return a written length in metres, as the database keeps it: a Decimal, or None where nothing is written."""
    return None if value is None else metres(Decimal(value), units).quantize(_TEN_NANOMETRES)


def size(value: Decimal | int | None, units: Units) -> Any:
    """Return a written size in millimetres, as the database keeps it: a Decimal, or None."""
    return None if value is None else millimetres(Decimal(value), units).quantize(Decimal("1e-6"))


def moment(text: str | None) -> datetime | None:
    """Return a written time."""
    return None if text is None else datetime.fromisoformat(text.upper())


# --- a run: document to rows -------------------------------------------------------------------


def run_columns(document: Mapping[str, Any]) -> Document:
    """Return the columns of a run that its document sets, without the references to other records.

    The columns repeat in SI and for filters what `written` says in the words of the caller.
    """
    units: Units = document["units"]
    access = document["start_access"] or {}
    return {
        "external_ref": document["external_ref"],
        "written": exact_json.write_text(document),
        "units": units,
        "direction": document["direction"],
        "recorded": document["recorded"],
        "access_kind": access.get("kind"),
        "access_label": access.get("label"),
        "counter_start_m": length(document["counter_start"], units),
        "counter_end_m": length(document["counter_end"], units),
        "reached": document["reached"],
        "stopped_by": document["stopped_by"],
        "started_at": moment(document["started_at"]),
        "ended_at": moment(document["ended_at"]),
        "inspector": document["inspector"],
    }


def run_rows(run: Run, document: Mapping[str, Any]) -> Iterator[tuple[Any, tuple[str, ...], list[tuple[Any, ...]]]]:
    """Yield model, columns and rows of each list of a run that has entries."""
    units: Units = document["units"]
    for part in _PARTS:
        if entries := document[part.name]:
            rows = [(run.pk, n, *part.values(n, entry, units)) for n, entry in enumerate(entries)]
            yield part.model, ("run_id", "position", *part.columns), rows


@dataclass(frozen=True, slots=True)
class _Part:
    """One list of a run: its table, the columns beside run and position, and what an entry puts into them."""

    name: str
    model: Any
    columns: tuple[str, ...]
    values: Callable[[int, Mapping[str, Any], Units], tuple[Any, ...]]


def _clip(position: int, entry: Mapping[str, Any], units: Units) -> tuple[Any, ...]:
    return entry["uri"], entry["sha256"], entry["duration_s"]


def _segment(position: int, entry: Mapping[str, Any], units: Units) -> tuple[Any, ...]:
    return (
        length(entry["from"], units),
        length(entry["to"], units),
        entry["material"],
        size(entry["diameter"], units),
        length(entry["joint_spacing"], units),
    )


def _feature(position: int, entry: Mapping[str, Any], units: Units) -> tuple[Any, ...]:
    return entry["kind"], length(entry["at"], units), entry["label"], entry["clock_from"], entry["clock_to"]


def _defect(position: int, entry: Mapping[str, Any], units: Units) -> tuple[Any, ...]:
    return (
        entry["ref"] or f"#{position + 1}",
        length(entry["at"], units),
        length(entry["to"], units),
        size(entry["offset"], units),
        size(entry["gap"], units),
        size(entry["thickness"], units),
        *[entry[name] for name in _SAME_OF_DEFECT],
    )


def _unseen(position: int, entry: Mapping[str, Any], units: Units) -> tuple[Any, ...]:
    return length(entry["from"], units), length(entry["to"], units), entry["reason"]


_SAME_OF_DEFECT: Final = (
    *("kind", "pattern", "at_joint", "clock_from", "clock_to", "degree", "opening", "width_mm", "percent"),
    *("soil_seen", "void_seen", "note"),
)
_PARTS: Final = (
    _Part("clips", Clip, ("uri", "sha256", "duration_s"), _clip),
    _Part("segments", Segment, ("from_m", "to_m", "material", "diameter_mm", "joint_spacing_m"), _segment),
    _Part("features", Feature, ("kind", "at_m", "label", "clock_from", "clock_to"), _feature),
    _Part(
        "defects",
        Defect,
        ("ref", "at_m", "to_m", "offset_mm", "gap_mm", "thickness_mm", *_SAME_OF_DEFECT),
        _defect,
    ),
    _Part("unseen", UnseenStretch, ("from_m", "to_m", "reason"), _unseen),
)
PART_MODELS: Final[dict[str, Any]] = {part.name: part.model for part in _PARTS}


# --- a run: rows to document, rows to scoring -----------------------------------------------------


def run_document(run: Run) -> Document:
    """Return the document of a run as it was written."""
    document: Document = exact_json.load(run.written)
    return document


def scoring_alarming(document: Mapping[str, Any]) -> Iterator[pipe.Defect]:
    """Yield what in the document of a run may raise an alarm, in scoring's own words."""
    for position, entry in enumerate(document["defects"]):
        if entry["kind"] in ALARMING_KINDS:
            yield scoring_defect(entry, document["units"], position=position)


def scoring_run(run: Run) -> pipe.Run:
    """Return a sealed run in scoring's own words."""
    if run.counter_end_m is None or run.reached is None:
        raise ValueError(f"run {run.id} is not complete enough to be graded")
    access = pipe.Access(run.access_kind, run.access_label) if run.access_kind else None
    return pipe.Run(
        id=str(run.id),
        direction=run.direction,  # type: ignore[arg-type] # the column holds only these
        start_access=access,
        counter_start_m=run.counter_start_m,
        counter_end_m=run.counter_end_m,
        reached=run.reached,  # type: ignore[arg-type] # the column holds only these
        stopped_by=run.stopped_by,
        started_at=run.started_at.isoformat() if run.started_at else None,
        segments=_scoring_rows(Segment, run, pipe.Segment, "from_m to_m material diameter_mm joint_spacing_m"),
        features=_scoring_rows(Feature, run, pipe.Feature, "kind at_m label clock_from clock_to"),
        defects=_scoring_rows(
            Defect,
            run,
            pipe.Defect,
            "ref kind at_m to_m pattern at_joint clock_from clock_to degree opening width_mm offset_mm gap_mm"
            " percent thickness_mm soil_seen void_seen",
        ),
        unseen=_scoring_rows(UnseenStretch, run, pipe.Unseen, "from_m to_m reason"),
    )


def _scoring_rows(model: Any, run: Run, made: Any, columns: str) -> tuple[Any, ...]:
    """Return the rows of one list as scoring's type, whose first fields bear the columns' names in order."""
    rows = model.objects.filter(run=run).order_by("position").values(*columns.split())
    return tuple(made(**row) for row in rows)


# --- a finding by itself: document to scoring -----------------------------------------------------


def scoring_defect(entry: Mapping[str, Any], units: Units, *, position: int = 0) -> pipe.Defect:
    """Return an entry of a run's defects in scoring's own words."""
    same = ("kind", "pattern", "at_joint", "clock_from", "clock_to", "degree", "opening", "width_mm", "percent")
    return pipe.Defect(
        ref=entry["ref"] or f"#{position + 1}",
        at_m=length(entry["at"], units),
        to_m=length(entry["to"], units),
        offset_mm=size(entry["offset"], units),
        gap_mm=size(entry["gap"], units),
        thickness_mm=size(entry["thickness"], units),
        **{name: entry[name] for name in (*same, "soil_seen", "void_seen")},
    )


def scoring_feature(entry: Mapping[str, Any], units: Units) -> pipe.Feature:
    """Return an entry of a run's features in scoring's own words."""
    same = ("kind", "label", "clock_from", "clock_to")
    return pipe.Feature(at_m=length(entry["at"], units), **{name: entry[name] for name in same})


# --- decisions on matches -----------------------------------------------------------------------


def match_decision_document(row: MatchDecision) -> Document:
    """Return what a decision says, without who said it and why."""
    return {
        "action": row.action,
        "a": {"run": str(row.run_a_id), "ref": row.ref_a},
        "b": {"run": str(row.run_b_id), "ref": row.ref_b},
    }


def scoring_decision(row: MatchDecision) -> PipeDecision:
    """Return a decision in scoring's own words."""
    a, b = (str(row.run_a_id), row.ref_a), (str(row.run_b_id), row.ref_b)
    return PipeDecision(row.action, a, b)  # type: ignore[arg-type] # the column holds only these


# --- the site ----------------------------------------------------------------------------------


def scoring_site(site: Site) -> pipe.Site:
    """Return what is known of the ground in scoring's own words."""
    return pipe.Site(
        boundaries=tuple(
            pipe.Boundary(row.kind, row.station_m)  # type: ignore[arg-type] # the column holds only these
            for row in site.boundaries.order_by("station_m", "kind")
        ),
        depths=tuple(
            pipe.Depth(row.station_m, row.depth_m, row.to)  # type: ignore[arg-type] # the column holds only these
            for row in site.depths.order_by("station_m")
        ),
        surfaces=tuple(
            pipe.Surface(row.from_m, row.to_m, row.kind) for row in site.surfaces.order_by("from_m", "to_m")
        ),
        soil=site.soil,
        groundwater_depth_m=site.groundwater_depth_m,
        drainage_fixture_units=site.drainage_fixture_units,
    )


def scoring_bid(row: Bid) -> bids.Bid:
    """Return a bid in scoring's own words; its lines are numbered from 1."""
    said = exact_json.load(row.written)
    return bids.Bid(
        id=str(row.id),
        bidder=row.bidder,
        currency=row.currency,
        lines=tuple(_bid_line(number, line) for number, line in enumerate(said["lines"], start=1)),
        total=_exact(said["total"]),
        exclusions=tuple(said["exclusions"]),
        received_on=row.received_on,
        valid_until=row.valid_until,
    )


def _bid_line(number: int, said: Mapping[str, Any]) -> bids.BidLine:
    numbers = {name: _exact(said[name]) for name in ("quantity", "unit_price", "extension")}
    return bids.BidLine(number=number, section=said["section"], item=said["item"], unit=said["unit"], **numbers)


def _exact(value: Any) -> Decimal | None:
    return None if value is None else Decimal(value)
