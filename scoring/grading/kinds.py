"""The kinds of finding and the words that may describe them, as the contract names them."""

from typing import Final

from scoring.types import Aspect

STRUCTURAL_KINDS: Final = (
    "crack",
    "fracture",
    "broken",
    "hole",
    "collapse",
    "deformation",
    "displaced_joint",
    "open_joint",
    "angular_joint",
    "surface_wear",
    "corrosion",
    "lining_fault",
    "failed_repair",
    "faulty_connection",
    "foreign_line",
)
SERVICE_KINDS: Final = (
    "roots",
    "infiltration",
    "soil_ingress",  # counts in both aspects
    "wall_deposits",
    "bed_deposits",
    "obstruction",
    "protruding_connection",
    "sag",
)
KINDS: Final = STRUCTURAL_KINDS + SERVICE_KINDS
JOINT_KINDS: Final = ("displaced_joint", "open_joint", "angular_joint")  # lie at a joint by their nature

ASPECTS: Final[tuple[Aspect, ...]] = ("structural", "service")

MEASURE_WORDS: Final = {
    "width_mm": ("width", "mm"),
    "offset_mm": ("offset", "mm"),
    "gap_mm": ("gap", "mm"),
    "percent": ("share", "%"),
    "thickness_mm": ("thickness", "mm"),
}
WORD_FIELDS: Final = ("degree", "opening", "pattern")
_WEAR: Final = ("slight", "general", "missing", "through")
_DEPOSITS: Final = ("slight", "moderate", "heavy", "severe")  # heavy and severe are one word
_DEGREES: Final = {
    "roots": ("hairs", "bundles", "plug"),
    "infiltration": ("damp", "dripping", "flowing", "jetting"),
    "surface_wear": _WEAR,
    "corrosion": _WEAR,
}
_PATTERNS: Final = ("longitudinal", "circumferential", "spiral", "multiple")
_OPENINGS: Final = ("hairline", "visible", "open")
FLAG_FIELDS: Final = ("at_joint", "soil_seen", "void_seen")


def words_of(kind: str, field: str) -> tuple[str, ...]:
    """The words a finding of `kind` can bear in `field`, one of WORD_FIELDS."""
    if field == "degree":
        return _DEGREES.get(kind, _DEPOSITS)
    return _PATTERNS if field == "pattern" else _OPENINGS
