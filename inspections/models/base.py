"""What every record has: an id a client may choose, its owner, the caller's own key, a revision."""

import uuid
from collections.abc import Iterable

from django.db import models
from django.db.models import Q

from inspections.vocabulary import Values


def one_of(field: str, values: Values, *, name: str) -> models.CheckConstraint:
    """Return a constraint that holds a column to a closed list; NULL stays allowed where the column allows it."""
    return models.CheckConstraint(condition=Q(**{f"{field}__in": sorted(values)}) | Q(**{f"{field}": None}), name=name)


def choices(values: Values) -> list[tuple[str, str]]:
    """Return a closed list as choices for forms: the words of the value itself."""
    return [(value, value.replace("_", " ")) for value in values]


class LengthField(models.DecimalField):  # type: ignore[type-arg] # generic only in the stubs
    """A length or station in metres, to 10 nm; the as-written text stands beside it."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        kwargs |= {"max_digits": 15, "decimal_places": 8}
        super().__init__(*args, **kwargs)  # type: ignore[arg-type] # options pass through


class SizeField(models.DecimalField):  # type: ignore[type-arg] # generic only in the stubs
    """A size across the pipe, a gap or a thickness in millimetres; also percents."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        kwargs |= {"max_digits": 14, "decimal_places": 6}
        super().__init__(*args, **kwargs)  # type: ignore[arg-type] # options pass through


class Owned(models.Model):
    """Belongs to one organisation; every query starts from there."""

    organisation = models.ForeignKey("inspections.Organisation", on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True


class Record(Owned):
    """A resource of the API."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    source = models.CharField(max_length=100, default="", blank=True, editable=False)
    external_ref = models.CharField(max_length=200, null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)
    revision = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True

    @staticmethod
    def constraints_for(name: str) -> list[models.BaseConstraint]:
        """Return the constraints each kind of record repeats under its own name."""
        return [
            models.UniqueConstraint(
                fields=["organisation", "source", "external_ref"],
                condition=Q(external_ref__isnull=False),
                name=f"{name}_ref_once_per_source",
            )
        ]

    @staticmethod
    def indexes_for(name: str) -> Iterable[models.Index]:
        """Return the index that keyset pages walk: newest last, ties broken by the key."""
        return [models.Index(fields=["organisation", "created_at", "id"], name=f"{name}_page")]
