"""How the inputs of a check are declared.

One tuple of fields per check serves three readers: `run_check` reads a document by it, the inputs' own
dataclass is held to it, and an API describes itself by it. Limits are in US units; a value of exactly a
limit is allowed unless `is_above` says it must be more.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from scoring.checks.faults import Fault
from scoring.checks.measures import Measure, from_us
from scoring.units import Units


@dataclass(frozen=True, slots=True)
class Number:
    """A measured input. `default` None and not required: may be absent."""

    name: str
    measure: Measure
    meaning: str
    minimum: Decimal
    maximum: Decimal
    is_above: bool = False  # the minimum itself is not allowed
    is_required: bool = False
    default: Decimal | None = None
    si_minimum: Decimal | None = None  # where the source rounds its lower limit in SI
    reason: str = ""  # where the limits come from

    def limits(self, units: Units) -> tuple[Decimal, Decimal]:
        """Return the least and the greatest value in `units`."""
        low = from_us(self.minimum, self.measure, units)
        if units == "si" and self.si_minimum is not None:
            low = self.si_minimum
        return low, from_us(self.maximum, self.measure, units)


@dataclass(frozen=True, slots=True)
class Choice:
    """An input that is one of a few words."""

    name: str
    meaning: str
    choices: tuple[str, ...]
    is_required: bool = False
    default: str | None = None


@dataclass(frozen=True, slots=True)
class Whole:
    """An input that is one of a few whole numbers."""

    name: str
    meaning: str
    choices: tuple[int, ...]
    default: int
    is_required: bool = False


@dataclass(frozen=True, slots=True)
class YesNo:
    """A yes or a no; a missing one is no."""

    name: str
    meaning: str
    is_required: bool = False
    default: bool = False


@dataclass(frozen=True, slots=True)
class Rows:
    """A list of objects of one shape, at least one."""

    name: str
    meaning: str
    fields: tuple[Number, ...]
    row_name: str
    row_type: Callable[..., Any]
    longest: int
    is_required: bool = True
    default: None = None


Field = Number | Choice | Whole | YesNo | Rows
Rule = Callable[[Mapping[str, Any]], Iterable[Fault]]

UNITS: Final = Choice("units", "us: ft, in, cy, psi, pcf; si: m, mm, m3, kPa, kN/m3", ("us", "si"), is_required=True)
