"""What can be done to a drain: one row per method, with what it cures, where it fits and where that is from.

`[C]` in a source means common practice without a published source, `house rule` an engineering judgement of
this project. Nothing here decides for a licensed plumber or engineer.
"""

from dataclasses import dataclass
from typing import Final

from scoring.scope.cures import ALL_KINDS, BURST, LINED, WITH_THE_TRAP

SURFACES: Final = (
    "lawn",
    "planting",
    "concrete_walk",
    "driveway",
    "asphalt_street",
    "concrete_street",
    "building_slab",
)
STREETS: Final = ("asphalt_street", "concrete_street")


@dataclass(frozen=True, slots=True)
class Method:
    """One way to repair, as data.

    `limits` names rows of `limits.LIMITS`; `life_years` is (short, usual, long); `renews` says that the
    method makes a new pipe wall end to end and so may serve to renew a whole line.
    """

    name: str
    title: str
    cures: tuple[str, ...]
    limits: tuple[str, ...]
    before: tuple[str, ...]
    access: str
    life_years: tuple[int, int, int]
    source: str
    digs: bool = False
    renews: bool = False
    needs_clean_out: bool = False
    needs_permit: bool = False


METHODS: Final[tuple[Method, ...]] = (
    Method(
        name="root_cutting_and_cleaning",
        title="Root cutting and cleaning",
        cures=("roots", "wall_deposits", "bed_deposits"),
        limits=("foreign_line", "collapse_blocks", "fibre_pipe", "scale_in_iron"),
        before=("Film again after cleaning: what roots and deposits hid is judged then.",),
        access="a clean-out or manhole on the line",
        life_years=(1, 2, 3),
        source="common practice, no source: cut roots grow back through the same opening",
        needs_clean_out=True,
    ),
    Method(
        name="descaling",
        title="Descaling of iron pipe",
        cures=("wall_deposits",),
        limits=("foreign_line", "collapse_blocks", "not_iron"),
        before=("Look at the wall first: scale may be all that holds a corroded pipe.",),
        access="a clean-out or manhole on the line",
        life_years=(5, 10, 15),
        source="common practice, no source",
        needs_clean_out=True,
    ),
    Method(
        name="spot_repair",
        title="Spot repair by open cut",
        cures=ALL_KINDS,
        limits=("foreign_line", "inside_building", "dig_not_allowed"),
        before=("Utilities located and marked before opening the ground (29 CFR 1926.651(b)).",),
        access="a shored or sloped pit from the surface",
        life_years=(30, 50, 75),
        source="public bid forms list point repairs each; life: house rule",
        digs=True,
        needs_permit=True,
    ),
    Method(
        name="sectional_liner",
        title="Sectional liner",
        cures=LINED,
        limits=(
            "foreign_line",
            "collapse_blocks",
            "fibre_pipe",
            "through_trap",
            "size_change",
            "ovality",
            "liner_size",
            "soil_or_void",
            "severe_joint",
        ),
        before=("Roots cut, scale and deposits removed, then filmed again.",),
        access="a clean-out or manhole on the line",
        life_years=(15, 30, 50),
        source="ASTM F1216; limits: Najafi Table 7.1; life: house rule",
        needs_clean_out=True,
        needs_permit=True,
    ),
    Method(
        name="full_liner",
        title="Full liner, cured in place",
        cures=LINED,
        limits=(
            "foreign_line",
            "collapse_blocks",
            "fibre_pipe",
            "through_trap",
            "size_change",
            "ovality",
            "liner_size",
            "soil_or_void",
            "severe_joint",
        ),
        before=("Roots cut, scale and deposits removed, then filmed again.",),
        access="a clean-out or manhole on the line",
        life_years=(30, 50, 50),
        source="ASTM F1216; ASTM F2561; limits: Najafi Table 7.1; life: house rule",
        renews=True,
        needs_clean_out=True,
        needs_permit=True,
    ),
    Method(
        name="pipe_bursting",
        title="Pipe bursting",
        cures=BURST,
        limits=(
            "foreign_line",
            "collapse_blocks",
            "inside_building",
            "through_trap",
            "ductile_iron",
            "pit_not_allowed",
        ),
        before=("Utilities located and marked, also beside the line: the old pipe is pushed outward.",),
        access="a pit at each end",
        life_years=(50, 75, 100),
        source="common practice, no source: two pits, the new pipe follows the old grade; life: house rule",
        digs=True,
        renews=True,
        needs_permit=True,
    ),
    Method(
        name="open_cut_replacement",
        title="Open-cut replacement",
        cures=ALL_KINDS,
        limits=("foreign_line", "inside_building", "dig_not_allowed"),
        before=("Utilities located and marked before opening the ground (29 CFR 1926.651(b)).",),
        access="a shored or sloped trench from the surface",
        life_years=(50, 75, 100),
        source="common practice, no source; life: house rule",
        digs=True,
        renews=True,
        needs_permit=True,
    ),
    Method(
        name="trap_removal",
        title="House trap removal with clean-out",
        cures=WITH_THE_TRAP,
        limits=("foreign_line", "away_from_trap", "dig_not_allowed"),
        before=("Ask the authority: some require a house trap, others forbid it (IPC 1002.6; Philadelphia).",),
        access="a pit over the trap",
        life_years=(30, 50, 75),
        source="IPC 1002.6 forbids house traps in general, Philadelphia requires them; life: house rule",
        digs=True,
        needs_permit=True,
    ),
    Method(
        name="inside_replacement",
        title="Replacement inside the building",
        cures=ALL_KINDS,
        limits=("foreign_line", "outside_building"),
        before=("Water turned off, fixtures out of use; the slab is cut.",),
        access="from the cellar or ground floor",
        life_years=(50, 75, 100),
        source="common practice, no source; life: house rule",
        renews=True,
        needs_permit=True,
    ),
    Method(
        name="new_clean_out",
        title="New clean-out for access",
        cures=(),
        limits=("foreign_line", "inside_building", "dig_not_allowed"),
        before=("Utilities located and marked before opening the ground (29 CFR 1926.651(b)).",),
        access="a pit over the drain",
        life_years=(50, 75, 100),
        source="IPC 708 spaces clean-outs; life: house rule",
        digs=True,
        needs_permit=True,
    ),
    Method(
        name="monitoring",
        title="Look again at a date",
        cures=(),
        limits=(),
        before=(),
        access="the access point of the last inspection",
        life_years=(1, 3, 5),
        source="Seattle Public Utilities, side sewers: look again by kind and severity",
    ),
)

BY_NAME: Final[dict[str, Method]] = {method.name: method for method in METHODS}
CURING: Final[tuple[Method, ...]] = tuple(method for method in METHODS if method.cures)
