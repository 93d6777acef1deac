"""Jobs: asked for once, however often they are sent; changed only by those who saw them."""

from __future__ import annotations

import uuid

from inspections.models import Customer, Job, Lateral, Property
from tests import builders, people
from tests.api.answers import fault_codes, job_of, nothing_changes, read, refused
from tests.client import Api


def test_a_job_makes_its_customer_and_its_property_with_one_lateral(api: Api) -> None:
    response = api.post("/jobs", builders.job())
    job = read(response, 201)
    assert response.headers["Location"] == f"/api/v1/jobs/{job['id']}"
    assert response.headers["ETag"] == f'"{job["revision"]}"'
    assert (job["state"], job["purpose"], job["external_ref"]) == ("requested", "backup", "AF-1001")
    assert job["customer"]["name"] == "Rowan Ashby" and job["customer"]["external_ref"] == "C-77"
    assert job["property"]["address"]["line1"] == "12 Millrace Lane"
    assert len(job["property"]["laterals"]) == 1
    assert job["window"] == builders.job()["window"]


def test_a_job_read_again_is_the_job_that_was_answered(api: Api) -> None:
    job = job_of(api)
    assert read(api.get(f"/jobs/{job['id']}")) == job


def test_the_same_reference_with_equal_content_is_the_same_job(api: Api) -> None:
    job = job_of(api)
    with nothing_changes(but=("KeptAnswer",)):
        assert read(api.post("/jobs", builders.job()))["id"] == job["id"]


def test_the_same_reference_with_other_content_is_refused(api: Api) -> None:
    job_of(api)
    with nothing_changes():
        refused(api.post("/jobs", builders.job(purpose="purchase")), 409, "external_ref_taken")


def test_another_client_of_the_firm_has_references_of_its_own(api: Api, firm: people.Firm) -> None:
    job = job_of(api)
    other = Api(firm.token(client="field"))
    assert read(other.post("/jobs", builders.job()), 201)["id"] != job["id"]


def test_a_second_job_finds_customer_and_property_by_reference(api: Api) -> None:
    first, second = job_of(api), job_of(api, external_ref="AF-1002")
    assert second["customer"]["id"] == first["customer"]["id"]
    assert second["property"]["id"] == first["property"]["id"]
    assert (Customer.objects.count(), Property.objects.count(), Lateral.objects.count()) == (1, 1, 1)


def test_a_job_names_customer_and_property_that_are_here_by_id(api: Api) -> None:
    first = job_of(api)
    body = builders.job(external_ref="AF-1002", customer_id=first["customer"]["id"])
    body["property_id"] = first["property"]["id"]
    del body["customer"], body["property"]
    second = read(api.post("/jobs", body), 201)
    assert second["property"] == first["property"]


def test_neither_or_both_ways_of_naming_a_property_are_refused(api: Api) -> None:
    job = job_of(api)
    none = builders.job(external_ref="AF-2", property=None, customer=None)
    both = builders.job(external_ref="AF-3", property_id=job["property"]["id"])
    with nothing_changes():
        problem = refused(api.post("/jobs", none), 422, "invalid", "/property", "/customer")
        assert set(fault_codes(problem).values()) == {"required"}
        refused(api.post("/jobs", both), 422, "invalid", "/property_id")


def test_a_customer_of_nobody_here_is_refused_by_its_place(api: Api) -> None:
    body = builders.job(customer=None, customer_id=str(uuid.uuid4()))
    with nothing_changes():
        refused(api.post("/jobs", body), 422, "invalid", "/customer_id")


def test_all_that_is_missing_is_named_at_once(api: Api) -> None:
    with nothing_changes():
        problem = refused(api.post("/jobs", {}), 422, "invalid", "/external_ref", "/purpose", "/customer", "/property")
    assert len(problem["errors"]) == 4


def test_a_window_that_ends_before_it_starts_is_refused(api: Api) -> None:
    window = {"start": "2027-03-01T10:00:00-05:00", "end": "2027-03-01T09:00:00-05:00"}
    with nothing_changes():
        refused(api.post("/jobs", builders.job(window=window)), 422, "invalid", "/window/end")


def test_put_makes_a_job_under_the_clients_id(api: Api) -> None:
    id = str(uuid.uuid4())
    assert read(api.put(f"/jobs/{id}", builders.job()), 201)["id"] == id


def test_put_with_equal_content_again_changes_nothing_without_if_match(api: Api) -> None:
    id = str(uuid.uuid4())
    first = read(api.put(f"/jobs/{id}", builders.job()), 201)
    with nothing_changes():
        assert read(api.put(f"/jobs/{id}", builders.job())) == first


def test_put_with_other_content_needs_the_revision_that_was_read(api: Api) -> None:
    job = job_of(api)
    path, other = f"/jobs/{job['id']}", builders.job(instructions="Ring twice.")
    with nothing_changes():
        refused(api.put(path, other), 428, "revision_required")
        refused(api.put(path, other, **{"If-Match": '"7"'}), 412, "revision_stale")
        refused(api.put(path, other, **{"If-Match": f'W/"{job["revision"]}"'}), 412, "revision_stale")
    changed = read(api.put(path, other, **{"If-Match": f'"{job["revision"]}"'}))
    assert (changed["instructions"], changed["revision"]) == ("Ring twice.", job["revision"] + 1)


def test_put_under_a_star_replaces_whatever_is_there(api: Api) -> None:
    job = job_of(api)
    changed = read(api.put(f"/jobs/{job['id']}", builders.job(purpose="routine"), **{"If-Match": "*"}))
    assert changed["purpose"] == "routine"


def test_put_under_a_new_id_with_a_reference_that_is_taken_is_refused(api: Api) -> None:
    job_of(api)
    with nothing_changes():
        refused(api.put(f"/jobs/{uuid.uuid4()}", builders.job()), 409, "external_ref_taken")


def test_a_merge_patch_moves_a_job_and_keeps_the_rest(api: Api) -> None:
    job = job_of(api)
    changed = read(api.patch(f"/jobs/{job['id']}", {"state": "done"}, **{"If-Match": '"1"'}))
    assert changed["state"] == "done"
    assert changed["customer"] == job["customer"] and changed["property"] == job["property"]


def test_a_patch_without_its_revision_is_refused(api: Api) -> None:
    job = job_of(api)
    with nothing_changes():
        refused(api.patch(f"/jobs/{job['id']}", {"state": "done"}), 428, "revision_required")


def test_a_state_that_cannot_be_reached_is_refused_with_the_ways_there_are(api: Api) -> None:
    job = job_of(api)
    read(api.patch(f"/jobs/{job['id']}", {"state": "done"}, **{"If-Match": "*"}))
    with nothing_changes():
        problem = refused(
            api.patch(f"/jobs/{job['id']}", {"state": "requested"}, **{"If-Match": "*"}), 409, "state_not_reachable"
        )
    assert "under_way" in problem["detail"]


def test_an_inspector_nobody_knows_is_refused(api: Api) -> None:
    job = job_of(api)
    with nothing_changes():
        refused(
            api.patch(f"/jobs/{job['id']}", {"inspector": "nobody"}, **{"If-Match": "*"}),
            422,
            "invalid",
            "/inspector",
        )


def test_a_client_that_has_the_job_gets_304(api: Api) -> None:
    job = job_of(api)
    response = api.get(f"/jobs/{job['id']}", **{"If-None-Match": '"1"'})
    assert (response.status_code, response.content, response.headers["ETag"]) == (304, b"", '"1"')
    assert api.get(f"/jobs/{job['id']}", **{"If-None-Match": 'W/"1"'}).status_code == 304
    assert api.get(f"/jobs/{job['id']}", **{"If-None-Match": '"2"'}).status_code == 200


def test_another_firms_job_does_not_exist(api: Api, rival_api: Api) -> None:
    job = job_of(api)
    path = f"/jobs/{job['id']}"
    with nothing_changes():
        refused(rival_api.get(path), 404, "not_found")
        refused(rival_api.put(path, builders.job(), **{"If-Match": "*"}), 404, "not_found")
        refused(rival_api.patch(path, {"state": "done"}, **{"If-Match": "*"}), 404, "not_found")
        assert read(rival_api.get("/jobs"))["items"] == []


def test_another_firms_customer_and_property_cannot_be_named(api: Api, rival_api: Api) -> None:
    job = job_of(api)
    body = builders.job(customer=None, property=None, customer_id=job["customer"]["id"])
    body["property_id"] = job["property"]["id"]
    with nothing_changes():
        refused(rival_api.post("/jobs", body), 422, "invalid", "/customer_id", "/property_id")


def test_jobs_are_listed_by_state_and_reference(api: Api) -> None:
    first, second = job_of(api), job_of(api, external_ref="AF-1002")
    read(api.patch(f"/jobs/{second['id']}", {"state": "called_off"}, **{"If-Match": "*"}))
    assert [one["id"] for one in read(api.get("/jobs?state=requested"))["items"]] == [first["id"]]
    assert [one["id"] for one in read(api.get("/jobs?external_ref=AF-1002"))["items"]] == [second["id"]]
    assert Job.objects.count() == 2
