"""What a scheme is applied to, taken from a run or from a reconciled lateral."""

from dataclasses import replace

from scoring.types import Defect, Inspected, Lateral, LateralDefect, Run, Unseen


def inspected_from_run(run: Run) -> Inspected:
    """A run in counter readings. One that was stopped has an open-ended unseen stretch, added if missing."""
    unseen = run.unseen
    if run.reached == "stopped" and all(stretch.to_m is not None for stretch in unseen):
        unseen = (*unseen, Unseen(run.counter_end_m, None, "not_reached"))
    return Inspected(run.counter_start_m, run.counter_end_m, run.segments, run.features, run.defects, unseen)


def inspected_from_lateral(lateral: Lateral) -> Inspected | None:
    """A lateral in stations: only what has one; the rest is in `unplaced_defects`.

    None where nothing of it is placed.
    """
    if lateral.from_m is None or lateral.to_m is None:
        return None
    features = tuple(replace(one.feature, at_m=one.station_m) for one in lateral.features if one.station_m is not None)
    defects = tuple(placed for one in lateral.defects if (placed := _at_station(one)) is not None)
    return Inspected(
        lateral.from_m, lateral.to_m, lateral.segments, features, defects, lateral.unseen,
        lateral.is_upstream_end_open,
    )  # fmt: skip


def unplaced_defects(lateral: Lateral) -> tuple[Defect, ...]:
    """The findings nothing ties to the datum; they are graded all the same."""
    if lateral.from_m is None or lateral.to_m is None:
        return tuple(one.defect for one in lateral.defects)
    return tuple(one.defect for one in lateral.defects if one.station_m is None)


def _at_station(one: LateralDefect) -> Defect | None:
    if one.station_m is None:
        return None
    return replace(one.defect, at_m=one.station_m, to_m=one.to_station_m)
