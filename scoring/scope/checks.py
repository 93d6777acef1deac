"""Rule checks that go with a section."""

from scoring.scope.methods import BY_NAME
from scoring.scope.rule_set import RuleSet
from scoring.scope.takeoff import Takeoff
from scoring.scope.types import Check, Section


def section_checks(section: Section, takeoff: Takeoff, rules: RuleSet) -> tuple[Check, ...]:
    """Return the checks of one section."""
    found = []
    if BY_NAME[section.method].digs:
        found.append(Check("notice", "rule_set", rules.notice, rules.notice_source))
    length_m = takeoff.ground.to_um / 10**6 - takeoff.ground.from_um / 10**6
    if length_m > float(rules.clean_out_spacing_m):
        found.append(
            Check(
                "clean_outs",
                "spacing",
                "The line is longer than the spacing of clean-outs allowed: plan another.",
                rules.clean_out_source,
            )
        )
    return tuple(found)
