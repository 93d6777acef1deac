"""Who can be sent to a job: the people of the own organisation, by the username a job takes."""

from __future__ import annotations

import pytest

from inspections.models import User
from tests import builders
from tests.client import Api
from tests.people import Firm

pytestmark = pytest.mark.django_db


def test_a_dispatcher_program_finds_an_inspector_and_assigns_the_job(api: Api, firm: Firm, rival: Firm) -> None:
    User.objects.create(username="linden", first_name="Linden", organisation=firm.organisation, role="inspector")
    User.objects.create(username="gone", organisation=firm.organisation, role="inspector", is_active=False)
    User.objects.create(username="moss", organisation=rival.organisation, role="inspector")
    assert api.get("/inspectors").json()["items"] == [{"username": "linden", "name": "Linden", "role": "inspector"}]
    job = api.post("/jobs", builders.job()).json()
    change = {"inspector": "linden", "state": "scheduled"}
    assert api.patch(f"/jobs/{job['id']}", change, **{"If-Match": "*"}).json()["inspector"] == "linden"
    refused = api.patch(f"/jobs/{job['id']}", {"inspector": "moss"}, **{"If-Match": "*"})
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "/inspector"
