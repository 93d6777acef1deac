"""The largest and smallest number every field takes is kept by its column, on either database."""

from __future__ import annotations

import copy
import itertools
import json
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from rest_framework import serializers

from inspections.api.fields import Number
from inspections.api.shapes.access_point import AccessPointShape
from inspections.api.shapes.job import JobShape
from inspections.api.shapes.lateral import ScopeRequest, SiteShape
from inspections.api.shapes.property import OwnedProperty
from inspections.api.shapes.run import RunShape
from tests import builders
from tests.api.answers import job_of, read, sealed_of
from tests.client import Api

Path = tuple[str | int, ...]


def numbers(shape: Any, path: Path = ()) -> Iterator[tuple[Path, Number]]:
    """Yield every number of a shape, of lists the first entry."""
    for name, field in shape.fields.items():
        if isinstance(field, Number):
            yield (*path, name), field
        elif isinstance(field, serializers.ListField) and hasattr(field.child, "fields"):
            yield from numbers(field.child, (*path, name, 0))
        elif isinstance(field, serializers.Serializer):
            yield from numbers(field, (*path, name))


def put(document: Any, path: Path, value: Any) -> Any:
    """Return the document with a value at a path, its parents made where they are missing."""
    whole = copy.deepcopy(document)
    place = whole
    for step, following in itertools.pairwise(path):
        empty: Any = [{}] if following == 0 else {}
        if isinstance(place, dict) and not place.get(step):
            place[step] = empty
        place = place[step]
    place[path[-1]] = value
    return whole


def bodies(api: Api) -> dict[str, tuple[Any, Any]]:
    """Return every shape with numbers, and a sound document of it."""
    job = job_of(api)
    point = {"property": job["property"]["id"], "units": "us", "kind": "clean_out"}
    point |= {"ties": [{"to": "house corner", "distance": 1}], "location": {"lat": 1, "lon": 1}}
    place = {"address": {"line1": "9 Sluice Street"}, "location": {"lat": 1, "lon": 1}}
    run = {**builders.run(job["id"]), "clips": [{"uri": "https://clips.example/1"}]}
    return {
        "/jobs": (JobShape(), builders.job(property={**builders.job()["property"], "location": {"lat": 1, "lon": 1}})),
        "/runs": (RunShape(), run),
        "/properties": (OwnedProperty(), place),
        "/access-points": (AccessPointShape(), point),
    }


@pytest.mark.parametrize("units", ["us", "si"])
def test_the_ends_of_every_range_are_kept_or_refused_by_name(api: Api, units: str) -> None:
    tried = 0
    for address, (shape, sound) in bodies(api).items():
        for number, (path, field) in enumerate(numbers(shape)):
            for end in (field.least, field.most, field.above):
                if end is None:
                    continue
                fine = end + Decimal("0.0000000000001") if abs(end) < 1000 and end == field.least else end
                for value in {end, fine}:
                    body = put(sound, path, float(value))
                    body |= {"units": units} if "units" in body else {}
                    body |= {"external_ref": f"{address}-{number}-{value}"}
                    answer = api.post(address, json.dumps(body))
                    assert answer.status_code in (200, 201, 400, 422), (address, path, value, answer.content)
                    if answer.status_code >= 400:
                        assert read(answer, answer.status_code)["errors"], (address, path, value)
                    tried += 1
    assert tried > 60


def test_the_ends_of_the_ground_and_of_a_policy_too(api: Api, rung: list[str]) -> None:
    lateral = sealed_of(api)["lateral"]
    for path, field in numbers(SiteShape()):
        for end in (field.least, field.most):
            answer = api.put(
                f"/laterals/{lateral}/site", put(builders.site(), path, float(end or 0)), **{"If-Match": "*"}
            )
            assert answer.status_code in (200, 400, 422), (path, answer.content)
    for path, field in numbers(ScopeRequest()):
        for end in (field.least, field.most):
            asked = put({"policy": {"fix_from_grade": 3}}, path, int(end or 0))
            answer = api.post(f"/laterals/{lateral}/repair-scopes", asked)
            assert answer.status_code in (202, 400, 422), (path, answer.content)
