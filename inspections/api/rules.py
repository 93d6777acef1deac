"""Addresses of versioned data: grading schemes, rate books, rule sets, code maps."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import AnyObject, Shape, YesNo
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.shapes import reads as shapes
from inspections.api.views import once
from inspections.errors import VersionExists
from inspections.services import versions
from inspections.services.versions import Kind


class VersionShape(Shape):
    """A new version of a scheme, rate book or rule set; checked as a whole when it is loaded."""

    document = AnyObject(required=True, help_text="The whole document; its id and version name it.")
    is_default = YesNo(help_text="Use it where nobody names another.")


def _addresses(kind: Kind, called: str) -> tuple[Any, Any]:
    known = Reading(
        called=kind.path,
        shape=shapes.Versioned,
        rows=lambda organisation, expanded: kind.model.objects.filter(organisation=organisation),
        document=lambda view, row: documents.versioned(row),
        filters=named("external_ref", "code", "is_default"),
    )

    class AllVersions(Many):
        scopes_needed = {"POST": "admin"}
        reading = known

        @lists(known, f"List {kind.path}")
        def get(self, request: Request) -> Response:
            return self.page(request)

        @described(
            f"Load {called}",
            body=VersionShape,
            answer=answers.Versioned,
            makes=True,
            needs_key=False,
            places=(200,),
            refuses=(VersionExists,),
        )
        @once
        def post(self, request: Request) -> Response:
            asked = VersionShape.checked(request.data)
            outcome = versions.version_load(actor=self.actor, kind=kind, **asked)
            row = outcome.row
            response = self.found(documents.versioned(row), row.revision, status=201 if outcome.is_new else 200)
            response["Location"] = f"/api/v1/{kind.path}/{row.pk}"
            return response

    class OneVersion(One):
        reading = known

        @reads(known, f"Read {called}")
        def get(self, request: Request, id: str) -> Response:
            return self.read(id)

    return AllVersions, OneVersion


GradingSchemes, OneGradingScheme = _addresses(versions.GRADING_SCHEME, "a grading scheme")
RateBooks, OneRateBook = _addresses(versions.RATE_BOOK, "a rate book")
RuleSets, OneRuleSet = _addresses(versions.RULE_SET, "a rule set")
CodeMaps, OneCodeMap = _addresses(versions.CODE_MAP, "a code map")
