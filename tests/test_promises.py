"""Every test that the README names for a promise exists, and every promise names one."""

from __future__ import annotations

import re

import pytest

from tests.processes import ROOT

_TEST = re.compile(r"`(tests/[\w/]+\.py)::(test_\w+)`")


def promises() -> dict[str, str]:
    """Return the section on promises, promise by promise."""
    section = (ROOT / "README.md").read_text().split("## What the service promises")[1].split("More on these:")[0]
    return {text.split("**")[0]: text for text in section.split("- **")[1:]}


def test_all_ten_promises_stand_in_the_readme() -> None:
    assert list(promises()) == [f"P{number}" for number in range(1, 11)]


@pytest.mark.parametrize("name", [f"P{number}" for number in range(1, 11)])
def test_the_tests_a_promise_names_exist(name: str) -> None:
    named = _TEST.findall(promises()[name])
    assert named or "no test" in promises()[name]
    for file, test in named:
        assert f"def {test}(" in (ROOT / file).read_text(), f"{file}::{test}"
