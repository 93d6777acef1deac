"""The words `scoring` computes with: what was read in a run and what became of it on the lateral.

All lengths along the pipe are metres, all sizes across it millimetres, both `Decimal`.
A counter reading is what the cable said; a station is a position on the lateral from its datum.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

Direction = Literal["downstream", "upstream"]
Aspect = Literal["structural", "service"]
Reached = Literal["main", "building", "access_point", "stopped"]


@dataclass(frozen=True, slots=True)
class Access:
    """An access point as a run or a lateral names it."""

    kind: str
    label: str | None = None


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of one material and nominal size. Positions are counter readings or stations."""

    from_m: Decimal
    to_m: Decimal
    material: str | None = None
    diameter_mm: Decimal | None = None
    joint_spacing_m: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Feature:
    """Something that is no defect: a sound joint, a trap, a bend, a connection, the main."""

    kind: str
    at_m: Decimal
    label: str | None = None
    clock_from: Decimal | None = None
    clock_to: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Defect:
    """One finding. `to_m` is set for a stretch; measures not taken are None."""

    ref: str
    kind: str
    at_m: Decimal
    to_m: Decimal | None = None
    pattern: str | None = None
    at_joint: bool = False
    clock_from: Decimal | None = None
    clock_to: Decimal | None = None
    degree: str | None = None
    opening: str | None = None
    width_mm: Decimal | None = None
    offset_mm: Decimal | None = None
    gap_mm: Decimal | None = None
    percent: Decimal | None = None
    thickness_mm: Decimal | None = None
    soil_seen: bool = False
    void_seen: bool = False


@dataclass(frozen=True, slots=True)
class Unseen:
    """A stretch that could not be judged. `to_m` None: open-ended, nobody knows how far."""

    from_m: Decimal
    to_m: Decimal | None
    reason: str


@dataclass(frozen=True, slots=True)
class Run:
    """One pass of a camera. All positions are counter readings; the reading grows away from
    `start_access`, whichever way the clip was recorded. `counter_end_m` is read at the far end."""

    id: str
    direction: Direction
    start_access: Access | None
    counter_start_m: Decimal
    counter_end_m: Decimal
    reached: Reached
    stopped_by: str | None = None
    segments: tuple[Segment, ...] = ()
    features: tuple[Feature, ...] = ()
    defects: tuple[Defect, ...] = ()
    unseen: tuple[Unseen, ...] = ()
    started_at: str | None = None  # RFC 3339, for order in time only


@dataclass(frozen=True, slots=True)
class Source:
    """Where something on the lateral was seen: the run, its own ref, the counter reading there."""

    run: str
    ref: str
    counter_m: Decimal


@dataclass(frozen=True, slots=True)
class LateralDefect:
    """A finding on the reconciled lateral.

    `defect` carries the attributes (clock given facing downstream); its `at_m`/`to_m` are stations,
    or counter readings of its only source where `station_m` is None (nothing ties that run to the datum).
    `station_sd_m` is one standard deviation of the station. `defect.ref` is unique on the lateral.
    """

    defect: Defect
    station_m: Decimal | None
    to_station_m: Decimal | None
    station_sd_m: Decimal | None
    sources: tuple[Source, ...]
    is_ambiguous: bool = False


@dataclass(frozen=True, slots=True)
class LateralFeature:
    """A feature on the reconciled lateral; `feature.at_m` as for `LateralDefect`."""

    feature: Feature
    station_m: Decimal | None
    station_sd_m: Decimal | None
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class RunPlacement:
    """How one run lies on the lateral. Not tied: stations of its findings are unknown (None).

    station = station_at_start + sign * scale * (counter - counter_start), sign +1 downstream, -1 upstream.
    """

    run: str
    is_tied: bool
    station_at_start_m: Decimal | None
    station_at_end_m: Decimal | None
    scale: Decimal
    reason: str  # in words: by what the run is tied, or why it is not


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two runs contradict each other. Both statements are kept; nobody is silently right."""

    code: str
    detail: str
    station_m: Decimal | None
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class Lateral:
    """The reconciled pipe: one list out of all its runs, in stations from the datum."""

    datum: Access | None
    datum_run: str | None
    from_m: Decimal | None  # most upstream station inspected or claimed by a run
    to_m: Decimal | None  # most downstream station; the main where it was reached
    reaches_building: bool
    reaches_main: bool
    placements: tuple[RunPlacement, ...] = ()
    segments: tuple[Segment, ...] = ()
    features: tuple[LateralFeature, ...] = ()
    defects: tuple[LateralDefect, ...] = ()
    unseen: tuple[Unseen, ...] = ()  # seen by no run; to_m None: open end (toward the main); see also unseen_upstream
    is_upstream_end_open: bool = False  # a run going upstream was stopped: unseen from from_m to the building
    conflicts: tuple[Conflict, ...] = ()
    rules: str = ""  # id and version of the reconciliation rules


@dataclass(frozen=True, slots=True)
class Inspected:
    """What a grading scheme is applied to: a run (counter readings), a lateral or one segment (stations)."""

    from_m: Decimal
    to_m: Decimal
    segments: tuple[Segment, ...] = ()
    features: tuple[Feature, ...] = ()
    defects: tuple[Defect, ...] = ()
    unseen: tuple[Unseen, ...] = ()
    is_upstream_end_open: bool = False  # as in `Lateral`: nobody knows how far it goes on upstream of from_m


@dataclass(frozen=True, slots=True)
class Alarm:
    """What must not wait for a reader to scroll: a foreign line, an imminent collapse."""

    code: Literal["foreign_line", "imminent_collapse"]
    detail: str
    at_m: Decimal | None
    ref: str | None


@dataclass(frozen=True, slots=True)
class Boundary:
    """Where responsibility changes hands."""

    kind: Literal["building_wall", "property_line", "main"]
    station_m: Decimal


@dataclass(frozen=True, slots=True)
class Depth:
    """Depth of cover line measured at a station; to the invert or to the crown."""

    station_m: Decimal
    depth_m: Decimal
    to: Literal["invert", "crown"]


@dataclass(frozen=True, slots=True)
class Surface:
    """What lies on top, from station to station."""

    from_m: Decimal
    to_m: Decimal
    kind: str


@dataclass(frozen=True, slots=True)
class Site:
    """What is known of the ground over a lateral. Everything may be unknown."""

    boundaries: tuple[Boundary, ...] = ()
    depths: tuple[Depth, ...] = ()
    surfaces: tuple[Surface, ...] = ()
    soil: str | None = None
    groundwater_depth_m: Decimal | None = None
    drainage_fixture_units: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Policy:
    """What a scope is asked for. Grades count as in the scheme named (open-five: 5 worst)."""

    fix_from_grade: int
    margin_m: Decimal = Decimal("0.3")
    methods: tuple[str, ...] | None = None  # None: all methods may be used
    dig_allowed_in: tuple[str, ...] | None = None  # surface kinds; None: everywhere
    horizon_years: int = 20
    discount_percent: Decimal = Decimal(3)
    scheme: str = "open-five"
    programmes_paid_on: tuple[tuple[str, str], ...] = ()  # by programme: when it last paid here (ISO date)


@dataclass(frozen=True, slots=True)
class GradedFinding:
    """One grade of one defect in one aspect, with the rule that gave it and where the rule comes from."""

    ref: str
    aspect: Aspect
    grade: int
    rule: str
    source: str
    measure: str | None = None  # the measure used, in words with its value
    also: tuple[str, ...] = field(default=())  # other rules that applied and gave no worse grade
