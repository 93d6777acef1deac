"""Who can be sent to a job."""

from rest_framework.request import Request
from rest_framework.response import Response

from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView
from inspections.models import User


class Inspectors(ResourceView):
    """The people of the organisation whose username a job's `inspector` takes."""

    @described("List who can be sent to a job", answer=answers.Inspectors, tagged=False)
    def get(self, request: Request) -> Response:
        people = User.objects.filter(organisation=self.actor.organisation, is_active=True).order_by("username")
        items = [{"username": one.username, "name": one.get_full_name(), "role": one.role} for one in people]
        return Response({"items": items, "next": None})
