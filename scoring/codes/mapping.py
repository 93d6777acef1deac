"""A code map in memory, and what can be wrong with one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

What = Literal["defect", "feature"]
Value = str | bool | Decimal

# What an entry may fix by its code, and what may stand as a value beside the code.
WORDS: Final = ("degree", "opening", "pattern")
FLAGS: Final = ("at_joint", "soil_seen", "void_seen")
MEASURES: Final = ("clock_from", "clock_to", "width_mm", "offset_mm", "gap_mm", "percent", "thickness_mm")
DEFECT_VALUES: Final = (*WORDS, *FLAGS, *MEASURES, "to_m")
FEATURE_VALUES: Final = ("label", "clock_from", "clock_to")


@dataclass(frozen=True, slots=True)
class Entry:
    """One code: the kind it stands for, the attributes it fixes, the values that may stand beside it."""

    code: str
    what: What
    kind: str
    attributes: Mapping[str, str | bool]
    carries: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CodeMap:
    """A customer's code list. Of several codes with one meaning the first is used outward."""

    id: str
    version: int
    title: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Loss:
    """One thing the other side cannot be told."""

    field: str
    value: Value
    sentence: str


@dataclass(frozen=True, slots=True)
class External:
    """A finding in the customer's codes; `code` is None where no code can say it."""

    code: str | None
    values: Mapping[str, Value]
    lost: tuple[Loss, ...]


@dataclass(frozen=True, slots=True)
class Internal:
    """What a code stands for, with the values taken over and those that were not."""

    what: What
    kind: str
    attributes: Mapping[str, Value]
    lost: tuple[Loss, ...]


@dataclass(frozen=True, slots=True)
class CodeMapFault:
    """One fault; `path` is a JSON pointer into the document."""

    path: str
    code: str
    sentence: str


class CodeMapInvalid(ValueError):
    """The document is no usable code map. `faults` names every fault; correct them and load it again."""

    code = "code_map_invalid"

    def __init__(self, faults: Sequence[CodeMapFault]) -> None:
        self.faults = tuple(faults)
        first = "; ".join(f"{fault.path or '/'}: {fault.sentence}" for fault in self.faults[:3])
        super().__init__(f"The code map cannot be used: {first}")


class CodeUnknown(ValueError):
    """A code the map does not have. Add it to the map, or correct the code."""

    code = "code_unknown"

    def __init__(self, external_code: str, code_map: str) -> None:
        self.external_code = external_code
        super().__init__(f"The code map {code_map} has no code '{external_code}'; add it or correct the code.")
