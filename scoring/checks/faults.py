"""What is wrong with the inputs of a check, all of it at once."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: where (a JSON pointer), a stable code, a sentence that names the field and the fix."""

    path: str
    code: str
    detail: str


class CheckInputInvalid(ValueError):
    """The inputs of a check cannot be computed with. `faults` lists every reason; nothing was computed."""

    code = "check_input_invalid"

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(fault.detail for fault in self.faults))


class CheckUnknown(LookupError):
    """There is no check of this name."""

    code = "check_unknown"
