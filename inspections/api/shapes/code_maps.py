"""Findings to be put into a customer's codes, or read from them."""

from inspections import vocabulary as words
from inspections.api.fields import AnyObject, ListOf, OneOf, Shape, Text
from inspections.api.shapes.run import DefectShape, FeatureShape


class ToExternal(Shape):
    """Findings as a run has them."""

    units = OneOf(words.UNITS, required=True)
    defects = ListOf(child=DefectShape(), most=500)
    features = ListOf(child=FeatureShape(), most=500)


class ExternalFinding(Shape):
    """A code with the values beside it."""

    code = Text(longest=100, required=True, help_text="Compared letter by letter.")
    values = AnyObject(
        help_text="By name: degree, opening, pattern, label (text); at_joint, soil_seen, void_seen (yes or no); "
        "clock_from, clock_to, width_mm, offset_mm, gap_mm, percent, thickness_mm, to_m (numbers, mm and m)."
    )


class FromExternal(Shape):
    """Findings in a customer's codes."""

    findings = ListOf(child=ExternalFinding(), least=1, most=500)
