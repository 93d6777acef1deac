"""One bid held against the lines of a plan: what each line covers, what differs, what is missing."""

from collections.abc import Iterator, Sequence, Set
from decimal import Decimal
from difflib import get_close_matches

from scoring.bids.arithmetic import corrected, signed, to_cents
from scoring.bids.asking import priced, section_of
from scoring.bids.quantities import at_quantity, quantity_remarks
from scoring.bids.types import Asked, AskedPlan, Bid, BidLine, HeldBid, HeldLine, Remark
from scoring.scope.types import Span

_NEARBY = 3
Key = tuple[int, str]  # a line of the plan: its section and item


def hold(plan: AskedPlan, bid: Bid) -> HeldBid:
    """Return a bid held against its plan, line by line."""
    return _Holding(plan, bid).held()


class _Holding:
    def __init__(self, plan: AskedPlan, bid: Bid) -> None:
        self.plan, self.bid = plan, bid
        self.covers = {line.number: covered(plan, line) for line in bid.lines}
        self.covering: dict[Key, list[BidLine]] = {}
        self.fellows: dict[tuple[Key, ...], list[BidLine]] = {}  # lines with unit prices for the same thing
        for line in bid.lines:
            keys = tuple(_key(one) for one in self.covers[line.number])
            for key in keys:
                self.covering.setdefault(key, []).append(line)
            if keys and not is_lump(line):
                self.fellows.setdefault(keys, []).append(line)

    def held(self) -> HeldBid:
        sums = corrected(self.bid)
        lines = tuple(
            self._line(line, done.extension, done.remarks)
            for line, done in zip(self.bid.lines, sums.lines, strict=True)
        )
        # What is likely to cost nothing (it lies only in the high case) need not be priced.
        missing = tuple(line for line in priced(self.plan.lines) if line.cost and _key(line) not in self.covering)
        return HeldBid(
            bid=self.bid,
            lines=lines,
            missing=missing,
            total=sums.total,
            at_asked_quantities=sum((line.at_asked_quantity for line in lines), Decimal(0)),
            remarks=(*sums.remarks, *self._remarks(missing, sums.total)),
        )

    def _line(self, line: BidLine, extension: Decimal, remarks: tuple[Remark, ...]) -> HeldLine:
        covers = self.covers[line.number]
        fellows = [] if is_lump(line) else self.fellows.get(tuple(_key(one) for one in covers), [])
        found = [*remarks]
        if not covers:
            found.append(self._addition(line))
        elif is_lump(line):
            found += _lump_remarks(self.plan, line, covers, extension)
        else:
            found += quantity_remarks(line, fellows, covers)
        found += self._twice(line, covers, fellows)
        if covers and all(one.cost is None for one in covers):
            detail = f"The plan prices {line.item} together with other lines; see that it is not paid twice."
            found.append(Remark("priced_with_others", detail, line.number))
        at_asked = extension if is_lump(line) or not covers else at_quantity(line, fellows, covers, extension)
        return HeldLine(line, extension, covers, at_asked, tuple(found))

    def _twice(self, line: BidLine, covers: Sequence[Asked], fellows: Sequence[BidLine]) -> Iterator[Remark]:
        own = {one.number for one in fellows} | {line.number}
        if len(own) > 1:
            detail = f"{_named(own - {line.number})} the same; their quantities are held against the plan together."
            yield Remark("item_stands_twice", detail, line.number)
        others = {one.number for asked in covers for one in self.covering[_key(asked)]} - own
        if others:
            detail = f"{_named(others)} this too; all of it counts in the total. Ask the bidder which holds."
            yield Remark("covered_twice", detail, line.number)

    def _addition(self, line: BidLine) -> Remark:
        place = "the plan" if line.section is None else f"section {line.section}"
        known = {one.item for one in self.plan.lines if line.section in (None, one.section)}
        near = get_close_matches(normal(line.item or ""), known, n=1)
        elsewhere = [str(one.section) for one in self.plan.lines if one.item == normal(line.item or "")]
        hint = f" Did the bidder mean {near[0]}?" if near else ""
        if elsewhere:
            hint = f" It stands in section {', '.join(elsewhere)}."
        detail = f"There is no {line.item} in {place}; it counts in the total as an addition.{hint}"
        return Remark("not_in_scope", detail, line.number)

    def _remarks(self, missing: Sequence[Asked], total: Decimal) -> Iterator[Remark]:
        if missing:
            likely = sum((line.cost or Decimal(0) for line in missing), Decimal(0))
            first = ", ".join(f"{line.item} in section {line.section}" for line in missing[:_NEARBY])
            more = f" and {len(missing) - _NEARBY} more" if len(missing) > _NEARBY else ""
            detail = f"No price for {first}{more}; the scope prices what is missing at {likely} (likely)."
            yield Remark("lines_missing", detail)
        yield from _range_remarks("total", total, self.plan.total, None)
        if self.bid.exclusions:
            words = "; ".join(self.bid.exclusions)
            yield Remark("has_exclusions", f"Excluded by the bidder, in their words: {words}.")


def _key(asked: Asked) -> Key:
    return asked.section, asked.item


def _named(numbers: Set[int]) -> str:
    """Return the first of some lines by their numbers, with what they do: they price something."""
    first = ", ".join(str(number) for number in sorted(numbers)[:_NEARBY])
    more = f" and {len(numbers) - _NEARBY} more" if len(numbers) > _NEARBY else ""
    return f"Line {first} prices" if len(numbers) == 1 else f"Lines {first}{more} price"


def covered(plan: AskedPlan, line: BidLine) -> tuple[Asked, ...]:
    """Return the lines of a plan that a line of a bid prices: none where the plan has no such line."""
    section = None if line.section is None else section_of(plan, line.section)
    lines = plan.lines if section is None else section.lines
    if line.item is None:
        return priced(lines)
    return tuple(one for one in lines if one.item == normal(line.item))


def normal(item: str) -> str:
    """Return the name of an item as plans spell it: `Spoil haul` is spoil_haul."""
    return "_".join(item.lower().replace("-", " ").replace("_", " ").split())


def is_lump(line: BidLine) -> bool:
    """Tell whether a line is a lump sum: it has no unit price."""
    return line.unit_price is None


def _lump_remarks(plan: AskedPlan, line: BidLine, covers: Sequence[Asked], amount: Decimal) -> Iterator[Remark]:
    span = _lump_range(plan, line, covers)
    if span is not None:
        yield from _range_remarks("lump_sum", amount, span, line.number)


def _lump_range(plan: AskedPlan, line: BidLine, covers: Sequence[Asked]) -> Span | None:
    """Return between which prices a lump sum lies: as the scope has it for a section or a plan, else by its lines."""
    if line.item is None:
        section = None if line.section is None else section_of(plan, line.section)
        return plan.total if section is None else section.cost
    spans = [cost_range(one) for one in covers if one.cost is not None]
    if not spans or None in spans:
        return None
    known = [span for span in spans if span is not None]
    return Span(
        sum((span.low for span in known), Decimal(0)),
        sum((span.likely for span in known), Decimal(0)),
        sum((span.high for span in known), Decimal(0)),
    )


def cost_range(asked: Asked) -> Span | None:
    """Return between which prices a line of a plan lies: its likely price by the range of one unit."""
    if asked.cost is None or asked.prices is None:
        return None
    price = asked.prices["us"]
    if not price.likely:
        return Span(asked.cost, asked.cost, asked.cost)
    low, high = (to_cents(asked.cost * end / price.likely) for end in (price.low, price.high))
    return Span(low, asked.cost, high)


def _range_remarks(what: str, amount: Decimal, span: Span, line: int | None) -> Iterator[Remark]:
    said, where = f"The {what.replace('_', ' ')} {amount} lies", f"the scope's range of {span.low} to {span.high}"
    if amount < span.low:
        yield Remark(f"{what}_low", f"{said} under {where} ({signed(amount - span.low)}).", line)
    elif amount > span.high:
        yield Remark(f"{what}_high", f"{said} over {where} ({signed(amount - span.high)}).", line)
