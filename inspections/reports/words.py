"""Values of the documents in the trade's plain words, numbers with their units."""

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Final

from inspections.reports.content import Document, Units, as_number, clean, number, text

_LENGTH: Final[Mapping[Units, str]] = {"us": "ft", "si": "m"}
_SIZE: Final[Mapping[Units, str]] = {"us": "in", "si": "mm"}

_PHRASES: Final[Mapping[str, str]] = {
    "abs": "ABS plastic",
    "access_point": "access point",
    "agency": "public body",
    "asphalt_street": "asphalt street",
    "backup": "the drain backed up",
    "bed_deposits": "deposits on the bed",
    "bituminous_fibre": "bituminous fibre",
    "cable_end": "the end of the cable",
    "clean_out": "clean-out",
    "closet_flange": "closet flange under the toilet",
    "cured_in_place_liner": "liner cured in place",
    "foreign_line": "foreign line in the pipe",
    "imminent_collapse": "collapse may be near",
    "full_liner": "full liner cured in place",
    "inside_replacement": "replacement inside the building",
    "new_clean_out": "new clean-out",
    "open_cut_replacement": "dig up and replace",
    "root_cutting_and_cleaning": "root cutting and cleaning",
    "sectional_liner": "sectional liner cured in place",
    "spot_repair": "spot repair by digging",
    "trap_removal": "removal of the house trap",
    "downstream_manhole": "maintenance hole on the main",
    "least_cost": "Least cost",
    "least_digging": "Least digging",
    "owner": "owner",
    "purchase": "a purchase of the property",
    "post_repair": "proof after a repair",
    "pvc": "PVC",
    "repair_programme": "a repair programme",
    "routine": "a routine look",
    "stack_clean_out": "stack clean-out",
    "whole_line": "Renew the whole line",
}

_MOMENT: Final = re.compile(r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(?::\d\d(?:\.\d+)?)?(Z|[+-]\d\d:\d\d)")

_LONG_DECIMAL: Final = re.compile(r"(?<![\w.])\d+\.\d*0(?![\w.]*\d)")
_EMPTY: Final[tuple[object, ...]] = (None, "", [], {}, ())

_UNSEEN: Final[Mapping[str, str]] = {
    "under_water": "under water",
    "lens_fouled": "lens fouled",
    "fog": "fog",
    "too_fast": "camera moved too fast",
    "blind_pass": "passed blind",  # nosec B105 # words
    "picture_lost": "picture lost",
    "not_reached": "never reached",
}

_STOPPED: Final[Mapping[str, str]] = {
    "defect": "a defect",
    "trap": "a trap",
    "bend": "a bend",
    "deposit": "deposits",
    "cable_end": "the end of the cable",
    "picture_lost": "a lost picture",
}


def phrase(value: object) -> str:
    """Return a listed value in plain words; a value not listed here is read out as it stands."""
    word = clean(value)
    return _PHRASES.get(word, word.replace("_", " "))


def unseen_reason(value: object) -> str:
    """Return why a stretch was not seen, in plain words."""
    word = clean(value or "")
    return _UNSEEN.get(word, phrase(word)) or "no reason given"


def rounded(value: object, places: int = 2) -> str:
    """Return a number to at most `places` decimals without trailing zeros, thousands apart by commas."""
    exact = as_number(value)
    if exact is None:
        return "?"
    shown = f"{exact.quantize(Decimal(1).scaleb(-places)):,f}"
    shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
    return "0" if shown == "-0" else shown.replace("-", "−")


def length(value: object, units: Units) -> str:
    """Return a length along the pipe or a depth with its unit."""
    return f"{rounded(value)} {_LENGTH[units]}"


def size(value: object, units: Units) -> str:
    """Return a size across the pipe with its unit."""
    return f"{rounded(value)} {_SIZE[units]}"


def length_unit(units: Units) -> str:
    """Return the short name of the unit of lengths."""
    return _LENGTH[units]


def stretch(start: object, end: object, units: Units) -> str:
    """Return a stretch; an end nobody knows is said to be open."""
    if as_number(start) is None and as_number(end) is None:
        return "extent not known"
    if as_number(end) is None:
        return f"from {length(start, units)} on, end not known"
    if as_number(start) is None:
        return f"up to {length(end, units)}, start not known"
    return f"{rounded(start)} to {length(end, units)}"


def share(value: object) -> str:
    """Return a share of 1 as a whole percentage: 100 only for the whole, 0 only for nothing."""
    exact = as_number(value)
    if exact is None:
        return "an unknown share"
    percent = (exact * 100).to_integral_value()
    if exact < 1:
        percent = min(percent, Decimal(99))
    return f"{max(percent, Decimal(1)) if exact > 0 else percent} %"


def clock(document: Document) -> str:
    """Return the clock position facing downstream, or "" where none was given."""
    start, end = number(document, "clock_from"), number(document, "clock_to")
    if start is None and end is None:
        return ""
    if start is None or end is None or start == end:
        return f"{rounded(start if start is not None else end, 1)} o'clock"
    return f"{rounded(start, 1)} to {rounded(end, 1)} o'clock"


def defect_name(defect: Document) -> str:
    """Return what the defect is: kind, pattern and degree."""
    kind = phrase(defect.get("kind") or "defect of no kind named")
    extra = [phrase(defect[key]) for key in ("pattern", "degree", "opening") if defect.get(key)]
    return ", ".join([kind, *extra])


def measures(defect: Document, units: Units) -> list[str]:
    """Return the measures taken, each in words; an empty list where nothing was measured."""
    found = []
    if number(defect, "width_mm") is not None:
        found.append(f"width {rounded(defect['width_mm'])} mm")
    found += [
        f"{key} {size(defect[key], units)}"
        for key in ("offset", "gap", "thickness")
        if number(defect, key) is not None
    ]
    if number(defect, "percent") is not None:
        found.append(f"{rounded(defect['percent'])} %")
    found += [word for key, word in (("soil_seen", "soil showing"), ("void_seen", "void showing")) if defect.get(key)]
    return found


def place(found: Document, units: Units) -> str:
    """Return the station, or what is known instead: the counter of a run nothing ties to the datum."""
    start = found.get("station")
    if as_number(start) is not None:
        end = found.get("to_station")
        return length(start, units) if as_number(end) is None else stretch(start, end, units)
    counter = found.get("counter")
    if as_number(counter) is not None:
        return f"station not known, counter {length(counter, units)}"
    return "station not known"


def access(document: Document | None) -> str:
    """Return an access point: its label where it has one, else its kind."""
    label, kind = text(document, "label"), (document or {}).get("kind")
    kind_words = phrase(kind) if kind else ""
    if label and kind_words and kind_words.lower() not in label.lower():
        return f"{label} ({kind_words})"
    return label or kind_words or "access point not named"


def run_end(run: Document) -> str:
    """Return how a run ended, in words."""
    reached = run.get("reached")
    if reached == "stopped":
        stopped_by = clean(run.get("stopped_by") or "")
        return f"stopped short by {_STOPPED.get(stopped_by, phrase(stopped_by) or 'something not named')}"
    ends = {
        "main": "reached the main",
        "building": "reached the building",
        "access_point": "reached an access point",
    }
    return ends.get(clean(reached or ""), "end of the run not given")


def _offset(written: str) -> str:
    return "UTC" if written in ("Z", "+00:00") else f"UTC{written}"


def moment(value: object) -> str:
    """Return a time as written, date first, with its offset from UTC."""
    written = clean(value or "")
    found = _MOMENT.fullmatch(written)
    return f"{found[1]} {found[2]} ({_offset(found[3])})" if found else written


def minutes(seconds: object) -> str:
    """Return a moment in a clip as minutes and seconds."""
    whole = int(as_number(seconds) or 0)
    return f"{whole // 60}:{whole % 60:02d}"


def period(start: object, end: object) -> str:
    """Return from when to when; the date and offset of the end are left out where they repeat the start's."""
    first, last = _MOMENT.fullmatch(clean(start or "")), _MOMENT.fullmatch(clean(end or ""))
    if first and last and (first[1], first[3]) == (last[1], last[3]):
        return f"{first[1]} {first[2]} to {last[2]} ({_offset(first[3])})"
    return " to ".join(said for said in (moment(start), moment(end)) if said)


def money(cost: object, currency: str) -> str:
    """Return a cost range, low to high with the likely value; one number stays one number."""
    if isinstance(cost, Mapping):
        return f"{currency} {_span(*(as_number(cost.get(key)) for key in ('low', 'likely', 'high')))}".strip()
    return f"{currency} {rounded(cost, 0)}".strip() if as_number(cost) is not None else "cost not known"


def _span(low: Decimal | None, likely: Decimal | None, high: Decimal | None) -> str:
    if likely is None or low is None or high is None:
        return f"{rounded(low, 0)} to {rounded(high, 0)}"
    if not low <= likely <= high:  # a cap reached by another part: the three cases are no range
        return f"{rounded(low, 0)} in the low, {rounded(likely, 0)} in the likely, {rounded(high, 0)} in the high case"
    return f"{rounded(low, 0)} to {rounded(high, 0)}, likely {rounded(likely, 0)}"


def tidy(words: str) -> str:
    """Return words with the trailing zeros of their decimals dropped."""
    return _LONG_DECIMAL.sub(lambda found: found[0].rstrip("0").rstrip("."), words)


def sentence(words: str) -> str:
    """Return words with one full stop at the end; "" stays empty."""
    return f"{words.rstrip('. ')}." if words else ""


def plain(value: object) -> str:
    """Return any JSON value as one readable line: names read out, lists and documents in order."""
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        word = clean(value)
        return word if " " in word else phrase(word)
    if isinstance(value, Mapping):
        said = [f"{phrase(key)}: {plain(part).rstrip('.')}" for key, part in value.items() if part not in _EMPTY]
        return "; ".join(said)
    if isinstance(value, Sequence):
        return ", ".join(plain(part) for part in value) or "none"
    return rounded(value, 4)
