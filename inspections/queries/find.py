"""Restrict, then find: a record of another organisation is a record that does not exist."""

import uuid
from typing import Any, TypeVar

from django.db import models

from inspections.errors import NotFound
from inspections.models import Organisation

M = TypeVar("M", bound=models.Model)


def one(model: type[M], organisation: Organisation, id: uuid.UUID | str, *, lock: bool = False) -> M:
    """Return one record of the organisation. Raises NotFound. With `lock`, nobody else changes it meanwhile."""
    rows: Any = model._default_manager.filter(organisation=organisation)
    # no_key: rows that refer to this one may be added meanwhile; whoever adds them would else wait crosswise.
    found: M = among(rows.select_for_update(of=("self",), no_key=True) if lock else rows, id)
    return found


def among(rows: models.QuerySet[M], id: uuid.UUID | str) -> M:
    """Return one of rows that are restricted already. Raises NotFound."""
    row = rows.filter(pk=id).first()
    if row is None:
        raise NotFound(f"There is no such {rows.model._meta.verbose_name} here; check the id.")
    return row
