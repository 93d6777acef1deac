"""A work and its floor in turns, several times; the medians and their ratio against the goal."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

ROUNDS = 7


def arguments(description: str) -> argparse.Namespace:
    """Return what the command line asks for."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--quick", action="store_true", help="less of everything, in under a minute")
    return parser.parse_args()


@dataclass(frozen=True, slots=True)
class Taken:
    """What one turn took: how many a second, and the processor time of each on the server's side, in ms."""

    per_second: float
    processor_ms: float = 0.0


def alternated(floor: Callable[[], Taken], work: Callable[[], Taken], rounds: int = ROUNDS) -> tuple[Taken, Taken]:
    """Return the medians of floor and work, measured in turns so that a busy machine is busy for both."""
    floors: list[Taken] = []
    works: list[Taken] = []
    for turn in range(rounds):
        first, second = ((floor, floors), (work, works))[:: 1 if turn % 2 else -1]
        for measure, taken in (first, second):
            taken.append(measure())
    return _median(floors), _median(works)


def _median(taken: list[Taken]) -> Taken:
    return Taken(median(one.per_second for one in taken), median(one.processor_ms for one in taken))


def load() -> str:
    """Return how busy the machine is and how many processors share it, for the reader of a ratio."""
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors"


def report_rate(name: str, unit: str, floor: Taken, work: Taken, *, least: float) -> None:
    """Print how many a second, and the processor time of each, which a busy machine disturbs less."""
    report(name, f"{unit}/s", floor.per_second, work.per_second, least=least)
    cheaper = floor.processor_ms / work.processor_ms
    print(
        f"    processor time of server and database: {work.processor_ms:.2f} ms, floor {floor.processor_ms:.2f} ms,"
        f" floor/work {cheaper:.2f}",
        flush=True,
    )


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
