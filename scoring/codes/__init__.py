"""A customer's own codes for findings, both ways. No code list comes with the service.

codes = load_code_map(document)
to_external(codes, defect)                      the code, the values beside it, and what it cannot say
from_external(codes, "A7", {"width_mm": ...})   the kind and attributes, and what was not taken over
"""

from scoring.codes.loading import load_code_map
from scoring.codes.mapping import (
    CodeMap,
    CodeMapFault,
    CodeMapInvalid,
    CodeUnknown,
    Entry,
    External,
    Internal,
    Loss,
)
from scoring.codes.translation import from_external, to_external

__all__ = [
    "CodeMap",
    "CodeMapFault",
    "CodeMapInvalid",
    "CodeUnknown",
    "Entry",
    "External",
    "Internal",
    "Loss",
    "from_external",
    "load_code_map",
    "to_external",
]
