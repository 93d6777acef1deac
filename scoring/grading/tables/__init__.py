"""The schemes that come with the service, as plain documents with a source on every row."""

from scoring.grading.tables.schemes import BUILT_IN_SCHEMES

__all__ = ["BUILT_IN_SCHEMES"]
