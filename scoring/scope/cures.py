"""Which kinds of finding each sort of work cures. A foreign line is cured by nothing but its owner."""

from typing import Final

from scoring.grading import kinds

STRUCTURAL_KINDS: Final = tuple(kind for kind in kinds.STRUCTURAL_KINDS if kind != "foreign_line")
ALL_KINDS: Final = STRUCTURAL_KINDS + kinds.SERVICE_KINDS
JOINT_KINDS: Final = kinds.JOINT_KINDS

LINED: Final = (
    "crack",
    "fracture",
    "broken",
    "hole",
    "deformation",
    "displaced_joint",
    "open_joint",
    "angular_joint",
    "surface_wear",
    "corrosion",
    "roots",
    "infiltration",
    "wall_deposits",
    "bed_deposits",
)
WITH_THE_TRAP: Final = (
    "crack",
    "fracture",
    "broken",
    "hole",
    "displaced_joint",
    "open_joint",
    "angular_joint",
    "corrosion",
    "failed_repair",
    "roots",
    "infiltration",
    "wall_deposits",
    "bed_deposits",
    "obstruction",
)
BURST: Final = tuple(kind for kind in ALL_KINDS if kind not in ("collapse", "sag", "obstruction"))
