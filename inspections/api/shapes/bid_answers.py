"""The shapes of answers about bids. They only describe."""

from rest_framework import serializers as s

from inspections import vocabulary as words
from inspections.api.shapes.answers import Shown, Stamps, number, text, word
from inspections.api.shapes.bids import BidShape
from inspections.api.shapes.planned import Range


class BidRemark(Shown):
    """One thing to know about a bid."""

    code = s.CharField(
        help_text="extension_differs, total_differs, quantity_differs, unit_differs, unit_price_low, unit_price_high, "
        "lump_sum_low, lump_sum_high, total_low, total_high, not_in_scope, priced_with_others, item_stands_twice, "
        "covered_twice, lines_missing, has_exclusions; the list grows."
    )
    detail = s.CharField()
    line = s.IntegerField(allow_null=True, help_text="Number of the line it is about, the first is 1.")


class CorrectedLine(Shown):
    """What a line comes to."""

    line = s.IntegerField()
    extension = s.FloatField()


class CorrectedBid(Shown):
    """The arithmetic of a bid done again: unit prices govern over extensions, lines over the total."""

    lines = CorrectedLine(many=True)
    total = s.FloatField()
    remarks = BidRemark(many=True)
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class


class Bid(Stamps, BidShape):
    """A bid as it was written, its arithmetic done again beside it."""

    repair_scope = s.UUIDField()
    corrected = CorrectedBid()
    state = word(words.BID_STATES)
    withdrawn_at = s.DateTimeField(allow_null=True)
    withdrawn_by = text()
    withdrawn_because = text()


class AskedLine(Shown):
    """One line of the plan: its own quantity and likely cost."""

    section = s.IntegerField()
    item = s.CharField()
    quantity = s.FloatField()
    unit = s.CharField()
    cost = number(help_text="Likely; null where the plan prices it together with other lines.")


class Offer(Shown):
    """What one bid asks for one line of the plan."""

    bid = s.UUIDField()
    line = s.IntegerField()
    quantity = number()
    unit = text()
    unit_price = number()
    amount = s.FloatField(help_text="The corrected extension of the bid's line.")
    shared_by = s.IntegerField(help_text="How many lines of the plan the amount is for; over 1: a lump sum.")


class TabulatedLine(AskedLine):
    """One line of the plan with what every bid asks for it."""

    unit_price = Range(allow_null=True)
    offers = Offer(many=True)


class WrittenPrices(Shown):
    """What stands in the bid."""

    quantity = number()
    unit = text()
    unit_price = number()
    extension = number()


class HeldLine(Shown):
    """One line of a bid beside what the plan has there."""

    line = s.IntegerField()
    section = s.IntegerField(allow_null=True)
    item = text()
    written = WrittenPrices()
    extension = s.FloatField(help_text="Corrected.")
    at_plan_quantity = s.FloatField(help_text="What the line would come to at the plan's quantity.")
    plan = AskedLine(many=True)
    remarks = BidRemark(many=True)


class HeldBid(Shown):
    """One bid held against the plan."""

    bid = s.UUIDField()
    bidder = s.CharField()
    rank = s.IntegerField()
    is_complete = s.BooleanField()
    total_written = number()
    total = s.FloatField(help_text="Corrected; ranks are by this.")
    total_at_plan_quantities = s.FloatField()
    against_estimate = s.FloatField(help_text="Corrected total less the likely total of the plan.")
    lines = HeldLine(many=True)
    missing = AskedLine(many=True)
    additions = s.ListField(child=s.IntegerField(), help_text="Numbers of the lines that the plan does not have.")
    exclusions = s.ListField(child=s.CharField())
    remarks = BidRemark(many=True)


class LeftOutBid(Shown):
    """A bid that is not compared."""

    bid = s.UUIDField()
    bidder = s.CharField()
    code = s.CharField(help_text="withdrawn, currency_differs, not_received_yet, not_valid_any_more; grows.")
    detail = s.CharField()


class RankedBid(Shown):
    """Lowest corrected total first; equal totals share a rank."""

    rank = s.IntegerField()
    bid = s.UUIDField()
    bidder = s.CharField()
    total = s.FloatField()
    is_complete = s.BooleanField()


class BidPayer(Shown):
    """What one payer carries."""

    payer = s.CharField()
    amount = s.FloatField()
    rule = s.CharField()
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class


class ProgrammeShares(Shown):
    """Who pays the lowest complete bid; the amounts add up to its corrected total."""

    bid = s.UUIDField()
    bidder = s.CharField()
    total = s.FloatField()
    payers = BidPayer(many=True)
    not_shared = s.FloatField(help_text="For work the plan does not have: no programme pays a share of it.")
    notes = s.ListField(child=s.CharField())


class BidComparison(Shown):
    """All bids on one plan, held against its quantities and prices and against each other."""

    repair_scope = s.UUIDField()
    plan = word(words.PLAN_NAMES)
    units = word(words.UNITS)
    currency = s.CharField()
    is_current = s.BooleanField(help_text="false: the lateral or its site changed since the scope was computed.")
    on = s.DateField(allow_null=True)
    estimate = Range()
    lines = TabulatedLine(many=True)
    bids = HeldBid(many=True)
    left_out = LeftOutBid(many=True)
    ranking = RankedBid(many=True)
    lowest = s.UUIDField(allow_null=True)
    lowest_complete = s.UUIDField(allow_null=True)
    programme = ProgrammeShares(allow_null=True)
    programme_reason = text(help_text="Why there is no programme here.")
    cautions = s.ListField(child=s.CharField())
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class
    rules = s.CharField()
    rules_version = s.CharField()
    inputs_sha256 = s.CharField()
