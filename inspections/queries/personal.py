"""Personal values of customers in the trail: the chained entry holds a digest, the value stands apart, erasable.

Where an entry's document would say `"phone":"555-0142"` it says `"phone":{"sealed":"<digest>"}`; the digest is the
SHA-256 of a salt and the value, and both stand in PersonalValue under it. Reading puts the values back. Once they are
erased the entry still fits its chain, and nothing in it can be tried against a guessed name or number.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from inspections import exact_json
from inspections.models import AuditEntry, PersonalValue

ERASED_NAME: Final = "(erased)"  # a customer has a name; everything else becomes null
SEALED: Final = "sealed"
# Where documents in the trail hold what identifies a customer, by kind of record.
PLACES: Final[Mapping[str, tuple[tuple[str, ...], ...]]] = {
    "customer": (("name",), ("email",), ("phone",)),
    "job": (("customer", "name"), ("customer", "email"), ("customer", "phone"), ("instructions",)),
}


def digest_of(salt: str, value: str) -> str:
    """Return what binds an entry to a personal value."""
    return hashlib.sha256((salt + value).encode()).hexdigest()


def owner_of(record_type: str, record_id: str, document: Any) -> str | None:
    """Return the id of the customer whose personal values a document holds."""
    if record_type == "customer":
        return record_id
    return document.get("records", {}).get("customer") if isinstance(document, dict) else None


def places(record_type: str, document: Any) -> Iterator[tuple[dict[str, Any], str]]:
    """Yield each place of a document that may hold a personal value: the object it stands in, and its key."""
    for *way, name in PLACES.get(record_type, ()):
        inside = document
        for step in way:
            inside = inside.get(step) if isinstance(inside, dict) else None
        if isinstance(inside, dict) and name in inside:
            yield inside, name


def sealed_in(record_type: str, document: Any) -> Iterator[tuple[dict[str, Any], str, str]]:
    """Yield each sealed place of a document with its digest."""
    for inside, name in places(record_type, document):
        if isinstance(inside[name], dict) and SEALED in inside[name]:
            yield inside, name, inside[name][SEALED]


def opened(entries: Sequence[AuditEntry]) -> list[tuple[Any, Any]]:
    """Return what stood before and after of each entry, with the personal values that were not erased; one query."""
    documents = [(exact_json.load(one.before), exact_json.load(one.after)) for one in entries]
    found = [
        where
        for one, pair in zip(entries, documents, strict=True)
        for document in pair
        for where in sealed_in(one.record_type, document)
    ]
    values = _values(digest for _, _, digest in found)
    for inside, name, digest in found:
        inside[name] = values[digest].value if digest in values else _erased(name)
    return documents


def _erased(name: str) -> str | None:
    return ERASED_NAME if name == "name" else None


def _values(digests: Iterable[str]) -> dict[str, PersonalValue]:
    wanted = set(digests)
    return PersonalValue.objects.in_bulk(wanted) if wanted else {}


def openings(entries: Sequence[AuditEntry]) -> list[dict[str, list[str]]]:
    """Return for each entry salt and value of every digest in it that was not erased."""
    found = [_digests(one) for one in entries]
    values = _values(digest for digests in found for digest in digests)
    return [
        {digest: [values[digest].salt, values[digest].value] for digest in digests if digest in values}
        for digests in found
    ]


def _digests(entry: AuditEntry) -> list[str]:
    return [
        digest
        for text in (entry.before, entry.after)
        if f'"{SEALED}"' in text
        for _, _, digest in sealed_in(entry.record_type, exact_json.load(text))
    ]


def first_bad_value(entries: Sequence[AuditEntry]) -> tuple[AuditEntry, str] | None:
    """Return the first of these entries whose personal values are not those it was written with, or None."""
    chosen = [(one, _digests(one)) for one in entries if one.record_type in PLACES]
    values = _values(digest for _, digests in chosen for digest in digests)
    for entry, digests in chosen:
        for digest in digests:
            kept = values.get(digest)
            if kept is None and not _was_erased(entry):
                return entry, "lost a personal value although its customer was not erased"
            if kept is not None and digest_of(kept.salt, kept.value) != digest:
                return entry, "has a personal value that was changed after it was written"
    return None


def _was_erased(entry: AuditEntry) -> bool:
    owners = {
        owner_of(entry.record_type, entry.record_id, exact_json.load(text)) for text in (entry.before, entry.after)
    }
    erased = AuditEntry.objects.filter(record_type="customer", record_id__in=owners - {None}, action="erased")
    return erased.exists()
