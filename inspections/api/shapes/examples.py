"""Examples shown on the human page. They work as shown, in this order: a test sends each of them.

The job's example goes under JOB_ID (`PUT /jobs/{id}`), because the run's example names it.
"""

from typing import Any, Final

from drf_spectacular.utils import OpenApiExample

JOB_ID: Final = "0b5e7a52-1d6c-4c1e-9a51-5a3f0c6d2e11"
RUN_ID: Final = "5c0f3c1e-8b7a-4f4e-b0a4-2f1d9e7c6a22"
OTHER_RUN_ID: Final = "9e6b1d47-3c58-4f02-a7d9-6b2e8f0a5c44"

JOB: Final[dict[str, Any]] = {
    "external_ref": "AF-3001",
    "purpose": "backup",
    "window": {"start": "2027-04-06T08:00:00-05:00", "end": "2027-04-06T10:00:00-05:00"},
    "instructions": "Clean-out behind the hydrangea.",
    "customer": {"external_ref": "C-3001", "name": "Rowan Ashby", "kind": "household", "phone": "555-0142"},
    "property": {
        "external_ref": "P-3001",
        "address": {"line1": "9 Sluice Street", "locality": "Alder Falls", "country": "US"},
        "year_built": 1948,
    },
}
RUN: Final[dict[str, Any]] = {
    "job": JOB_ID,
    "units": "us",
    "start_access": {
        "kind": "clean_out",
        "label": "front clean-out",
        "how_to_find": "3.5 ft from the north-east house corner",
        "size": 4,
    },
    "direction": "downstream",
    "recorded": "pulling_back",
    "counter_start": 0,
    "counter_end": 60,
    "reached": "main",
    "started_at": "2027-04-06T08:20:00-05:00",
    "inspector": "Linden Marsh",
    "segments": [{"from": 0, "to": 60, "material": "vitrified_clay", "diameter": 4, "joint_spacing": 3}],
    "features": [{"kind": "joint", "at": 3}, {"kind": "main", "at": 60}],
    "defects": [
        {"ref": "a", "kind": "roots", "at": 12, "at_joint": True, "degree": "bundles"},
        {
            "ref": "b",
            "kind": "fracture",
            "at": 27.5,
            "pattern": "multiple",
            "clock_from": 10,
            "clock_to": 2,
            "note": "gap to be seen, nothing moved",
        },
        {"ref": "c", "kind": "displaced_joint", "at": 36, "at_joint": True, "offset": 1.0},
        {"ref": "d", "kind": "sag", "at": 44, "to": 49, "percent": 40},
    ],
    "unseen": [{"from": 44, "to": 46, "reason": "under_water"}],
}
AMENDMENT: Final[dict[str, Any]] = {
    "reason": "The inspector heard the clip again: the roots fill the bore.",
    "changes": {"inspector": "Linden Marsh, with Sorrel Vane"},
}
REASONS: Final[dict[str, Any]] = {"reasons": ["Film the last six feet again with the flow stopped."]}
SITE: Final[dict[str, Any]] = {
    "units": "us",
    "boundaries": [
        {"kind": "building_wall", "station": 0},
        {"kind": "property_line", "station": 40},
        {"kind": "main", "station": 60},
    ],
    "depths": [{"station": 0, "depth": 4, "to": "invert"}, {"station": 60, "depth": 8, "to": "invert"}],
    "surfaces": [{"from": 0, "to": 40, "kind": "lawn"}, {"from": 40, "to": 60, "kind": "asphalt_street"}],
    "soil": "B",
}
SITE_CHANGE: Final[dict[str, Any]] = {"groundwater_depth": 7.5}
JOB_CHANGE: Final[dict[str, Any]] = {"state": "called_off"}
RUN_CHANGE: Final[dict[str, Any]] = {"counter_end": 60, "reached": "main"}
_PROPERTY: Final[dict[str, Any]] = {
    "external_ref": "P-3100",
    "address": {"line1": "14 Weir Row", "locality": "Alder Falls", "country": "US"},
    "year_built": 1926,
    "location": {"lat": 41.5, "lon": -72.2},
}
PROPERTY_ID: Final = "7d1c5f0a-92f4-4a57-8f1e-3a6b0c9d4e33"
# What each kind of plain record is made with, and how it changes.
RECORDS: Final[dict[str, tuple[dict[str, Any], dict[str, Any]]]] = {
    "customers": ({"external_ref": "C-3100", "name": "Juniper Hale", "kind": "household"}, {"phone": "555-0171"}),
    "properties": (_PROPERTY, {"year_built": 1928}),
    "access-points": (
        {
            "property": PROPERTY_ID,
            "units": "us",
            "kind": "clean_out",
            "label": "yard clean-out",
            "size": 4,
            "ties": [{"to": "north-east house corner", "distance": 3.5}],
        },
        {"how_to_find": "Under the brass plate in the lawn."},
    ),
}
SUBSCRIPTION: Final[dict[str, Any]] = {
    "external_ref": "S-1",
    "url": "https://hooks.example.com/pullback",
    "event_types": ["run.*", "lateral.graded"],
}
SUBSCRIPTION_CHANGE: Final[dict[str, Any]] = {"event_types": ["run.graded", "lateral.graded"]}
ROTATION: Final[dict[str, Any]] = {"keep_previous_hours": 48}
TOKEN: Final[dict[str, Any]] = {"client": "county-records", "scopes": ["records:read"]}
RECOMPUTATION: Final[dict[str, Any]] = {"scheme": "open-five", "apply": False}
DECISION: Final[dict[str, Any]] = {
    "action": "pin",
    "a": {"run": RUN_ID, "ref": "b"},
    "b": {"run": OTHER_RUN_ID, "ref": "1"},
    "reason": "The same crack: it turns with the pipe at the third joint.",
}
OBSERVATION: Final[dict[str, Any]] = {
    "job": "AF-3001",
    "run": "R-3001",
    "ref": "1",
    "units": "us",
    "direction": "downstream",
    "surveyed_length": 60,
    "at": 12.5,
    "kind": "roots",
    "degree": "hairs",
}
# One line of each import of records; what a line names by its own key came before it.
IMPORTED: Final[dict[str, dict[str, Any]]] = {
    "customers": {"external_ref": "C-3400", "name": "Sorrel Penn", "kind": "household"},
    "properties": {"external_ref": "P-3400", "address": {"line1": "6 Sluice Street"}, "year_built": 1931},
    "access-points": {
        "external_ref": "A-3200",
        "property": PROPERTY_ID,
        "units": "us",
        "kind": "clean_out",
        "size": 4,
    },
    "jobs": {**JOB, "external_ref": "AF-3200"},
    "runs": {**RUN, "external_ref": "R-3200"},
}
FINDINGS: Final[dict[str, Any]] = {
    "units": "us",
    "defects": [{"ref": "a", "kind": "roots", "at": 12, "degree": "plug"}],
}
CODES: Final[dict[str, Any]] = {"findings": [{"code": "K1", "values": {"clock_from": 3}}]}
BATCH: Final[dict[str, Any]] = {
    "mode": "atomic",
    "entries": [
        {"method": "POST", "path": "/customers", "body": {"external_ref": "C-3200", "name": "Wren Tarn"}},
        {
            "method": "POST",
            "path": "/properties",
            "body": {"external_ref": "P-3200", "address": {"line1": "2 Ford Lane", "locality": "Alder Falls"}},
        },
    ],
}
REPORT_LINK: Final[dict[str, Any]] = {"valid_days": 14, "note": "For the owner."}
BID_CHANGE: Final[dict[str, Any]] = {"note": "The second line was read as 1200; it says 1250."}
WITHDRAWAL: Final[dict[str, Any]] = {"reason": "The crew is not free before autumn."}
ERASURE: Final[dict[str, Any]] = {"reason": "Asked for in writing on 3 May."}
SCOPE: Final[dict[str, Any]] = {"policy": {"fix_from_grade": 3}}
BID: Final[dict[str, Any]] = {
    "plan": "least_cost",
    "bidder": "Birch Hollow Pipe Works",
    "received_on": "2027-04-20",
    "valid_until": "2027-06-19",
    "currency": "USD",
    "lines": [
        {"section": 1, "extension": 420.00, "note": "cleaning complete"},
        {"section": 2, "item": "mobilisation", "quantity": 1, "unit": "each", "unit_price": 850, "extension": 850},
        {
            "section": 2,
            "item": "open_cut_replacement",
            "quantity": 26,
            "unit": "ft",
            "unit_price": 64,
            "extension": 1646,
        },
    ],
    "total": 2916.00,
    "exclusions": ["rock"],
    "duration_days": 3,
}
CLOSING: Final[dict[str, Any]] = {
    "units": "us",
    "plan": "least_cost",
    "closed_on": "2027-06-02",
    "sections": [
        {"section": 1, "done_on": "2027-05-18"},
        {
            "section": 2,
            "from": 25.4,
            "to": 51.6,
            "material": "pvc",
            "done_on": "2027-05-20",
            "warranty_until": "2032-05-20",
            "contractor": "Birch Hollow Pipe Works",
        },
    ],
    "runs": [],
    "tests": [
        {
            "from": 25.4,
            "to": 51.6,
            "made_at": "2027-05-20T15:30:00-05:00",
            "air_test": {
                "standard": "F1417",
                "sections": [{"diameter": 4, "length": 26.2}],
                "pressure_drop_psi": 0.5,
                "measured_s": 140,
            },
        }
    ],
}


def shown(title: str, value: dict[str, Any], *, media: str = "application/json") -> list[OpenApiExample]:
    """Return an example of a request body."""
    return [OpenApiExample(title, value=value, request_only=True, media_type=media)]
