"""An earlier and a later inspection of one lateral, each reconciled by itself, held against each other."""

import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from inspections import exact_json
from inspections.errors import Fault, Invalid, NothingToCompare
from inspections.measures import converted
from inspections.models import Job, Lateral, Run
from inspections.services import laterals
from inspections.translate import Document
from scoring import RULES_VERSION, comparison
from scoring.grading import alarm_document, alarms
from scoring.types import Lateral as Pipe
from scoring.units import Units, length_in, size_in

_MOST_NAMED: Final = 20
_IN_UNITS: Final[Mapping[str, tuple[str, Callable[[Decimal, Units], Decimal]]]] = {
    "offset_mm": ("offset", size_in),
    "gap_mm": ("gap", size_in),
    "thickness_mm": ("thickness", size_in),
    "length_m": ("length", length_in),
}


@dataclass(frozen=True, slots=True)
class Compared:
    """A comparison in SI with the digest of what it follows from."""

    document: Document
    inputs_sha256: str


def comparison_of(lateral: Lateral, *, earlier: str | None, later: str | None) -> Compared:
    """Compare two inspections. Each is named by runs or jobs, separated by commas, or not at all.

    Not named: later is the latest job, earlier the job before it. Raises Invalid, naming what is not there, and
    NothingToCompare.
    """
    inputs = laterals.read(lateral)
    before, after = _two(inputs, earlier, later)
    then, now = part(inputs, before), part(inputs, after)
    then_pipe, now_pipe = laterals.reconciled(then), laterals.reconciled(now)
    read = {"earlier": laterals.follows_from(then), "later": laterals.follows_from(now)}
    sha256 = exact_json.digest(read)
    body = {
        "lateral": str(lateral.id),
        "units": "si",
        "alarms": _alarms(now_pipe),
        "earlier": _inspection(then.sealed),
        "later": _inspection(now.sealed),
        **comparison.comparison_document(comparison.compare(then_pipe, now_pipe)),
        "rules_version": RULES_VERSION,
        "inputs_sha256": sha256,
    }
    return Compared(body, sha256)


def in_units(document: Document, units: Units) -> Document:
    """Return a comparison in `units`, what changed by how much too."""
    shown: Document = converted(document, "si", units)
    for group in ("new", "grown", "unchanged", "repaired", "not_seen"):
        shown[group] = [{**one, "changes": [_change(c, units) for c in one["changes"]]} for one in shown[group]]
    return shown


def _change(change: Document, units: Units) -> Document:
    """Put the readings of a size or a length into `units`; crack widths are mm in both, percents have none."""
    measure = change["measure"]
    if measure not in _IN_UNITS:
        return change
    name, in_unit = _IN_UNITS[measure]
    readings = {key: in_unit(Decimal(change[key]), units) for key in ("earlier", "later", "doubt")}
    return {**change, "measure": name, **readings}


def _two(inputs: laterals.Inputs, earlier: str | None, later: str | None) -> tuple[list[Run], list[Run]]:
    faults: list[Fault] = []
    after = None if later is None else _named(inputs, later, "later", faults)
    before = None if earlier is None else _named(inputs, earlier, "earlier", faults)
    if faults:
        raise Invalid("The inspections to compare are not there.", faults=faults)
    jobs = _jobs_in_time(inputs.sealed)
    if after is None:
        after = next((runs for runs in reversed(jobs) if before is None or not _shared(before, runs)), None)
    if before is None and after is not None:
        before = next((runs for runs in reversed(jobs) if not _shared(after, runs) and _at(runs) < _at(after)), None)
    if not before or not after:
        raise NothingToCompare(
            "There is no second inspection of this lateral yet: submit a run under another job, or name the runs to "
            "compare with earlier and later."
        )
    _hold_apart(before, after)
    return before, after


def _named(inputs: laterals.Inputs, text: str, name: str, faults: list[Fault]) -> list[Run]:
    """Return the sealed runs of this lateral that ids of runs or jobs stand for."""
    found: list[Run] = []
    parts = text.split(",")
    if len(parts) > _MOST_NAMED:
        faults.append(Fault((name,), "too_many", f"Name at most {_MOST_NAMED} runs or jobs."))
        return found
    for part in parts:
        try:
            found += runs_of(inputs, uuid.UUID(part.strip()))
        except ValueError:
            faults.append(Fault((name,), "not_a_uuid", "Name runs or jobs by their ids, separated by commas."))
        except Invalid as error:
            faults.append(Fault((name,), error.faults[0].code, error.detail))
    return list({run.pk: run for run in found}.values())


def runs_of(inputs: laterals.Inputs, id: uuid.UUID) -> list[Run]:
    """Return the sealed runs of a lateral that an id of a run or of a job stands for. Raises Invalid."""
    runs = [run for run in inputs.sealed if id in (run.pk, run.job_id)]
    if runs:
        return runs
    code, detail = _why_not(inputs.lateral, id)
    raise Invalid(detail, faults=[Fault((), code, detail)])


def _why_not(lateral: Lateral, id: uuid.UUID) -> tuple[str, str]:
    run = Run.objects.filter(organisation_id=lateral.organisation_id, pk=id).first()
    if run is not None and run.lateral_id != lateral.pk:
        return "run_of_other_lateral", "This run lies on another lateral; name one of this one's."
    if run is not None:
        return "run_is_draft", "This run is a draft; submit it, then compare."
    if Job.objects.filter(organisation_id=lateral.organisation_id, pk=id).exists():
        return "job_without_runs", "This job has no submitted run on this lateral; name another."
    return "no_such_record", "There is no such run or job here; check the id."


def _jobs_in_time(sealed: Sequence[Run]) -> list[list[Run]]:
    """Return the runs by job, the job whose latest run is the latest last."""
    by_job: dict[Any, list[Run]] = {}
    for run in sealed:
        by_job.setdefault(run.job_id, []).append(run)
    return sorted(by_job.values(), key=lambda runs: (_at(runs), str(runs[0].job_id)))


def _at(runs: Sequence[Run]) -> datetime:
    return max(run.started_at or run.created_at for run in runs)


def _shared(one: Sequence[Run], other: Sequence[Run]) -> set[Any]:
    return {run.pk for run in one} & {run.pk for run in other}


def _hold_apart(before: Sequence[Run], after: Sequence[Run]) -> None:
    faults = list(_apart_faults(before, after))
    if faults:
        raise Invalid("These are not an earlier and a later inspection.", faults=faults)


def _apart_faults(before: Sequence[Run], after: Sequence[Run]) -> Iterator[Fault]:
    if _shared(before, after):
        yield Fault(("later",), "same_run", "A run is in both inspections; name different ones.")
    elif _at(before) > _at(after):
        yield Fault(("earlier",), "later_than_later", "This inspection was made after the other one; swap them.")


def part(inputs: laterals.Inputs, runs: Sequence[Run]) -> laterals.Inputs:
    """Return one inspection as if nothing else had been made; decisions on other runs say nothing in it."""
    wanted = {run.pk for run in runs}
    kept = [(run, document) for run, document in zip(inputs.sealed, inputs.documents, strict=True) if run.pk in wanted]
    return laterals.Inputs(
        inputs.lateral,
        tuple(run for run, _ in kept),
        tuple(row for row in inputs.decisions if row.run_a_id in wanted and row.run_b_id in wanted),
        tuple(document for _, document in kept),
    )


def _inspection(runs: Sequence[Run]) -> Document:
    return {
        "runs": [str(run.id) for run in runs],
        "jobs": list(dict.fromkeys(str(run.job_id) for run in runs)),
        "inspected_on": _at(runs).date().isoformat(),
    }


def _alarms(pipe: Pipe) -> list[Document]:
    placed = [found.defect for found in pipe.defects if found.station_m is not None]
    loose = [found.defect for found in pipe.defects if found.station_m is None]
    return [alarm_document(one) for one in (*alarms(placed), *alarms(loose, is_placed=False))]
