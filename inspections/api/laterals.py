"""Addresses of laterals: the reconciled pipe, its site, its repair scopes, its report."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.pages import page
from inspections.api.schema import described
from inspections.api.shapes import answers, examples
from inspections.api.shapes.lateral import ScopeRequest, SiteShape
from inspections.api.views import ResourceView, once, parsed_id
from inspections.measures import converted
from inspections.merge import merged
from inspections.models import Lateral, Site
from inspections.queries import find, history, results
from inspections.services import scoping, sites
from inspections.services.revisions import Outcome
from inspections.translate import Document


class Laterals(ResourceView):
    """All laterals of the organisation."""

    parameters = frozenset({"limit", "cursor", "units", "property", "external_ref"})

    @described("List laterals", answer=answers.Laterals, page_of="laterals", filters=("property", "external_ref"))
    def get(self, request: Request) -> Response:
        rows = Lateral.objects.filter(organisation=self.actor.organisation).select_related("site")
        return page(request, rows, lambda row: _document(self, row), self.parameters)


class OneLateral(ResourceView):
    """One reconciled pipe."""

    parameters = frozenset({"units", "scheme"})

    @described("Read the reconciled pipe", answer=answers.Lateral, takes_units=True, named=("scheme",))
    def get(self, request: Request, id: str) -> Response:
        row = find.one(Lateral, self.actor.organisation, parsed_id(id))
        document = _document(self, row, request.query_params.get("scheme"))
        tag = f"{row.revision}-{row.inputs_revision}-{row.site_revision}-{document['is_current']}-{document['units']}"
        return self.found(document, f"{tag}-{(document['inputs_sha256'] or '')[:12]}")


class LateralSite(ResourceView):
    """What is known of the ground over a lateral."""

    scopes_needed = {"PUT": "repair-scopes:write", "PATCH": "repair-scopes:write"}
    parameters = frozenset({"units", "at"})

    @described("Read the site", answer=answers.Site, takes_units=True, takes_at=True)
    def get(self, request: Request, id: str) -> Response:
        if self.at is not None:
            return _site_shown(self, history.site(self.actor.organisation, parsed_id(id), self.at))
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        return _site_answer(self, lateral.site)

    @described(
        "Replace the site",
        body=SiteShape,
        answer=answers.Site,
        examples=examples.shown("Sixty feet of ground", examples.SITE),
    )
    def put(self, request: Request, id: str) -> Response:
        document = SiteShape.checked(request.data)
        return _site_changed(self, parsed_id(id), lambda _: document)

    @described("Change the site", body=SiteShape, answer=answers.Site, patches=True)
    def patch(self, request: Request, id: str) -> Response:
        return _site_changed(self, parsed_id(id), lambda now: SiteShape.checked(merged(now, request.data)))


class LateralScopes(ResourceView):
    """Repair scopes of a lateral."""

    scopes_needed = {"POST": "repair-scopes:write"}
    parameters = frozenset({"limit", "cursor", "units"})

    @described("List the repair scopes of a lateral", answer=answers.RepairScopes, page_of="repair scopes")
    def get(self, request: Request, id: str) -> Response:
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        rows = lateral.repair_scopes.select_related("calculation", "lateral", "scheme", "rate_book", "rule_set")
        return page(request, rows, lambda row: documents.repair_scope(row, self.units(row.units)), self.parameters)

    @described(
        "Ask for a repair scope",
        body=ScopeRequest,
        answer=answers.ScopeAccepted,
        makes=True,
        status=202,
        examples=examples.shown("Everything graded 3 or worse", examples.SCOPE),
    )
    @once(key_required=True)
    def post(self, request: Request, id: str) -> Response:
        row = scoping.scope_request(
            actor=self.actor, lateral_id=parsed_id(id), document=ScopeRequest.checked(request.data)
        )
        calculation = {"id": str(row.calculation_id), "url": f"/api/v1/calculations/{row.calculation_id}"}
        response = self.found({"id": str(row.id), "calculation": calculation}, row.revision, status=202)
        response["Location"] = f"/api/v1/repair-scopes/{row.id}"
        return response


def _document(view: ResourceView, row: Lateral, scheme: str | None = None) -> Document:
    found = results.reconciled(row)
    units = view.units(found.units if found else "us")
    return converted(results.lateral_document(row, row.site, found, scheme), "si", units)  # type: ignore[no-any-return]


def _site_answer(view: ResourceView, site: Site, status: int = 200) -> Response:
    return _site_shown(view, documents.site(site), status)


def _site_shown(view: ResourceView, document: Document, status: int = 200) -> Response:
    usual = document["units"]
    return view.found(converted(document, usual, view.units(usual)), document["revision"], status=status)


def _site_changed(view: ResourceView, lateral_id: Any, edit: Any) -> Response:
    outcome: Outcome[Site] = sites.site_change(
        actor=view.actor, lateral_id=lateral_id, edit=edit, expected=view.expected
    )
    return _site_answer(view, outcome.row)
