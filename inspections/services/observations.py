"""What the imported rows of one run amount to: findings to stand in it, and what is wrong with rows.

Nothing is dropped: a row stands in the run as it is, stands in it with a doubt that is named, or is kept beside it.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from inspections.vocabulary import FEATURE_KINDS
from scoring.grading import Observation, Pair, pair_continuous

Document = dict[str, Any]
LISTS: Final = {"defect": "defects", "feature": "features"}
_DIGITS: Final = re.compile(r"\d+")
_MEASURES: Final = (
    "pattern", "degree", "opening", "width_mm", "offset", "gap", "percent", "thickness", "clock_from", "clock_to",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a row was flagged or refused: a stable code and a sentence that says what to do."""

    code: str
    detail: str


@dataclass(frozen=True, slots=True)
class Row:
    """One sound row: what was sent, the entry it means in a run (a mark aside), what was lost in reading it."""

    ref: str
    what: str  # defect or feature
    entry: Document
    label: str | None
    mark: str | None
    doubts: tuple[Doubt, ...] = ()

    @property
    def at(self) -> Decimal:
        return Decimal(self.entry["at"])


@dataclass(slots=True)
class Derived:
    """The entries of a run's lists that rows amount to, by the ref of the row that carries each."""

    entries: dict[str, tuple[str, Document]] = field(default_factory=dict)  # ref -> what, entry
    doubts: dict[str, list[Doubt]] = field(default_factory=dict)
    beside: set[str] = field(default_factory=set)

    def doubt(self, ref: str, code: str, detail: str) -> None:
        """Name what is wrong with a row, once."""
        said = self.doubts.setdefault(ref, [])
        if code not in {one.code for one in said}:
            said.append(Doubt(code, detail))


def derived(rows: Sequence[Row], start: Decimal, end: Decimal | None) -> Derived:
    """Return what the rows of one run amount to; its counter ran from `start` to `end`, where that is known."""
    found = Derived(doubts={row.ref: list(row.doubts) for row in rows if row.doubts})
    inside = [row for row in rows if not _is_beside(row, start, end, found)]
    by_ref = {row.ref: row for row in inside}
    for row in inside:
        if row.what == "feature" and row.mark:
            detail = f"A {row.entry['kind']} is no stretch; it is taken where it was seen."
            found.doubt(row.ref, "no_stretch_of_kind", detail)
    paired = pair_continuous([_observation(row) for row in inside])
    for problem in paired.problems:
        for ref in problem.refs:
            found.doubt(ref, problem.code, problem.detail)
    for point in paired.points:
        row = by_ref[point.ref]
        found.entries[row.ref] = (row.what, row.entry)
    for loose in paired.loose:
        row = by_ref[loose.ref]
        found.entries[row.ref] = (row.what, _without_other_end(row))
    for pair in paired.pairs:
        found.entries[pair.start.ref] = ("defect", _stretch(pair, by_ref, found))
    _look_alikes(inside, found)
    return found


def _is_beside(row: Row, start: Decimal, end: Decimal | None, found: Derived) -> bool:
    places = [Decimal(place) for place in (row.entry["at"], row.entry.get("to")) if place is not None]
    if end is not None and max(places) > end:
        detail = (
            f"{max(places)} lies beyond the surveyed length ({end}); it is kept beside the run, not in it. "
            "Correct the run's counter_end and send the row again, or send it under another ref with its position."
        )
        found.doubt(row.ref, "beyond_surveyed_length", detail)
    elif min(places) < start:
        detail = (
            f"{min(places)} lies before the counter's start ({start}); it is kept beside the run, not in it. "
            "Correct the run's counter_start and send the row again, or send it under another ref with its position."
        )
        found.doubt(row.ref, "before_counter_start", detail)
    else:
        return False
    found.beside.add(row.ref)
    return True


def _observation(row: Row) -> Observation:
    if row.what == "feature":
        return Observation(row.ref, row.entry["kind"], row.at)
    return Observation(row.ref, row.entry["kind"], row.at, row.label, row.mark)  # type: ignore[arg-type] # a word of the list


def _without_other_end(row: Row) -> Document:
    """A mark alone is a sighting: the finding is there, only its length is not known."""
    said = f"[{row.mark} of a stretch whose other end was not recorded; label {row.label or 'none'}]"
    note = f"{row.entry['note']} {said}" if row.entry.get("note") else said
    return {**row.entry, "note": note} if len(note) <= 4000 else row.entry


def _stretch(pair: Pair, by_ref: dict[str, Row], found: Derived) -> Document:
    """From the start to the finish; what the start leaves open is taken from the finish."""
    start, finish = by_ref[pair.start.ref].entry, by_ref[pair.finish.ref].entry
    entry = {**start, "to": finish["at"]}
    for name in _MEASURES:
        if entry[name] is None:
            entry[name] = finish[name]
        elif finish[name] is not None and finish[name] != entry[name]:
            detail = f"Start and finish of '{pair.label}' differ in {name}; what the start says is taken."
            found.doubt(pair.finish.ref, "ends_differ", detail)
    for name in ("at_joint", "soil_seen", "void_seen"):
        entry[name] = entry[name] or finish[name]
    return entry


def _look_alikes(rows: Sequence[Row], found: Derived) -> None:
    """Flag labels that differ in nothing but case and leading zeros: they are text, and two findings."""
    alike: dict[str, dict[str, list[str]]] = {}
    for row in rows:
        if row.label:
            plain = _DIGITS.sub(lambda digits: str(int(digits.group())), row.label.casefold().strip())
            alike.setdefault(plain, {}).setdefault(row.label, []).append(row.ref)
    for labels in alike.values():
        if len(labels) > 1:
            named = " and ".join(f"'{label}'" for label in labels)
            for ref in (ref for refs in labels.values() for ref in refs):
                detail = f"The labels {named} look alike; they are taken as different findings."
                found.doubt(ref, "label_looks_like_another", detail)


def merged(document: Document, before: Derived, after: Derived) -> Document:
    """Return the run with what its rows amount to now in place of what they amounted to before.

    An entry that somebody changed since stays as it is, and its row says so.
    """
    lists = {name: list(document[name]) for name in LISTS.values()}
    for ref in dict.fromkeys([*before.entries, *after.entries]):
        was, now = before.entries.get(ref), after.entries.get(ref)
        if was == now:
            continue
        if was is not None and not _taken_out(lists[LISTS[was[0]]], was[1]):
            after.doubt(ref, "changed_since", "What this row made in the run was changed there since; it stays so.")
            continue
        if now is not None:
            lists[LISTS[now[0]]].append(now[1])
    return {**document, **lists}


def _taken_out(entries: list[Document], entry: Document) -> bool:
    if entry not in entries:
        return False
    entries.remove(entry)
    return True


def clock_of(entry: Document) -> Iterator[str]:
    """Yield the clock fields that say 0, which is no place on the dial."""
    for name in ("clock_from", "clock_to"):
        if entry.get(name) is not None and entry[name] == 0:
            yield name


def what_is(kind: str) -> str:
    """Return whether a kind is one of defects or of features."""
    return "feature" if kind in FEATURE_KINDS else "defect"
