"""Addresses of versioned data: grading schemes, rate books, rule sets, code maps."""

from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.fields import AnyObject, Shape, YesNo
from inspections.api.pages import page
from inspections.api.schema import described
from inspections.api.shapes import answers
from inspections.api.views import ResourceView, once, parsed_id
from inspections.queries import find
from inspections.services import versions
from inspections.services.versions import Kind


class VersionShape(Shape):
    """A new version of a scheme, rate book or rule set; checked as a whole when it is loaded."""

    document = AnyObject(required=True, help_text="The whole document; its id and version name it.")
    is_default = YesNo(help_text="Use it where nobody names another.")


class _Versions(ResourceView):
    kind: ClassVar[Kind]
    scopes_needed = {"POST": "admin"}
    parameters = frozenset({"limit", "cursor", "code"})


def _addresses(kind: Kind, called: str) -> tuple[Any, Any]:
    class Many(_Versions):
        @described(f"List {kind.path}", answer=answers.VersionedPage, page_of=kind.path, filters=("code",))
        def get(self, request: Request) -> Response:
            rows = kind.model.objects.filter(organisation=self.actor.organisation)
            return page(request, rows, documents.versioned, self.parameters)

        @described(f"Load {called}", body=VersionShape, answer=answers.Versioned, makes=True, needs_key=False)
        @once
        def post(self, request: Request) -> Response:
            asked = VersionShape.checked(request.data)
            outcome = versions.version_load(actor=self.actor, kind=kind, **asked)
            row = outcome.row
            response = self.found(documents.versioned(row), row.revision, status=201 if outcome.is_new else 200)
            response["Location"] = f"/api/v1/{kind.path}/{row.pk}"
            return response

    class One(ResourceView):
        @described(f"Read {called}", answer=answers.Versioned)
        def get(self, request: Request, id: str) -> Response:
            row = find.one(kind.model, self.actor.organisation, parsed_id(id))
            return self.found(documents.versioned(row), row.revision)

    return Many, One


GradingSchemes, OneGradingScheme = _addresses(versions.GRADING_SCHEME, "a grading scheme")
RateBooks, OneRateBook = _addresses(versions.RATE_BOOK, "a rate book")
RuleSets, OneRuleSet = _addresses(versions.RULE_SET, "a rule set")
CodeMaps, OneCodeMap = _addresses(versions.CODE_MAP, "a code map")
