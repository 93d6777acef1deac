"""What closes a repair scope: what was built, what was seen and tested afterwards, and what follows.

Stations are those of the lateral the scope was computed from, in metres.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from scoring.types import GradedFinding, Lateral

State = Literal["done", "failed", "partly_done", "not_seen", "not_done"]
PressureTestKind = Literal["air_test", "water_test", "water_head"]


@dataclass(frozen=True, slots=True)
class Planned:
    """One section of the plan.

    `test` says which pressure test the scope asks for after it, None: none; `incomplete` why the plan itself cannot
    be complete there, as where the camera was stopped.
    """

    number: int
    method: str
    from_m: Decimal
    to_m: Decimal
    cures: tuple[str, ...]
    test: str | None = None
    incomplete: str | None = None


@dataclass(frozen=True, slots=True)
class Built:
    """What was done in one section. Days are ISO; `is_test_demanded` None: as the scope says."""

    section: int
    method: str
    from_m: Decimal
    to_m: Decimal
    done_on: str
    material: str | None = None
    is_test_demanded: bool | None = None


@dataclass(frozen=True, slots=True)
class Later:
    """The lateral as some runs after the work saw it, graded under the scope's scheme, in its own stations."""

    runs: tuple[str, ...]
    pipe: Lateral
    findings: tuple[GradedFinding, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a test reading says. `passed` None: a reading is missing, `missing` names it."""

    passed: bool | None
    detail: str
    missing: str | None
    standard: str | None
    source: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PressureTest:
    """One pressure test of a stretch; `made_at` RFC 3339. `number` counts from 1."""

    number: int
    kind: PressureTestKind
    from_m: Decimal
    to_m: Decimal
    made_at: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing that must hold. `is_met` None: it cannot be said."""

    name: str
    is_met: bool | None
    detail: str
    source: str


@dataclass(frozen=True, slots=True)
class Hidden:
    """A stretch of a section that no run after the work saw, in stations of the scope's lateral."""

    from_m: Decimal
    to_m: Decimal
    reason: str


@dataclass(frozen=True, slots=True)
class Left:
    """A finding after the work at or above the policy's grade. Not inside: at an edge, within the doubt of both."""

    ref: str
    kind: str
    grade: int | None
    from_m: Decimal
    to_m: Decimal
    is_inside: bool


@dataclass(frozen=True, slots=True)
class Cured:
    """What became of a defect that the section was to cure."""

    ref: str
    became: str
    is_certain: bool
    reason: str


@dataclass(frozen=True, slots=True)
class Counted:
    """A test as it bears on one section."""

    test: PressureTest
    counts: bool
    reason: str


@dataclass(frozen=True, slots=True)
class SectionResult:
    """One section after the work."""

    planned: Planned
    built: Built | None
    state: State
    criteria: tuple[Criterion, ...]
    runs: tuple[str, ...] = ()
    share: Decimal | None = None
    hidden: tuple[Hidden, ...] = ()
    left: tuple[Left, ...] = ()
    cured: tuple[Cured, ...] = ()
    tests: tuple[Counted, ...] = ()


@dataclass(frozen=True, slots=True)
class Closing:
    """The whole scope after the work."""

    state: State
    sections: tuple[SectionResult, ...]
    cautions: tuple[str, ...]
