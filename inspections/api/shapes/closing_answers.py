"""The shapes of answers about closings. They only describe."""

from rest_framework import serializers as s

from inspections import vocabulary as words
from inspections.api.shapes.answers import Alarm, CalculationLink, Shown, Stamps, number, text, word
from inspections.api.shapes.closings import ClosingRequest


class Criterion(Shown):
    """One thing that must hold, and whether it does."""

    criterion = word(words.CRITERIA)
    met = s.BooleanField(allow_null=True, help_text="null: it cannot be said.")
    detail = s.CharField()
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class


class AsBuilt(Shown):
    """What was done."""

    method = s.CharField()
    locals()["from"] = number()
    to = number()
    material = word(words.MATERIALS, allow_null=True)
    done_on = s.DateField()


class NotSeen(Shown):
    """A stretch that no run after the work saw."""

    locals()["from"] = number()
    to = number()
    reason = s.CharField()


class LeftInIt(Shown):
    """A finding after the work at or above the policy's grade."""

    ref = s.CharField()
    kind = word(words.DEFECT_KINDS)
    grade = s.IntegerField(allow_null=True)
    locals()["from"] = number()
    to = number()
    inside = s.BooleanField(help_text="false: at an edge, within the doubt of its station.")


class CuredDefect(Shown):
    """What became of a defect that the section was to cure."""

    defect = s.CharField(help_text="Its ref on the lateral before the work.")
    became = word(words.BECAME)
    certain = s.BooleanField()
    reason = s.CharField()


class PressureTestSeen(Shown):
    """A pressure test as it bears on a section."""

    test = s.IntegerField(help_text="Its number in the report, the first is 1.")
    kind = word(words.PRESSURE_TESTS)
    locals()["from"] = number()
    to = number()
    made_at = s.DateTimeField()
    passed = s.BooleanField(allow_null=True)
    counts = s.BooleanField()
    reason = s.CharField()
    detail = s.CharField()
    missing = text(help_text="The reading that was not sent.")
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class
    cautions = s.ListField(child=s.CharField())


class ClosedSection(Shown):
    """One section after the work: its outcome, and every criterion it rests on."""

    section = s.IntegerField()
    outcome = word(words.CLOSING_OUTCOMES)
    method = s.CharField()
    locals()["from"] = number()
    to = number()
    as_built = AsBuilt(allow_null=True)
    criteria = Criterion(many=True)
    runs = s.ListField(child=s.UUIDField(), help_text="Those made on or after the day the work was done.")
    seen_share = number()
    unseen = NotSeen(many=True)
    left = LeftInIt(many=True)
    cured = CuredDefect(many=True)
    tests = PressureTestSeen(many=True)


class Closing(Stamps):
    """A repair scope after the work, section by section."""

    external_ref = text()
    repair_scope = s.UUIDField()
    plan = word(words.PLAN_NAMES)
    closed_on = s.DateField()
    state = word(words.CALCULATION_STATES)
    error = text()
    calculation = CalculationLink()
    alarms = Alarm(many=True)
    units = word(words.UNITS)
    outcome = word(words.CLOSING_OUTCOMES, allow_null=True)
    sections = ClosedSection(many=True)
    cautions = s.ListField(child=s.CharField())
    rules = s.CharField(required=False)
    reported = ClosingRequest(help_text="The report as it was sent, in its own units.")
    is_current = s.BooleanField(help_text="false: runs were submitted, amended or matched since.")
    rules_version = text()
    inputs_sha256 = text()


class ClosingAccepted(Shown):
    """A report that is being judged."""

    id = s.UUIDField()
    calculation = CalculationLink()
