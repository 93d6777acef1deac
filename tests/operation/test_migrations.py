"""Migrations that the code before them can live with: it runs on while they are applied, and after.

A check of the project's own: what must not happen is short, and each exception is written down with its reason.
"""

from __future__ import annotations

from typing import Any, Final

from django.db import migrations, models
from django.db.migrations.loader import MigrationLoader
from django.db.models import NOT_PROVIDED

# Before the first release nothing was deployed: the first migration and its trigger are no change of anything.
_FIRST: Final = ("0001_initial", "0002_append_only_trail")
# Migrations that break a rule, each with the reason why nobody is hurt.
EXCEPTIONS: Final[dict[str, str]] = {
    "0012_run_keeps_its_whole_document": "Before the first release nothing was deployed that reads or writes the texts"
    " of the entries; they move into their run's own in the same step.",
}


def faults(operation: Any, made_here: set[str]) -> list[str]:
    """Return how an operation hurts code that does not know it yet."""
    kind = type(operation).__name__
    model = str(getattr(operation, "model_name", getattr(operation, "name", ""))).lower()
    if model in made_here:
        return []  # nobody knows this table yet
    if kind in ("RemoveField", "RenameField", "DeleteModel", "RenameModel", "AlterModelTable"):
        return [f"{kind}: the code that runs still reads it; stop using it first, take it away a release later"]
    if kind == "AddField":
        field = operation.field
        if not field.null and field.db_default is NOT_PROVIDED and not field.many_to_many:
            return ["AddField: rows of the code that runs have no value for it; give db_default, or allow null"]
    if kind in ("RunPython", "RunSQL") and not getattr(operation, "reversible", False):
        return [f"{kind}: cannot be taken back; give its reverse, or say with noop that there is none"]
    return []


def of_the_project() -> dict[str, Any]:
    graph = MigrationLoader(None).graph
    return {name: graph.nodes[app, name] for app, name in graph.nodes if app == "inspections" and name not in _FIRST}


def test_no_migration_hurts_the_code_that_runs_while_it_is_applied() -> None:
    found = {}
    for name, migration in of_the_project().items():
        made = {str(one.name).lower() for one in migration.operations if isinstance(one, migrations.CreateModel)}
        wrong = [fault for operation in migration.operations for fault in faults(operation, made)]
        if wrong and name not in EXCEPTIONS:
            found[name] = wrong
    assert found == {}


def test_exceptions_name_migrations_that_are_there_and_say_why() -> None:
    assert set(EXCEPTIONS) <= set(of_the_project())
    assert all(len(reason) > 20 for reason in EXCEPTIONS.values())


def test_the_check_finds_what_it_looks_for() -> None:
    def found(operation: Any) -> bool:
        return bool(faults(operation, set()))

    assert found(migrations.RemoveField("job", "purpose"))
    assert found(migrations.RenameField("job", "purpose", "why"))
    assert found(migrations.AddField("job", "x", models.IntegerField(default=1)))
    assert found(migrations.RunPython(lambda apps, editor: None))
    assert not found(migrations.AddField("job", "x", models.IntegerField(null=True)))
    assert not found(migrations.AddField("job", "x", models.IntegerField(default=1, db_default=1)))
    assert not faults(migrations.AddField("visit", "x", models.IntegerField()), {"visit"})
