"""Addresses of laterals: the reconciled pipe, its site, its repair scopes, its report."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from inspections import documents
from inspections.api.reading import Many, One, Reading, lists, named, reads
from inspections.api.schema import described
from inspections.api.shapes import answers, examples, planned
from inspections.api.shapes import reads as shapes
from inspections.api.shapes.lateral import ScopeRequest, SiteShape
from inspections.api.views import ResourceView, once, parsed_id
from inspections.errors import NotGradedYet, NothingInspected
from inspections.measures import converted
from inspections.merge import merged
from inspections.models import Lateral, Site
from inspections.queries import find, history, pages, results
from inspections.services import scoping, sites
from inspections.services.revisions import Outcome
from inspections.translate import Document


def lateral_answer(view: ResourceView, row: Any) -> Document:
    """Return a lateral fetched by `pages.laterals`, in the units asked for, else in those of its datum's run."""
    found = next(iter(row.newest_reconciled), None)
    shown = results.lateral_shown(row, view.request.query_params.get("scheme"))
    units = view.units(found.units if found else "us")
    return converted(shown, "si", units)  # type: ignore[no-any-return] # a document stays one


LATERALS = Reading(
    called="laterals",
    shape=shapes.Lateral,
    rows=pages.laterals,
    document=lateral_answer,
    filters=named("property", "external_ref"),
    expansions={"property": lambda view, row: documents.property_(row.property)},
    takes_units=True,
    is_covered=False,
)


SCOPES = Reading(
    called="repair scopes",
    shape=shapes.RepairScope,
    rows=pages.repair_scopes,
    document=lambda view, row: documents.repair_scope(row, view.units(row.units)),
    filters=named("lateral", property="lateral__property", state="calculation__state"),
    expansions={"lateral": lambda view, row: lateral_answer(view, row.lateral)},
    takes_units=True,
    is_covered=False,
)


class Laterals(Many):
    """All laterals of the organisation."""

    reading = LATERALS

    @lists(LATERALS, "List laterals")
    def get(self, request: Request) -> Response:
        return self.page(request)


class OneLateral(One):
    """One reconciled pipe."""

    reading = LATERALS
    own_words = frozenset({"scheme"})

    @reads(LATERALS, "Read the reconciled pipe", named=("scheme",), refuses=(NotGradedYet,))
    def get(self, request: Request, id: str) -> Response:
        return self.read(id)


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

    @described(
        "Change the site",
        body=SiteShape,
        answer=answers.Site,
        patches=True,
        examples=examples.shown("Groundwater found", examples.SITE_CHANGE),
    )
    def patch(self, request: Request, id: str) -> Response:
        return _site_changed(self, parsed_id(id), lambda now: SiteShape.checked(merged(now, request.data)))


class LateralScopes(Many):
    """Repair scopes of a lateral."""

    scopes_needed = {"POST": "repair-scopes:write"}
    reading = SCOPES

    @lists(SCOPES, "List the repair scopes of a lateral")
    def get(self, request: Request, id: str) -> Response:
        lateral = find.one(Lateral, self.actor.organisation, parsed_id(id))
        return self.page(request, self.rows().filter(lateral=lateral))

    @described(
        "Ask for a repair scope",
        body=ScopeRequest,
        answer=planned.ScopeAccepted,
        makes=True,
        status=202,
        refuses=(NothingInspected,),
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
