"""The sections of a plan as they are closed, read from the document of its scope in SI."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from scoring.acceptance.types import Planned

Document = Mapping[str, Any]


def planned_of(scope_si: Document, name: str) -> tuple[Planned, ...]:
    """Return the sections of a plan. Raises KeyError for a name the scope has not."""
    for plan in scope_si["plans"]:
        if plan["name"] == name:
            return tuple(_section(number, one) for number, one in enumerate(plan["sections"], start=1))
    raise KeyError(name)


def _section(number: int, section: Document) -> Planned:
    return Planned(
        number=number,
        method=section["method"],
        from_m=Decimal(section["from"]),
        to_m=Decimal(section["to"]),
        cures=(*section["cures"], *section.get("cures_in_part", ())),
        test=next((_test(check) for check in section["checks"] if check["check"] == "air-test"), None),
        incomplete=section.get("incomplete"),
    )


def _test(check: Document) -> str:
    required_s = check["results"].get("required_s")
    asked = "" if required_s is None else f" ({required_s} s for 0.5 psi)"
    return f"The scope asks for an air test by ASTM F1417{asked}; a water test may stand in for it."
