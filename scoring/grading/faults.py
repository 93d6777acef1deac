"""What is wrong with a scheme document: every fault with its place, all at once."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SchemeFault:
    """One fault; `path` is a JSON pointer into the document, "" the whole."""

    path: str
    code: str
    sentence: str


class SchemeInvalid(ValueError):
    """The document is no usable scheme. `faults` names every fault; correct them and load it again."""

    code = "scheme_invalid"

    def __init__(self, faults: Sequence[SchemeFault]) -> None:
        self.faults = tuple(faults)
        first = "; ".join(f"{fault.path or '/'}: {fault.sentence}" for fault in self.faults[:3])
        more = f" (and {len(self.faults) - 3} more)" if len(self.faults) > 3 else ""
        super().__init__(f"The grading scheme cannot be used: {first}{more}")


class KindUnknown(ValueError):
    """A finding of a kind no scheme knows. Use one of `scoring.grading.KINDS`."""

    code = "kind_unknown"

    def __init__(self, kind: str) -> None:
        self.kind = kind
        super().__init__(f"'{kind}' is no kind of finding; use one of the kinds the contract names.")
