"""Access points: where a camera or a crew gets in."""

from inspections import vocabulary as words
from inspections.api.fields import Id, ListOf, Number, OneOf, Shape, Text
from inspections.api.shapes.job import Location


class Tie(Shape):
    """A measured distance to a fixed thing."""

    to = Text(longest=200, required=True, help_text="The fixed thing: a house corner, a kerb, a tree.")
    distance = Number(least="0", most="10000", required=True, help_text="ft or m.")


class AccessPointShape(Shape):
    """Where a camera or a crew gets in."""

    external_ref = Text(longest=200)
    property = Id(required=True)
    lateral = Id()
    units = OneOf(words.UNITS, required=True)
    kind = OneOf(words.ACCESS_KINDS, required=True)
    label = Text(longest=100)  # type: ignore[assignment] # DRF takes it off the class
    how_to_find = Text(longest=2000)
    size = Number(above="0", most="10000", help_text="Nominal size, in or mm.")
    ties = ListOf(child=Tie(), most=20)
    location = Location(optional=True)
