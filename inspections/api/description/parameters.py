"""The parameters of operations: what each means, in which unit and form."""

from datetime import date, datetime
from typing import Any, Final

from drf_spectacular.utils import OpenApiParameter

from inspections import vocabulary as words

Schema = dict[str, Any]

_UUID: Final[Schema] = {"type": "string", "format": "uuid"}
_TEXT: Final[Schema] = {"type": "string"}
_YES_NO: Final[Schema] = {"type": "boolean"}
_MOMENT: Final[Schema] = {"type": "string", "format": "date-time"}
_ENTITY_TAGS: Final = r'^(\*|(W/)?"[^"]*"(\s*,\s*(W/)?"[^"]*")*)$'
_BOX: Final = r"^-?\d{1,3}(\.\d{1,15})?(,-?\d{1,3}(\.\d{1,15})?){3}$"


def _word(values: words.Values) -> Schema:
    return {"type": "string", "enum": list(values)}


# Filters that mean the same wherever they stand.
_FILTERS: Final[dict[str, tuple[Schema, str]]] = {
    "created_after": (_MOMENT, "Only those made after this time (RFC 3339 with its offset, `+` as %2B)."),
    "created_before": (_MOMENT, "Only those made before this time (RFC 3339 with its offset, `+` as %2B)."),
    "updated_after": (_MOMENT, "Only those changed after this time (RFC 3339 with its offset, `+` as %2B)."),
    "external_ref": (_TEXT, "Only the one under this key of yours, letter by letter."),
    "purpose": (_word(words.PURPOSES), "Only jobs asked for with this purpose."),
    "job": (_UUID, "Only runs of the job of this id."),
    "lateral": (_UUID, "Only those on the lateral of this id."),
    "property": (_UUID, "Only those of the property of this id."),
    "code": (_TEXT, "Only versions of what is called by this code, letter by letter."),
    "client": (_TEXT, "Only tokens of the client of this name, letter by letter."),
    "subscription": (_UUID, "Only deliveries to the subscription of this id."),
    "record_type": (_TEXT, "Only entries about records of this kind: job, run, lateral, site, customer, ..."),
    "record_id": (_TEXT, "Only entries about the record of this id."),
    "starts_after": (_MOMENT, "Only jobs whose window starts after this time (RFC 3339 with its offset)."),
    "starts_before": (_MOMENT, "Only jobs whose window starts before this time (RFC 3339 with its offset)."),
    "customer": (_UUID, "Only jobs for the customer of this id."),
    "customer_id": (_UUID, "Only properties of the customer of this id."),
    "locality": (_TEXT, "Only properties in the place of this name, letter by letter."),
    "postal_code": (_TEXT, "Only properties under this postal code, letter by letter."),
    "bbox": (
        {"type": "string", "pattern": _BOX},
        "Only those inside west,south,east,north, in degrees (WGS 84); west over east: across the antimeridian.",
    ),
    "action": (_word(words.DECISION_ACTIONS), "Only decisions that say this."),
    "apply": (_YES_NO, "true: only those that apply the scheme; false: only those that try it."),
    "bidder": (_TEXT, "Only bids of the firm of this name, letter by letter."),
    "plan": (_word(words.PLAN_NAMES), "Only bids on this plan."),
    "event": (_UUID, "Only deliveries of the event of this id."),
    "event_type": (_TEXT, "Only deliveries of events of this type."),
    "imported_by": (_UUID, "Only rows of the import of this id."),
    "in_run": (_YES_NO, "true: only rows that stand in the run; false: only those kept beside it."),
    "is_default": (_YES_NO, "true: only the version that holds where nobody names another."),
    "is_enabled": (_YES_NO, "true: only those that are sent events."),
    "ref": (_TEXT, "Only the row under this key of yours."),
    "source": (_TEXT, "Only imports of the client of this name, letter by letter."),
    "subject": (_UUID, "Only work on the record of this id."),
    "scheme": (_TEXT, "Only those under the scheme of this code."),
    "outcome": (_word(words.CLOSING_OUTCOMES), "Only closings with this outcome."),
    "page": ({"type": "string", "enum": ["letter", "a4"]}, "Size of the paper of a PDF; letter where absent."),
    "scope": (_UUID, "With the plans of the repair scope of this id; the newest one where absent."),
}
# Filters that mean something of their own in one list.
_FILTERS_OF: Final[dict[tuple[str, str], tuple[Schema, str]]] = {
    ("calculations", "kind"): (_word(words.CALCULATION_KINDS), "Only work of this kind."),
    ("customers", "kind"): (_word(words.CUSTOMER_KINDS), "Only customers of this kind."),
    ("imports", "kind"): (_word(words.IMPORT_KINDS), "Only imports of these."),
    ("access-points", "kind"): (_word(words.ACCESS_KINDS), "Only access points of this kind."),
    ("recomputations", "scheme"): (_UUID, "Only those of the scheme version of this id."),
    ("repair scopes", "state"): (_word(words.CALCULATION_STATES), "Only scopes whose calculation is in this state."),
    ("recomputations", "state"): (_word(words.CALCULATION_STATES), "Only recomputations in this state."),
    ("closings", "state"): (_word(words.CALCULATION_STATES), "Only closings whose calculation is in this state."),
    ("closings", "plan"): (_word(words.PLAN_NAMES), "Only closings of this plan."),
    ("bids", "state"): (_word(words.BID_STATES), "Only bids in this state."),
    ("jobs", "state"): (_word(words.JOB_STATES), "Only jobs in this state."),
    ("runs", "state"): (_word(words.RUN_STATES), "Only runs in this state."),
    ("calculations", "state"): (_word(words.CALCULATION_STATES), "Only calculations in this state."),
    ("deliveries", "state"): (_word(words.DELIVERY_STATES), "Only deliveries in this state."),
    ("decisions", "state"): (_word(words.DECISION_STATES), "Only decisions in this state."),
    ("jobs", "inspector"): (_TEXT, "Only jobs of the inspector of this username."),
    ("runs", "inspector"): (_TEXT, "Only runs whose inspector is written so, letter by letter."),
    ("events", "after"): (_UUID, "Only what was committed after the event of this id; from the first where absent."),
    ("audit entries", "after"): (
        {"type": "integer", "minimum": 0, "maximum": 10**18 - 1},
        "Only entries after the one of this id; from the first where absent.",
    ),
}


def filter_of(listed: str, name: str) -> OpenApiParameter:
    """Return a filter of a list. Raises KeyError where nobody said what it means: say it above."""
    said = _FILTERS_OF.get((listed, name)) or _FILTERS.get(name)
    if said is None:
        raise KeyError(f"What the filter {name} of {listed} means is said nowhere; say it in {__name__}.")
    schema, text = said
    return OpenApiParameter(name, schema, description=text)


NAMED: Final = {
    "plan": OpenApiParameter(
        "plan",
        str,
        enum=list(words.PLAN_NAMES),
        description="The plan whose bids are compared; may be left out while only one is bid on.",
    ),
    "on": OpenApiParameter(
        "on",
        date,
        description="The day on which a bid is to be accepted: those not received yet or not valid are left out.",
    ),
    "sort": OpenApiParameter(
        "sort",
        str,
        enum=["created_at", "-created_at"],
        description="created_at, oldest first, where nothing is said; -created_at: newest first.",
    ),
    "replace": OpenApiParameter(
        "replace",
        bool,
        description="true: what is here under the same id or external_ref and says something else is replaced;"
        " such a line is refused where absent.",
    ),
    "scheme": OpenApiParameter(
        "scheme",
        {"type": "string", "minLength": 1},
        description="Under this grading scheme: its code (the newest version) or its id; else the default one.",
    ),
    "reason": OpenApiParameter(
        "reason",
        {"type": "string", "minLength": 1, "maxLength": 2000, "pattern": r"\S"},
        required=True,
        description="Why; kept in the trail.",
    ),
    "earlier": OpenApiParameter(
        "earlier",
        {"type": "string", "minLength": 1},
        description="Runs or jobs by id, separated by commas; the job before the later one where absent.",
    ),
    "later": OpenApiParameter(
        "later",
        {"type": "string", "minLength": 1},
        description="Runs or jobs by id, separated by commas; the latest job where absent.",
    ),
    "changed_only": OpenApiParameter(
        "changed_only", bool, description="true: only laterals on which something changes."
    ),
    "format": OpenApiParameter(
        "format",
        str,
        enum=list(words.DELIVERY_FORMATS),
        description="plain (where absent): as webhooks carry it; cloudevents: in the envelope of CloudEvents 1.0.",
    ),
}
UNITS: Final = OpenApiParameter(
    "units", str, enum=list(words.UNITS), description="Answer in these units; the document's own where absent."
)
AT: Final = OpenApiParameter(
    "at",
    datetime,
    description="As it stood at this time (RFC 3339 with its offset, `+` as %2B); 404 before it was made.",
)
DRY_RUN: Final = OpenApiParameter(
    "dry_run",
    bool,
    description="true: the real answer, status, faults and headers (and `Dry-Run: true`), and nothing changes.",
)
LIMIT: Final = OpenApiParameter(
    "limit",
    {"type": "integer", "minimum": 1, "maximum": 200},
    description="Records a page, 1 to 200; 50 where nothing is said, 100 of events and audit entries.",
)
CURSOR: Final = OpenApiParameter(
    "cursor",
    {"type": "string", "pattern": "^[A-Za-z0-9_-]+$"},
    description="Where the page begins: taken from `next`, never made.",
)
IF_MATCH: Final = OpenApiParameter(
    "If-Match",
    {"type": "string", "pattern": _ENTITY_TAGS},
    OpenApiParameter.HEADER,
    description='The ETag you read, as `"3"`; `*` for any. Needed to change, not to make.',
)
MAY_MATCH: Final = OpenApiParameter(
    "If-Match",
    {"type": "string", "pattern": _ENTITY_TAGS},
    OpenApiParameter.HEADER,
    description="The ETag you read, to act on that revision and no other; without it, on what is there.",
)
IF_NONE_MATCH: Final = OpenApiParameter(
    "If-None-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag you have; 304 where it is still right.",
)


def key(is_required: bool) -> OpenApiParameter:
    """Return the Idempotency-Key of a POST."""
    return OpenApiParameter(
        "Idempotency-Key",
        {"type": "string", "minLength": 1, "maxLength": 255, "pattern": r"^[\x21-\x7e]([\x20-\x7e]*[\x21-\x7e])?$"},
        OpenApiParameter.HEADER,
        required=is_required,
        description="Any text you make once for this request, as a UUID; sent again in 30 days, it gets the first "
        "answer again, byte for byte, with `Idempotency-Replayed: true`.",
    )


def words_of(name: str, known: tuple[str, ...], text: str) -> OpenApiParameter:
    """Return a parameter that names some of these words, separated by commas."""
    kind = {"type": "array", "items": {"type": "string", "enum": list(known)}, "minItems": 1}
    return OpenApiParameter(name, kind, description=text, style="form", explode=False)
