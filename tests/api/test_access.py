"""Every address, verb and scope, read from the list of addresses: one that is not in the table here fails."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator
from typing import Any, Final

import pytest
from django.test import Client

from inspections.api.shapes import examples
from inspections.api.urls import urlpatterns
from inspections.models import Closing, RepairScope
from inspections.vocabulary import SCOPES
from tests import builders, people
from tests.api.answers import job_of, nothing_changes, read, refused, sealed_of
from tests.api.test_code_maps import ALDER
from tests.client import Api

PUBLIC: Final = "nothing"
ANY: Final = "any token"
R, J, W, S, A, ADMIN = "records:read", "jobs:write", "runs:write", "repair-scopes:write", "audit:read", "admin"
_RECORD: Final = {"get": R, "put": J, "patch": J, "delete": J}
_VERSIONS: Final = {"get": R, "post": ADMIN}

_WITH_HISTORY: Final = (
    *("jobs", "runs", "laterals", "repair-scopes", "customers", "properties", "access-points"),
    *("grading-schemes", "rate-books", "rule-sets", "report-links"),
)

# What each verb of each address needs.
NEEDED: Final[dict[str, dict[str, str]]] = {
    "": {"get": PUBLIC},
    "openapi.json": {"get": PUBLIC},
    "docs": {"get": PUBLIC},
    "problems/<str:code>": {"get": PUBLIC},
    "jobs": {"get": R, "post": J},
    "jobs/<str:id>": {"get": R, "put": J, "patch": J},
    "inspectors": {"get": R},
    "runs": {"get": R, "post": W},
    "runs/<str:id>": {"get": R, "put": W, "patch": W, "delete": W},
    "runs/<str:id>/submit": {"post": W},
    "runs/<str:id>/accept": {"post": A},
    "runs/<str:id>/return": {"post": A},
    "runs/<str:id>/amendments": {"get": R, "post": W},
    "runs/<str:id>/grading": {"get": R},
    "runs/<str:id>/gradings": {"get": R},
    "runs/<str:id>/imported-observations": {"get": R},
    "recomputations": {"get": R, "post": ADMIN},
    "recomputations/<str:id>": {"get": R},
    "recomputations/<str:id>/differences": {"get": R},
    "imports": {"get": R, "post": W},
    **{f"imports/{name}": {"post": J} for name in ("customers", "properties", "access-points", "jobs")},
    "imports/runs": {"post": W},
    "imports/<str:id>": {"get": R},
    "calculations": {"get": R},
    "calculations/<str:id>": {"get": R},
    "calculations/<str:id>/again": {"post": W},
    "laterals": {"get": R},
    "laterals/<str:id>": {"get": R},
    "laterals/<str:id>/gradings": {"get": R},
    "laterals/<str:id>/comparison": {"get": R},
    "laterals/<str:id>/match-decisions": {"get": R, "post": W},
    "laterals/<str:id>/match-decisions/<str:decision>": {"get": R, "delete": W},
    "laterals/<str:id>/site": {"get": R, "put": S, "patch": S},
    "laterals/<str:id>/repair-scopes": {"get": R, "post": S},
    "laterals/<str:id>/report": {"get": R},
    "repair-scopes": {"get": R},
    "laterals/<str:id>/report-links": {"get": R, "post": J},
    "report-links/<str:id>": {"get": R},
    "report-links/<str:id>/revoke": {"post": J},
    "repair-scopes/<str:id>": {"get": R},
    "repair-scopes/<str:id>/bids": {"get": R, "post": S},
    "repair-scopes/<str:id>/bids/<str:bid>": {"get": R, "put": S, "patch": S},
    "repair-scopes/<str:id>/bids/<str:bid>/withdraw": {"post": S},
    "repair-scopes/<str:id>/bids/<str:bid>/history": {"get": R},
    "repair-scopes/<str:id>/bid-comparison": {"get": R},
    "repair-scopes/<str:id>/closings": {"get": R, "post": S},
    "closings/<str:id>": {"get": R},
    "closings/<str:id>/history": {"get": R},
    **{f"checks/{name}": {"post": R} for name in ("trench", "liner", "drain", "air-test", "water-test", "spoil")},
    **{name: {"get": R, "post": J} for name in ("customers", "properties", "access-points")},
    **{f"{name}/<str:id>": _RECORD for name in ("customers", "properties", "access-points")},
    **dict.fromkeys(("grading-schemes", "rate-books", "rule-sets"), _VERSIONS),
    **{f"{name}/<str:id>": {"get": R} for name in ("grading-schemes", "rate-books", "rule-sets")},
    "code-maps": _VERSIONS,
    "code-maps/<str:id>": {"get": R},
    "code-maps/<str:id>/to-external": {"post": R},
    "code-maps/<str:id>/from-external": {"post": R},
    "batches": {"post": ANY},
    "customers/<str:id>/erase": {"post": ADMIN},
    "properties.geojson": {"get": R},
    "access-points.geojson": {"get": R},
    "exports/<str:name>": {"get": R},
    "events": {"get": R},
    "subscriptions": {"get": ADMIN, "post": ADMIN},
    "subscriptions/<str:id>": {"get": ADMIN, "put": ADMIN, "patch": ADMIN, "delete": ADMIN},
    "subscriptions/<str:id>/rotate-secret": {"post": ADMIN},
    "subscriptions/<str:id>/test": {"post": ADMIN},
    "deliveries": {"get": ADMIN},
    "deliveries/<str:id>": {"get": ADMIN},
    "deliveries/<str:id>/replay": {"post": ADMIN},
    "tokens": {"get": ADMIN, "post": ADMIN},
    "tokens/<str:id>": {"get": ADMIN},
    "tokens/<str:id>/revoke": {"post": ADMIN},
    "audit-entries": {"get": A},
    "audit-entries/export": {"get": A},
    **{f"{name}/<str:id>/history": {"get": R} for name in _WITH_HISTORY},
    **{f"{name}/<str:id>/history": {"get": ADMIN} for name in ("subscriptions", "tokens")},
}


def addresses() -> Iterator[tuple[str, str]]:
    """Yield every address with every verb it answers, as the service knows them."""
    for pattern in urlpatterns:
        view = pattern.callback.cls
        for verb in ("get", "post", "put", "patch", "delete"):
            if hasattr(view, verb):
                yield str(pattern.pattern), verb


def needed(address: str, verb: str) -> str:
    return NEEDED[address][verb]


def path_of(address: str, id: str) -> str:
    return "/" + re.sub(r"<str:\w+>", id, address)


def ask(api: Api, verb: str, path: str, body: Any = None) -> Any:
    """Send a request, by default an empty one."""
    if verb == "get":
        answer = api.get(path)
        if answer.streaming:
            list(answer.streaming_content)  # type: ignore[attr-defined] # read to its end, as a client does
        return answer
    if verb == "delete":
        return api.delete(f"{path}?reason=mistake" if "match-decisions" in path else path, **{"If-Match": "*"})
    if verb == "post":
        return api.post(path, body or {})
    return {"put": api.put, "patch": api.patch}[verb](path, body or {}, **{"If-Match": "*"})


def ask_of_nobody(api: Api, address: str, verb: str) -> Any:
    """Ask for an id that nobody has."""
    return ask(api, verb, path_of(address, str(uuid.uuid4())))


def test_the_table_names_every_address_and_no_other() -> None:
    known = {(address, verb) for address, verbs in NEEDED.items() for verb in verbs}
    assert set(addresses()) == known


def test_nothing_but_the_public_pages_opens_without_a_token(firm: people.Firm) -> None:
    api = Api("")
    api.http = Client()
    for address, verb in addresses():
        answer = ask_of_nobody(api, address, verb)
        if needed(address, verb) == PUBLIC:
            assert answer.status_code in (200, 404), (address, verb, answer.status_code)
        else:
            problem = json.loads(answer.content)
            assert (answer.status_code, problem["code"]) == (401, "not_signed_in"), (address, verb)
            assert answer.headers["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.parametrize("scope", SCOPES)
def test_a_token_with_one_scope_opens_what_needs_it_and_nothing_else(firm: people.Firm, scope: str) -> None:
    api = Api(firm.token(scope))
    for address, verb in addresses():
        need = needed(address, verb)
        answer = ask_of_nobody(api, address, verb)
        is_open = need in (PUBLIC, ANY, scope) or scope == ADMIN
        shown = (address, verb, scope, answer.status_code)
        assert answer.status_code != 401, shown
        assert (answer.status_code == 403) is not is_open, shown
        assert answer.status_code < 500, shown


def test_all_scopes_but_the_needed_one_do_not_open_it(firm: people.Firm) -> None:
    for scope in SCOPES:
        others = [one for one in SCOPES if one not in (scope, ADMIN)]
        api = Api(firm.token(*others))
        for address, verb in addresses():
            if needed(address, verb) == scope:
                refused(ask_of_nobody(api, address, verb), 403, "scope_missing")


# --- another organisation's records -------------------------------------------------------------

_POLICY: Final = {"policy": {"fix_from_grade": 3}}
_URL: Final = {"url": "https://hooks.example.com/", "event_types": ["*"]}


def bodies(own: dict[str, str]) -> dict[tuple[str, str], Any]:
    """Return what each writing address takes, where an empty object would be refused for itself."""
    point = {"property": own["properties"], "units": "us", "kind": "clean_out", "label": "x"}
    finding = {"run": own["runs"], "ref": "a"}
    match = {"action": "pin", "reason": "the same root", "a": finding, "b": {**finding, "ref": "b"}}
    return {
        ("jobs/<str:id>", "put"): builders.job(external_ref="other"),
        ("runs/<str:id>", "put"): builders.run(own["jobs"]),
        ("runs/<str:id>/return", "post"): {"reasons": ["too dark"]},
        ("runs/<str:id>/amendments", "post"): {"reason": "mistyped", "changes": {"inspector": "Hazel Brook"}},
        ("laterals/<str:id>/match-decisions", "post"): match,
        ("laterals/<str:id>/site", "put"): builders.site(),
        ("laterals/<str:id>/repair-scopes", "post"): _POLICY,
        ("customers/<str:id>/erase", "post"): {"reason": "asked for by the customer"},
        ("repair-scopes/<str:id>/bids", "post"): examples.BID,
        ("repair-scopes/<str:id>/bids/<str:bid>", "put"): examples.BID,
        ("repair-scopes/<str:id>/closings", "post"): examples.CLOSING,
        ("repair-scopes/<str:id>/bids/<str:bid>/withdraw", "post"): {"reason": "a mistake in our sums"},
        ("customers/<str:id>", "put"): {"name": "Rowan Ashby", "kind": "household"},
        ("properties/<str:id>", "put"): {
            "address": {"line1": "1 Weir Row", "locality": "Alder Falls", "country": "US"}
        },
        ("access-points/<str:id>", "put"): point,
        ("subscriptions/<str:id>", "put"): _URL,
        ("code-maps/<str:id>/to-external", "post"): {"units": "us"},
        ("code-maps/<str:id>/from-external", "post"): {"findings": [{"code": "K1"}]},
    }


def records_of(api: Api, admin: Api) -> dict[str, str]:
    """Have one record of each kind made and return their ids by their addresses."""
    job = job_of(api)
    run = sealed_of(api, job)
    lateral = job["property"]["laterals"][0]["id"]
    scope = read(api.post(f"/laterals/{lateral}/repair-scopes", _POLICY), 202)
    subscription = read(admin.post("/subscriptions", _URL), 201)
    read(admin.post(f"/subscriptions/{subscription['id']}/test"), 202)
    point = {"property": job["property"]["id"], "units": "us", "kind": "clean_out", "label": "front"}
    of = RepairScope.objects.get(pk=scope["id"])
    said = {"plan": "least_cost", "closed_on": "2027-06-02", "units": "us", "written": "{}"}
    closing = Closing.objects.create(organisation=of.organisation, repair_scope=of, **said)
    api._send("POST", "/imports", "{}", {"Idempotency-Key": "rows"}, media="application/x-ndjson")
    return {
        "jobs": job["id"],
        "runs": run["id"],
        "calculations": scope["calculation"]["id"],
        "laterals": lateral,
        "repair-scopes": scope["id"],
        "report-links": read(api.post(f"/laterals/{lateral}/report-links", {}), 201)["id"],
        "closings": str(closing.pk),
        "customers": job["customer"]["id"],
        "properties": job["property"]["id"],
        "access-points": read(api.post("/access-points", point), 201)["id"],
        "code-maps": read(admin.post("/code-maps", {"document": ALDER}), 201)["id"],
        "recomputations": read(admin.post("/recomputations", {"scheme": "open-five"}), 202)["id"],
        "subscriptions": subscription["id"],
        "deliveries": read(admin.get("/deliveries"))["items"][0]["id"],
        **{
            name: read(admin.get(f"/{name}"))["items"][0]["id"]
            for name in ("grading-schemes", "rate-books", "rule-sets", "tokens", "imports")
        },
    }


def test_another_organisations_record_is_not_there_at_any_address(
    api: Api, firm: people.Firm, rival_api: Api, rival: people.Firm, rung: list[str]
) -> None:
    admin = Api(firm.token("admin"))
    own = records_of(api, admin)
    theirs = records_of(rival_api, Api(rival.token("admin")))
    sent = bodies(own)
    for address, verb in addresses():
        if "<str:id>" not in address:
            continue
        path = path_of(address, theirs[address.split("/")[0]])
        with nothing_changes():
            answer = ask(admin, verb, path, sent.get((address, verb)))
        shown = (address, verb, answer.content[:300])
        assert (answer.status_code, json.loads(answer.content)["code"]) == (404, "not_found"), shown


def test_another_organisations_records_are_in_no_list(
    api: Api, firm: people.Firm, rival_api: Api, rival: people.Firm, rung: list[str]
) -> None:
    theirs = set(records_of(rival_api, Api(rival.token("admin"))).values())
    admin = Api(firm.token("admin"))
    for address, verb in addresses():
        if verb == "get" and "<" not in address and needed(address, verb) != PUBLIC:
            answer = admin.get(f"/{address}")
            parts = answer.streaming_content if answer.streaming else [answer.content]  # type: ignore[attr-defined]
            shown = b"".join(parts).decode()
            assert not [id for id in theirs if id in shown], address
