"""What is known of the ground over a lateral."""

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F

from inspections import documents, exact_json
from inspections.actor import Actor
from inspections.models import Lateral, Site, SiteBoundary, SiteDepth, SiteSurface
from inspections.queries import find
from inspections.services import trail
from inspections.services.revisions import Expected, Outcome
from inspections.translate import length

Document = dict[str, Any]


def site_change(
    *, actor: Actor, lateral_id: uuid.UUID, edit: Callable[[Document], Document], expected: Expected
) -> Outcome[Site]:
    """Change the site to what `edit` makes of its document. The first one needs no revision: it is empty."""
    with transaction.atomic():
        lateral = find.one(Lateral, actor.organisation, lateral_id, lock=True)
        site = Site.objects.select_for_update().get(lateral=lateral)
        before = documents.site_writable(site)
        after = edit(before)
        if after == before:
            return Outcome(site)
        if site.revision > 0 or expected.is_given:
            expected.hold_against(site.revision)
        is_new = site.revision == 0
        _write(site, after)
        # Site data are no input of the reconciliation, but scopes read them.
        Lateral.objects.filter(pk=lateral.pk).update(site_revision=F("site_revision") + 1)
        trail.entry(
            actor=actor,
            record_type="site",
            record_id=lateral.id,
            action="changed",
            before=before,
            after=after,
            at=site.updated_at,
        )
        data = {"lateral": str(lateral.id), "revision": site.revision}
        subject = f"laterals/{lateral.id}/site"
        trail.event(organisation=actor.organisation, type="site.changed", subject=subject, data=data)
        return Outcome(site, is_new=is_new, is_changed=True)


def _write(site: Site, document: Document) -> None:
    units = document["units"]
    dfu = document["drainage_fixture_units"]
    site.written = exact_json.write_text(document)
    site.soil = document["soil"]
    site.groundwater_depth_m = length(document["groundwater_depth"], units)
    site.drainage_fixture_units = None if dfu is None else Decimal(dfu)
    site.revision += 1
    site.save()
    for model in (SiteBoundary, SiteDepth, SiteSurface):
        model._default_manager.filter(site=site).delete()
    SiteBoundary.objects.bulk_create(
        SiteBoundary(site=site, kind=one["kind"], station_m=length(one["station"], units))
        for one in document["boundaries"]
    )
    SiteDepth.objects.bulk_create(
        SiteDepth(
            site=site,
            station_m=length(one["station"], units),
            depth_m=length(one["depth"], units),
            to=one["to"],
        )
        for one in document["depths"]
    )
    SiteSurface.objects.bulk_create(
        SiteSurface(site=site, from_m=length(one["from"], units), to_m=length(one["to"], units), kind=one["kind"])
        for one in document["surfaces"]
    )
