"""PostgreSQL itself refuses a reference to another organisation's record, whatever the services do."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from inspections.models import Customer, Job, Property, Run
from tests import people
from tests.api.answers import job_of, sealed_of
from tests.client import Api

pytestmark = pytest.mark.postgresql  # SQLite serves one machine; see the migration


def references() -> list[tuple[str, str]]:
    """Return table and column of each reference between two kinds of records that belong to somebody."""
    found = []
    for model in apps.get_app_config("inspections").get_models():
        fields = {field.name: field for field in model._meta.concrete_fields}
        for name, field in fields.items() if "organisation" in fields else ():
            to: Any = field.related_model
            if name != "organisation" and to is not None and "organisation" in {one.name for one in to._meta.fields}:
                found.append((model._meta.db_table, str(field.column)))
    return found


@pytest.mark.django_db
def test_every_reference_between_owned_records_is_held() -> None:
    with connection.cursor() as cursor:
        named = "tgname LIKE 'hold_organisation_%'"
        cursor.execute(f"SELECT tgrelid::regclass::text, substr(tgname, 19) FROM pg_trigger WHERE {named}")
        held = set(cursor.fetchall())
    missing = set(references()) - held
    assert missing == set(), "make triggers for them in a migration, as 0011 does"


def test_no_record_is_moved_to_what_belongs_to_others(
    api: Api, rival_api: Api, firm: people.Firm, rival: people.Firm, rung: list[str]
) -> None:
    own, theirs = sealed_of(api), sealed_of(rival_api)
    mine = Job.objects.filter(organisation=firm.organisation)
    changes: list[tuple[Any, dict[str, Any]]] = [
        (mine, {"customer": Customer.objects.get(organisation=rival.organisation).pk}),
        (mine, {"property": Property.objects.get(organisation=rival.organisation).pk}),
        (Run.objects.filter(pk=own["id"]), {"job": theirs["job"]}),
        (Run.objects.filter(pk=own["id"]), {"lateral": theirs["lateral"]}),
        (Run.objects.filter(pk=own["id"]), {"organisation": rival.organisation}),
    ]
    for rows, change in changes:
        with pytest.raises(IntegrityError, match="another organisation"), transaction.atomic():
            rows.update(**change)


def test_what_belongs_together_is_written_as_ever(api: Api) -> None:
    job_of(api)
    assert Job.objects.count() == 1
