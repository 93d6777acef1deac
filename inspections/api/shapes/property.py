"""A property as a resource of its own: with its customer."""

from inspections.api.fields import Id
from inspections.api.shapes.job import PropertyShape


class OwnedProperty(PropertyShape):
    """An address, and whose it is."""

    customer_id = Id(help_text="The customer it belongs to.")
