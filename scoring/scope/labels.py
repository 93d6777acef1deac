"""The words of the search for the cheapest sections: what must be served, what is open, what has been spent."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

Once = Callable[[frozenset[str]], int]


@dataclass(frozen=True, slots=True)
class Need:
    """A stretch that must lie in one section of one of the methods that cure it.

    `core_um` is the stretch before it was widened by the doubt about its station; None: it was not widened.
    """

    ref: str
    from_um: int
    to_um: int
    cures: tuple[str, ...]
    core_um: tuple[int, int] | None = None

    @property
    def inner_um(self) -> tuple[int, int]:
        """The stretch without the doubt."""
        return self.core_um or (self.from_um, self.to_um)

    @property
    def outer_um(self) -> tuple[int, int]:
        """The stretch with the doubt taken twice."""
        first, last = self.inner_um
        return 2 * self.from_um - first, 2 * self.to_um - last

    def is_in(self, section: "Chosen") -> bool:
        """Say whether a section serves it."""
        fits = section.from_um <= self.from_um and self.to_um <= section.to_um
        return fits and section.method in self.cures


@dataclass(frozen=True, slots=True)
class Chosen:
    """A section of a plan."""

    method: str
    from_um: int
    to_um: int
    price: int


class Open(NamedTuple):
    """A section under way: its method, the need it began at (or MATURE), and how far it must run."""

    method: int
    start: int
    hold: int


class Event(NamedTuple):
    """A section begins at a need (`place` is its number) or ends at a position."""

    method: int
    begins: bool
    place: int


class State(NamedTuple):
    """The methods paid for once (a bit each) and the sections open, in order of method."""

    paid: int
    open: tuple[Open, ...]


class Label(NamedTuple):
    """The cheapest way to a state; `before` and `events` lead back to its sections."""

    cost: int
    before: "Label | None"
    events: tuple[Event, ...]


Step = tuple[State, int, tuple[Event, ...]]

# A label that others are held against: its open methods (a bit each), those paid for, its cost, its sections.
Rival = tuple[int, int, int, dict[int, tuple[int, int]]]


def follow(label: Label, cost: int, events: tuple[Event, ...]) -> Label:
    """Return the label after a step; a step without events is not worth a link of its own."""
    return Label(cost, label, events) if events else Label(cost, label.before, label.events)
