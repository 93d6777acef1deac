"""Addresses that put findings into a customer's own codes and back. Stateless: nothing is kept."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes.code_maps import FromExternal, ToExternal
from inspections.api.views import ResourceView, once, parsed_id
from inspections.services import code_maps


class _Translation(ResourceView):
    """Whoever may read records may have them said in other words."""

    scopes_needed = {"POST": "records:read"}


class ToExternalCodes(_Translation):
    """From findings to codes."""

    @described(
        "Say findings in the codes of a code map, and what no code can say",
        body=ToExternal,
        answer=answers.ToExternal,
        examples=examples.shown("A root plug", examples.FINDINGS),
        acts=True,
        tagged=False,
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        asked = ToExternal.checked(request.data)
        items = code_maps.to_external(actor=self.actor, id=parsed_id(id), document=asked)
        return Response({"code_map": id, "findings": items})


class FromExternalCodes(_Translation):
    """From codes to findings."""

    @described(
        "Read findings in the codes of a code map, and what was not taken over",
        body=FromExternal,
        answer=answers.FromExternal,
        examples=examples.shown("One code", examples.CODES),
        acts=True,
        tagged=False,
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        asked = FromExternal.checked(request.data)
        items = code_maps.from_external(actor=self.actor, id=parsed_id(id), document=asked)
        return Response({"code_map": id, "findings": items})
