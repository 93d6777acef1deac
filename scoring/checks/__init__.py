"""Engineering checks beside a repair: excavation, liner, drain, acceptance tests, spoil.

`run_check(name, document)` computes one check from a document; `CHECKS` lists them with their fields.
Each check also has its own inputs and results as dataclasses and a function between them.
"""

from collections.abc import Mapping
from typing import Any, Final

from scoring.checks.air_test import AIR_TEST, AirSection, AirTestInputs, AirTestResults, check_air_test
from scoring.checks.check import RULES, Check
from scoring.checks.clean_outs import CLEAN_OUT_SPACINGS, clean_out_spacing_ft, clean_outs_needed
from scoring.checks.drain import DRAIN, DrainInputs, DrainResults, check_drain
from scoring.checks.faults import CheckInputInvalid, CheckUnknown, Fault
from scoring.checks.fields import Choice, Field, Number, Rows, Whole, YesNo
from scoring.checks.liner import LINER, LinerInputs, LinerResults, check_liner
from scoring.checks.liner_design import LinerCase
from scoring.checks.measures import in_words, unit_of
from scoring.checks.spoil import SPOIL, SWELL_PERCENT, SpoilInputs, SpoilResults, bank_volume_of, check_spoil
from scoring.checks.trench import (
    TRENCH,
    TrenchInputs,
    TrenchResults,
    check_trench,
)
from scoring.checks.trench_rules import flexible_pipe_trench_width_in
from scoring.checks.water_test import (
    HEAD_TESTS,
    WATER_TEST,
    WaterTestInputs,
    WaterTestResults,
    check_water_test,
    head_holds,
)

CHECKS: Final[Mapping[str, Check]] = {
    check.name: check for check in (TRENCH, LINER, DRAIN, AIR_TEST, WATER_TEST, SPOIL)
}


def run_check(name: str, document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the results of the check `name` for a document, as a document.

    Numbers in and out are `Decimal` or `int`, results to six significant digits, with the unit of each in
    `result_units`. Raises `CheckUnknown`, or `CheckInputInvalid` with every fault at once.
    """
    if name not in CHECKS:
        raise CheckUnknown(f"There is no check {name}. Known are: {', '.join(CHECKS)}.")
    return CHECKS[name].run(document)


__all__ = [
    "CHECKS",
    "CLEAN_OUT_SPACINGS",
    "HEAD_TESTS",
    "RULES",
    "SWELL_PERCENT",
    "AirSection",
    "AirTestInputs",
    "AirTestResults",
    "Check",
    "CheckInputInvalid",
    "CheckUnknown",
    "Choice",
    "DrainInputs",
    "DrainResults",
    "Fault",
    "Field",
    "LinerCase",
    "LinerInputs",
    "LinerResults",
    "Number",
    "Rows",
    "SpoilInputs",
    "SpoilResults",
    "TrenchInputs",
    "TrenchResults",
    "WaterTestInputs",
    "WaterTestResults",
    "Whole",
    "YesNo",
    "bank_volume_of",
    "check_air_test",
    "check_drain",
    "check_liner",
    "check_spoil",
    "check_trench",
    "check_water_test",
    "clean_out_spacing_ft",
    "clean_outs_needed",
    "flexible_pipe_trench_width_in",
    "head_holds",
    "in_words",
    "run_check",
    "unit_of",
]
