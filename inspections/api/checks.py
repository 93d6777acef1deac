"""Addresses of the engineering checks: stateless, nothing is kept."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, ClassVar

from drf_spectacular.utils import OpenApiExample
from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.schema import described
from inspections.api.shapes.checks import answer_shape, request_shape
from inspections.api.views import ResourceView, once
from inspections.errors import Fault, Invalid
from scoring.checks import CHECKS, Check, CheckInputInvalid


class CheckView(ResourceView):
    """One engineering check. Whoever may read records may compute with their numbers."""

    scopes_needed = {"POST": "records:read"}
    check: ClassVar[Check]

    def computed(self, request: Request) -> Response:
        """Answer with the results; refuse with every fault at once."""
        if "Idempotency-Key" in request.headers:
            return self._kept(request)  # type: ignore[no-any-return] # `once` is untyped
        return Response(_results(self.check, request.data))

    @once
    def _kept(self, request: Request) -> Response:
        return Response(_results(self.check, request.data))


def _results(check: Check, document: Any) -> dict[str, Any]:
    if not isinstance(document, Mapping):
        detail = "This is an object; send {...}."
        raise Invalid("The body is no object.", faults=[Fault((), "not_an_object", detail)])
    try:
        return check.run(document)
    except CheckInputInvalid as refused:
        faults = [Fault(_steps(fault.path), fault.code, fault.detail) for fault in refused.faults]
        raise Invalid("The inputs have faults; each is named with its place.", faults=faults) from refused


def _steps(pointer: str) -> tuple[str, ...]:
    return tuple(step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:])


def _address(name: str) -> type[CheckView]:
    check_here = CHECKS[name]

    class Address(CheckView):
        check = check_here

        @described(
            check_here.title,
            body=request_shape(check_here),
            answer=answer_shape(check_here),
            acts=True,
            tagged=False,
            examples=_examples(check_here),
        )
        def post(self, request: Request) -> Response:
            return self.computed(request)

    Address.__name__ = Address.__qualname__ = f"{name.title().replace('-', '')}Check"
    Address.__doc__ = check_here.title
    return Address


def _examples(check: Check) -> list[OpenApiExample]:
    asked, answered = _as_json(check.example), _as_json(check.run(check.example))
    return [
        OpenApiExample("An example", value=asked, request_only=True),
        OpenApiExample("Its results", value=answered, response_only=True, status_codes=["200"]),
    ]


def _as_json(value: Any) -> Any:
    """Return a document for the OpenAPI document, whose writer knows no Decimal."""
    if isinstance(value, Mapping):
        return {name: _as_json(member) for name, member in value.items()}
    if isinstance(value, list):
        return [_as_json(member) for member in value]
    return float(value) if isinstance(value, Decimal) else value


TrenchCheck = _address("trench")
LinerCheck = _address("liner")
DrainCheck = _address("drain")
AirTestCheck = _address("air-test")
WaterTestCheck = _address("water-test")
SpoilCheck = _address("spoil")
