"""What webhooks carry: the envelope of an event, and what its data say, by type."""

from collections.abc import Mapping
from typing import Any, Final

from drf_spectacular.utils import OpenApiResponse, OpenApiWebhook, extend_schema
from rest_framework import serializers as s

from inspections import vocabulary as words
from inspections.api.shapes.answers import Shown, text, word
from inspections.vocabulary import EVENT_TYPES


class JobEventData(Shown):
    """Which job, and how it stands."""

    id = s.UUIDField()
    external_ref = text()
    state = word(words.JOB_STATES)
    revision = s.IntegerField()


class RunEventData(Shown):
    """Which run, and how it stands."""

    id = s.UUIDField()
    job = s.UUIDField()
    state = word(words.RUN_STATES)
    revision = s.IntegerField()


class GradedBy(Shown):
    """The scheme a verdict belongs to, with its direction."""

    id = s.CharField()
    version = s.IntegerField()
    best = s.IntegerField()
    worst = s.IntegerField()


class AlarmSaid(Shown):
    """What must not wait."""

    code = s.CharField()
    detail = s.CharField()


class GradedEventData(Shown):
    """Which run or lateral was graded, what the default scheme says of it, and what must not wait."""

    id = s.UUIDField()
    revision = s.IntegerField()
    inputs_sha256 = s.CharField()
    scheme = GradedBy()
    verdict = s.CharField()
    alarms = AlarmSaid(many=True)


class GradingFailedEventData(Shown):
    """Which run or lateral could not be graded, and why."""

    id = s.UUIDField()
    calculation = s.UUIDField()
    error = s.CharField()


class SiteEventData(Shown):
    """Whose site changed."""

    lateral = s.UUIDField()
    revision = s.IntegerField()


class MatchDecisionEventData(Shown):
    """What was decided on which lateral."""

    id = s.UUIDField()
    lateral = s.UUIDField()
    action = word(words.DECISION_ACTIONS)
    state = word(words.DECISION_STATES)


class RepairScopeEventData(Shown):
    """Which scope of which lateral."""

    id = s.UUIDField()
    lateral = s.UUIDField()
    inputs_sha256 = text(help_text="Null until it is computed.")


class RepairScopeClosedEventData(Shown):
    """Which scope was closed by what, and what came of it."""

    id = s.UUIDField()
    lateral = s.UUIDField()
    plan = word(words.PLAN_NAMES)
    closing = s.UUIDField()
    outcome = word(words.CLOSING_OUTCOMES)
    inputs_sha256 = text()
    rules_version = text()


class ClosingEventData(Shown):
    """Which closing of which scope; without an outcome until it is judged."""

    id = s.UUIDField()
    repair_scope = s.UUIDField()
    plan = word(words.PLAN_NAMES)
    outcome = word(words.CLOSING_OUTCOMES, allow_null=True)
    inputs_sha256 = text()


class ImportEventData(Shown):
    """How many rows came, and what became of them."""

    id = s.UUIDField()
    kind = word(words.IMPORT_KINDS)
    lines = s.IntegerField()
    taken = s.IntegerField()
    flagged = s.IntegerField()
    refused = s.IntegerField()


class RecomputationEventData(Shown):
    """How far a recomputation is, in laterals."""

    id = s.UUIDField()
    apply = s.BooleanField()
    total = s.IntegerField()
    done = s.IntegerField()
    changed = s.IntegerField()


class RecordEventData(Shown):
    """Which record, under which of your keys."""

    id = s.UUIDField()
    external_ref = text()
    revision = s.IntegerField()


class ErasedEventData(Shown):
    """Whose personal data were erased; the customer may have been taken away before."""

    id = s.UUIDField()
    external_ref = text()
    revision = s.IntegerField(allow_null=True)


class BidEventData(Shown):
    """Which bid, of whom, on which plan, and how it stands."""

    id = s.UUIDField()
    external_ref = text()
    revision = s.IntegerField()
    repair_scope = s.UUIDField()
    plan = word(words.PLAN_NAMES)
    bidder = s.CharField()
    state = word(words.BID_STATES)


class CalculationEventData(Shown):
    """Which work on which record, and how it stands."""

    id = s.UUIDField()
    kind = word(words.CALCULATION_KINDS)
    subject = s.UUIDField()
    state = word(words.CALCULATION_STATES)
    attempts = s.IntegerField(required=False)
    error = text(required=False)
    superseded_by = s.UUIDField(allow_null=True, required=False)
    inputs_sha256 = text(required=False)


class ReportLinkEventData(Shown):
    """Which link, to what."""

    id = s.UUIDField()
    lateral = s.UUIDField()
    scope = s.UUIDField(allow_null=True)
    plan = text()
    units = text()
    expires_at = s.DateTimeField()


class ReportLinkOpenedEventData(ReportLinkEventData):
    """Which link was opened, in which form, and the digests of what it showed."""

    openings = s.IntegerField()
    form = s.CharField()
    reader = s.CharField(help_text="What kind of program; nothing that identifies a person.")
    inputs_sha256 = text(help_text="Digest of the inputs of the grading it showed.")
    scope_inputs_sha256 = text(help_text="Digest of the inputs of the repair scope it showed, if any.")


class DeliveryEventData(Shown):
    """Which event is sent to whom again."""

    id = s.UUIDField()
    event = s.UUIDField()
    subscription = s.UUIDField()


class VersionEventData(Shown):
    """Which version of what."""

    id = s.UUIDField()
    code = s.CharField()
    version = s.IntegerField()


class TokenEventData(Shown):
    """Whose token, and what it may do."""

    id = s.UUIDField()
    client = s.CharField()
    scopes = s.ListField(child=word(words.SCOPES))


_DATA_OF_KIND: Final[Mapping[str, type[Shown]]] = {
    "job": JobEventData,
    "run": RunEventData,
    "site": SiteEventData,
    "match_decision": MatchDecisionEventData,
    "repair_scope": RepairScopeEventData,
    "import": ImportEventData,
    "recomputation": RecomputationEventData,
    **dict.fromkeys(("customer", "property", "access_point", "subscription"), RecordEventData),
    "bid": BidEventData,
    "closing": ClosingEventData,
    "calculation": CalculationEventData,
    "report_link": ReportLinkEventData,
    "delivery": DeliveryEventData,
    **dict.fromkeys(("grading_scheme", "rate_book", "rule_set", "code_map"), VersionEventData),
    "token": TokenEventData,
}
_DATA_OF_TYPE: Final[Mapping[str, type[Shown]]] = {
    "repair_scope.closed": RepairScopeClosedEventData,
    "customer.erased": ErasedEventData,
    "report_link.opened": ReportLinkOpenedEventData,
}
_DATA_OF_ACTION: Final[Mapping[str, type[Shown]]] = {
    "graded": GradedEventData,
    "grading_failed": GradingFailedEventData,
}


class CloudEvent(Shown):
    """An event in the envelope of CloudEvents 1.0; its data are those of the plain form."""

    specversion = s.CharField(help_text="1.0.")
    id = s.UUIDField()
    source = s.CharField(help_text="The organisation, as a URN.")  # type: ignore[assignment] # DRF takes it off the class
    type = s.CharField()
    subject = s.CharField()
    time = s.DateTimeField()
    datacontenttype = s.CharField(help_text="application/json.")
    data = s.DictField()  # type: ignore[assignment] # DRF takes it off the class


def _data_of(event_type: str) -> type[Shown]:
    kind, _, action = event_type.partition(".")
    return _DATA_OF_TYPE.get(event_type) or _DATA_OF_ACTION.get(action) or _DATA_OF_KIND[kind]


def _envelope(event_type: str) -> type[Shown]:
    name = "".join(part.title() for part in event_type.replace(".", "_").split("_"))
    members: dict[str, Any] = {
        "id": s.UUIDField(help_text="The same at every attempt and in the feed; also in webhook-id."),
        "type": s.CharField(help_text=f"{event_type}."),
        "time": s.DateTimeField(help_text="When it was committed."),
        "subject": s.CharField(help_text="Path of the record, below /api/v1/."),
        "data": _data_of(event_type)(),
        "__doc__": f"{EVENT_TYPES[event_type].capitalize()}.",
    }
    return type(f"{name}Event", (Shown,), members)


def _webhook(event_type: str) -> OpenApiWebhook:
    answers = {
        "2XX": OpenApiResponse(description="Taken; anything else but 410 is tried again for over three days."),
        "410": OpenApiResponse(description="Not wanted any more: the subscription is disabled."),
    }
    asked = {"application/json": _envelope(event_type), "application/cloudevents+json": CloudEvent}
    said = {"operation_id": event_type, "summary": EVENT_TYPES[event_type].capitalize(), "tags": ["webhooks"]}
    return OpenApiWebhook(event_type, extend_schema(request=asked, responses=answers, **said))  # type: ignore[arg-type]


WEBHOOKS: Final = [_webhook(event_type) for event_type in EVENT_TYPES]
