"""What a closing is judged by: the report, the plan, the lateral before the work and after it."""

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, cast

from inspections import exact_json
from inspections.models import Closing, Lateral, Run
from inspections.services import comparing, laterals, schemes, scoping
from inspections.translate import length
from inspections.vocabulary import PRESSURE_TESTS
from scoring import RULES_VERSION, acceptance
from scoring import grading as scoring_grading
from scoring.grading import Scheme, alarm_document, alarms
from scoring.scope.watching import Scale
from scoring.types import Policy
from scoring.units import Units, length_in

Document = dict[str, Any]

_BOTH: Final[tuple[Units, Units]] = ("us", "si")


@dataclass(frozen=True, slots=True)
class Result:
    """What was found, in both unit systems, with what it was computed from."""

    lateral: Lateral
    outcome: str
    inputs_sha256: str
    document_us: str
    document_si: str


def judged(row: Closing) -> Result:
    """Return what the runs and tests of a report say of its plan; touches no row."""
    scope, report = row.repair_scope, exact_json.load(row.written)
    inputs = laterals.read(scope.lateral)
    plan_si = exact_json.load(scope.document_si or "{}")
    scheme = schemes.loaded(scope.scheme)
    policy = scoping.policy_of(exact_json.load(scope.policy)["policy"], scope)
    before = comparing.part(inputs, [run for run in inputs.sealed if run.created_at < scope.created_at])
    after = comparing.part(inputs, _named(inputs, report))
    built = _built(plan_si, row.plan, report)
    later = _later(after, built, scheme)
    documents = {
        units: acceptance.closing_document(
            acceptance.Closer(laterals.reconciled(before), policy, _scale(scheme), units).close(
                acceptance.planned_of(plan_si, row.plan), built, later, _tests(report)
            ),
            units,
        )
        for units in _BOTH
    }
    warned = _alarms(after)
    return Result(
        lateral=scope.lateral,
        outcome=documents["si"]["outcome"],
        inputs_sha256=exact_json.digest(_read(row, scheme, policy, before, after)),
        document_us=exact_json.write_text({"alarms": _in_units(warned, "us"), **documents["us"]}),
        document_si=exact_json.write_text({"alarms": warned, **documents["si"]}),
    )


def _scale(scheme: Scheme) -> Scale:
    return Scale(scheme.worst > scheme.best, scheme.best)


def _named(inputs: laterals.Inputs, report: Mapping[str, Any]) -> list[Run]:
    found = [run for id in report["runs"] for run in comparing.runs_of(inputs, uuid.UUID(id))]
    return list({run.pk: run for run in found}.values())


def _built(plan_si: Document, plan: str, report: Mapping[str, Any]) -> dict[int, acceptance.Built]:
    sections = next(one["sections"] for one in plan_si["plans"] if one["name"] == plan)
    return {
        said["section"]: built_of(sections[said["section"] - 1], said, report["units"]) for said in report["sections"]
    }


def built_of(section: Mapping[str, Any], said: Mapping[str, Any], units: Units) -> acceptance.Built:
    """Return what was built in a section; what was not said is as the plan has it (`section`, in SI)."""
    first, last = (
        Decimal(section[name]) if said[name] is None else length(said[name], units) for name in ("from", "to")
    )
    return acceptance.Built(
        section=said["section"],
        method=said["method"] or section["method"],
        from_m=first,
        to_m=last,
        done_on=said["done_on"],
        material=said["material"],
        is_test_demanded=said["test_demanded"],
    )


def _later(
    after: laterals.Inputs, built: Mapping[int, acceptance.Built], scheme: Scheme
) -> dict[int, acceptance.Later | None]:
    """Return for each section what the runs made on or after the day of its work saw; runs of one day count."""
    days = {run.pk: _day(run, document) for run, document in zip(after.sealed, after.documents, strict=True)}
    known: dict[tuple[str, ...], acceptance.Later] = {}
    found: dict[int, acceptance.Later | None] = {}
    for number, one in built.items():
        runs = [run for run in after.sealed if days[run.pk] >= one.done_on]
        ids = tuple(str(run.pk) for run in runs)
        if runs and ids not in known:
            pipe = laterals.reconciled(comparing.part(after, runs))
            known[ids] = acceptance.Later(ids, pipe, scoring_grading.grade_lateral(pipe, scheme).findings)
        found[number] = known.get(ids)
    return found


def _day(run: Run, document: Mapping[str, Any]) -> str:
    """Return the day a run was made, where it was made; ISO days sort as text."""
    written: str | None = document["started_at"]
    return written[:10] if written else run.created_at.date().isoformat()


def kind_of(test: Mapping[str, Any]) -> acceptance.PressureTestKind:
    """Return which test a reading is of: the one that is filled in."""
    return cast(acceptance.PressureTestKind, next(kind for kind in PRESSURE_TESTS if test[kind] is not None))


def _tests(report: Mapping[str, Any]) -> list[acceptance.PressureTest]:
    return [
        acceptance.PressureTest(
            number=number,
            kind=kind_of(test),
            from_m=length(test["from"], report["units"]),
            to_m=length(test["to"], report["units"]),
            made_at=test["made_at"],
            outcome=acceptance.outcome(kind_of(test), test[kind_of(test)], report["units"]),
        )
        for number, test in enumerate(report["tests"], start=1)
    ]


def _alarms(after: laterals.Inputs) -> list[Document]:
    """Return what in the runs after the work must not wait, in SI."""
    if not after.sealed:
        return []
    pipe = laterals.reconciled(after)
    placed = [found.defect for found in pipe.defects if found.station_m is not None]
    loose = [found.defect for found in pipe.defects if found.station_m is None]
    return [alarm_document(one) for one in (*alarms(placed), *alarms(loose, is_placed=False))]


def _in_units(warned: Iterable[Document], units: Units) -> list[Document]:
    return [{**one, "at": None if one["at"] is None else length_in(Decimal(one["at"]), units)} for one in warned]


def _read(row: Closing, scheme: Scheme, policy: Policy, before: laterals.Inputs, after: laterals.Inputs) -> Document:
    return {
        "rules_version": RULES_VERSION,
        "scope": row.repair_scope.inputs_sha256,
        "plan": row.plan,
        "report": exact_json.load(row.written),
        "scheme": {"id": scheme.id, "version": scheme.version},
        "fix_from_grade": policy.fix_from_grade,
        "before": laterals.follows_from(before),
        "after": laterals.follows_from(after),
    }
