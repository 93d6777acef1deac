"""What every check has in common: its inputs, its results, its name."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from typing import Any, Final

from scoring.checks.fields import Field, Rule
from scoring.checks.measures import Measure, unit_of
from scoring.checks.reading import values_from

RULES: Final = "checks/1"

DECISION_AID: Final = "A decision aid: local code, the sewer authority and licensed plumbers and engineers decide."


@dataclass(frozen=True, slots=True)
class Check:
    """One engineering check: a name, the inputs it reads, the function that computes it.

    `result_measures` names the measure of each numeric result, so that every result has its unit.
    """

    name: str
    title: str
    fields: tuple[Field, ...]
    rules: tuple[Rule, ...]
    inputs_type: Callable[..., Any]
    results_type: type[Any]
    result_measures: Mapping[str, Measure]
    compute: Callable[[Any], Any]
    example: Mapping[str, Any]

    def inputs_from(self, document: Mapping[str, Any]) -> Any:
        """Return the inputs read from a document. Raises `CheckInputInvalid` with all faults."""
        return self.inputs_type(**values_from(document, self.fields, self.rules))

    def run(self, document: Mapping[str, Any]) -> dict[str, Any]:
        """Return the results for a document as a document. Raises `CheckInputInvalid`."""
        inputs = self.inputs_from(document)
        units = inputs.units
        written = {"check": self.name, "rules": RULES, "units": units, **as_document(self.compute(inputs))}
        written["result_units"] = {name: unit_of(measure, units) for name, measure in self.result_measures.items()}
        return written


def as_document(value: Any) -> Any:
    """Return results as plain mappings and lists; numbers stay `Decimal`, whole ones `int`."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: as_document(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [as_document(entry) for entry in value]
    if value is None or isinstance(value, str | bool | int | Decimal):
        return value
    raise TypeError(f"{type(value).__name__} has no place in the results of a check")
