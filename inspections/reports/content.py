"""What a report is made from: plain documents as the API gives them, nothing looked up, no clock.

All documents of one input are in one unit system. Anything may be absent or null; a report says so
instead of leaving it out.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any, Final, Literal

Document = Mapping[str, Any]
Units = Literal["us", "si"]


@dataclass(frozen=True, slots=True)
class ReportInput:
    """Everything one report of one lateral shows.

    `units` "us": lengths, depths ft, sizes in; "si": m, mm. `lateral` carries its own `grading` and `alarms`;
    `scope` is None while nobody asked for one. `pictures` holds JPEG or PNG bytes by defect ref. `plan` names the
    plan that is drawn; the cheapest one where it is None.
    """

    units: Units
    lateral: Document
    scope: Document | None = None
    runs: Sequence[Document] = ()
    heading: Document = field(default_factory=dict)
    pictures: Mapping[str, bytes] = field(default_factory=dict)
    plan: str | None = None

    @property
    def digests(self) -> dict[str, str | None]:
        """What the grades and the plans shown follow from."""
        return {
            "inputs_sha256": self.lateral.get("inputs_sha256"),
            "scope_inputs_sha256": (self.scope or {}).get("inputs_sha256"),
        }


# Not allowed in XML, or able to turn the reading direction of the text after them.
_UNPRINTABLE: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


_LARGEST: Final = 2**53  # what a JSON number carries exactly; nothing in a drain is larger


def clean(value: object) -> str:
    """Return a text that any renderer can carry: one line, forbidden and direction-turning characters
    replaced by a visible sign."""
    return " ".join(_UNPRINTABLE.sub("\ufffd", str(value)).split())


def rows(document: Document | None, key: str) -> list[Document]:
    """Return the list of documents under `key`, empty where there is none."""
    found = (document or {}).get(key)
    if not isinstance(found, Sequence) or isinstance(found, str):
        return []
    return [row for row in found if isinstance(row, Mapping)]


def part(document: Document | None, key: str) -> Document:
    """Return the document under `key`, empty where there is none."""
    found = (document or {}).get(key)
    return found if isinstance(found, Mapping) else {}


def text(document: Document | None, key: str) -> str:
    """Return the text under `key`, cleaned; "" where there is none."""
    found = (document or {}).get(key)
    return "" if found is None else clean(found)


def number(document: Document | None, key: str) -> Decimal | None:
    """Return the finite number under `key`, or None."""
    return as_number((document or {}).get(key))


def as_number(value: object) -> Decimal | None:
    """Return any finite JSON number, exactly; None for everything else."""
    if value is None or isinstance(value, bool):
        return None
    try:
        found = Decimal(str(value))
    except InvalidOperation:
        return None
    return found if found.is_finite() and abs(found) <= _LARGEST else None
