"""A work and its floor in turns, several times; the medians and their ratio against the goal."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from statistics import median

ROUNDS = 7


def arguments(description: str) -> argparse.Namespace:
    """Return what the command line asks for."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--quick", action="store_true", help="less of everything, in under a minute")
    return parser.parse_args()


def alternated(floor: Callable[[], float], work: Callable[[], float], rounds: int = ROUNDS) -> tuple[float, float]:
    """Return the medians of floor and work, measured in turns so that a busy machine is busy for both."""
    floors, works = [], []
    for turn in range(rounds):
        first, second = ((floor, floors), (work, works))[:: 1 if turn % 2 else -1]
        for measure, taken in (first, second):
            taken.append(measure())
    return median(floors), median(works)


def load() -> str:
    """Return how busy the machine is and how many processors share it, for the reader of a ratio."""
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors"


def report(
    name: str, unit: str, floor: float, work: float, *, least: float | None = None, most: float | None = None
) -> None:
    """Print a line: both medians, the ratio, the goal and whether it is met. A missed goal is no error."""
    ratio = work / floor
    met = (least is None or ratio >= least) and (most is None or ratio <= most)
    goal = f"at least {least}" if least is not None else f"at most {most}"
    print(
        f"{name}: {work:.1f} {unit}, floor {floor:.1f} {unit}, ratio {ratio:.2f} (goal {goal}:"
        f" {'met' if met else 'MISSED'}); {load()}",
        flush=True,
    )
