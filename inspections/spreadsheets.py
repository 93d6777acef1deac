"""Cells of tables: text that a spreadsheet would execute is made harmless on its way out and read back as it was."""

import re
from typing import Final

# What spreadsheets take for the beginning of a formula, also as full-width characters, behind any apostrophes.
_EXECUTED: Final = re.compile("'*(?:\\s*[=+\\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n])")


def harmless(text: str) -> str:
    """Return a text with an apostrophe before it where a spreadsheet would execute it; `written` takes it off."""
    return f"'{text}" if _EXECUTED.match(text) else text


def written(cell: str) -> str:
    """Return the text that `harmless` was given."""
    return cell[1:] if cell.startswith("'") and _EXECUTED.match(cell) else cell
