"""Reading a plain document strictly: every fault is collected with its place, none is passed over."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a document: where, a stable code, and a sentence that says what to do."""

    path: str
    code: str
    detail: str


class DocumentInvalid(Exception):
    """A document cannot be used; `faults` lists everything wrong with it."""

    code = "document_invalid"

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f"{fault.path}: {fault.detail}" for fault in self.faults))


class Reader:
    """Takes values out of a document and notes what is wrong with them on the way."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def fault(self, path: str, code: str, detail: str) -> None:
        """Note one fault."""
        self.faults.append(Fault(path, code, detail))

    def mapping(self, value: object, path: str, required: Sequence[str], allowed: Sequence[str] = ()) -> dict:  # type: ignore[type-arg]
        """Return `value` as an object with its keys checked; an empty one where it is no object."""
        if not isinstance(value, Mapping):
            self.fault(path, "not_an_object", "Give an object here.")
            return {}
        known = (*required, *allowed)
        for key in value:
            if key not in known:
                self.fault(f"{path}/{key}", "unknown_field", f"Leave this out; known are {', '.join(known)}.")
        for key in required:
            if key not in value:
                self.fault(f"{path}/{key}", "required", "Give this field.")
        return dict(value)

    def rows(self, value: object, path: str) -> list[tuple[str, object]]:
        """Return the entries of a list, each with its path."""
        if not isinstance(value, list | tuple):
            self.fault(path, "not_a_list", "Give a list here.")
            return []
        return [(f"{path}/{index}", entry) for index, entry in enumerate(value)]

    def number(self, value: object, path: str, least: str = "0", most: str = "1000000000") -> Decimal:
        """Return a finite number between `least` and `most`."""
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal | str):
            self.fault(path, "not_a_number", "Give a number here.")
            return Decimal(least)
        try:
            number = Decimal(str(value))
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite():
            self.fault(path, "not_a_number", "Give a finite number here.")
            return Decimal(least)
        if not Decimal(least) <= number <= Decimal(most):
            self.fault(path, "out_of_range", f"Give a number from {least} to {most}.")
            return Decimal(least)
        return number

    def text(self, value: object, path: str) -> str:
        """Return a text that is not empty."""
        if not isinstance(value, str) or not value.strip():
            self.fault(path, "not_a_text", "Give a text that is not empty.")
            return ""
        return value

    def choice(self, value: object, path: str, choices: Sequence[str]) -> str:
        """Return one of the texts allowed."""
        if value not in choices:
            self.fault(path, "not_a_choice", f"Give one of {', '.join(choices)}.")
            return choices[0]
        return str(value)
