"""Alarms: what stops the job and what may fall in."""

from decimal import Decimal as D

import pytest

from scoring.grading import alarms
from scoring.types import Defect


def raised(kind, **given):
    return [alarm.code for alarm in alarms([Defect("d", kind, D("3.5"), **given)])]


def test_a_foreign_line_says_what_must_not_be_done_and_whom_to_call():
    (alarm,) = alarms([Defect("g", "foreign_line", D("12.2"))])
    assert (alarm.code, alarm.at_m, alarm.ref) == ("foreign_line", D("12.2"), "g")
    for words in ("gas", "No cutting, no jetting", "keep people away", "gas emergency number", "utility"):
        assert words in alarm.detail


@pytest.mark.parametrize(
    ("kind", "given"),
    [
        ("collapse", {}),
        ("broken", {"soil_seen": True}),
        ("broken", {"void_seen": True}),
        ("hole", {"soil_seen": True}),
        ("hole", {"void_seen": True}),
        ("deformation", {"void_seen": True}),
        ("deformation", {"percent": D("40.1")}),
        ("corrosion", {"degree": "through", "soil_seen": True}),
        ("surface_wear", {"degree": "through", "void_seen": True}),
    ],
)
def test_a_pipe_that_may_fall_in_raises_an_alarm(kind, given):
    """House rule; 40 %: ATV-M 149:1999, limits for acting at once, as restated."""
    assert raised(kind, **given) == ["imminent_collapse"]


@pytest.mark.parametrize(
    ("kind", "given"),
    [
        ("broken", {}),
        ("hole", {}),
        ("deformation", {"percent": D(40)}),
        ("deformation", {"degree": "severe"}),
        ("corrosion", {"degree": "through"}),
        ("corrosion", {"degree": "missing", "soil_seen": True}),
        ("crack", {"soil_seen": True}),
        ("roots", {"degree": "plug"}),
    ],
)
def test_what_is_bad_but_stands_raises_none(kind, given):
    assert raised(kind, **given) == []


def test_an_alarm_of_a_finding_without_a_station_has_no_position():
    (alarm,) = alarms([Defect("c", "collapse", D(3))], is_placed=False)
    assert alarm.at_m is None
