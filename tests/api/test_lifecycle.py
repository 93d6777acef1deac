"""An address that ends says so in every answer and in the description, a year ahead."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from drf_spectacular.generators import SchemaGenerator

from inspections.api import jobs
from inspections.api.lifecycle import Retirement
from inspections.api.urls import urlpatterns
from tests import conformance
from tests.api.answers import job_of, read, refused
from tests.client import Api

ENDING = Retirement(datetime(2027, 1, 1, tzinfo=UTC), datetime(2028, 3, 31, 12, tzinfo=UTC), "/api/v2/jobs")


_SAID_OF_AN_END = tuple(f"the document has no header {name} here" for name in ("Deprecation", "Sunset", "Link"))


def test_every_answer_of_an_ending_address_says_when(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs.Jobs, "retires", {"GET": ENDING})
    job_of(api)
    for answer in (api.get("/jobs"), api.get("/jobs?stat=done")):
        # 2027-01-01T00:00:00Z is 1798761600 s after 1970 (57 years of 365 days and 14 leap days: 20819 days).
        assert answer.headers["Deprecation"] == "@1798761600"
        assert answer.headers["Sunset"] == "Fri, 31 Mar 2028 12:00:00 GMT"
        assert answer.headers["Link"] == '</api/v2/jobs>; rel="successor-version"'
    assert "Deprecation" not in api.post("/jobs", {}).headers
    _only_for_this_test()


def test_the_link_to_the_next_page_stays(api: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs.Jobs, "retires", {"GET": ENDING})
    job_of(api)
    job_of(api, external_ref="AF-2")
    answer = api.get("/jobs?limit=1")
    assert answer.headers["Link"] == f'<{read(answer)["next"]}>; rel="next", </api/v2/jobs>; rel="successor-version"'
    _only_for_this_test()


def _only_for_this_test() -> None:
    """The committed document does not say that jobs end: take note of that, and of nothing else."""
    assert all(fault.endswith(_SAID_OF_AN_END) for fault in conformance.taken())


def test_other_addresses_say_nothing(api: Api) -> None:
    assert "Sunset" not in api.get("/runs").headers
    refused(api.get("/runs?stat=done"), 400, "malformed")


def test_less_than_a_years_notice_cannot_be_given() -> None:
    since = datetime(2027, 1, 1, tzinfo=UTC)
    with pytest.raises(ValueError, match="365 days"):
        Retirement(since, since + timedelta(days=364), "/api/v2/jobs")


def test_the_description_marks_what_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs.Jobs, "retires", {"GET": ENDING})
    paths = SchemaGenerator().get_schema(request=None, public=True)["paths"]
    assert paths["/api/v1/jobs"]["get"]["deprecated"] is True
    assert "deprecated" not in paths["/api/v1/jobs"]["post"]


def test_what_ends_is_still_there() -> None:
    for pattern in urlpatterns:
        for verb in getattr(pattern.callback.cls, "retires", {}):
            assert hasattr(pattern.callback.cls, verb.lower())
