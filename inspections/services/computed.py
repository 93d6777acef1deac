"""What can happen between reading inputs and writing a result."""

import uuid


class InputsChanged(Exception):
    """What was computed from is no longer what is there; nothing is written, compute again."""


class Superseded(Exception):
    """A newer calculation of the same subject counts."""

    def __init__(self, by: uuid.UUID) -> None:
        super().__init__(str(by))
        self.by = by


class LeaseLost(Exception):
    """Another worker holds the calculation now; everything of this attempt is rolled back."""


class Unfinished(Exception):
    """A part of long work is done and kept; the rest waits for its next turn."""
