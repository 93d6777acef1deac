"""Every closed list of values a document may use, each value with its meaning in plain words.

The lists are served at `/api/v1/`, checked at the door and held by the database.
"""

from collections.abc import Mapping
from typing import Final

Values = Mapping[str, str]

PURPOSES: Final[Values] = {
    "backup": "the drain backed up",
    "purchase": "a buyer wants to know before buying",
    "repair_programme": "a public programme may pay a share",
    "post_repair": "proof that a repair holds",
    "routine": "a look at regular intervals",
    "other": "anything else; say it in the instructions",
}
CUSTOMER_KINDS: Final[Values] = {
    "household": "the people who live or own there",
    "business": "a firm",
    "agency": "a public body",
    "other": "anyone else",
}
JOB_STATES: Final[Values] = {
    "requested": "asked for, nobody assigned",
    "scheduled": "an inspector and a time are set",
    "under_way": "at least one run was sent in",
    "done": "nothing more is to be done",
    "called_off": "will not take place",
}
ACCESS_KINDS: Final[Values] = {
    "clean_out": "clean-out in the lateral, inside or outside",
    "house_trap": "trap of the whole house with its openings",
    "stack_clean_out": "clean-out at the foot of a stack",
    "floor_drain": "floor drain",
    "closet_flange": "flange under a pulled toilet",
    "roof_vent": "vent through the roof",
    "downstream_manhole": "maintenance hole on the public main",
    "other": "another way in; describe it",
}
DIRECTIONS: Final[Values] = {
    "downstream": "camera moved with the flow, toward the main",
    "upstream": "camera moved against the flow, toward the building",
}
RECORDED: Final[Values] = {
    "pulling_back": "recorded while the cable was pulled back",
    "pushing": "recorded while the cable was pushed in",
}
REACHED: Final[Values] = {
    "main": "the public main",
    "building": "the building",
    "access_point": "another access point",
    "stopped": "stopped short; stopped_by says by what",
}
STOPPED_BY: Final[Values] = {
    "defect": "a defect the head did not pass",
    "trap": "a trap the head did not pass",
    "bend": "a bend the head did not pass",
    "deposit": "deposits the head did not pass",
    "cable_end": "no more cable",
    "picture_lost": "no picture any more",
    "other": "another reason; say it in a note",
}
FLOWS: Final[Values] = {
    "none": "no flow while filming",
    "low": "little flow",
    "normal": "the usual flow",
    "high": "much flow",
}
MATERIALS: Final[Values] = {
    "vitrified_clay": "fired clay pipe",
    "concrete": "concrete pipe",
    "cast_iron": "cast iron pipe",
    "ductile_iron": "ductile iron pipe",
    "pvc": "polyvinyl chloride pipe",
    "abs": "acrylonitrile butadiene styrene pipe",
    "polyethylene": "polyethylene pipe",
    "bituminous_fibre": "wood fibre pipe soaked in pitch",
    "asbestos_cement": "asbestos cement pipe",
    "cured_in_place_liner": "liner cured inside an older pipe",
    "unknown": "looked at, not known",
}
FEATURE_KINDS: Final[Values] = {
    "joint": "sound joint between two pipe lengths",
    "trap": "trap in the line",
    "bend": "bend",
    "connection": "wye or tap of another drain",
    "material_change": "the material changes here",
    "size_change": "the nominal size changes here",
    "coupling": "repair coupling",
    "water_level": "water stands from here",
    "main": "the public main",
    "access_point": "an access point passed on the way",
}
DEFECT_KINDS: Final[Values] = {
    "crack": "line in the wall with no gap to be seen",
    "fracture": "gap in the wall, nothing has moved",
    "broken": "pieces of the wall have moved",
    "hole": "a piece of the wall is missing",
    "collapse": "the pipe has lost its shape and its bore",
    "deformation": "the section is out of round",
    "displaced_joint": "pipe ends offset across",
    "open_joint": "gap along the pipe at a joint",
    "angular_joint": "pipe lengths meet at an angle",
    "surface_wear": "the wall is worn",
    "corrosion": "the wall is eaten",
    "lining_fault": "a lining is wrinkled, loose or torn",
    "failed_repair": "an earlier repair does not hold",
    "faulty_connection": "a connection is badly made or damaged",
    "roots": "roots grow in",
    "infiltration": "ground water comes in",
    "soil_ingress": "soil comes in",
    "wall_deposits": "grease or scale on the wall",
    "bed_deposits": "sand, gravel or other on the bed",
    "obstruction": "a thing lies or sticks in the way",
    "protruding_connection": "a connecting pipe sticks out into the bore",
    "sag": "a belly in which water stands",
    "foreign_line": "a gas, power or water line passes through the pipe: alarm",
}
PATTERNS: Final[Values] = {
    "longitudinal": "along the pipe",
    "circumferential": "around the pipe",
    "spiral": "winding around the pipe",
    "multiple": "several lines",
}
DEGREES: Final[Mapping[str, Values]] = {
    "roots": {"hairs": "fine single roots", "bundles": "bundles of roots", "plug": "the bore is filled"},
    "infiltration": {
        "damp": "the wall is damp",
        "dripping": "water drips in",
        "flowing": "water flows in",
        "jetting": "water jets in under pressure",
    },
    "wear": {
        "slight": "the surface is rough",
        "general": "the whole surface is attacked",
        "missing": "parts of the wall are missing",
        "through": "the wall is gone through",
    },
    "deposits": {"slight": "a film", "moderate": "narrows the bore", "heavy": "fills much of the bore"},
    "other": {"slight": "just to be seen", "moderate": "plain to be seen", "severe": "affects the function"},
}
OPENINGS: Final[Values] = {
    "hairline": "finer than can be measured",
    "visible": "seen with the eye",
    "open": "stands open",
}
UNSEEN_REASONS: Final[Values] = {
    "under_water": "the head was under water",
    "lens_fouled": "the lens was dirty",
    "fog": "fog in the pipe",
    "too_fast": "the head moved too fast",
    "blind_pass": "a trap or bend was passed without a view",  # nosec B105 # words
    "picture_lost": "no picture",
    "not_reached": "the head never got there",
    "other": "another reason",
}
SOILS: Final[Values] = {
    "stable_rock": "stable rock",
    "A": "type A of 29 CFR 1926 Subpart P",
    "B": "type B of 29 CFR 1926 Subpart P",
    "C": "type C of 29 CFR 1926 Subpart P",
    "unclassified": "nobody classified it",
}
SURFACES: Final[Values] = {
    "lawn": "grass",
    "planting": "beds, shrubs, trees",
    "concrete_walk": "concrete walk",
    "driveway": "private driveway",
    "asphalt_street": "asphalt street",
    "concrete_street": "concrete street",
    "building_slab": "floor slab of a building",
}
BOUNDARY_KINDS: Final[Values] = {
    "building_wall": "outside of the building wall",
    "property_line": "edge of the right of way",
    "main": "the public main",
}
DEPTH_TO: Final[Values] = {"invert": "to the inside bottom of the pipe", "crown": "to its inside top"}
UNITS: Final[Values] = {
    "us": "lengths, depths, heights in ft; diameters, offsets, gaps, thicknesses in in",
    "si": "lengths, depths, heights in m; diameters, offsets, gaps, thicknesses in mm",
}
RUN_STATES: Final[Values] = {
    "draft": "may still be changed",
    "submitted": "sealed; changes are amendments with a reason",
    "accepted": "reviewed and accepted",
    "returned": "reviewed and returned with reasons; amend and submit again",
}
CALCULATION_KINDS: Final[Values] = {
    "grade_run": "grade a run and its lateral",
    "recompute": "grade every lateral under one scheme",
    "reconcile_lateral": "reconcile and grade a lateral",
    "repair_scope": "compute a repair scope",
    "close_scope": "close a repair scope after the work",
}
CALCULATION_STATES: Final[Values] = {
    "queued": "waits for a worker",
    "running": "a worker computes it",
    "done": "the result exists",
    "failed": "given up after five attempts, or the input makes it impossible; error says why",
    "superseded": "its input changed; superseded_by names the calculation that counts",
}
IMPORT_KINDS: Final[Values] = {
    "observations": "rows of findings and features, put into draft runs",
    "customers": "who asks",
    "properties": "addresses",
    "access-points": "where a camera or a crew gets in",
    "jobs": "visits asked for",
    "runs": "whole runs, as drafts",
}
DECISION_ACTIONS: Final[Values] = {
    "pin": "the two findings are the same thing",
    "reject": "the two findings are two things",
}
DECISION_STATES: Final[Values] = {
    "standing": "the reconciliation follows it",
    "withdrawn": "taken back, with a reason; kept to be read",
}
DELIVERY_STATES: Final[Values] = {
    "queued": "waits for its next attempt",
    "delivering": "an attempt is under way",
    "delivered": "the receiver answered 2xx",
    "failed": "given up after ten attempts; last_error says why; it can be replayed",
    "disabled": "not sent, because the subscription was disabled; it can be replayed",
}
DELIVERY_FORMATS: Final[Values] = {
    "plain": "the event as it stands in the feed",
    "cloudevents": "CloudEvents 1.0, structured, as JSON",
}
_RECORDS_TOLD: Final = {
    "customer": "a customer",
    "property": "a property",
    "access_point": "an access point",
    "subscription": "a subscription",
}
_VERSIONS_TOLD: Final = {
    "grading_scheme": "a grading scheme",
    "rate_book": "a rate book",
    "rule_set": "a rule set",
    "code_map": "a code map",
}
# What the feed and webhooks tell of: every change that is committed, under one of these types.
EVENT_TYPES: Final[Values] = {
    "job.requested": "a job was asked for",
    "job.scheduled": "an inspector and a time were set",
    "job.under_way": "the first run of a job was sent in, or a job that was done goes on",
    "job.done": "nothing more is to be done for a job",
    "job.called_off": "a job will not take place",
    "job.changed": "a job says something else; its state is the same",
    "job.erased": "the personal data in a job were erased on request",
    "run.created": "a draft of a run was made",
    "run.changed": "a draft says something else",
    "run.deleted": "a draft was taken away",
    "run.submitted": "a run was sealed and waits for its grading",
    "run.amended": "a sealed run was changed, with a reason; it is graded again",
    "run.accepted": "a submitted run was reviewed and accepted",
    "run.returned": "a submitted run was reviewed and returned with reasons",
    "run.graded": "a run has a new grading; alarms are in the event",
    "run.grading_failed": "a run could not be graded; the event says why",
    "lateral.graded": "a lateral was reconciled and graded anew; alarms are in the event",
    "lateral.grading_failed": "a lateral could not be reconciled or graded; the event says why",
    "site.changed": "what is known of the ground over a lateral says something else",
    "match_decision.decided": "a person decided whether two findings are one thing",
    "match_decision.withdrawn": "such a decision was taken back",
    "repair_scope.requested": "a repair scope was asked for",
    "repair_scope.computed": "a repair scope has its plans",
    "repair_scope.failed": "a repair scope could not be computed; the event says why",
    "repair_scope.closed": "a repair scope has a new closing; its outcome is in the event",
    "closing.requested": "a plan was reported as carried out",
    "closing.computed": "runs and pressure tests after the work were judged",
    "closing.failed": "they could not be judged; the event says why",
    "bid.received": "a bid on a repair scope was entered",
    "bid.changed": "a bid says something else",
    "bid.withdrawn": "a bid was taken back, with the reason",
    **{f"calculation.{state}": f"of a calculation: {text}" for state, text in CALCULATION_STATES.items()},
    "recomputation.requested": "a scheme is to be tried on all laterals, or applied to them",
    "recomputation.done": "it was tried or applied",
    "recomputation.failed": "it could not be; the event says why",
    "import.made": "lines were imported; the event counts them",
    **{f"{name}.made": f"{one} was made" for name, one in _RECORDS_TOLD.items()},
    **{f"{name}.changed": f"{one} says something else" for name, one in _RECORDS_TOLD.items()},
    **{f"{name}.deleted": f"{one} was taken away" for name, one in _RECORDS_TOLD.items()},
    "customer.erased": "the personal data of a customer were erased on request",
    "subscription.disabled": "nothing is sent to a receiver any more; the event says why",
    "subscription.secret_rotated": "a subscription has a new secret",
    "subscription.tested": "made for a test of one receiver",
    "delivery.replayed": "a delivery that had ended is sent again",
    **{f"{name}.loaded": f"a version of {one} was loaded" for name, one in _VERSIONS_TOLD.items()},
    **{f"{name}.made_default": f"{one} is used where nobody names another" for name, one in _VERSIONS_TOLD.items()},
    "token.issued": "a token was issued",
    "token.revoked": "a token was revoked; its next request is refused",
    "report_link.made": "a link was made that shows a report without an account",
    "report_link.revoked": "such a link was withdrawn; it shows nothing any more",
    "report_link.opened": "such a link was opened; the event says in which form, and the digests of what it showed",
}
LINK_STATES: Final[Values] = {
    "open": "shows the report to whoever holds it",
    "expired": "its time is over",
    "revoked": "withdrawn",
}
PLAN_NAMES: Final[Values] = {
    "least_cost": "the cheapest sound plan",
    "least_digging": "the plan that digs least",
    "whole_line": "the whole line renewed",
}
BID_STATES: Final[Values] = {
    "received": "it was received and counts in comparisons",
    "withdrawn": "taken back, with the reason; kept to be read",
}
BID_UNITS: Final[Values] = {
    "ft": "feet",
    "m": "metres",
    "sf": "square feet",
    "sy": "square yards",
    "m2": "square metres",
    "cf": "cubic feet",
    "cy": "cubic yards",
    "m3": "cubic metres",
    "each": "pieces",
    "days": "days",
    "loads": "truck loads",
    "lump_sum": "all of it at one price",
}
CLOSING_OUTCOMES: Final[Values] = {
    "done": "every criterion is met, and all of it was seen",
    "failed": "what was to be fixed is still there, or a pressure test failed",
    "partly_done": "something is not seen, not tested, not reported or in doubt; the criteria say what",
    "not_seen": "no run after the work saw any of it",
    "not_done": "no work is reported",
}
CRITERIA: Final[Values] = {
    "built_as_planned": "built over the planned length, by a method that cures what was found",
    "wholly_seen": "runs after the work saw all of it",
    "no_defect_left": "nothing at or above the policy's grade remains in it",
    "material_seen": "the runs show the material that was built",
    "tight": "a pressure test passed over all of it",
    "access_seen": "a run starts from the new clean-out or passes it",
}
PRESSURE_TESTS: Final[Values] = {
    "air_test": "low-pressure air test by ASTM F1417 (plastic) or C828 (clay)",
    "water_test": "leakage of a filled drain against a limit",
    "water_head": "a head of water that stands for a time",
}
BECAME: Final[Values] = {
    "repaired": "not there any more",
    "still_there": "as it was",
    "grown": "worse than it was",
    "not_seen": "its place was not seen again, or nothing ties the inspections",
}
SCOPES: Final[Values] = {
    "jobs:write": "create and change jobs, customers and properties",
    "runs:write": "create, change, submit and amend runs",
    "records:read": "read every record of the organisation",
    "repair-scopes:write": "site data, repair scopes, bids on them and their closing",
    "audit:read": "read the audit trail, accept and return runs",
    "admin": "everything, also tokens, rate books, rule sets and grading schemes",
}
ROLES: Final[Values] = {
    "dispatcher": "plans the work",
    "inspector": "does the runs",
    "auditor": "reviews runs and reads the trail",
    "administrator": "also keeps users, rates, rules and schemes",
}

# Which list of degrees a kind of defect uses; every other kind uses "other".
DEGREE_LIST_OF_KIND: Final[Mapping[str, str]] = {
    "roots": "roots",
    "infiltration": "infiltration",
    "surface_wear": "wear",
    "corrosion": "wear",
    "wall_deposits": "deposits",
    "bed_deposits": "deposits",
}

# Which measure a kind of defect may carry, beside degree and the flags.
MEASURES_OF_KIND: Final[Mapping[str, frozenset[str]]] = {
    "crack": frozenset({"width_mm", "opening"}),
    "fracture": frozenset({"width_mm"}),
    "displaced_joint": frozenset({"offset"}),
    "open_joint": frozenset({"gap"}),
    "deformation": frozenset({"percent"}),
    "sag": frozenset({"percent"}),
    "wall_deposits": frozenset({"percent"}),
    "bed_deposits": frozenset({"percent"}),
    "obstruction": frozenset({"percent"}),
    "protruding_connection": frozenset({"percent"}),
    "roots": frozenset({"percent", "thickness"}),
    "surface_wear": frozenset({"thickness"}),
}

LISTS: Final[Mapping[str, Values]] = {
    "purposes": PURPOSES,
    "customer_kinds": CUSTOMER_KINDS,
    "job_states": JOB_STATES,
    "access_kinds": ACCESS_KINDS,
    "directions": DIRECTIONS,
    "recorded": RECORDED,
    "reached": REACHED,
    "stopped_by": STOPPED_BY,
    "flow_during": FLOWS,
    "materials": MATERIALS,
    "feature_kinds": FEATURE_KINDS,
    "defect_kinds": DEFECT_KINDS,
    "patterns": PATTERNS,
    **{f"degrees_{name}": values for name, values in DEGREES.items()},
    "openings": OPENINGS,
    "unseen_reasons": UNSEEN_REASONS,
    "soils": SOILS,
    "surfaces": SURFACES,
    "boundary_kinds": BOUNDARY_KINDS,
    "depth_to": DEPTH_TO,
    "units": UNITS,
    "run_states": RUN_STATES,
    "calculation_kinds": CALCULATION_KINDS,
    "calculation_states": CALCULATION_STATES,
    "decision_actions": DECISION_ACTIONS,
    "decision_states": DECISION_STATES,
    "delivery_states": DELIVERY_STATES,
    "delivery_formats": DELIVERY_FORMATS,
    "link_states": LINK_STATES,
    "plan_names": PLAN_NAMES,
    "bid_states": BID_STATES,
    "bid_units": BID_UNITS,
    "closing_outcomes": CLOSING_OUTCOMES,
    "acceptance_criteria": CRITERIA,
    "pressure_tests": PRESSURE_TESTS,
    "became": BECAME,
    "token_scopes": SCOPES,
    "roles": ROLES,
}


def degrees_for(kind: str) -> Values:
    """Return the degrees a kind of defect may carry, with their meanings."""
    return DEGREES[DEGREE_LIST_OF_KIND.get(kind, "other")]
