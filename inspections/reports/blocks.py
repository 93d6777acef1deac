"""What a report consists of, whatever it is rendered to. All words are plain text, nothing is markup."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; level 1 is the report's title."""

    words: str
    level: Literal[1, 2, 3]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; `lead` for the verdict, `small` for digests and rules."""

    words: str
    weight: Literal["plain", "lead", "small"] = "plain"


@dataclass(frozen=True, slots=True)
class Listing:
    """A list of points."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Links:
    """Where else to go: a name and a relative address each. Paper leaves it out."""

    words: str
    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a name and what is known under it."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first column names the row."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Warning:
    """What must not be overlooked: an alarm or a caution that can save a life."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawingPlace:
    """Where the side view of the lateral stands."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A still from the clip, as JPEG or PNG bytes."""

    data: bytes
    caption: str


@dataclass(frozen=True, slots=True)
class Folded:
    """What a screen shows when it is asked for, under a line that says what it is. Paper shows it all, without it."""

    words: str
    blocks: tuple["Block", ...]


Block = Heading | Paragraph | Listing | Links | Facts | Table | Warning | DrawingPlace | Picture | Folded
