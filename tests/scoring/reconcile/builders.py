"""Runs on one invented lateral in Alder Falls, 80 ft of clay from clean-out CO1 to the main."""

from decimal import Decimal
from typing import Any

from scoring.types import Access, Defect, Feature, Run, Segment, Unseen

FOOT = Decimal("0.3048")
CO1 = Access("clean_out", "CO1")
MANHOLE = Access("downstream_manhole", "MH-7")


def ft(feet: str | int | float) -> Decimal:
    return Decimal(str(feet)) * FOOT


def defect(ref: str, kind: str, at: str | int | float, to: str | int | float | None = None, **more: Any) -> Defect:
    return Defect(ref, kind, ft(at), None if to is None else ft(to), **more)


def feature(kind: str, at: str | int | float, label: str | None = None) -> Feature:
    return Feature(kind, ft(at), label)


def unseen(start: str | int | float, end: str | int | float | None, reason: str = "under_water") -> Unseen:
    return Unseen(ft(start), None if end is None else ft(end), reason)


def segment(start: str | int | float, end: str | int | float, material: str, diameter_mm: int = 150) -> Segment:
    return Segment(ft(start), ft(end), material, Decimal(diameter_mm))


def downstream(run: str = "down", end: str | int | float = 80, **more: Any) -> Run:
    """From CO1 with the flow, counter from 0 to `end` feet."""
    parts = {"start_access": CO1, "counter_start_m": Decimal(0), "reached": "main", **more}
    return Run(run, "downstream", counter_end_m=ft(end), **parts)


def upstream(run: str = "up", end: str | int | float = 80, **more: Any) -> Run:
    """From the manhole against the flow, counter from 0 to `end` feet."""
    parts = {"start_access": MANHOLE, "counter_start_m": Decimal(0), "reached": "access_point", **more}
    return Run(run, "upstream", counter_end_m=ft(end), **parts)
