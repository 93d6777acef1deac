"""What the soak calls flat, and what it calls growing."""

from __future__ import annotations

import pytest

from tests.faults.soak import Series

_STEADY = [50.0, 100, *[120.0, 121] * 49]


@pytest.mark.parametrize(
    ("unit", "values", "is_flat"),
    [
        ("MB", _STEADY, True),
        ("MB", [120 + n * 0.1 for n in range(100)], True),  # 8 MB over the whole time
        ("MB", [120 + n * 0.5 for n in range(100)], False),
        ("", [9.0] * 100, True),
        ("", [9.0 + n // 10 for n in range(100)], False),
        ("s", [0.2] * 100, True),
        ("s", [0.2] * 99 + [5.1], False),
        ("s", [n * 0.03 for n in range(100)], False),
    ],
)
def test_what_is_more_at_the_end_than_when_all_was_warm_grows(unit: str, values: list[float], is_flat: bool) -> None:
    assert Series("anything", unit, values).is_flat is is_flat
