"""Reads values out of a loosely typed document and collects every fault on the way."""

from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any

from scoring.grading.faults import SchemeFault

_LONGEST_TEXT = 1000


class Reader:
    """Takes one value after the other; a wrong one leaves a fault and comes back as None."""

    def __init__(self, *, takes_any_word: bool = False) -> None:
        self.faults: list[SchemeFault] = []
        self.takes_any_word = takes_any_word

    def fault(self, path: str, code: str, sentence: str) -> None:
        self.faults.append(SchemeFault(path, code, sentence))

    def mapping(self, value: Any, path: str, allowed: Collection[str]) -> Mapping[str, Any] | None:
        """An object with no other keys than `allowed`."""
        if not isinstance(value, Mapping):
            self.fault(path, "not_an_object", "Give an object here.")
            return None
        for key in value:
            if key not in allowed:
                known = ", ".join(allowed)
                self.fault(f"{path}/{key}", "unknown_field", f"Leave it out; known here: {known}.")
        return value

    def sequence(self, value: Any, path: str) -> list[Any] | None:
        if not isinstance(value, (list, tuple)) or not value:
            self.fault(path, "not_a_list", "Give a list with at least one entry.")
            return None
        return list(value)

    def text(self, value: Any, path: str) -> str | None:
        if not isinstance(value, str) or not value.strip() or len(value) > _LONGEST_TEXT:
            self.fault(path, "not_a_text", f"Give a text of 1 to {_LONGEST_TEXT} characters.")
            return None
        return value

    def whole(self, value: Any, path: str) -> int | None:
        """A whole number between 0 and 1000."""
        if isinstance(value, Decimal) and value.is_finite() and value == value.to_integral_value():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 1000:
            self.fault(path, "not_a_whole_number", "Give a whole number from 0 to 1000.")
            return None
        return value

    def number(self, value: Any, path: str) -> Decimal | None:
        """A finite number that is not negative; a float counts with the digits it is written with."""
        if isinstance(value, (int, float, Decimal)) and not isinstance(value, bool):
            number = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
            if number.is_finite() and 0 <= number <= 10**9:
                return number
        self.fault(path, "not_a_number", "Give a number of 0 or more.")
        return None

    def flag(self, value: Any, path: str) -> bool | None:
        if not isinstance(value, bool):
            self.fault(path, "not_a_yes_or_no", "Give true or false.")
            return None
        return value

    def word(self, value: Any, path: str, known: Collection[str]) -> str | None:
        """One of the words a finding can bear; any word where a scheme was taken before words were held to."""
        return self.text(value, path) if self.takes_any_word else self.choice(value, path, known)

    def choice(self, value: Any, path: str, allowed: Collection[str]) -> str | None:
        if not isinstance(value, str) or value not in allowed:
            self.fault(path, "unknown_value", f"Give one of {', '.join(allowed)}.")
            return None
        return value
