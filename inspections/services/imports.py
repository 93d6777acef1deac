"""Rows of observations into draft runs: what is sound is taken, every other row is named with the reason."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from django.db import transaction

from inspections import exact_json
from inspections.actor import Actor
from inspections.errors import Invalid, Refused
from inspections.models import CodeMap, Import, ImportedObservation, Job, Run
from inspections.services import code_maps, observations, runs, trail
from inspections.services.observations import Derived, Doubt, Row
from inspections.services.revisions import Expected
from inspections.translate import run_document
from scoring import codes

Document = dict[str, Any]
MOST_IN_RUN: Final = 5000
_BY_NAME_OF_MAP: Final = {"offset": "offset_mm", "gap": "gap_mm", "thickness": "thickness_mm", "to": "to_m"}
_OF_A_FINDING: Final = (
    "degree", "opening", "pattern", "at_joint", "soil_seen", "void_seen", "clock_from", "clock_to", "width_mm",
    "offset", "gap", "percent", "thickness", "to", "label",
)  # fmt: skip


@dataclass(slots=True)
class Line:
    """One line of an import and what became of it."""

    number: int
    ref: str | None = None
    sent: Document | None = None
    refused: list[Doubt] = field(default_factory=list)
    row: Row | None = None
    flagged: list[Doubt] = field(default_factory=list)
    is_in_run: bool = True
    is_known: bool = False  # the same row came before

    def refuse(self, code: str, detail: str) -> None:
        """Do not take this line."""
        self.refused.append(Doubt(code, detail))

    @property
    def outcome(self) -> str:
        return "refused" if self.refused else "flagged" if self.flagged else "taken"

    def document(self) -> Document:
        """Return what the caller hears of the line."""
        said = self.refused or self.flagged
        known = Doubt("already_here", "This row came before, with the same content.")
        first = said[0] if said else known if self.is_known else None
        return {
            "line": self.number,
            "ref": self.ref,
            "outcome": self.outcome,
            "in_run": self.is_in_run and not self.refused,
            "code": first.code if first else None,
            "detail": first.detail if first else None,
            "findings": [{"code": one.code, "detail": one.detail} for one in said],
        }


Check = Callable[[str, Document], Document]


def import_rows(*, actor: Actor, lines: Sequence[Line], check: Check) -> Import:
    """Put the rows that could be read into their runs. `check` holds an entry to the shape it has in a run.

    Raises nothing for what a row says wrong: that line is refused, with the reason.
    """
    with transaction.atomic():
        maps = _Maps(actor)
        groups: dict[tuple[str, str], list[Line]] = {}
        for line in lines:
            if line.sent is not None and not line.refused:
                _read(line, maps, check)
                groups.setdefault((line.sent["job"], line.sent["run"]), []).append(line)
        made = Import(organisation=actor.organisation, source=actor.client, lines=0, taken=0, flagged=0, refused=0)
        made.save(force_insert=True)
        for (job, run), members in sorted(groups.items(), key=lambda group: group[0]):
            _into_run(actor, made, job, run, members)
        outcomes = [line.outcome for line in lines]
        made.lines = len(lines)
        made.taken, made.flagged, made.refused = (outcomes.count(word) for word in ("taken", "flagged", "refused"))
        made.save()
        noted(actor, made)
        return made


def records_imported(*, actor: Actor, kind: str, lines: int, refused: int) -> Import:
    """Note that records of a kind came in; each is in the trail by itself."""
    made = Import(organisation=actor.organisation, source=actor.client, kind=kind, lines=lines, flagged=0)
    made.refused, made.taken = refused, lines - refused
    made.save(force_insert=True)
    noted(actor, made)
    return made


class _Maps:
    """The code maps that rows name, each looked up once an import."""

    def __init__(self, actor: Actor) -> None:
        self.rows = CodeMap.objects.filter(organisation=actor.organisation)
        self.known: dict[str | None, codes.CodeMap | None] = {}

    def named(self, name: str | None) -> codes.CodeMap | None:
        """Return the newest version of the map of this code, or the default one where none is named."""
        if name not in self.known:
            rows = self.rows.filter(is_default=True) if name is None else self.rows.filter(code=name)
            row = rows.order_by("-version").first()
            self.known[name] = code_maps.loaded(row) if row else None
        return self.known[name]


def _read(line: Line, maps: _Maps, check: Check) -> None:
    """Find out what a row means, or why it means nothing."""
    sent = dict(line.sent or {})
    doubts: list[Doubt] = []
    for name in observations.clock_of(sent):
        sent[name] = None
        doubts.append(Doubt("clock_zero", f"{name} is 0, no place on the dial; taken as not recorded."))
    meant = _by_kind(sent, doubts) if sent["code"] is None else _by_code(line, sent, maps, doubts)
    if line.refused or meant is None:
        return
    what, entry = meant
    try:
        entry = check(what, entry)
    except Invalid as error:
        for fault in error.faults:
            line.refuse(fault.code, f"{fault.pointer}: {fault.detail}")
        return
    line.row = Row(sent["ref"], what, entry, sent["label"], sent["mark"], tuple(doubts))


def _by_kind(sent: Document, doubts: list[Doubt]) -> tuple[str, Document]:
    what = observations.what_is(sent["kind"])
    return what, _entry(what, sent["kind"], sent, {name: sent[name] for name in _OF_A_FINDING}, doubts)


def _by_code(line: Line, sent: Document, maps: _Maps, doubts: list[Doubt]) -> tuple[str, Document] | None:
    code_map = maps.named(sent["code_map"])
    if code_map is None:
        named = sent["code_map"] or "a default"
        line.refuse("code_map_unknown", f"There is no code map {named} here; load it at /code-maps.")
        return None
    values = {_BY_NAME_OF_MAP.get(name, name): sent[name] for name in _OF_A_FINDING if name != "label"}
    try:
        meant = codes.from_external(code_map, sent["code"], values)
    except codes.CodeUnknown as error:
        line.refuse("code_unknown", str(error))
        return None
    doubts += [Doubt("value_not_taken", f"{one.field}: {one.sentence} It is kept with the row.") for one in meant.lost]
    back = {name: meant.attributes.get(_BY_NAME_OF_MAP.get(name, name)) for name in _OF_A_FINDING}
    return meant.what, _entry(meant.what, meant.kind, sent, back, doubts)


def _entry(what: str, kind: str, sent: Document, attributes: Mapping[str, Any], doubts: list[Doubt]) -> Document:
    common = {"kind": kind, "at": sent["at"], "clock_from": attributes["clock_from"]}
    others = {name: value for name, value in attributes.items() if name != "label" and value is not None}
    if what == "defect":
        return {**others, **common, "ref": sent["ref"], "video_s": sent["video_s"], "note": sent["note"]}
    others |= {name: sent[name] for name in ("video_s", "note")}
    for name, value in others.items():
        if name not in ("clock_from", "clock_to") and value not in (None, False):
            doubts.append(Doubt("value_not_taken", f"A {kind} has no {name}; it is kept with the row."))
    return {**common, "clock_to": attributes["clock_to"], "label": sent["label"]}


def _into_run(actor: Actor, made: Import, job: str, key: str, lines: list[Line]) -> None:
    """Take the rows of one run into it, or refuse them all with the reason."""
    try:
        run = _run_of(actor, job, key, lines)
    except Refused as error:
        faults = "; ".join(f"{fault.pointer}: {fault.detail}" for fault in error.faults)
        _refuse_all(lines, error.code, f"{error.detail} {faults}".strip())
        return
    if run is None:
        return
    document = run_document(run)
    kept = list(ImportedObservation.objects.filter(run=run).order_by("created_at", "id"))
    new = _new_rows(document, kept, lines)
    before_rows = [_row_of(exact_json.load(one.written)) for one in kept]
    rows = [*before_rows, *(line.row for line in new if line.row)]
    document = run_document(run)
    start, end = _counter(document)
    before = observations.derived(
        [row for one, row in zip(kept, before_rows, strict=True) if one.is_in_run], start, None
    )
    after = observations.derived(rows, start, end)
    changed = observations.merged(document, before, after)
    if any(len(changed[name]) > MOST_IN_RUN for name in observations.LISTS.values()):
        _refuse_all(lines, "too_many_in_run", f"A run has at most {MOST_IN_RUN} entries of a sort; split it.")
        return
    if changed != document:
        runs.run_change(actor=actor, id=run.id, edit=lambda _: changed, expected=Expected(is_given=True, is_any=True))
    _keep(actor, made, run, kept, new, after)
    for line in lines:
        if line.row is not None and not line.refused:
            line.flagged += after.doubts.get(line.row.ref, [])
            line.is_in_run = line.row.ref not in after.beside


def _refuse_all(lines: list[Line], code: str, detail: str) -> None:
    for line in lines:
        if not line.refused:
            line.refuse(code, detail)


def _run_of(actor: Actor, job_ref: str, key: str, lines: list[Line]) -> Run | None:
    """Return the draft that rows belong to, made where they say how it went; None where they are refused."""
    jobs = list(Job.objects.filter(organisation=actor.organisation, external_ref=job_ref).order_by("id"))
    mine = [job for job in jobs if job.source == actor.client] or jobs
    if len(mine) != 1:
        which = "There is no job" if not mine else "Several sources have a job"
        _refuse_all(lines, "job_unknown", f"{which} {job_ref}; post it under your own token first.")
        return None
    found = list(Run.objects.filter(job=mine[0], external_ref=key).order_by("id"))
    run = next((one for one in found if one.source == actor.client), found[0] if found else None)
    if run is not None:
        run = Run.objects.select_for_update().get(pk=run.pk)  # what is read of it must still hold when it is written
    if run is not None and run.state != "draft":
        _refuse_all(lines, "run_is_sealed", f"The run {key} is {run.state}; send what changes to its amendments.")
        return None
    if run is None:
        run = _made(actor, mine[0], key, lines)
    if run is None:
        detail = f"The job has no run {key}; send the run first, or say its direction in a row."
        _refuse_all(lines, "run_unknown", detail)
        return None
    _hold_to_run(run, lines)
    return run


def _made(actor: Actor, job: Job, key: str, lines: list[Line]) -> Run | None:
    head = next((line.sent for line in lines if line.sent and line.row and line.sent["direction"]), None)
    if head is None:
        return None
    absent = dict.fromkeys(
        ("lateral", "start_access", "recorded", "reached", "stopped_by", "camera", "conditions", "started_at",
         "ended_at", "inspector")
    )  # fmt: skip
    lists: Document = {name: [] for name in ("clips", "segments", "features", "defects", "unseen")}
    document = {
        "job": str(job.id),
        "external_ref": key,
        "units": head["units"],
        "direction": head["direction"],
        "counter_start": 0,
        "counter_end": head["surveyed_length"],
    }
    return runs.run_create(actor=actor, document={**document, **absent, **lists}).row


def _hold_to_run(run: Run, lines: list[Line]) -> None:
    """Refuse rows in other units than their run; flag rows that tell another length or direction."""
    document = exact_json.load(run.written)
    surveyed = document["counter_end"]
    for line in lines:
        sent = line.sent or {}
        if sent["units"] != run.units:
            line.refuse("units_differ", f"The run is in {run.units}; send its rows in the same units.")
        if sent["surveyed_length"] is not None and surveyed is not None and sent["surveyed_length"] != surveyed:
            detail = (
                f"The run's counter_end is {surveyed}, this row says {sent['surveyed_length']}; the run's is used."
            )
            line.flagged.append(Doubt("surveyed_length_differs", detail))
        if sent["direction"] not in (None, run.direction):
            detail = f"The run went {run.direction}, this row says {sent['direction']}; the run's is used."
            line.flagged.append(Doubt("direction_differs", detail))


def _counter(document: Document) -> tuple[Decimal, Decimal | None]:
    end = document["counter_end"]
    return Decimal(document["counter_start"]), None if end is None else Decimal(end)


def _new_rows(document: Document, kept: list[ImportedObservation], lines: list[Line]) -> list[Line]:
    """Return the lines that say something new; a ref that said something else before is refused."""
    known = {one.ref: exact_json.load(one.written)["sent"] for one in kept}
    taken = {entry["ref"] for entry in document["defects"]} - set(known)
    new: list[Line] = []
    for line in lines:
        if line.row is None or line.refused:
            continue
        ref, sent = line.row.ref, _as_kept(line.sent)
        if ref in taken or (ref in known and known[ref] != sent):
            detail = "This ref names another observation of the run already; use one of its own, or change the draft."
            line.refuse("ref_taken", detail)
        elif ref in known:
            line.is_known = True
        else:
            known[ref] = sent
            new.append(line)
    return new


def _as_kept(document: Any) -> Any:
    return exact_json.load(exact_json.write_text(document))


def _keep(
    actor: Actor, made: Import, run: Run, kept: list[ImportedObservation], new: list[Line], after: Derived
) -> None:
    """Keep the new rows as they were sent, and what is to be said of all of them now."""
    for one in kept:
        one.is_in_run, one.findings = one.ref not in after.beside, _findings(after, one.ref)
    ImportedObservation.objects.bulk_update(kept, ["is_in_run", "findings"], batch_size=200)
    ImportedObservation.objects.bulk_create(
        ImportedObservation(
            organisation=actor.organisation,
            run=run,
            ref=line.row.ref,
            written=exact_json.write_text(_written(line.sent, line.row)),
            imported_by=made,
            is_in_run=line.row.ref not in after.beside,
            findings=_findings(after, line.row.ref),
        )
        for line in new
        if line.row is not None
    )


def _findings(after: Derived, ref: str) -> str:
    return exact_json.write_text([{"code": d.code, "detail": d.detail} for d in after.doubts.get(ref, [])])


def _written(sent: Any, row: Row) -> Document:
    doubts = [[one.code, one.detail] for one in row.doubts]
    meant = {"ref": row.ref, "what": row.what, "entry": row.entry, "label": row.label, "mark": row.mark}
    return {"sent": sent, "meant": {**meant, "doubts": doubts}}


def _row_of(written: Document) -> Row:
    meant = written["meant"]
    doubts = tuple(Doubt(code, detail) for code, detail in meant["doubts"])
    return Row(meant["ref"], meant["what"], meant["entry"], meant["label"], meant["mark"], doubts)


def import_document(row: Import) -> Document:
    """Return what an import brought."""
    counts = {name: getattr(row, name) for name in ("lines", "taken", "flagged", "refused")}
    return {"id": str(row.id), "kind": row.kind, **counts, "source": row.source, "created_at": row.created_at}


def observation_document(row: ImportedObservation) -> Document:
    """Return one imported observation as it was sent, with what is to be said of it."""
    written = exact_json.load(row.written)
    findings = exact_json.load(row.findings)
    return {
        "id": str(row.id),
        "ref": row.ref,
        "outcome": "flagged" if findings else "taken",
        "in_run": row.is_in_run,
        "findings": findings,
        "sent": {name: value for name, value in written["sent"].items() if value is not None},
        "imported_by": str(row.imported_by_id),
        "created_at": row.created_at,
    }


def noted(actor: Actor, made: Import) -> None:
    """Write down that lines were imported, and how many."""
    counts = {name: getattr(made, name) for name in ("lines", "taken", "flagged", "refused")}
    trail.entry(
        actor=actor, record_type="import", record_id=made.id, action="made", after={"kind": made.kind, **counts}
    )
    data = {"id": str(made.id), "kind": made.kind, **counts}
    trail.event(organisation=actor.organisation, type="import.made", subject=f"imports/{made.id}", data=data)
