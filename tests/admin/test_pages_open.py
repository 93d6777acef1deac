"""Every list and every page opens, for the records of one's own organisation and for no others."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from inspections import models as records
from inspections.models import Run
from tests import people
from tests.admin.conftest import desk, everything, person
from tests.client import Api

INSIDE_OTHERS = {
    records.Segment,
    records.Feature,
    records.Defect,
    records.UnseenStretch,
    records.Clip,
    records.SiteBoundary,
    records.SiteDepth,
    records.SiteSurface,
    records.ImportedObservation,
    records.LateralDifference,
    records.PersonalValue,  # in the entries of the trail
}


def pages() -> list[type[Any]]:
    """Return every kind of record that has pages."""
    return [model for model in admin.site._registry if model._meta.app_label == "inspections"]


def address(model: type[Any], page: str, *args: Any) -> str:
    """Return the address of a page of a kind of record."""
    return reverse(f"admin:inspections_{model._meta.model_name}_{page}", args=args)


def test_every_kind_of_record_has_a_page_or_stands_in_one() -> None:
    assert set(apps.get_app_config("inspections").get_models()) == set(pages()) | INSIDE_OTHERS


def test_every_list_page_and_history_opens_for_an_administrator(
    works: None, api: Api, firm: people.Firm, administrator: Client
) -> None:
    everything(api)
    for model in set(pages()) - {records.AuditHead}:
        listed = administrator.get(address(model, "changelist"))
        assert listed.status_code == 200, model
        rows = list(listed.context["cl"].result_list)
        assert rows, f"nothing listed of {model}"
        for row in rows[:3]:
            for page in ("change", "history"):
                assert administrator.get(address(model, page, row.pk)).status_code == 200, (model, page)


def test_every_list_can_be_searched_and_filtered(works: None, api: Api, administrator: Client) -> None:
    everything(api)
    for model in set(pages()) - {records.AuditHead}:
        assert administrator.get(address(model, "changelist"), {"q": "Millrace 'x"}).status_code == 200, model
        assert administrator.get(address(model, "changelist"), {"q": "\x00"}).status_code == 200, model


def test_records_of_another_organisation_are_neither_listed_nor_opened(
    works: None, rival_api: Api, administrator: Client
) -> None:
    everything(rival_api)
    rivals = people.Organisation.objects.get(name="Birch Hollow Pipe Works")
    for model in set(pages()) - {records.AuditHead, records.Organisation, records.User}:
        theirs = model._default_manager.filter(organisation=rivals).first()
        assert theirs is not None, model
        listed = administrator.get(address(model, "changelist")).context["cl"].result_list
        assert theirs not in list(listed), model
        for page in ("change", "history"):
            answer = administrator.get(address(model, page, theirs.pk))
            assert (answer.status_code, answer.headers.get("Location")) == (302, "/admin/"), (model, page)


def test_another_organisations_drawing_report_and_review_do_not_exist(
    works: None, rival_api: Api, administrator: Client
) -> None:
    lateral = everything(rival_api)
    run = Run.objects.filter(state="submitted").get()
    for name, key in (("lateral_report", lateral), ("lateral_drawing", lateral), ("run_review", run)):
        assert administrator.get(reverse(f"admin:{name}", args=[key.pk])).status_code == 404, name


def test_a_superuser_of_no_organisation_sees_all(works: None, api: Api, rival_api: Api) -> None:
    everything(api)
    everything(rival_api)
    above = desk(person(None, "administrator", "warden", is_superuser=True))
    for model in pages():
        listed = above.get(address(model, "changelist"))
        assert listed.status_code == 200, model
    jobs = above.get(address(records.Job, "changelist")).context["cl"].result_list
    assert len({job.organisation_id for job in jobs}) == 2


def test_somebody_of_no_organisation_sees_nothing(works: None, api: Api) -> None:
    everything(api)
    stray = desk(person(None, "administrator", "stray"))
    for model in set(pages()) - {records.AuditHead}:
        assert not list(stray.get(address(model, "changelist")).context["cl"].result_list), model


@pytest.mark.parametrize("page", ["/admin/", "/admin/desk/", "/admin/inspections/job/"])
def test_who_is_not_signed_in_is_asked_to(db: None, page: str) -> None:
    answer = Client().get(page)
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/admin/login/")
