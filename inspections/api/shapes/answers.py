"""The shapes of answers. They only describe: documents are built from rows and results, then written as they are."""

from functools import cache
from typing import Any, ClassVar

from rest_framework import serializers as s

from inspections import vocabulary as words
from inspections.api.lists import BATCH_MODES
from inspections.api.shapes.job import CustomerShape, JobShape, Location, PropertyShape, Window
from inspections.api.shapes.lateral import BoundaryShape, DepthShape, SiteShape, SurfaceShape
from inspections.api.shapes.matching import DecisionRequest
from inspections.api.shapes.run import RunShape, SegmentShape


class Shown(s.Serializer[Any]):
    """An object in an answer."""

    only_expanded: ClassVar[frozenset[str]] = frozenset()  # members that are there only where `expand` asks for them


def text(**options: Any) -> s.CharField:
    """Return a field for text that may be missing."""
    return s.CharField(allow_null=True, **options)


def number(**options: Any) -> s.FloatField:
    """Return a field for a number that may be missing, written digit for digit."""
    return s.FloatField(allow_null=True, **options)


def word(values: words.Values, **options: Any) -> s.ChoiceField:
    """Return a field for a word of a closed list."""
    return s.ChoiceField(choices=list(values.items()), **options)


class Fault(Shown):
    """One thing wrong with a request."""

    pointer = s.CharField(help_text="JSON pointer (RFC 6901) to the place; empty: the whole.")
    code = s.CharField()
    detail = s.CharField(help_text="What is wrong and what to do.")


class Problem(Shown):
    """Why a request was refused (RFC 9457)."""

    type = s.CharField()
    title = s.CharField()
    status = s.IntegerField()
    code = s.CharField(help_text="Stable; branch on this.")
    detail = s.CharField()
    errors = Fault(many=True, help_text="Every fault that was found, at once.")  # type: ignore[assignment] # DRF takes it off the class
    request_id = s.CharField(help_text="Name it when you ask about this.")


class Limit(Shown):
    """One limit, and what it counts."""

    value = s.IntegerField()
    meaning = s.CharField()


class ProblemInBrief(Shown):
    """Status and meaning of a code."""

    status = s.IntegerField()
    meaning = s.CharField()


class StartPage(Shown):
    """What there is, and what the words mean."""

    service = s.CharField()
    version = s.CharField()
    docs = s.URLField(help_text="The page for people.")
    openapi = s.URLField(help_text="The document for generators.")
    addresses = s.DictField(child=s.URLField(), help_text="Where each kind of record is.")
    resources = s.DictField(child=s.CharField(), help_text="What each kind of record is.")
    exports = s.ListField(child=s.URLField())
    limits = s.DictField(child=Limit(), help_text="Every limit a client can meet.")
    event_types = s.DictField(child=s.CharField(), help_text="Every type of event with its meaning.")
    problems = s.DictField(child=ProblemInBrief(), help_text="Every code of a problem.")
    fault_codes = s.DictField(child=s.CharField(), help_text="Every code of a fault inside a problem.")
    values = s.DictField(
        child=s.DictField(child=s.CharField()), help_text="Every closed list: its words with their meaning."
    )
    degrees_of_kind = s.DictField(child=s.CharField(), help_text="Which list of degrees a kind of defect takes.")
    measures_of_kind = s.DictField(
        child=s.ListField(child=s.CharField()), help_text="What can be measured of a kind of defect."
    )


class ProblemMeaning(Shown):
    """What a code of a problem means."""

    code = s.CharField()
    status = s.IntegerField()
    title = s.CharField()
    meaning = s.CharField()


class Stamps(Shown):
    """What every resource says of itself."""

    id = s.UUIDField()
    created_at = s.DateTimeField()
    updated_at = s.DateTimeField()
    revision = s.IntegerField(help_text='Its ETag is this number in quotes: "3".')


class Named(Shown):
    """A record by id and name."""

    id = s.UUIDField()
    name = s.CharField()


class Customer(Stamps, CustomerShape):
    """Who asked."""

    erased_at = s.DateTimeField(allow_null=True, help_text="when personal data were erased on request")


class Property(Stamps, PropertyShape):
    """An address with its laterals."""

    customer_id = s.UUIDField(allow_null=True)
    laterals = Named(many=True)


class Job(Stamps, JobShape):
    """One visit asked for at one property."""

    state = word(words.JOB_STATES)
    window = Window(allow_null=True)
    inspector = text()
    customer = Customer()
    property = Property()
    runs = s.ListField(child=s.UUIDField())
    customer_id = None  # type: ignore[assignment] # not shown
    property_id = None  # type: ignore[assignment] # not shown


class Alarm(Shown):
    """What must not wait: a foreign line, an imminent collapse."""

    code = s.ChoiceField(choices=["foreign_line", "imminent_collapse"])
    detail = s.CharField()
    at = number()
    ref = text()


class RunProblem(Shown):
    """What a draft still lacks."""

    pointer = s.CharField()
    code = s.CharField()
    detail = s.CharField()
    stops_submit = s.BooleanField(help_text="True: the run cannot be submitted without it.")


class Run(Stamps, RunShape):
    """One pass of a camera, as it was written, with what the service says of it."""

    state = word(words.RUN_STATES)
    submitted_at = s.DateTimeField(allow_null=True)
    reviewed_at = s.DateTimeField(allow_null=True)
    review_reasons = s.ListField(child=s.CharField())
    problems = RunProblem(many=True)
    alarms = Alarm(many=True)


class CalculationLink(Shown):
    """Where a calculation is followed."""

    id = s.UUIDField()
    url = s.CharField()


class Submitted(Shown):
    """A sealed run and the calculation that grades it."""

    id = s.UUIDField()
    state = word(words.RUN_STATES)
    revision = s.IntegerField()
    calculation = CalculationLink()


class Amendment(Stamps):
    """A change of a sealed run with its reason, and what stood before."""

    run = s.UUIDField()
    run_revision = s.IntegerField()
    reason = s.CharField()
    changes = s.DictField()
    before = s.DictField()
    by = s.CharField()


class Amended(Amendment):
    """An amendment and the calculation that grades the run again."""

    calculation = CalculationLink()


class Calculation(Shown):
    """One piece of work: queued, running, done, failed or superseded."""

    id = s.UUIDField()
    url = s.CharField()
    kind = word(words.CALCULATION_KINDS)
    subject = s.UUIDField()
    state = word(words.CALCULATION_STATES)
    attempts = s.IntegerField()
    error = text()
    result = text(help_text="Where the result is read, once it is done.")
    superseded_by = s.UUIDField(allow_null=True)
    rules_version = s.CharField()
    inputs_sha256 = text()
    created_at = s.DateTimeField()
    updated_at = s.DateTimeField()
    finished_at = s.DateTimeField(allow_null=True)


class GradeCount(Shown):
    """A grade and how often it was given."""

    grade = s.IntegerField()
    count = s.IntegerField()


class Density(Shown):
    """What a density scheme makes of an aspect."""

    s = number(help_text="Damage rate.")
    s_max = number()
    f = number()
    s_m = number()
    extent = text()


class Summary(Shown):
    """The sums over all findings of one aspect."""

    grade = s.IntegerField(allow_null=True)
    counts = s.DictField(child=s.IntegerField())
    worst_two = GradeCount(many=True)
    weighted_count = s.IntegerField()
    mean_grade = number()
    two_grade_sum = s.IntegerField()
    damage_length = number()
    time_left = text()
    density = Density(allow_null=True, help_text="Only under a density scheme.")


class UnseenPart(Shown):
    """A stretch where the pipe could not be judged; null: open on that side."""

    locals()["from"] = number()
    to = number()
    reason = word(words.UNSEEN_REASONS)


class Coverage(Shown):
    """What share was seen. No grade without it."""

    length_share = number(help_text="Seen length over surveyed length, 0 to 1.")
    joints_seen = s.IntegerField()
    joints_affected = s.IntegerField()
    joints_sound = s.IntegerField()
    joints_expected = s.IntegerField(allow_null=True)
    joints_not_seen = s.IntegerField(allow_null=True)
    joints_not_recorded = s.IntegerField(allow_null=True, help_text="Seen lengths whose joints nobody wrote down.")
    joint_spacing_from = text(help_text="Where the length of one pipe is taken from.")
    joint_spacing_share = number(help_text="Share of the length for which it is known, 0 to 1.")
    unseen = UnseenPart(many=True)


class GradedDefect(Shown):
    """One grade of one defect, with the rule that gave it and the source of the rule."""

    ref = s.CharField()
    aspect = s.ChoiceField(choices=["structural", "service"])
    grade = s.IntegerField()
    rule = s.CharField()
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class
    measure = text()
    also = s.ListField(child=s.CharField())


class Scheme(Shown):
    """The scheme a grade belongs to, with its direction."""

    id = s.CharField()
    version = s.IntegerField()
    title = s.CharField()
    best = s.IntegerField()
    worst = s.IntegerField()
    nothing_found = s.IntegerField(allow_null=True)


class GradedUnder(Scheme):
    """The scheme a grading was made under, with its sources."""

    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class
    time_left_source = text()


class _Sums(Shown):
    structural = Summary()
    service = Summary()
    overall = Summary()
    coverage = Coverage()


class GradedSegment(_Sums):
    """The sums over one segment."""

    locals()["from"] = number()
    to = number()
    material = text()
    diameter = number()


class Guidance(Shown):
    """What public guidance says of one finding; an aid beside the grade."""

    ref = s.CharField()
    rule = s.CharField()
    says = s.CharField()
    look_again_years = s.ListField(child=s.IntegerField(), allow_null=True, help_text="From, to.")
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class


class Grading(_Sums):
    """A scheme applied."""

    scheme = GradedUnder()
    verdict = s.CharField()
    defects = GradedDefect(many=True)
    unplaced = s.ListField(child=s.CharField(), help_text="Refs of findings without a station: in no segment.")
    segments = GradedSegment(many=True)
    guidance = Guidance(many=True)
    alarms = Alarm(many=True)
    cautions = s.ListField(child=s.CharField())


class KeptGrading(Grading):
    """A grading with what it was made from and by which version of the rules."""

    id = s.UUIDField()
    rules_version = s.CharField()
    inputs_sha256 = s.CharField()
    calculation = s.UUIDField()
    computed_at = s.DateTimeField()


class RunGrading(KeptGrading):
    """The grading of one revision of a run."""

    run = s.UUIDField()
    run_revision = s.IntegerField()
    units = word(words.UNITS)


class Opinion(Shown):
    """What one scheme says."""

    scheme = s.CharField()
    version = s.IntegerField()
    grade = s.IntegerField(allow_null=True)
    severity = number(help_text="0 is the scheme's best grade, 1 its worst; null: no grade here.")


class Disagreement(Shown):
    """What the schemes say of one finding, or of a whole aspect."""

    ref = text(help_text="The finding; null: the whole aspect.")
    aspect = s.ChoiceField(choices=["structural", "service", "overall"])
    spread = s.FloatField(help_text="The largest severity less the smallest.")
    is_disagreement = s.BooleanField(help_text="Further apart than half a step of the coarsest scheme, or no grade.")
    opinions = Opinion(many=True)


class LateralGradings(Shown):
    """One lateral under every scheme, each with its direction, and where they disagree."""

    lateral = s.UUIDField()
    units = word(words.UNITS)
    is_current = s.BooleanField(help_text="False while a newer state is being computed.")
    alarms = Alarm(many=True)
    gradings = KeptGrading(many=True, help_text="The default scheme's first.")
    disagreements = Disagreement(many=True, help_text="The aspects first, then the findings, widest spread first.")


class Source(Shown):
    """Where something on the lateral was seen."""

    run = s.UUIDField()
    ref = s.CharField()
    counter = number()


class Datum(Shown):
    """The access point that stations count from."""

    kind = s.CharField()
    label = text()  # type: ignore[assignment] # DRF takes it off the class
    run = s.UUIDField()


class PlacedRun(Shown):
    """How one run lies on the lateral."""

    run = s.UUIDField()
    tied = s.BooleanField()
    station_at_start = number()
    station_at_end = number()
    scale = number()
    reason = s.CharField()


class LateralFeature(Shown):
    """A feature of the reconciled pipe."""

    kind = word(words.FEATURE_KINDS)
    station = number()
    station_sd = number()
    counter = number(help_text="Only where nothing ties its run to the datum.")
    label = text()  # type: ignore[assignment] # DRF takes it off the class
    clock_from = number()
    clock_to = number()
    sources = Source(many=True)


class LateralDefect(Shown):
    """A finding of the reconciled pipe; clocks are given facing downstream."""

    ref = s.CharField()
    kind = word(words.DEFECT_KINDS)
    pattern = text()
    station = number()
    to_station = number()
    station_sd = number(help_text="One standard deviation of the station.")
    counter = number(help_text="Only where nothing ties its run to the datum.")
    to_counter = number()
    at_joint = s.BooleanField()
    clock_from = number()
    clock_to = number()
    degree = text()
    opening = text()
    width_mm = number()
    offset = number()
    gap = number()
    percent = number()
    thickness = number()
    soil_seen = s.BooleanField()
    void_seen = s.BooleanField()
    ambiguous = s.BooleanField()
    sources = Source(many=True)


class Conflict(Shown):
    """Two runs contradict each other; both statements are kept."""

    code = s.CharField()
    detail = s.CharField()
    station = number()
    sources = Source(many=True)


class Lateral(Shown):
    """The reconciled pipe: one list out of all its runs."""

    id = s.UUIDField()
    external_ref = text()
    property = s.UUIDField()
    name = s.CharField()
    units = word(words.UNITS)
    alarms = Alarm(many=True)
    datum = Datum(allow_null=True)
    locals()["from"] = number()
    to = number()
    reaches_building = s.BooleanField()
    reaches_main = s.BooleanField()
    is_upstream_end_open = s.BooleanField(required=False, help_text="True: nobody came to its upper end.")
    rules = text(required=False, help_text="Version of the rules that reconciled it.")
    runs = PlacedRun(many=True)
    segments = SegmentShape(many=True)
    features = LateralFeature(many=True)
    defects = LateralDefect(many=True)
    unseen = UnseenPart(many=True)
    conflicts = Conflict(many=True)
    boundaries = BoundaryShape(many=True)
    depths = DepthShape(many=True)
    surfaces = SurfaceShape(many=True)
    grading = Grading(allow_null=True)
    is_current = s.BooleanField(help_text="False while a newer state is being computed.")
    inputs_sha256 = text()
    rules_version = text()
    computed_at = s.DateTimeField(allow_null=True)


class Change(Shown):
    """One measure that differs beyond what two crews may differ by."""

    measure = s.CharField()
    earlier = s.JSONField()
    later = s.JSONField()
    doubt = number(help_text="What two crews may differ by without any change; null for words.")
    worse = s.BooleanField()
    rule = s.CharField()


class ComparedFinding(Shown):
    """One finding in either or both inspections, each with its station in its own inspection."""

    earlier = LateralDefect(allow_null=True)
    later = LateralDefect(allow_null=True)
    changes = Change(many=True)
    reason = s.CharField()
    certain = s.BooleanField()


class Inspection(Shown):
    """The runs that make one inspection."""

    runs = s.ListField(child=s.UUIDField())
    jobs = s.ListField(child=s.UUIDField())
    inspected_on = s.DateField()


class Comparison(Shown):
    """An earlier and a later inspection; only what both saw is compared."""

    lateral = s.UUIDField()
    units = word(words.UNITS)
    alarms = Alarm(many=True)
    earlier = Inspection()
    later = Inspection()
    tied = s.BooleanField(help_text="False: nothing ties the two to each other, and nothing is compared.")
    reason = s.CharField()
    compared_length = s.FloatField(help_text="The length that both saw.")
    new = ComparedFinding(many=True)
    grown = ComparedFinding(many=True)
    unchanged = ComparedFinding(many=True)
    repaired = ComparedFinding(many=True)
    not_seen = ComparedFinding(many=True)
    rules = s.CharField()
    rules_version = s.CharField()
    inputs_sha256 = s.CharField()


class MatchDecision(Stamps, DecisionRequest):
    """What a person decided about two findings of two runs."""

    lateral = s.UUIDField()
    by = s.CharField()
    state = word(words.DECISION_STATES)
    withdrawn_at = s.DateTimeField(allow_null=True)
    withdrawn_by = text()
    withdrawn_because = text()


class DecisionMade(MatchDecision):
    """A decision and the calculation that reconciles the lateral by it."""

    calculation = CalculationLink()


class Site(SiteShape):
    """What is known of the ground over a lateral."""

    lateral = s.UUIDField()
    updated_at = s.DateTimeField()
    revision = s.IntegerField()


class AccessPoint(Stamps):
    """Where a camera or a crew gets in."""

    external_ref = text()
    property = s.UUIDField()
    lateral = s.UUIDField(allow_null=True)
    units = word(words.UNITS)
    kind = word(words.ACCESS_KINDS)
    label = text()  # type: ignore[assignment] # DRF takes it off the class
    how_to_find = text()
    size = number()
    ties = s.ListField(child=s.DictField())
    location = Location(allow_null=True)


class PointGeometry(Shown):
    """A point (RFC 7946, 3.1.2): longitude first."""

    type = s.ChoiceField(choices=["Point"])
    coordinates = s.ListField(child=s.FloatField(), min_length=2, max_length=2)


class MapFeature(Shown):
    """A record on the map (RFC 7946, 3.2)."""

    type = s.ChoiceField(choices=["Feature"])
    id = s.UUIDField()
    geometry = PointGeometry()
    properties = s.DictField(help_text="The record without its location.")


class FeatureCollection(Shown):
    """One page of records on the map (RFC 7946, 3.3)."""

    type = s.ChoiceField(choices=["FeatureCollection"])
    features = MapFeature(many=True)
    next = text(help_text="Address of the next page; null on the last.")


class Versioned(Stamps):
    """A scheme, rate book or rule set; a version never changes."""

    external_ref = text()
    code = s.CharField()
    version = s.IntegerField()
    title = s.CharField()
    is_default = s.BooleanField()
    document = s.DictField()


class Loss(Shown):
    """One thing the other side cannot be told."""

    field = s.CharField()
    value = s.JSONField()
    detail = s.CharField()


class CodedFinding(Shown):
    """A finding in a customer's codes; no code: none can say it."""

    what = s.ChoiceField(choices=["defect", "feature"])
    ref = text(help_text="Ref of the defect or label of the feature.")
    code = text()
    values = s.DictField(help_text="What stands beside the code, by name with its unit.")
    lost = Loss(many=True)


class ToExternal(Shown):
    """Findings in a customer's codes, the defects first, in the order they were sent."""

    code_map = s.UUIDField()
    findings = CodedFinding(many=True)


class ReadFinding(Shown):
    """What a code stands for."""

    code = s.CharField()
    what = s.ChoiceField(choices=["defect", "feature"])
    kind = s.CharField()
    attributes = s.DictField()
    lost = Loss(many=True, help_text="Values that were not taken over.")


class FromExternal(Shown):
    """What codes stand for, in the order they were sent."""

    code_map = s.UUIDField()
    findings = ReadFinding(many=True)


class Import(Shown):
    """One request of rows, and what became of them."""

    id = s.UUIDField()
    kind = word(words.IMPORT_KINDS)
    lines = s.IntegerField()
    taken = s.IntegerField()
    flagged = s.IntegerField()
    refused = s.IntegerField()
    source = s.CharField()  # type: ignore[assignment] # DRF takes it off the class
    created_at = s.DateTimeField()


class RowFinding(Shown):
    """One thing that is wrong with a row, and what to do."""

    code = s.CharField()
    detail = s.CharField()


class ImportedLine(Shown):
    """What became of one line."""

    line = s.IntegerField()
    ref = text()
    outcome = s.ChoiceField(choices=["taken", "flagged", "refused"])
    in_run = s.BooleanField(help_text="False: refused, or kept beside the run until what is wrong is corrected.")
    code = text(help_text="The first thing to be said of it.")
    detail = text()
    findings = RowFinding(many=True)


class ImportedRecord(Shown):
    """What became of one line of records."""

    line = s.IntegerField(help_text="Counted from 1; in a table the header is line 1.")
    external_ref = text()
    id = s.UUIDField(allow_null=True, help_text="The record it names; null where it was refused.")
    outcome = s.ChoiceField(choices=["made", "changed", "unchanged", "refused"])
    code = text(help_text="Why it was refused: the code of the problem that it alone would have been answered.")
    detail = text()
    errors = Fault(many=True)  # type: ignore[assignment] # DRF takes it off the class


class ImportedObservation(Shown):
    """One imported row as it was sent."""

    id = s.UUIDField()
    ref = s.CharField()
    outcome = s.ChoiceField(choices=["taken", "flagged"])
    in_run = s.BooleanField()
    findings = RowFinding(many=True)
    sent = s.DictField()
    imported_by = s.UUIDField()
    created_at = s.DateTimeField()


class SchemeNamed(Shown):
    """A version of a scheme."""

    id = s.UUIDField()
    code = s.CharField()
    version = s.IntegerField()


class Recomputation(Stamps):
    """A scheme on all laterals, and how far it is."""

    scheme = SchemeNamed()
    against = SchemeNamed(help_text="What it is held against.")
    apply = s.BooleanField()
    state = word(words.CALCULATION_STATES)
    error = text()
    total = s.IntegerField()
    done = s.IntegerField()
    changed = s.IntegerField(help_text="Laterals on which something changes.")
    per_second = number(help_text="Laterals a second in the last minute; null where none were done or it has ended.")
    seconds_left = s.IntegerField(allow_null=True, help_text="How long the rest takes at that pace.")
    calculation = CalculationLink()


class GradedInBrief(Shown):
    """The grades of one lateral under one scheme."""

    scheme = Scheme()
    verdict = s.CharField()
    structural = s.IntegerField(allow_null=True)
    service = s.IntegerField(allow_null=True)
    overall = s.IntegerField(allow_null=True)


class Difference(Shown):
    """What a scheme changes on one lateral."""

    lateral = s.UUIDField()
    is_changed = s.BooleanField()
    before = GradedInBrief()
    after = GradedInBrief()
    differences = Disagreement(many=True, help_text="Aspects and findings whose grade changes.")
    computed_at = s.DateTimeField()


class Event(Shown):
    """One committed change."""

    id = s.UUIDField()
    specversion = s.CharField(required=False, help_text="1.0; only with ?format=cloudevents.")
    source = s.CharField(  # type: ignore[assignment] # DRF takes it off the class
        required=False, help_text="The organisation, as a URN; only with ?format=cloudevents."
    )
    datacontenttype = s.CharField(required=False, help_text="Only with ?format=cloudevents.")
    type = s.CharField()
    time = s.DateTimeField()
    subject = s.CharField()
    data = s.DictField()  # type: ignore[assignment] # DRF takes it off the class


class AuditEntry(Shown):
    """Who did what, through what, and what stood before and after."""

    id = s.IntegerField()
    record_type = s.CharField()
    record_id = s.CharField()
    number = s.IntegerField()
    at = s.DateTimeField()
    actor = s.CharField()
    through = s.CharField()
    request_id = s.CharField()
    action = s.CharField()
    reason = s.CharField()
    before = s.JSONField()
    after = s.JSONField()
    previous_hash = s.CharField()
    hash = s.CharField()


class BatchAnswer(Shown):
    """The answer to one entry, as it would have been alone."""

    status = s.IntegerField()
    headers = s.DictField(child=s.CharField(), help_text="ETag, Location and what else says how it went.")
    body = s.DictField(allow_null=True, help_text="The document, or the problem.")


class Batch(Shown):
    """The answers to the entries of a batch, in order."""

    mode = word(BATCH_MODES)
    entries = BatchAnswer(many=True)


class _Page(Shown):
    next = text(help_text="Address of the next page; null on the last.")


@cache
def page_of(shape: type[Shown], name: str) -> type[Shown]:
    """Return the shape of a page of these."""
    return type(name, (_Page,), {"items": shape(many=True), "__doc__": "One page."})


class Inspector(Shown):
    """Somebody who can be sent to a job."""

    username = s.CharField(help_text="What a job's `inspector` takes.")
    name = s.CharField()
    role = word(words.ROLES)


Inspectors = page_of(Inspector, "Inspectors")


Events = page_of(Event, "Events")
AuditEntries = page_of(AuditEntry, "AuditEntries")
