"""What can happen between reading inputs and writing a result."""

import uuid


class InputsChanged(Exception):
    """What was computed from is no longer what is there; nothing is written, compute again."""


class Superseded(Exception):
    """A newer calculation of the same subject counts."""

    def __init__(self, by: uuid.UUID) -> None:
        super().__init__(str(by))
        self.by = by
