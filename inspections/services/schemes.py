"""Which schemes grade: the default, and the newest version of every other scheme."""

import uuid
from functools import lru_cache

from inspections import exact_json
from inspections.models import GradingScheme
from scoring import grading
from scoring.grading import Scheme


def default_scheme(organisation_id: uuid.UUID) -> GradingScheme:
    """Return the scheme that grades what nobody asked another scheme for."""
    return GradingScheme.objects.get(organisation_id=organisation_id, is_default=True)


def current_schemes(organisation_id: uuid.UUID) -> tuple[GradingScheme, ...]:
    """Return the default scheme and the newest version of each code, the default first, then by code."""
    rows = list(GradingScheme.objects.filter(organisation_id=organisation_id).order_by("code", "version"))
    newest = {row.code: row for row in rows}
    default = next(row for row in rows if row.is_default)
    return (default, *(row for row in newest.values() if row.pk != default.pk))


def loaded(row: GradingScheme) -> Scheme:
    """Return a scheme as scoring applies it; a version never changes, so it is checked once a process."""
    return _loaded(row.document)


@lru_cache(maxsize=64)
def _loaded(document: str) -> Scheme:
    return grading.load_scheme(exact_json.load(document), is_kept=True)
