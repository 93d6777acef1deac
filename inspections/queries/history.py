"""Records as they stood at an earlier time, read from the trail: what was written then, digit for digit.

An entry of the trail holds the document before and after its change; the revision is the number of changes since
the record was made.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from inspections import exact_json
from inspections.documents import EMPTY_SITE
from inspections.errors import NotFound
from inspections.models import AuditEntry, Customer, Job, Lateral, Organisation, Property, Run
from inspections.queries import personal
from inspections.translate import RUN_LISTS, Document

# What a run is said to be by submit and review; all else in its trail is its content.
RUN_STATE: Final = ("state", "submitted_at", "reviewed_at", "review_reasons")
_COMPUTED: Final = ("graded", "grading_failed")


@dataclass(frozen=True, slots=True)
class Version:
    """What a record said at one time. `changes` are what its entries say since it was made, oldest first."""

    changes: tuple[Document, ...]
    revision: int
    created_at: Any
    updated_at: datetime

    @property
    def content(self) -> Document:
        """The newest of them."""
        return self.changes[-1]

    @property
    def stamps(self) -> Document:
        """What every resource says of itself."""
        return {"created_at": self.created_at, "updated_at": self.updated_at, "revision": self.revision}


def version(organisation: Organisation, model: Any, name: str, id: uuid.UUID, at: datetime) -> Version:
    """Return what a record of this kind said at a time. Raises NotFound where there was none then."""
    # What is computed from a record stands in its trail too; it is no change of the record.
    chain = AuditEntry.objects.filter(organisation=organisation, record_type=name, record_id=str(id))
    chain = chain.exclude(action__in=_COMPUTED)
    entries = list(chain.filter(at__lte=at).order_by("number"))
    made = max((n for n, one in enumerate(entries) if one.before == "null"), default=None)
    if made is None or entries[-1].after == "null":
        raise NotFound(f"There was no such {model._meta.verbose_name} here at that time; ask for a later one.")
    since = entries[made:]
    return Version(
        changes=tuple(after for _, after in personal.opened(since)),
        revision=len(since),
        created_at=_created_at(organisation, model, id, chain, since[-1]),
        updated_at=since[-1].at,
    )


def _created_at(organisation: Organisation, model: Any, id: uuid.UUID, chain: Any, last: AuditEntry) -> Any:
    """Return when the record was made: what the row says, or what its removal said of it."""
    removal = chain.filter(number__gt=last.number, after="null").order_by("number").first()
    if removal is not None:
        return exact_json.load(removal.before)["created_at"]
    return model.objects.values_list("created_at", flat=True).get(organisation=organisation, pk=id)


def record(organisation: Organisation, model: Any, name: str, id: uuid.UUID, at: datetime) -> Document:
    """Return the document of a plain record (customer, access point) at a time."""
    found = version(organisation, model, name, id, at)
    of_customers = {"erased_at": found.content.get("erased_at")} if model is Customer else {}
    return {"id": str(id), **found.content, **of_customers, **found.stamps}


def property_(organisation: Organisation, model: Any, name: str, id: uuid.UUID, at: datetime) -> Document:
    """Return the document of a property at a time, with the laterals it had then."""
    found = version(organisation, model, name, id, at)
    laterals = _laterals_of(organisation, id, at)
    return {"id": str(id), **found.content, "laterals": laterals, **found.stamps}


def _laterals_of(organisation: Organisation, property: uuid.UUID, at: datetime) -> list[Document]:
    """Return the laterals a property had at a time; they are only taken away together with it."""
    rows = Lateral.objects.filter(organisation=organisation, property=property, created_at__lte=at)
    found = [{"id": str(row.id), "name": row.name} for row in rows.order_by("created_at", "id")]
    if found:
        return found
    made = AuditEntry.objects.filter(
        organisation=organisation, record_type="lateral", at__lte=at, after__contains=f'"property":"{property}"'
    )
    return [{"id": one.record_id, "name": exact_json.load(one.after)["name"]} for one in made.order_by("id")]


def site(organisation: Organisation, lateral: uuid.UUID, at: datetime) -> Document:
    """Return the document of a site at a time: empty from its lateral's making to its first change."""
    chain = AuditEntry.objects.filter(organisation=organisation, at__lte=at, record_id=str(lateral))
    changes = list(chain.filter(record_type="site").order_by("number"))
    if changes:
        content, changed_at = exact_json.load(changes[-1].after), changes[-1].at
    else:
        made = chain.filter(record_type="lateral").exclude(action__in=_COMPUTED).order_by("-number").first()
        if made is None or made.after == "null":
            raise NotFound("There was no such lateral here at that time; ask for a later one.")
        content, changed_at = EMPTY_SITE, made.at
    return {"lateral": str(lateral), **content, "updated_at": changed_at, "revision": len(changes)}


def run(organisation: Organisation, id: uuid.UUID, at: datetime) -> Document:
    """Return the document of a run at a time, in its own units; without its alarms and problems."""
    found = version(organisation, Run, "run", id, at)
    content: Document = next(one for one in reversed(found.changes) if "units" in one)
    said: Document = {"state": "draft", "submitted_at": None, "reviewed_at": None, "review_reasons": []}
    for change in found.changes:
        if "units" not in change:
            said |= {name: change[name] for name in RUN_STATE if name in change}
    heads = {name: value for name, value in content.items() if name not in RUN_LISTS}
    lists = {name: content[name] for name in RUN_LISTS}
    return {"id": str(id), **heads, **lists, **said, **found.stamps}


def job(organisation: Organisation, id: uuid.UUID, at: datetime) -> Document:
    """Return the document of a job at a time, with its customer, its property and its runs as they were then."""
    found = version(organisation, Job, "job", id, at)
    said = found.content
    customer, place = (uuid.UUID(said["records"][name]) for name in ("customer", "property"))
    return {
        "id": str(id),
        "external_ref": said["external_ref"],
        "state": said["state"],
        "purpose": said["purpose"],
        "window": said["window"],
        "instructions": said["instructions"],
        "inspector": said["inspector"],
        "customer": record(organisation, Customer, "customer", customer, at),
        "property": property_(organisation, Property, "property", place, at),
        "runs": _runs_of(organisation, id, at),
        **found.stamps,
    }


def _runs_of(organisation: Organisation, job: uuid.UUID, at: datetime) -> list[str]:
    """Return the runs of a job at a time, in the order they were made; also those that are gone or moved since."""
    mentions = AuditEntry.objects.filter(
        organisation=organisation, record_type="run", at__lte=at, after__contains=f'"job":"{job}"'
    )
    found = []
    for id in sorted(set(mentions.values_list("record_id", flat=True))):
        try:
            then = version(organisation, Run, "run", uuid.UUID(id), at)
        except NotFound:
            continue
        content = next(one for one in reversed(then.changes) if "units" in one)
        if content["job"] == str(job):
            found.append((exact_json.write_text(then.created_at), id))
    return [id for _, id in sorted(found)]
