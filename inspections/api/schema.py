"""How each operation is described in the OpenAPI document."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, Final

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema

from inspections.api.shapes import answers

_NAMED: Final = {
    "plan": "The plan whose bids are compared; may be left out while only one is bid on.",
    "on": "The day on which a bid is to be accepted (YYYY-MM-DD): those not received yet or not valid are left out.",
    "sort": "created_at, oldest first, where nothing is said; -created_at: newest first.",
    "scheme": "Under this grading scheme: its code (the newest version) or its id; the default one where absent.",
    "reason": "Why; kept in the trail.",
    "earlier": "Runs or jobs by id, separated by commas; the job before the later one where absent.",
    "changed_only": "true: only laterals on which something changes.",
    "later": "Runs or jobs by id, separated by commas; the latest job where absent.",
    "format": "plain: as webhooks carry it; cloudevents: in the envelope of CloudEvents 1.0. plain where absent.",
}
_UNITS: Final = OpenApiParameter("units", str, enum=["us", "si"], description="Answer in these units.")
_IF_MATCH: Final = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description='The ETag you read, as `"3"`; `*` for any. Needed to change.',
)
_MAY_MATCH: Final = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag you read, to act on that revision and no other; without it, on what is there.",
)
_IF_NONE_MATCH: Final = OpenApiParameter(
    "If-None-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag you have; 304 where it is still right.",
)


_AT: Final = OpenApiParameter(
    "at",
    datetime,
    description="As it stood at this time (RFC 3339 with its offset, `+` as %2B); 404 before it was made.",
)
_DRY_RUN: Final = OpenApiParameter(
    "dry_run",
    bool,
    description="true: the real answer, status, faults and headers (and `Dry-Run: true`), and nothing changes.",
)


def _filter(name: str) -> str:
    return _SPANS.get(name, f"Only those with this {name}.")


_SPANS: Final = {
    "starts_after": "Only those whose window starts after this time (RFC 3339 with its offset, `+` as %2B).",
    "starts_before": "Only those whose window starts before this time.",
    "bbox": "Only those inside west,south,east,north (degrees); west over east is a box across the antimeridian.",
    "created_after": "Only those made after this time (RFC 3339 with its offset, `+` as %2B).",
    "created_before": "Only those made before this time.",
    "updated_after": "Only those changed after this time.",
}


def _words(name: str, known: tuple[str, ...], text: str) -> OpenApiParameter:
    kind = {"type": "array", "items": {"type": "string", "enum": list(known)}}
    return OpenApiParameter(name, kind, description=text, style="form", explode=False)


def _key(is_required: bool) -> OpenApiParameter:
    return OpenApiParameter(
        "Idempotency-Key",
        str,
        OpenApiParameter.HEADER,
        required=is_required,
        description="Any text you make once for this request; sent again in 30 days, it gets the first answer again.",
    )


_PAGE: Final = [
    OpenApiParameter("limit", int, description="Records a page, 1 to 200; 50 where nothing is said."),
    OpenApiParameter("cursor", str, description="Where the page begins; follow `next`."),
]
_PROBLEM: Final = {
    400: "malformed: syntax, types, unknown fields",
    401: "no valid token",
    403: "the token lacks the scope",
    404: "no such record in this organisation",
    429: "the token asks too fast; Retry-After says when to go on",
}
_PROBLEM_OF_WRITES: Final = {
    409: "not in this state, or the key is in flight",
    411: "the body's length is not said",
    413: "the body is over 5 MB",
    415: "not JSON",
    422: "content that cannot be",
}
_PROBLEM_OF_CHANGES: Final = {412: "the record changed since", 428: "If-Match is missing"}


def described(
    summary: str,
    *,
    answer: Any = None,
    body: Any = None,
    status: int = 200,
    makes: bool = False,
    acts: bool = False,
    patches: bool = False,
    deletes: bool = False,
    takes_units: bool = False,
    page_of: str = "",
    filters: tuple[str, ...] = (),
    named: tuple[str, ...] = (),
    refuses: Mapping[int, str] | None = None,
    needs_key: bool = True,
    requires_key: bool = False,
    may_match: bool = False,
    takes_at: bool = False,
    in_path: tuple[OpenApiParameter, ...] = (),
    fields: tuple[str, ...] = (),
    expansions: tuple[str, ...] = (),
    examples: Any = None,
    forms: dict[str, Any] | None = None,
    also: dict[str, Any] | None = None,
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Describe one method of one address: what it takes, what it answers, how it refuses."""

    def describe(method: Callable[..., Any]) -> Callable[..., Any]:
        verb = method.__name__
        parameters = [OpenApiParameter(name, str, description=_filter(name)) for name in filters]
        parameters += in_path
        parameters += [OpenApiParameter(name, str, description=_NAMED[name]) for name in named]
        parameters += _PAGE if page_of else []
        parameters += [_UNITS] if takes_units else []
        parameters += [_AT] if takes_at else []
        parameters += [_words("fields", fields, "Only these fields, and the id; all where absent.")] if fields else []
        parameters += [_words("expand", expansions, "Show these in full.")] if expansions else []
        parameters += [_DRY_RUN] if verb != "get" else []
        parameters += _headers(verb, page_of, requires_key or (makes and needs_key))
        parameters += [_MAY_MATCH] if may_match else []
        problems = _PROBLEM if verb == "get" else _PROBLEM | _PROBLEM_OF_WRITES
        if verb in ("put", "patch", "delete"):
            problems = problems | _PROBLEM_OF_CHANGES
        if may_match:
            problems = problems | {412: _PROBLEM_OF_CHANGES[412]}
        problems = problems | dict(refuses or {})
        responses: dict[Any, Any] = {
            (code, "application/problem+json"): OpenApiResponse(answers.Problem, description=text)
            for code, text in problems.items()
        }
        for code in _codes(status, makes, deletes, verb):
            responses[code] = OpenApiResponse(answer, description=summary) if answer else None
        if forms:
            responses.pop(status)
            responses |= {(status, form): OpenApiResponse(kind, description=summary) for form, kind in forms.items()}
        # Asked for with Accept, beside JSON.
        responses |= {
            (status, form): OpenApiResponse(kind, description=summary) for form, kind in (also or {}).items()
        }
        request = {"application/merge-patch+json": body, "application/json": body} if patches else body
        described_method: Callable[..., Any] = extend_schema(
            summary=summary,
            parameters=parameters,
            request=request,
            responses=responses,
            examples=examples,
        )(method)
        return described_method

    return describe


def _headers(verb: str, page_of: str, key_is_required: bool) -> list[OpenApiParameter]:
    if verb == "get":
        return [] if page_of else [_IF_NONE_MATCH]
    if verb in ("put", "patch", "delete"):
        return [_IF_MATCH]
    return [_key(is_required=key_is_required)]


def _codes(status: int, makes: bool, deletes: bool, verb: str) -> tuple[int, ...]:
    if deletes:
        return (204,)
    if makes:
        return (status,) if status != 200 else (200, 201)
    return (status,)


class OperationSchema(AutoSchema):
    """Takes tags from the path, and ids that are UUIDs."""

    def get_tags(self) -> list[str]:
        parts = [part for part in self.path.removeprefix("/api/v1").split("/") if part and not part.startswith("{")]
        return parts[:1] or ["start"]

    def is_deprecated(self) -> bool:
        """Tell whether the method is on its way out."""
        return self.method in getattr(self.view, "retires", {}) or bool(super().is_deprecated())

    def get_operation_id(self) -> str:
        """Return a name for code generators: what is done to what, as `jobs_list` or `runs_submit_create`."""
        parts = self.path.removeprefix("/api/v1").split("/")
        subject = "_".join(part.replace("-", "_") for part in parts if part and not part.startswith("{")) or "start"
        verbs = {"POST": "create", "PUT": "replace", "PATCH": "change", "DELETE": "delete"}
        is_list = "limit" in {parameter["name"] for parameter in self._get_parameters()}
        return f"{subject}_{verbs.get(self.method, 'list' if is_list else 'read')}"


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call] # registers itself
    """Bearer tokens."""

    target_class = "inspections.api.auth.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {"type": "http", "scheme": "bearer", "description": "A token of this service, pbk_..."}


ANY: Final = OpenApiTypes.OBJECT

_RATE: Final = {
    "RateLimit-Policy": "How many requests a token may send at once (q), paid back within so many seconds (w).",
    "RateLimit": "How many requests are left (r), and in how many seconds all are there again (t).",
}


def rate_headers(result: Any, generator: Any, request: Any, public: bool) -> Any:
    """Say in the document which answers carry the RateLimit headers: those to a token (a hook of drf-spectacular)."""
    headers = {name: {"schema": {"type": "string"}, "description": text} for name, text in _RATE.items()}
    result["components"]["headers"] = headers
    links = {name: {"$ref": f"#/components/headers/{name}"} for name in _RATE}
    for path in result["paths"].values():
        for operation in path.values():
            if {} in operation.get("security", [{}]):
                continue
            for status, answer in operation["responses"].items():
                if status.startswith("2") or status == "429":
                    answer.setdefault("headers", {}).update(links)
    return result
