"""Laterals of the invented town of Alder Falls, as plain documents: fixed, readable, nothing real."""

from collections.abc import Mapping
from decimal import Decimal as D
from typing import Any

from inspections.reports import ReportInput

Document = dict[str, Any]
SCHEME = {"id": "open-five", "version": 1, "best": 1, "worst": 5}
CLEAN_OUT = {"kind": "clean_out", "label": "front clean-out"}
HEADING = {
    "organisation": "Larkspur Drain Survey",
    "customer_name": "Ida Marlowe",
    "address_lines": ["14 Quarry Lane", "Alder Falls"],
    "purpose": "backup",
    "job_ref": "AF-2041",
    "instructions": "Basement floor drain backs up after rain. Dog in the yard.",
}


def run(id_: str = "run-a", **changes: Any) -> Document:
    return {
        "id": id_,
        "direction": "downstream",
        "start_access": CLEAN_OUT,
        "reached": "main",
        "stopped_by": None,
        "started_at": "2026-03-04T09:12:00-05:00",
        "ended_at": "2026-03-04T09:41:00-05:00",
        "inspector": "R. Okafor",
        "recorded": "pulling_back",
        "counter_start": D("0"),
        "counter_end": D("62"),
        "conditions": {"cleaned_before": True, "water_introduced": False, "flow_during": "low"},
        "clips": [{"uri": "https://clips.example/af/run.mp4?key=9f3", "sha256": "c0de" * 16, "duration_s": D("614")}],
        "state": "accepted",
        "camera": {"head_diameter": D("1.4"), "skid": True},
    } | changes


def placement(id_: str, start: str | None, end: str | None, reason: str = "starts at the datum") -> Document:
    return {
        "run": id_,
        "tied": start is not None,
        "station_at_start": None if start is None else D(start),
        "station_at_end": None if end is None else D(end),
        "scale": D("1"),
        "reason": reason,
    }


def defect(ref: str, kind: str, station: str | None, **changes: Any) -> Document:
    place = None if station is None else D(station)
    return {
        "ref": ref,
        "kind": kind,
        "station": place,
        "counter": place,
        "at_joint": False,
        "sources": [{"run": "run-a", "ref": ref, "counter": place}],
    } | changes


def feature(kind: str, station: str, label: str | None = None, **changes: Any) -> Document:
    sources = [{"run": "run-a", "ref": "f", "counter": D(station)}]
    return {"kind": kind, "station": D(station), "label": label, "sources": sources} | changes


def graded(ref: str, aspect: str, grade: int, rule: str, measure: str | None = None) -> Document:
    source = "house rule" if measure is None else "Stein & Partner 2001, ch. 4.7.4.3.1"
    return {"ref": ref, "aspect": aspect, "grade": grade, "rule": rule, "source": source, "measure": measure}


def summary(grades: list[int]) -> Document:
    counts = {str(grade): grades.count(grade) for grade in range(1, 6)}
    worst_two = [{"grade": grade, "count": grades.count(grade)} for grade in sorted(set(grades), reverse=True)[:2]]
    weighted = sum(grades)
    mean = round(D(weighted) / len(grades), 3) if grades else None
    return {
        "grade": max(grades, default=0),
        "counts": counts,
        "worst_two": worst_two,
        "weighted_count": weighted,
        "mean_grade": mean,
        "time_left": None,
    }


def grading(defects: list[Document], share: str, overall: int, **more: Any) -> Document:
    by_aspect = {
        aspect: [row["grade"] for row in defects if row["aspect"] == aspect] for aspect in ("structural", "service")
    }
    return {
        "structural": summary(by_aspect["structural"]),
        "service": summary(by_aspect["service"]),
        "overall": summary(by_aspect["structural"] + by_aspect["service"]) | {"grade": overall},
        "coverage": {"length_share": D(share), "joints_seen": 31, "joints_affected": 6, "unseen": []},
        "defects": defects,
        "scheme": SCHEME,
    } | more


def lateral(**changes: Any) -> Document:
    return {
        "id": "0b2f7a52-9d1c-4f0e-8a57-6f0c1f2d3e4a",
        "datum": {**CLEAN_OUT, "run": "run-a"},
        "from": D("0"),
        "to": D("62"),
        "reaches_building": True,
        "reaches_main": True,
        "runs": [placement("run-a", "0", "62")],
        "segments": [{"from": D("0"), "to": D("62"), "material": "pvc", "diameter": D("4"), "joint_spacing": D("10")}],
        "features": [feature("main", "62")],
        "defects": [],
        "unseen": [],
        "conflicts": [],
        "boundaries": [],
        "depths": [],
        "surfaces": [],
        "alarms": [],
        "grading": grading([], "1", 0),
        "inputs_sha256": "5f0c" * 16,
        "rules_version": "7",
    } | changes


def report(lateral_: Mapping[str, Any], **changes: Any) -> ReportInput:
    given: dict[str, Any] = {
        "units": "us",
        "lateral": lateral_,
        "runs": [run()],
        "heading": HEADING,
    } | changes
    return ReportInput(**given)


def clean() -> ReportInput:
    features = [feature("joint", str(at)) for at in range(10, 62, 10)] + [feature("main", "62", "saddle tap")]
    site = {
        "boundaries": [
            {"kind": "building_wall", "station": D("0")},
            {"kind": "property_line", "station": D("41.5")},
            {"kind": "main", "station": D("62")},
        ],
        "depths": [
            {"station": D("0"), "depth": D("3.5"), "to": "invert"},
            {"station": D("62"), "depth": D("8"), "to": "invert"},
        ],
        "surfaces": [
            {"from": D("0"), "to": D("36"), "kind": "lawn"},
            {"from": D("36"), "to": D("41.5"), "kind": "concrete_walk"},
            {"from": D("41.5"), "to": D("62"), "kind": "asphalt_street"},
        ],
    }
    return report(lateral(features=features, **site))


BAD_GRADES = [
    graded("d1", "service", 2, "open-five/roots/degree"),
    graded("d2", "structural", 3, "open-five/fracture/default"),
    graded("d3", "structural", 2, "open-five/displaced-joint/degree"),
    graded("d4", "service", 3, "open-five/roots/degree"),
    graded("d5", "structural", 2, "open-five/crack/width", "width 0.4 mm"),
    graded("d6", "structural", 4, "open-five/broken/default"),
    graded("d7", "service", 3, "open-five/sag/percent", "30 % of the diameter"),
    graded("d8", "service", 5, "open-five/roots/degree"),
    graded("d9", "service", 4, "open-five/infiltration/degree"),
    graded("d10", "structural", 5, "open-five/hole/soil-seen"),
    graded("d11", "structural", 3, "open-five/displaced-joint/offset", "offset 0.5 in"),
    graded("d12", "service", 3, "open-five/bed-deposits/percent", "20 % of the area"),
    graded("d13", "structural", 4, "open-five/crack/width", "width 3 mm"),
    graded("d14", "structural", 5, "open-five/soil-ingress/any"),
    graded("d14", "service", 5, "open-five/soil-ingress/any"),
]
BAD_DEFECTS = [
    defect("d1", "roots", "9.0", degree="hairs", at_joint=True, clock_from=D("11"), clock_to=D("1")),
    defect("d2", "fracture", "12.0", pattern="longitudinal", clock_from=D("3"), to_station=D("15.0")),
    defect("d3", "displaced_joint", "15.0", degree="slight", at_joint=True, station_sd=D("0.4")),
    defect("d4", "roots", "21.0", degree="bundles", at_joint=True, clock_from=D("10"), clock_to=D("2")),
    defect("d5", "crack", "23.5", pattern="circumferential", width_mm=D("0.4")),
    defect("d6", "broken", "27.0", at_joint=True, clock_from=D("8"), clock_to=D("10"), station_sd=D("0.9")),
    defect("d7", "sag", "30.0", to_station=D("37.5"), percent=D("30"), clock_from=D("5"), clock_to=D("7")),
    defect("d8", "roots", "39.0", degree="plug", at_joint=True),
    defect("d9", "infiltration", "42.0", degree="dripping", at_joint=True, clock_from=D("12")),
    defect("d10", "hole", "44.2", soil_seen=True, clock_from=D("6"), clock_to=D("7")),
    defect("d11", "displaced_joint", "48.0", offset=D("0.5"), at_joint=True),
    defect(
        "d12",
        "bed_deposits",
        "51.0",
        to_station=D("56.0"),
        percent=D("20"),
        clock_from=D("5"),
        clock_to=D("7"),
    ),
    defect("d13", "crack", "58.4", pattern="multiple", width_mm=D("3"), clock_from=D("9"), clock_to=D("3")),
    defect("d14", "soil_ingress", "60.0", at_joint=True, clock_from=D("4"), void_seen=True),
]


def section(start: str, end: str, method: str, low: int, likely: int, high: int, **more: Any) -> Document:
    return {
        "from": D(start),
        "to": D(end),
        "method": method,
        "cures": ["d1"],
        "quantities": [
            {
                "item": "trench excavation",
                "quantity": D("17.78"),
                "unit": "cy",
                "formula": "2.5 ft x 9 ft x 21.3 ft / 27",
            }
        ],
        "checks": [
            {
                "check": "trench",
                "soil_used": "B",
                "protective_system_required": True,
                "source": "29 CFR 1926.652",
            }
        ],
        "cost": {"low": low, "likely": likely, "high": high},
        "payer_shares": [
            {"payer": "owner", "share": D("0.5"), "low": low / 2, "likely": likely / 2, "high": high / 2}
        ],
        "cautions": ["Deeper than 5 ft: a protective system is required."],
        "reasons": ["The hole shows soil: a liner alone does not cure it."],
    } | more


def scope(**changes: Any) -> Document:
    spot = section("38", "46", "spot_repair", 5200, 7100, 9900, cures=["d8", "d9", "d10"])
    liner = section("0", "30", "full_liner", 3100, 3900, 5200, cures=["d2", "d6"], checks=[])
    spot_2 = section("57", "62", "spot_repair", 6200, 8400, 11800, cures=["d13", "d14"])
    whole = section(
        "0",
        "62",
        "open_cut_replacement",
        14800,
        21000,
        29500,
        cures=["d2", "d6", "d8", "d9", "d10", "d13", "d14"],
    )
    costs = [{"low": 14500, "likely": 19400, "high": 26900}, {"low": 14800, "likely": 21000, "high": 29500}]
    plans = [
        {
            "name": "least_cost",
            "sections": [liner, spot, spot_2],
            "monitor": [{"defect": "d3", "look_again_by": 2029}],
            "not_curable": [{"defect": "d7", "reason": "No allowed method cures a sag here without digging."}],
            "total": costs[0],
        },
        {
            "name": "least_digging",
            "sections": [liner, spot, spot_2],
            "monitor": [],
            "not_curable": [],
            "total": costs[0],
        },
        {"name": "whole_line", "sections": [whole], "monitor": [], "not_curable": [], "total": costs[1]},
    ]
    return {
        "plans": plans,
        "proof": {"optimal": True, "lower_bound": 19400},
        "currency": "USD",
        "cautions": ["Prices come from an invented rate book."],
        "inputs_sha256": "9ab1" * 16,
    } | changes


NOTED_RUN_DEFECT = {"ref": "d6", "kind": "broken", "at": D("27"), "video_s": 185, "note": "pieces have dropped"}


def bad() -> ReportInput:
    features = [feature("joint", str(at)) for at in (3, 6, 18, 24, 33, 36, 45, 54, 57)]
    features += [
        feature("trap", "4.5", "house trap"),
        feature("bend", "18.5", "22 degrees", clock_from=D("3")),
        feature("connection", "26", "wye, downspout", clock_from=D("10")),
        feature("size_change", "36"),
        feature("coupling", "49.5"),
        feature("main", "62"),
    ]
    segments = [
        {"from": D("0"), "to": D("6"), "material": "cast_iron", "diameter": D("4"), "joint_spacing": D("5")},
        {
            "from": D("6"),
            "to": D("36"),
            "material": "vitrified_clay",
            "diameter": D("5"),
            "joint_spacing": D("3"),
        },
        {
            "from": D("36"),
            "to": D("62"),
            "material": "vitrified_clay",
            "diameter": D("6"),
            "joint_spacing": D("3"),
        },
    ]
    unseen = [{"from": D("31"), "to": D("36"), "reason": "under_water"}]
    site = {
        "boundaries": [
            {"kind": "building_wall", "station": D("0")},
            {"kind": "property_line", "station": D("38")},
            {"kind": "main", "station": D("62")},
        ],
        "depths": [
            {"station": D("0"), "depth": D("4"), "to": "invert"},
            {"station": D("20"), "depth": D("5.5"), "to": "invert"},
            {"station": D("38"), "depth": D("8.5"), "to": "crown"},
            {"station": D("62"), "depth": D("10"), "to": "invert"},
        ],
        "surfaces": [
            {"from": D("0"), "to": D("3"), "kind": "planting"},
            {"from": D("3"), "to": D("32"), "kind": "lawn"},
            {"from": D("32"), "to": D("38"), "kind": "concrete_walk"},
            {"from": D("38"), "to": D("62"), "kind": "asphalt_street"},
        ],
    }
    return report(
        lateral(
            features=features,
            segments=segments,
            defects=BAD_DEFECTS,
            unseen=unseen,
            grading=grading(BAD_GRADES, "0.919", 5),
            **site,
        ),
        scope=scope(),
        runs=[run(defects=[NOTED_RUN_DEFECT])],
    )


def stopped() -> ReportInput:
    """One run, stopped by a root plug: from there on nothing is known."""
    return report(
        lateral(
            to=D("37.5"),
            reaches_building=False,
            reaches_main=False,
            runs=[placement("run-a", "0", "37.5")],
            segments=[{"from": D("0"), "to": D("37.5"), "material": "vitrified_clay", "diameter": D("6")}],
            features=[],
            defects=[
                defect(
                    "d1",
                    "roots",
                    "22.0",
                    degree="bundles",
                    at_joint=True,
                    clock_from=D("10"),
                    clock_to=D("2"),
                ),
                defect("d2", "roots", "37.5", degree="plug", at_joint=True),
            ],
            unseen=[{"from": D("37.5"), "to": None, "reason": "not_reached"}],
            grading=grading(
                [
                    graded("d1", "service", 3, "open-five/roots/degree"),
                    graded("d2", "service", 5, "open-five/roots/degree"),
                ],
                "1",
                5,
            ),
        ),
        runs=[run(reached="stopped", stopped_by="defect")],
    )


def two_runs() -> ReportInput:
    """From both ends, in metres; a third run that nothing ties; the two contradict each other once."""
    conflict = {
        "code": "seen_by_one_only",
        "detail": "Run 1 saw an open joint at 8.4 m, run 2 passed the same place in clear view and reports none.",
        "station": D("8.4"),
        "sources": [
            {"run": "run-a", "ref": "d1", "counter": D("8.4")},
            {"run": "run-b", "ref": None, "counter": D("10.9")},
        ],
    }
    defects = [
        defect("d1", "open_joint", "8.4", gap=D("14"), at_joint=True, ambiguous=True, station_sd=D("0.12")),
        defect("d2", "sag", "11.2", to_station=D("13.6"), percent=D("15"), clock_from=D("5"), clock_to=D("7")),
        defect("d3", "corrosion", None, counter=D("2.1"), degree="general"),
    ]
    grades = [
        graded("d1", "structural", 3, "open-five/open-joint/degree"),
        graded("d2", "service", 2, "open-five/sag/percent", "15 % of the diameter"),
        graded("d3", "structural", 3, "open-five/corrosion/degree"),
    ]
    return report(
        lateral(
            to=D("19.3"),
            runs=[
                placement("run-a", "0", "15.2"),
                placement("run-b", "19.3", "6.8", "one shared feature: the wye at 9.0 m"),
                placement("run-c", None, None, "no landmark shared with any other run"),
            ],
            segments=[{"from": D("0"), "to": D("19.3"), "material": "concrete", "diameter": D("150")}],
            features=[feature("connection", "9.0", "wye", clock_from=D("2")), feature("main", "19.3")],
            defects=defects,
            conflicts=[conflict],
            grading=grading(grades, "0.97", 3),
        ),
        units="si",
        runs=[
            run("run-a", reached="stopped", stopped_by="bend"),
            run(
                "run-b",
                direction="upstream",
                reached="stopped",
                stopped_by="cable_end",
                start_access={"kind": "downstream_manhole", "label": "manhole 7"},
            ),
            run("run-c", reached="access_point", start_access={"kind": "floor_drain", "label": None}),
        ],
    )


def negative() -> ReportInput:
    """Stations run from the house at -18 ft over the datum at 0 to the main."""
    return report(
        lateral(
            **{"from": D("-18"), "to": D("44")},
            runs=[placement("run-a", "0", "44"), placement("run-b", "0", "-18")],
            segments=[
                {"from": D("-18"), "to": D("0"), "material": "cast_iron", "diameter": D("4")},
                {"from": D("0"), "to": D("44"), "material": "bituminous_fibre", "diameter": D("4")},
            ],
            features=[feature("main", "44")],
            defects=[
                defect("d1", "deformation", "-6.5", percent=D("8")),
                defect("d2", "deformation", "20", percent=D("12")),
            ],
            grading=grading(
                [
                    graded("d1", "structural", 3, "open-five/deformation/percent", "8 %"),
                    graded("d2", "structural", 4, "open-five/deformation/percent", "12 %"),
                ],
                "1",
                4,
            ),
        ),
        runs=[run("run-a"), run("run-b", direction="upstream", reached="building")],
    )


def nothing() -> ReportInput:
    """A lateral nobody has put a camera in."""
    empty = {"datum": None, "from": None, "to": None, "reaches_building": False, "reaches_main": False}
    return report(lateral(runs=[], segments=[], features=[], grading=None, **empty), runs=[])


def foreign_line() -> ReportInput:
    """A gas line bored through the drain: the job stops."""
    alarm = {
        "code": "foreign_line",
        "detail": "A line that is no part of the drain passes through the pipe.",
        "at": D("29.4"),
        "ref": "d1",
    }
    return report(
        lateral(
            to=D("30"),
            reaches_building=False,
            reaches_main=False,
            runs=[placement("run-a", "0", "30")],
            segments=[{"from": D("0"), "to": D("30"), "material": "pvc", "diameter": D("4")}],
            features=[feature("joint", "10"), feature("joint", "20")],
            defects=[defect("d1", "foreign_line", "29.4", clock_from=D("9"), clock_to=D("3"))],
            unseen=[{"from": D("30"), "to": None, "reason": "not_reached"}],
            boundaries=[{"kind": "building_wall", "station": D("-3")}, {"kind": "main", "station": D("58")}],
            alarms=[alarm],
            grading=grading([graded("d1", "structural", 5, "open-five/foreign-line/any")], "1", 5),
        ),
        runs=[run(reached="stopped", stopped_by="defect")],
    )


def hostile() -> ReportInput:
    """Names and notes that try to break out of their place."""
    return report(
        lateral(
            datum={"kind": "clean_out", "label": "<script>alert(1)</script>", "run": "run-a"},
            features=[
                feature(
                    "connection",
                    "12",
                    "\u05e9\u05dc\u05d5\u05dd \u202egnp.exe \U0001f6bd & 'quoted' \"double\"",
                )
            ],
            defects=[defect("d1</desc>", "roots", "20", degree="<b>hairs</b>")],
            conflicts=[{"code": "x", "detail": "]]></style><script>", "station": None, "sources": []}],
        ),
        heading=HEADING | {"customer_name": "<img src=x onerror=alert(1)>", "instructions": "a" * 3000 + "\x00\ud800"},
    )


CASES = {
    "clean": clean,
    "bad": bad,
    "stopped": stopped,
    "two_runs": two_runs,
    "negative": negative,
    "nothing": nothing,
    "foreign_line": foreign_line,
    "hostile": hostile,
}
