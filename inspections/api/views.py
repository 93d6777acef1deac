"""What all views share: the actor, units, revisions, answers kept for blind retries."""

import difflib
import hashlib
import re
import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from functools import wraps
from typing import Any, ClassVar, Final, cast, overload

from django.db import DatabaseError, InterfaceError, connection, transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.utils import timezone
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from inspections import exact_json, limits
from inspections.actor import Actor
from inspections.api.auth import Caller
from inspections.api.fields import Moment, faults_of
from inspections.api.lifecycle import Retirement
from inspections.api.wire import JSONUnlessAsked, MergePatchParser, StrictJSONParser
from inspections.errors import (
    Fault,
    Invalid,
    KeyInFlight,
    KeyRequired,
    KeyReused,
    Malformed,
    NotFound,
    TooManyRequests,
)
from inspections.models import KeptAnswer
from inspections.services import deadlocks
from inspections.services.revisions import Expected
from scoring.units import Units

_ENTITY_TAG: Final = re.compile(r'(W/)?"[^"]*"')
_KEPT_HEADERS: Final = ("ETag", "Location", "Content-Type")
# Tokens, secrets and links to reports are shown once: what is kept for retries says null in their place.
_SHOWN_ONCE: Final = re.compile(
    rb'"(?:pbk_[A-Za-z0-9_-]{40,}|whsec_[A-Za-z0-9+/=]{40,}|https?://[^"]*/reports/pbr_[A-Za-z0-9_-]{40,})"'
)
_READING: Final = frozenset({"GET", "HEAD", "OPTIONS"})
DRY_RUN: Final = "dry_run"
_OF_READS: Final = frozenset({"at", "fields", "expand"})  # parameters of an address that mean nothing to its writes


class ResourceView(APIView):
    """One address of the API. `scopes_needed` says which scope each method needs."""

    scopes_needed: ClassVar[Mapping[str, str]] = {}
    parameters: ClassVar[frozenset[str]] = frozenset()
    fields_known: ClassVar[tuple[str, ...]] = ()  # what ?fields= may name
    expansions: ClassVar[tuple[str, ...]] = ()  # what ?expand= may name
    parser_classes = [StrictJSONParser, MergePatchParser]
    content_negotiation_class = JSONUnlessAsked
    retires: ClassVar[Mapping[str, Retirement]] = {}  # by method: what is deprecated, until when
    spent: limits.Spent | None = None

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Answer; with `?dry_run=true` the whole request runs and is taken back once its answer is built.

        Nothing is rung and no answer is kept: both belong to the transaction that is rolled back.
        """
        if request.method in _READING or request.GET.get(DRY_RUN) != "true":
            return super().dispatch(request, *args, **kwargs)
        with transaction.atomic():
            response = super().dispatch(request, *args, **kwargs)
            transaction.set_rollback(True)
        response["Dry-Run"] = "true"
        return response

    def perform_authentication(self, request: Request) -> None:
        """Find out who calls, and count it against what their token may ask."""
        super().perform_authentication(request)
        # A batch is one request; how many entries it has is limited by itself.
        if request.auth is None or getattr(request._request, "is_covered_by_batch", False):
            return
        self.spent = limits.spend(str(request.auth.pk))
        if self.spent is not None and not self.spent.is_allowed:
            wait = self.spent.retry_after_s
            raise TooManyRequests(f"This token asks too fast; wait {wait} s, then go on.", retry_after_s=wait)

    def handle_exception(self, exc: Exception) -> Response:
        """Answer with what went wrong, unless the whole request is tried again.

        What the database could not do just now is no answer of an entry, to be kept with its batch: the batch has it.
        """
        is_in_batch = getattr(self.request._request, "is_covered_by_batch", False)
        if is_in_batch and isinstance(exc, DatabaseError | InterfaceError):
            raise exc
        if deadlocks.is_deadlock(exc) and getattr(self.request._request, "is_tried_again", False):
            raise exc
        return super().handle_exception(exc)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Say what the token may still ask, and when the address ends if it does."""
        answer = super().finalize_response(request, response, *args, **kwargs)
        retirement = self.retires.get(str(request.method))
        for said in (self.spent, retirement):
            for name, value in (said.headers() if said else {}).items():
                answer[name] = f"{answer[name]}, {value}" if name == "Link" and name in answer else value
        return answer

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        request._request.body  # noqa: B018 # kept, so that a view that is tried again can read it again
        known = self.parameters if request.method in _READING else self.parameters - _OF_READS | {DRY_RUN}
        faults = [_unknown_parameter(name, known) for name in request.query_params if name not in known]
        faults += [_stands_twice(name) for name, values in request.query_params.lists() if len(values) > 1]
        for name, listed in (("fields", self.fields_known), ("expand", self.expansions)):
            faults += [_unknown_word(name, word, listed) for word in self._words(name) if word not in listed]
        if request.query_params.get(DRY_RUN, "true") not in ("true", "false"):
            faults.append(Fault((DRY_RUN,), "not_yes_or_no", "This is true or false."))
        if faults:
            raise Invalid("The address has parameters that mean nothing here.", faults=faults)

    @property
    def actor(self) -> Actor:
        """Who calls."""
        return cast(Caller, self.request.user).actor

    def units(self, usual: str) -> Units:
        """Return the units to answer in: what `?units=` says, else the document's own."""
        wanted = self.request.query_params.get("units", usual)
        if wanted not in ("us", "si"):
            detail = "Use us (ft, in) or si (m, mm)."
            raise Invalid("The units are not known.", faults=[Fault(("units",), "unknown_value", detail)])
        return cast(Units, wanted)

    def _words(self, name: str) -> list[str]:
        text = self.request.query_params.get(name)
        return [] if text is None or name not in self.parameters else text.split(",")

    @property
    def expanded(self) -> frozenset[str]:
        """What `?expand=` asks to be shown in full."""
        return frozenset(self._words("expand"))

    def tag(self, document: Mapping[str, Any], revision: int | None = None) -> str:
        """Return the ETag of what is shown: its revision alone where that goes up with every change of it.

        An expanded record changes also where its own revision stays; without `revision` the content alone says it.
        """
        if revision is not None and not self.expanded:
            return str(revision)
        digest = exact_json.digest(document)[:16]
        return digest if revision is None else f"{revision}-{digest}"

    def hold_to_one(self, first: str, second: str) -> None:
        """Raise where the address has two parameters that exclude each other."""
        if first in self.request.query_params and second in self.request.query_params:
            detail = f"Send {first} or {second}, not both."
            raise Invalid("Two parameters exclude each other.", faults=[Fault((second,), "one_of_two", detail)])

    def selected(self, document: dict[str, Any]) -> dict[str, Any]:
        """Return of a document what `?fields=` asks for, and its id; all of it where nothing is asked."""
        wanted = self._words("fields")
        return {name: v for name, v in document.items() if name == "id" or name in wanted} if wanted else document

    @property
    def at(self) -> datetime | None:
        """The earlier time that `?at=` asks for, if it does."""
        text = self.request.query_params.get("at")
        if text is None:
            return None
        then = moment_of("at", text)
        if then > timezone.now():
            detail = "This is still to come; ask for a time up to now, or leave it out."
            raise Invalid("The time is still to come.", faults=[Fault(("at",), "in_the_future", detail)])
        return then

    @property
    def expected(self) -> Expected:
        """What If-Match says."""
        header = self.request.headers.get("If-Match")
        if header is None:
            return Expected()
        tags = [tag.strip() for tag in header.split(",")]
        if tags == ["*"]:
            return Expected(is_given=True, is_any=True)
        wrong = [tag for tag in tags if not _ENTITY_TAG.fullmatch(tag)]
        if wrong:
            raise Malformed(f'If-Match holds what no ETag is: {wrong[0][:40]}; send it as you read it, as "3".')
        # A weak tag never matches: If-Match compares strongly (RFC 9110, 13.1.1).
        revisions = {int(tag[1:-1]) for tag in tags if _is_revision(tag)}
        return Expected(is_given=True, revisions=frozenset(revisions))

    def found(self, document: Mapping[str, Any], revision: int | str, *, status: int = 200) -> Response:
        """Answer with a document under its ETag; 304 where the client has it."""
        return self.unchanged(revision) or Response(document, status=status, headers={"ETag": f'"{revision}"'})

    def unchanged(self, revision: int | str) -> Response | None:
        """Return the 304 of a read whose client has this revision, or None."""
        etag = f'"{revision}"'
        # If-None-Match compares weakly (RFC 9110, 13.1.2): a proxy that compresses makes tags weak.
        known = [tag.strip().removeprefix("W/") for tag in self.request.headers.get("If-None-Match", "").split(",")]
        if self.request.method in ("GET", "HEAD") and (etag in known or "*" in known):
            return Response(status=304, headers={"ETag": etag})
        return None


def moment_of(name: str, text: str) -> datetime:
    """Return the time that a parameter says. Raises Invalid, naming the parameter."""
    try:
        return datetime.fromisoformat(Moment().run_validation(text).upper())
    except ValidationError as error:
        raise Invalid("The time cannot be read.", faults=list(faults_of(error, (name,)))) from error


def _unknown_parameter(name: str, known: Iterable[str]) -> Fault:
    near = difflib.get_close_matches(name[:100], sorted(known), n=1)
    hint = f"did you mean {near[0]}?" if near else f"known are: {', '.join(sorted(known)) or 'none'}."
    return Fault((name,), "unknown_parameter", f"There is no such parameter here; {hint}")


def _unknown_word(name: str, word: str, known: Sequence[str]) -> Fault:
    near = difflib.get_close_matches(word[:100], known, n=1)
    hint = f"did you mean {near[0]}?" if near else f"known are: {', '.join(known)}."
    return Fault((name,), "unknown_value", f"There is nothing to name {word[:100]} here; {hint}")


def _stands_twice(name: str) -> Fault:
    return Fault((name,), "duplicate_key", "This parameter stands twice; send it once.")


def _is_revision(tag: str) -> bool:
    inner = tag[1:-1]
    return tag.startswith('"') and tag.endswith('"') and len(tag) > 2 and inner.isascii() and inner.isdigit()


Method = Callable[..., Any]


@overload
def once(method: Method) -> Method: ...


@overload
def once(*, key_required: bool) -> Callable[[Method], Method]: ...


def once(method: Method | None = None, *, key_required: bool = False) -> Any:
    """Make a POST safe to repeat: its first answer is kept in the transaction of its effect.

    The same key and request get that answer again, byte for byte; the same key with another request is 422,
    a first request that has not ended is 409. Refusals are not kept: they changed nothing and are judged anew.
    """
    if method is None:
        return lambda inner: _once(inner, key_required)

    return _once(method, key_required)


def _once(method: Method, key_required: bool) -> Method:
    @wraps(method)
    def answered_once(view: ResourceView, request: Request, *args: Any, **kwargs: Any) -> Any:
        key = request.headers.get("Idempotency-Key")
        if key is None:
            # A batch is kept as a whole, under its own key.
            if key_required and not getattr(request._request, "is_covered_by_batch", False):
                raise KeyRequired("Send an Idempotency-Key: any text you make once for this request, as a UUID.")
            with transaction.atomic():
                return method(view, request, *args, **kwargs)
        if not 1 <= len(key) <= 255 or not key.isascii():
            raise KeyRequired("An Idempotency-Key has 1 to 255 ASCII characters.")
        fingerprint = _fingerprint(request)
        with transaction.atomic():
            _hold(view.actor, key)
            kept = KeptAnswer.objects.filter(
                organisation=view.actor.organisation, client=view.actor.client, key=key
            ).first()
            if kept is not None:
                return _replayed(kept, fingerprint)
            response = method(view, request, *args, **kwargs)
            return _kept(view.actor, key, fingerprint, response)

    return answered_once


def _fingerprint(request: Request) -> str:
    """Return what a request is recognised by; trying it first with `?dry_run=true` makes it no other request."""
    query: QueryDict = request.query_params.copy()
    query.pop(DRY_RUN, None)
    method, path = str(request.method), f"{request.path}?{query.urlencode()}"
    is_json = (request.content_type or "").partition(";")[0].strip().lower().endswith("json")
    # JSON is the same request however it is spaced: alone, or as an entry of a batch.
    body = request._request.body
    if body and is_json:
        body = exact_json.canonical(request.data)
    return hashlib.sha256(b"\0".join([method.encode(), path.encode(), body])).hexdigest()


def _hold(actor: Actor, key: str) -> None:
    """Let one request with this key in at a time. SQLite has one writer anyway, who waits for the first."""
    if connection.vendor != "postgresql":
        return
    name = f"{actor.organisation.id}/{actor.client}/{key}"
    number = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big", signed=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [number])
        row = cursor.fetchone()
    if not row or not row[0]:
        raise KeyInFlight("The first request with this Idempotency-Key has not ended; ask again in a moment.")


def _kept(actor: Actor, key: str, fingerprint: str, response: Response) -> HttpResponse:
    body = _bytes_of(response.data)
    headers = {name: value for name, value in response.headers.items() if name in _KEPT_HEADERS}
    headers["Content-Type"] = response.content_type or "application/json"
    KeptAnswer.objects.create(
        organisation=actor.organisation,
        client=actor.client,
        key=key,
        fingerprint=fingerprint,
        status=response.status_code,
        headers=exact_json.write_text(headers),
        body=_SHOWN_ONCE.sub(b"null", body),
    )
    return HttpResponse(body, status=response.status_code, headers=headers)


def _bytes_of(data: Any) -> bytes:
    """Return a body as it goes out; lines of JSON are bytes already."""
    if isinstance(data, bytes):
        return data
    return b"" if data is None else exact_json.write(data)


def _replayed(kept: KeptAnswer, fingerprint: str) -> HttpResponse:
    # An answer without one had a customer in it who was erased since: whatever is sent, nothing is done twice.
    if kept.fingerprint not in ("", fingerprint):
        raise KeyReused("This Idempotency-Key came with another request before; make a new key for a new request.")
    headers = {**exact_json.load(kept.headers), "Idempotency-Replayed": "true"}
    return HttpResponse(bytes(kept.body), status=kept.status, headers=headers)


def parsed_id(text: str) -> uuid.UUID:
    """Return the id in a path. Raises NotFound: what is no id names no record."""
    try:
        return uuid.UUID(text)
    except ValueError as error:
        raise NotFound("There is no such record here; ids are UUIDs, your own key goes into external_ref.") from error
