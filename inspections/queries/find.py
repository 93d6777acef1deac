"""Restrict, then find: a record of another organisation is a record that does not exist."""

import uuid
from functools import cache
from typing import Any, TypeVar

from django.db import models

from inspections.errors import NotFound
from inspections.models import Organisation
from inspections.queries.prepared import SAMPLE_IDS, Prepared, columns, made

M = TypeVar("M", bound=models.Model)


def one(model: type[M], organisation: Organisation, id: uuid.UUID | str, *, lock: bool = False) -> M:
    """Return one record of the organisation. Raises NotFound. With `lock`, nobody else changes it meanwhile."""
    found = _by_id(model, lock)(organisation.pk, id if isinstance(id, uuid.UUID) else uuid.UUID(id))
    if not found:
        raise _nothing(model)
    return made(model, found[0])


def among(rows: models.QuerySet[M], id: uuid.UUID | str) -> M:
    """Return one of rows that are restricted already. Raises NotFound."""
    row = rows.filter(pk=id).first()
    if row is None:
        raise _nothing(rows.model)
    return row


def _nothing(model: type[models.Model]) -> NotFound:
    return NotFound(f"There is no such {model._meta.verbose_name} here; check the id.")


@cache
def _by_id(model: type[models.Model], lock: bool) -> Prepared:
    def rows(organisation: uuid.UUID, id: uuid.UUID) -> Any:
        found = model._default_manager.filter(organisation=organisation, pk=id).values_list(*columns(model))
        # no_key: rows that refer to this one may be added meanwhile; whoever adds them would else wait crosswise.
        return found.select_for_update(no_key=True) if lock else found

    return Prepared(rows, *SAMPLE_IDS)
