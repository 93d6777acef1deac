"""The warnings that go with a scope and with each of its sections."""

from collections.abc import Sequence
from typing import Final

from scoring.grading import FOREIGN_LINE_CAUTION
from scoring.scope.alarms import has_foreign_line
from scoring.scope.methods import BY_NAME
from scoring.scope.types import Plan
from scoring.types import Lateral

EXCAVATION: Final = (
    "Excavation can kill: what is said here restates 29 CFR 1926 Subpart P as an aid; a competent person on site"
    " decides, and state plans differ."
)
CALL_FIRST: Final = "Call before you dig and wait until the utilities are marked."
SEWAGE: Final = "Sewage is a pathogen; sewer gas and confined spaces kill."
AID: Final = (
    "Grades, scopes and prices are decision aids: local code, the sewer authority and licensed plumbers and"
    " engineers decide. A recording is not a pressure test."
)
UNSEEN: Final = "Part of the line was not seen: what lies there is in no plan."
STOPPED: Final = (
    "A run was stopped and nobody saw on: how far the damage goes beyond is not known, and quantities and prices end"
    " where the seeing ended."
)
REGROWTH: Final = "Cut roots grow back: the opening they came through stays."


def foreign_line_cautions() -> tuple[str, ...]:
    """Return what goes with everything that is left alone because of a foreign line."""
    return (FOREIGN_LINE_CAUTION,)


def scope_cautions(lateral: Lateral, plans: Sequence[Plan]) -> tuple[str, ...]:
    """Return the cautions of a whole scope, the most urgent first."""
    found = []
    if has_foreign_line(lateral):
        found.append(FOREIGN_LINE_CAUTION)
    if any(BY_NAME[section.method].digs for plan in plans for section in plan.sections):
        found += [EXCAVATION, CALL_FIRST]
    if lateral.unseen or lateral.is_upstream_end_open:
        found.append(UNSEEN)
    if lateral.is_upstream_end_open or any(stretch.to_m is None for stretch in lateral.unseen):
        found.append(STOPPED)
    return (*found, SEWAGE, AID)


def section_cautions(method: str) -> tuple[str, ...]:
    """Return the cautions of one section."""
    row = BY_NAME[method]
    found = [EXCAVATION, CALL_FIRST] if row.digs else []
    if method == "inside_replacement":
        found.append("Cutting a slab may weaken it and meet other lines: have the structure checked.")
    if method == "root_cutting_and_cleaning":
        found.append(REGROWTH)
    return (*found, SEWAGE)
