"""What a plan pays for once, whatever its sections: mobilisation, the permit, a clean-out to work from."""

from collections.abc import Iterable
from decimal import Decimal
from functools import cached_property
from typing import Final

from scoring.scope.blocks import Place, blocks, zones
from scoring.scope.lines import Extra
from scoring.scope.methods import BY_NAME, CURING
from scoring.scope.rows import UNIT
from scoring.scope.takeoff import Takeoff

ACCESS_KINDS: Final = ("clean_out", "stack_clean_out", "house_trap", "downstream_manhole")
DIGGING_LEADS: Final = 10**22  # a cubic micrometre dug outweighs any price


class PaidOnce:
    """The prices a set of methods brings once per plan, on one line."""

    def __init__(self, place: Place, takeoff: Takeoff) -> None:
        self.place, self.takeoff, self.book = place, takeoff, takeoff.book

    @cached_property
    def has_access(self) -> bool:
        """Whether a clean-out, trap or manhole is known that crews can work from."""
        lateral = self.place.lateral
        if lateral.datum is not None and lateral.datum.kind in ACCESS_KINDS:
            return True
        return any(each.feature.kind == "access_point" for each in lateral.features)

    @cached_property
    def new_clean_out_um(self) -> int | None:
        """Where a new clean-out may be put: as near to the building as the ground may be opened."""
        method = BY_NAME["new_clean_out"]
        free = zones(self.place, blocks(method, self.place))
        return free[0][0] if free else None

    @property
    def can_work_from_a_clean_out(self) -> bool:
        """Whether there is a clean-out, or a place for one."""
        return self.has_access or self.new_clean_out_um is not None

    def needs_clean_out(self, methods: frozenset[str]) -> bool:
        """Say whether these methods need a clean-out that is not there."""
        return not self.has_access and any(BY_NAME[name].needs_clean_out for name in methods)

    def extras(self, methods: frozenset[str]) -> dict[str, list[Extra]]:
        """Return what is paid once per plan, by the method (or `new_clean_out`) that brings it."""
        extras: dict[str, list[Extra]] = {}
        used = [method for method in CURING if method.name in methods]
        for method in used:
            price = self.book.methods[method.name].once
            extras[method.name] = [Extra("mobilisation", 1, price, "once per plan", f"methods/{method.name}/once")]
        with_permit = [method.name for method in used if method.needs_permit]
        if with_permit:
            extras[with_permit[0]].append(Extra("permit", 1, self.book.permit, "once per plan", "items/permit"))
        if self.needs_clean_out(methods):
            words = "no clean-out on the line to work from"
            extras["new_clean_out"] = [Extra("clean_out", 1, self.book.clean_out, words, "items/clean_out")]
        return extras

    def price(self, methods: frozenset[str]) -> int:
        """Return the likely price of what is paid once, in whole numbers."""
        return sum(int(one.price.likely * UNIT) for one in _all(self.extras(methods).values()))

    def price_dug_first(self, methods: frozenset[str]) -> int:
        """Return the volume dug for a clean-out first and the price second."""
        dug = self.takeoff.pit_m3("likely") if self.needs_clean_out(methods) else Decimal(0)
        return int(dug * 10**12) * DIGGING_LEADS + self.price(methods)


def _all(lists: Iterable[list[Extra]]) -> list[Extra]:
    return [one for extras in lists for one in extras]
