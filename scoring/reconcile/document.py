"""The reconciled lateral as a plain document: SI, decimals, words."""

from decimal import Decimal
from typing import Any

from scoring.types import (
    Conflict,
    Lateral,
    LateralDefect,
    LateralFeature,
    RunPlacement,
    Segment,
    Source,
    Unseen,
)


def lateral_document(lateral: Lateral) -> dict[str, Any]:
    """Lengths along the pipe in metres, sizes across it in millimetres.

    `counter` stands only where there is no station: a reading of a run that nothing ties to the datum.
    """
    document = {
        "datum": _datum(lateral),
        "from": lateral.from_m,
        "to": lateral.to_m,
        "reaches_building": lateral.reaches_building,
        "reaches_main": lateral.reaches_main,
        "is_upstream_end_open": lateral.is_upstream_end_open,
        "runs": [_run(p) for p in lateral.placements],
        "segments": [_segment(s) for s in lateral.segments],
        "features": [_feature(f) for f in lateral.features],
        "defects": [defect_document(d) for d in lateral.defects],
        "unseen": [_unseen(u) for u in lateral.unseen],
        "conflicts": [_conflict(c) for c in lateral.conflicts],
        "rules": lateral.rules,
    }
    return {key: tidy(value) for key, value in document.items()}


def tidy(value: Any) -> Any:
    """Every decimal without trailing zeros and never in exponent form; the value stays exactly the same."""
    if isinstance(value, Decimal):
        short = value.normalize()
        return short.quantize(Decimal(1)) if short == short.to_integral_value() else short
    if isinstance(value, dict):
        return {key: tidy(inner) for key, inner in value.items()}
    return [tidy(inner) for inner in value] if isinstance(value, list) else value


def _datum(lateral: Lateral) -> dict[str, Any] | None:
    if lateral.datum is None:
        return None
    return {"kind": lateral.datum.kind, "label": lateral.datum.label, "run": lateral.datum_run}


def _run(placement: RunPlacement) -> dict[str, Any]:
    return {
        "run": placement.run,
        "tied": placement.is_tied,
        "station_at_start": placement.station_at_start_m,
        "station_at_end": placement.station_at_end_m,
        "scale": placement.scale,
        "reason": placement.reason,
    }


def _segment(segment: Segment) -> dict[str, Any]:
    return {
        "from": segment.from_m,
        "to": segment.to_m,
        "material": segment.material,
        "diameter": segment.diameter_mm,
        "joint_spacing": segment.joint_spacing_m,
    }


def _only_without_station(station: Decimal | None, counter: Decimal | None) -> Decimal | None:
    return counter if station is None else None


def _feature(found: LateralFeature) -> dict[str, Any]:
    feature = found.feature
    return {
        "kind": feature.kind,
        "station": found.station_m,
        "counter": _only_without_station(found.station_m, feature.at_m),
        "label": feature.label,
        "clock_from": feature.clock_from,
        "clock_to": feature.clock_to,
        "station_sd": found.station_sd_m,
        "sources": _sources(found.sources),
    }


def defect_document(found: LateralDefect) -> dict[str, Any]:
    """One finding of a lateral."""
    defect = found.defect
    return {
        "ref": defect.ref,
        "kind": defect.kind,
        "pattern": defect.pattern,
        "station": found.station_m,
        "to_station": found.to_station_m,
        "station_sd": found.station_sd_m,
        "counter": _only_without_station(found.station_m, defect.at_m),
        "to_counter": _only_without_station(found.station_m, defect.to_m),
        "at_joint": defect.at_joint,
        "clock_from": defect.clock_from,
        "clock_to": defect.clock_to,
        "degree": defect.degree,
        "opening": defect.opening,
        "width_mm": defect.width_mm,
        "offset": defect.offset_mm,
        "gap": defect.gap_mm,
        "percent": defect.percent,
        "thickness": defect.thickness_mm,
        "soil_seen": defect.soil_seen,
        "void_seen": defect.void_seen,
        "ambiguous": found.is_ambiguous,
        "sources": _sources(found.sources),
    }


def _unseen(unseen: Unseen) -> dict[str, Any]:
    return {"from": unseen.from_m, "to": unseen.to_m, "reason": unseen.reason}


def _conflict(conflict: Conflict) -> dict[str, Any]:
    return {
        "code": conflict.code,
        "detail": conflict.detail,
        "station": conflict.station_m,
        "sources": _sources(conflict.sources),
    }


def _sources(sources: tuple[Source, ...]) -> list[dict[str, Any]]:
    return [{"run": s.run, "ref": s.ref, "counter": s.counter_m} for s in sources]
