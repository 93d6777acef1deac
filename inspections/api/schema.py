"""How each operation is described in the OpenAPI document."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Final

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, OpenApiResponse, extend_schema

from inspections.api.auth import ANY_TOKEN, scope_needed
from inspections.api.description import fields as _own_fields  # noqa: F401 # registers itself
from inspections.api.description import headers, refusals
from inspections.api.description import parameters as said
from inspections.api.fields import Shape
from inspections.api.shapes import answers
from inspections.errors import NotFound, Refused

_CHANGES: Final = ("put", "patch", "delete")
_OF_PAGES: Final = frozenset({"limit", "cursor", "dry_run"})


@dataclass(frozen=True, slots=True)
class _Told:
    """What `described` was told, for what only the whole operation shows."""

    is_paged: bool
    is_tagged: bool
    may_match: bool
    places: frozenset[int]
    refuses: tuple[type[Refused], ...]
    headers: tuple[str, ...]


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
    refuses: Iterable[type[Refused]] = (),
    needs_key: bool = True,
    requires_key: bool = False,
    may_match: bool = False,
    takes_at: bool = False,
    tagged: bool | None = None,
    located: bool = True,
    places: tuple[int, ...] = (),
    in_path: tuple[OpenApiParameter, ...] = (),
    fields: tuple[str, ...] = (),
    expansions: tuple[str, ...] = (),
    examples: Any = None,
    forms: dict[str, Any] | None = None,
    also: dict[str, Any] | None = None,
    empty: str = "",
    carries: tuple[str, ...] = (),
    is_public: bool = False,
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Describe one method of one address: what it takes, what it answers, how it refuses.

    `refuses`: what it refuses beside what its parameters tell; `tagged`: whether answers carry an ETag, all but pages
    and forms where absent; `located`: what is made has an address of its own, named in Location; `places`: further
    statuses with a Location; `carries`: further headers;
    `empty`: when it answers 204 instead.
    """

    def describe(method: Callable[..., Any]) -> Callable[..., Any]:
        verb = method.__name__
        parameters = [said.filter_of(page_of, name) for name in filters]
        parameters += in_path
        parameters += [said.NAMED[name] for name in named]
        parameters += [said.LIMIT] if page_of else []
        parameters += [said.CURSOR] if page_of and "after" not in filters else []
        parameters += [said.UNITS] if takes_units else []
        parameters += [said.AT] if takes_at else []
        parameters += [said.words_of("fields", fields, "Only these, and the id; all where absent.")] if fields else []
        parameters += [said.words_of("expand", expansions, "Show these in full.")] if expansions else []
        parameters += [said.DRY_RUN] if verb != "get" else []
        is_tagged = (answer is not None and not page_of and not forms) if tagged is None else tagged
        parameters += [said.IF_NONE_MATCH] if verb == "get" and is_tagged else []
        parameters += [said.IF_MATCH] if verb in _CHANGES else []
        parameters += [said.key(is_required=requires_key or (makes and needs_key))] if verb == "post" else []
        parameters += [said.MAY_MATCH] if may_match else []
        responses: dict[Any, Any] = {
            code: OpenApiResponse(answer, description=_meaning(code)) if answer else None
            for code in _codes(status, makes, deletes)
        }
        if verb == "get" and is_tagged:
            responses[304] = OpenApiResponse(description="What you have is still right.")
        if forms:
            responses = {
                (status, form): OpenApiResponse(kind, description="Here it is.") for form, kind in forms.items()
            }
        # Asked for with Accept, beside JSON.
        responses |= {
            (status, form): OpenApiResponse(kind, description="Here it is.") for form, kind in (also or {}).items()
        }
        responses |= {204: OpenApiResponse(description=empty)} if empty else {}
        told = _Told(
            is_paged=bool(page_of) and "after" not in filters,
            is_tagged=is_tagged,
            may_match=may_match,
            places=frozenset(places)
            | (frozenset({201 if status == 200 else status}) if makes and located else frozenset()),
            refuses=tuple(refuses),
            headers=carries,
        )
        described_method: Callable[..., Any] = extend_schema(
            summary=summary,
            parameters=parameters,
            request=_request(body, patches),
            responses=responses,
            examples=_of_both_forms(examples) if patches and examples else examples,
            auth=[] if is_public else None,
        )(method)
        described_method.told = told  # type: ignore[attr-defined] # read when the document is made
        return described_method

    return describe


def _request(body: Any, patches: bool) -> Any:
    if body is None or isinstance(body, dict):
        return body
    return {"application/merge-patch+json": body, "application/json": body} if patches else {"application/json": body}


def _of_both_forms(examples: Iterable[OpenApiExample]) -> list[OpenApiExample]:
    """Show the examples of a patch under either name that its form goes by."""
    return [
        OpenApiExample(one.name, value=one.value, request_only=True, media_type=media)
        for one in examples
        for media in ("application/json", "application/merge-patch+json")
    ]


def _codes(status: int, makes: bool, deletes: bool) -> tuple[int, ...]:
    if deletes:
        return (204,)
    return (200, 201) if makes and status == 200 else (status,)


def _meaning(status: int) -> str:
    return {200: "Here it is.", 201: "Made.", 202: "Taken; the rest is being done."}[status]


class OperationSchema(AutoSchema):
    """Takes tags from the path, and says what follows from the view: scope, refusals, headers."""

    def get_operation(self, *args: Any, **options: Any) -> Any:
        """Describe one operation."""
        operation = super().get_operation(*args, **options)
        told: _Told | None = getattr(getattr(self.view, self.method.lower()), "told", None)
        if operation is not None and told is not None:
            self._complete(operation, told)
        return operation

    def _complete(self, operation: dict[str, Any], told: _Told) -> None:
        known = {(one["in"], one["name"]): one for one in operation.get("parameters", [])}
        is_public = not operation.get("security")
        key = known.get(("header", "Idempotency-Key"))
        listed = refusals.codes(
            verb=self.method.lower(),
            is_public=is_public,
            names_record=any(place == "path" for place, _ in known) or NotFound in told.refuses,
            judges="requestBody" in operation or any(p == "query" and n not in _OF_PAGES for p, n in known),
            key="" if key is None else "must" if key.get("required") else "may",
            may_match=told.may_match,
            needs_match=self.method.lower() in _CHANGES,
            refuses=told.refuses,
        )
        self.resolve_serializer(answers.Problem, "response")  # the shape of every refusal is known from here on
        for status, codes in listed.items():
            operation["responses"][str(status)] = refusals.answer(status, codes)
        headers.put_into(
            operation,
            is_public=is_public,
            is_tagged=told.is_tagged,
            is_paged=told.is_paged,
            places=told.places,
            is_write=self.method != "GET",
            is_kept=key is not None,
            is_retired=self.is_deprecated(),
            more=told.headers,
        )

    def get_description(self) -> str:  # type: ignore[override] # as drf-spectacular has it
        """Return what the view says of itself, and which scope its method needs."""
        said_of_itself = str(super().get_description()).strip()
        if not hasattr(self.view, "scopes_needed") or not self.view.get_authenticators():  # a webhook, a public page
            return said_of_itself
        scope = scope_needed(self.view, self.method)
        needs = "Needs any token." if scope == ANY_TOKEN else f"Needs the scope `{scope}`."
        return f"{said_of_itself} {needs}".strip()

    def get_tags(self) -> list[str]:
        """Return the group: the first word of the path."""
        parts = [part for part in self.path.removeprefix("/api/v1").split("/") if part and not part.startswith("{")]
        return parts[:1] or ["start"]

    def is_deprecated(self) -> bool:
        """Tell whether the method is on its way out."""
        return self.method in getattr(self.view, "retires", {}) or bool(super().is_deprecated())

    def get_operation_id(self) -> str:
        """Return a name for code generators: what is done to what, as `jobs_list` or `runs_submit_create`."""
        parts = self.path.removeprefix("/api/v1").split("/")
        words = "_".join(part for part in parts if part and not part.startswith("{"))
        subject = words.replace("-", "_").replace(".", "_") or "start"
        verbs = {"POST": "create", "PUT": "replace", "PATCH": "change", "DELETE": "delete"}
        is_list = "limit" in {parameter["name"] for parameter in self._get_parameters()}
        return f"{subject}_{verbs.get(self.method, 'list' if is_list else 'read')}"

    def get_serializer_name(self, serializer: Any, direction: Any) -> str:
        """Return the name of a schema: that of its class, without what says only what kind of class it is."""
        name = str(super().get_serializer_name(serializer, direction)).removesuffix("Shape")
        return name.removesuffix("Request") if direction == "request" else name

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> Any:
        """Say of what is sent that unknown fields are refused."""
        schema = super()._map_basic_serializer(serializer, direction)  # type: ignore[no-untyped-call]
        if direction == "request" and isinstance(serializer, Shape):
            schema["additionalProperties"] = False
        return schema


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call] # registers itself
    """Bearer tokens."""

    target_class = "inspections.api.auth.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "A token of this service, `pbk_...`. Each operation names the scope that the token must "
            "carry; `admin` opens every one.",
        }

    def get_security_requirement(self, auto_schema: Any) -> dict[str, list[str]]:
        scope = scope_needed(auto_schema.view, auto_schema.method)
        return {self.name: [] if scope == ANY_TOKEN else [scope]}


ANY: Final = OpenApiTypes.OBJECT
