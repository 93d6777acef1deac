"""Versioned data: what results are computed with, and what other people's codes mean."""

from django.db import models

from inspections.models.base import Record


class Versioned(Record):
    """A document with a code and a version; a version that was used never changes."""

    code = models.CharField(max_length=100)
    version = models.PositiveIntegerField(default=1)
    title = models.CharField(max_length=200)
    document = models.TextField(help_text="the whole document, JSON")
    is_default = models.BooleanField(default=False)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.code} version {self.version}"

    @staticmethod
    def version_constraints_for(name: str) -> list[models.BaseConstraint]:
        """Return the constraints of versioned data: one row a version, one default an organisation."""
        return [
            *Record.constraints_for(name),
            models.UniqueConstraint(fields=["organisation", "code", "version"], name=f"{name}_version_once"),
            models.UniqueConstraint(
                fields=["organisation"], condition=models.Q(is_default=True), name=f"{name}_one_default"
            ),
        ]


class GradingScheme(Versioned):
    """From findings to grades."""

    class Meta:
        constraints = Versioned.version_constraints_for("grading_scheme")
        indexes = [*Record.indexes_for("grading_scheme")]


class RateBook(Versioned):
    """Unit prices."""

    class Meta:
        constraints = Versioned.version_constraints_for("rate_book")
        indexes = [*Record.indexes_for("rate_book")]


class RuleSet(Versioned):
    """What one jurisdiction or programme demands."""

    class Meta:
        constraints = Versioned.version_constraints_for("rule_set")
        indexes = [*Record.indexes_for("rule_set")]


class CodeMap(Versioned):
    """What a customer's own codes mean, both ways."""

    class Meta:
        constraints = Versioned.version_constraints_for("code_map")
        indexes = [*Record.indexes_for("code_map")]
