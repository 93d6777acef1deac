"""Fixed, readable documents of the invented town of Alder Falls."""

from __future__ import annotations

from typing import Any


def job(**changes: Any) -> dict[str, Any]:
    """A job as scheduling software posts it."""
    return {
        "external_ref": "AF-1001",
        "purpose": "backup",
        "window": {"start": "2027-03-01T08:00:00-05:00", "end": "2027-03-01T10:00:00-05:00"},
        "instructions": "Clean-out behind the hydrangea.",
        "customer": {"external_ref": "C-77", "name": "Rowan Ashby", "kind": "household", "phone": "555-0142"},
        "property": {
            "external_ref": "P-12",
            "address": {"line1": "12 Millrace Lane", "locality": "Alder Falls", "region": "AF", "country": "US"},
            "year_built": 1948,
        },
        **changes,
    }


def run(job_id: str, **changes: Any) -> dict[str, Any]:
    """A downstream run of 60 ft from the front clean-out to the main, with four findings."""
    return {
        "job": job_id,
        "units": "us",
        "start_access": {"kind": "clean_out", "label": "front clean-out", "size": 4},
        "direction": "downstream",
        "recorded": "pulling_back",
        "counter_start": 0,
        "counter_end": 60,
        "reached": "main",
        "started_at": "2027-03-01T08:20:00-05:00",
        "inspector": "Linden Marsh",
        "segments": [{"from": 0, "to": 60, "material": "vitrified_clay", "diameter": 4, "joint_spacing": 3}],
        "features": [{"kind": "joint", "at": 3}, {"kind": "main", "at": 60}],
        "defects": [
            {"ref": "a", "kind": "roots", "at": 12, "degree": "bundles", "at_joint": True},
            {"ref": "b", "kind": "fracture", "at": 27.5, "clock_from": 10, "clock_to": 2, "pattern": "multiple"},
            {"ref": "c", "kind": "displaced_joint", "at": 36, "offset": 1.0, "at_joint": True},
            {"ref": "d", "kind": "sag", "at": 44, "to": 49, "percent": 40},
        ],
        "unseen": [{"from": 44, "to": 46, "reason": "under_water"}],
        **changes,
    }


def upstream_run(job_id: str, **changes: Any) -> dict[str, Any]:
    """A run in metres from the main up to the same front clean-out, seeing two of the findings again."""
    return {
        "job": job_id,
        "units": "si",
        "start_access": {"kind": "downstream_manhole", "label": "manhole 7"},
        "direction": "upstream",
        "counter_start": 0,
        "counter_end": 18.288,
        "reached": "access_point",
        "started_at": "2027-03-01T09:10:00-05:00",
        "inspector": "Linden Marsh",
        "segments": [{"from": 0, "to": 18.288, "material": "vitrified_clay", "diameter": 100}],
        "features": [
            {"kind": "main", "at": 0},
            {"kind": "access_point", "at": 18.288, "label": "front clean-out"},
        ],
        "defects": [
            {"ref": "u1", "kind": "displaced_joint", "at": 7.32, "degree": "severe", "at_joint": True},
            {"ref": "u2", "kind": "fracture", "at": 9.91, "clock_from": 10, "clock_to": 2, "pattern": "multiple"},
        ],
        **changes,
    }


def site(**changes: Any) -> dict[str, Any]:
    """What is known of the ground over the lateral of `run`."""
    return {
        "units": "us",
        "boundaries": [
            {"kind": "building_wall", "station": 0},
            {"kind": "property_line", "station": 40},
            {"kind": "main", "station": 60},
        ],
        "depths": [{"station": 0, "depth": 4, "to": "invert"}, {"station": 60, "depth": 8, "to": "invert"}],
        "surfaces": [
            {"from": 0, "to": 40, "kind": "lawn"},
            {"from": 40, "to": 60, "kind": "asphalt_street"},
        ],
        "soil": "B",
        "groundwater_depth": 12,
        "drainage_fixture_units": 20,
        **changes,
    }
