"""The shapes of repair scopes as they are answered."""

from rest_framework import serializers as s

from inspections import vocabulary as words
from inspections.api.shapes.answers import (
    Alarm,
    CalculationLink,
    SchemeNamed,
    Shown,
    Stamps,
    number,
    text,
    word,
)
from inspections.api.shapes.lateral import PolicyShape


class Range(Shown):
    """Low, likely and high, in the currency of the rate book."""

    low = s.FloatField()
    likely = s.FloatField()
    high = s.FloatField()


class Bounds(Shown):
    """The low and the high case."""

    low = s.FloatField()
    high = s.FloatField()


class Stretch(Shown):
    """From a station to a station."""

    locals()["from"] = number()
    to = number()


class Surcharge(Range):
    """What a surface adds to a price per length; the unit price has it in it."""

    surface = s.CharField()


class UnitPrice(Shown):
    """A part of a quantity at one unit price."""

    quantity = s.FloatField()
    unit_price = Range()
    surcharge = Surcharge(allow_null=True)


class Quantity(Shown):
    """One quantity with the formula and the numbers it came from, and how its price comes about."""

    item = s.CharField()
    quantity = s.FloatField()
    unit = s.CharField()
    formula = s.CharField()
    range = Bounds(required=False, help_text="Where low and high differ from the likely quantity.")
    is_derived = s.BooleanField(help_text="True: it has no price of its own; priced_in names what pays for it.")
    priced_in = text()
    rate_item = text(help_text="Where in the rate book the unit price stands.")
    rates = UnitPrice(many=True)
    cost_formula = text(help_text="The likely price with unit prices and surcharges in it.")
    cost = s.FloatField(allow_null=True, help_text="Likely; the costs of a section's quantities add up to its own.")
    cost_range = Bounds(allow_null=True)


class Years(Shown):
    """Low, likely and high, in years."""

    low = s.IntegerField()
    likely = s.IntegerField()
    high = s.IntegerField()


class SectionCheck(Shown):
    """An engineering check of a section."""

    check = s.CharField(help_text="trench, liner, drain, notice, ...")
    governs = s.CharField()
    summary = s.CharField()
    results = s.DictField(help_text="What the check of that name answers; empty where nothing could be computed.")
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class
    cautions = s.ListField(child=s.CharField())


class PayerTotal(Range):
    """What one payer bears of a plan."""

    payer = s.CharField(help_text="owner, public_sewer_authority, repair_programme, ...")


class PayerShare(PayerTotal):
    """What one payer bears of a section, and by which rule."""

    rule = s.CharField()
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class


class SectionRange(Shown):
    """How far a section reaches in the low and the high case."""

    low = Stretch()
    high = Stretch()


class SharedStretch(Stretch):
    """A stretch that another section of the plan works too."""

    order = s.IntegerField(help_text="The other section's place in the order of work.")
    note = s.CharField()


class ZoneCost(Stretch):
    """What a section costs in one zone, and how it was divided."""

    zone = s.CharField(help_text="inside, private or public.")
    cost = Range()
    divided = s.CharField()


class Section(Shown):
    """A stretch and the method that renews or cleans it."""

    order = s.IntegerField(help_text="Place in the order of work, 1 first.")
    order_reasons = s.ListField(child=s.CharField())
    locals()["from"] = number()
    to = number()
    range = SectionRange()
    method = s.CharField()
    cures = s.ListField(child=s.CharField())
    cures_in_part = s.ListField(child=s.CharField(), help_text="Cured only as far as was seen.")
    is_complete = s.BooleanField()
    incomplete = text(help_text="Why the work here is not complete; null: it is.")
    shared = SharedStretch(many=True)
    quantities = Quantity(many=True)
    checks = SectionCheck(many=True)
    cost = Range()
    zones = ZoneCost(many=True)
    payer_shares = PayerShare(many=True)
    cautions = s.ListField(child=s.CharField())
    reasons = s.ListField(child=s.CharField())
    life_years = Years(help_text="How long the method lasts.")


class Monitor(Shown):
    """A defect that is looked at again, and when."""

    defect = s.CharField()
    look_again_by = s.DateField(allow_null=True)
    look_again_in_years = s.IntegerField()
    reason = s.CharField()
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class


class Refusal(Shown):
    """Why one method does not serve one defect."""

    method = s.CharField()
    limit = s.CharField()
    detail = s.CharField()
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class


class RefusedMethods(Shown):
    """Which methods do not serve a defect."""

    defect = s.CharField()
    refused = Refusal(many=True)


class NotCurable(RefusedMethods):
    """A defect no method cures here, and which limit refused each."""

    reason = s.CharField()
    cautions = s.ListField(child=s.CharField())


class Proof(Shown):
    """Why nothing cheaper is sound. Without a plan nothing is proved, and there is no bound."""

    optimal = s.BooleanField()
    lower_bound = s.FloatField(allow_null=True)
    method = s.CharField()


class Left(Stretch):
    """A stretch the plan does not touch though its name promises it; null: nobody knows how far."""

    reason = s.CharField()


class Plan(Shown):
    """One way to repair the lateral.

    Where nothing may or can be done it is not possible: it has no sections and no price at all.
    """

    name = word(words.PLAN_NAMES)
    objective = s.CharField()
    is_possible = s.BooleanField()
    reason = text(help_text="Why it is not possible, or what it leaves; null: it is possible and leaves nothing.")
    sections = Section(many=True)
    monitor = Monitor(many=True)
    not_curable = NotCurable(many=True)
    total = Range(allow_null=True, help_text="Null where the plan is not possible: there is no price.")
    payers = PayerTotal(many=True)
    against_least_cost = number(help_text="What it costs more than the cheapest, likely.")
    dug_volume = number(help_text="cy or m3.")
    dug_length = number(help_text="ft or m.")
    leaves = Left(many=True)
    proof = Proof()


class Step(Shown):
    """What is done in one year of an alternative."""

    year = s.IntegerField()
    sections = s.ListField(child=s.IntegerField(), help_text="Their places in the order of work of least_cost.")
    methods = s.ListField(child=s.CharField())
    is_renewal = s.BooleanField(help_text="True: the work of an earlier year has worn out and is done again.")
    cost = s.FloatField()
    present_value = s.FloatField()


class Alternative(Shown):
    """Acting now, in stages or late, over the policy's horizon."""

    name = s.ChoiceField(choices=["now", "in_stages", "late"])
    is_possible = s.BooleanField()
    reason = s.CharField()
    steps = Step(many=True)
    present_value = Range(allow_null=True)
    before_acting = s.DictField(required=False)
    at_the_horizon = s.DictField(required=False)


class Waiting(Shown):
    """What waiting means. Read the caution first: it is no forecast and no saving."""

    caution = s.CharField()
    reason = text(help_text="Why there is nothing to weigh; null: there is.")
    alternatives = Alternative(many=True)
    expected = s.ListField(child=s.DictField(), help_text="The condition by year if nothing is done.")
    model = s.CharField(required=False)
    source = s.CharField(required=False)  # type: ignore[assignment] # DRF takes it off the class
    horizon_years = s.IntegerField(required=False)
    discount_percent = s.FloatField(required=False)
    starts_in_class = s.IntegerField(required=False)
    assumptions = s.ListField(child=s.CharField(), required=False)


class RulesNamed(Shown):
    """The version of the rules that computed it."""

    id = s.CharField()
    version = s.CharField()


class ClosedBy(Shown):
    """The newest closing of a scope that was judged."""

    id = s.UUIDField()
    url = s.CharField()
    plan = word(words.PLAN_NAMES)
    outcome = word(words.CLOSING_OUTCOMES)
    closed_on = s.DateField()


class RepairScope(Stamps):
    """What to repair on a lateral, at what price, and why nothing cheaper is sound."""

    lateral = s.UUIDField()
    state = word(words.CALCULATION_STATES)
    error = text(help_text="Why it could not be computed.")
    calculation = CalculationLink()
    units = word(words.UNITS)
    policy = PolicyShape()
    rate_book = SchemeNamed()
    rule_set = SchemeNamed()
    scheme = SchemeNamed()
    alarms = Alarm(many=True)
    plans = Plan(many=True)
    monitor = Monitor(many=True)
    not_curable = NotCurable(many=True)
    proof = Proof(allow_null=True)
    cautions = s.ListField(child=s.CharField())
    is_current = s.BooleanField(help_text="False while it waits, and once its lateral or site says something else.")
    inputs_sha256 = text()
    closing = ClosedBy(allow_null=True, help_text="null: not closed yet.")
    # Only once it is computed.
    currency = s.CharField(required=False)
    refused = RefusedMethods(many=True, required=False)
    waiting = Waiting(required=False)
    assumptions = s.ListField(child=s.CharField(), required=False)
    impossible = text(required=False, help_text="Why there is no plan at all.")
    as_of = s.DateField(allow_null=True, required=False)
    rules = RulesNamed(required=False)


class ScopeAccepted(Shown):
    """A scope that is being computed."""

    id = s.UUIDField()
    calculation = CalculationLink()
