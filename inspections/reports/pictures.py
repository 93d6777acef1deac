"""Stills of findings: which bytes are a picture that every renderer can show."""

import io
from typing import Final

from reportlab.lib.utils import ImageReader

_PNG: Final = b"\x89PNG\r\n\x1a\n"
_JPEG: Final = b"\xff\xd8\xff"


def media_type(data: bytes) -> str | None:
    """Return the type of a picture by its first bytes; None for what is neither PNG nor JPEG."""
    if data.startswith(_PNG):
        return "image/png"
    return "image/jpeg" if data.startswith(_JPEG) else None


def is_readable(data: bytes) -> bool:
    """Whether the bytes decode to a PNG or JPEG picture."""
    if media_type(data) is None:
        return False
    try:
        ImageReader(io.BytesIO(data)).getRGBData()  # type: ignore[no-untyped-call]
    except Exception:  # decoders fail in many ways; each means the same here: no picture
        return False
    return True


def size_of(data: bytes) -> tuple[int, int]:
    """Return width and height in pixels."""
    width, height = ImageReader(io.BytesIO(data)).getSize()
    return int(width), int(height)
