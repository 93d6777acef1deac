"""The address at which a customer's personal data are erased."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes.job import ErasureRequest
from inspections.api.views import ResourceView, once, parsed_id
from inspections.services import erasing


class CustomerErasure(ResourceView):
    """The end of what is known of a person."""

    scopes_needed = {"POST": "admin"}

    @described(
        "Erase a customer's personal data: names, email, phone, instructions; what was seen of the drain stays",
        body=ErasureRequest,
        answer=answers.Customer,
        acts=True,
        may_match=True,
        empty="The customer was taken away before; what the trail said of them is erased now.",
        examples=examples.shown("On request", examples.ERASURE),
    )
    @once
    def post(self, request: Request, id: str) -> Response:
        reason = ErasureRequest.checked(request.data)["reason"]
        outcome = erasing.customer_erase(actor=self.actor, id=parsed_id(id), reason=reason, expected=self.expected)
        if outcome is None:  # taken away before; what the trail said of them is erased now
            return Response(status=204)
        return self.found(documents.customer(outcome.row), outcome.row.revision)
