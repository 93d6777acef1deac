"""What must not wait for a reader to scroll: the same alarms, in the same words, as a grading gives."""

from scoring.grading import alarms, inspected_from_lateral, unplaced_defects
from scoring.types import Alarm, Lateral


def alarms_of(lateral: Lateral) -> tuple[Alarm, ...]:
    """Return the alarms of a lateral, also those of findings whose place is not known."""
    inspected = inspected_from_lateral(lateral)
    placed = inspected.defects if inspected is not None else ()
    return alarms(placed) + alarms(unplaced_defects(lateral), is_placed=False)


def has_foreign_line(lateral: Lateral) -> bool:
    """Say whether a line of somebody else passes through the drain anywhere."""
    return any(each.defect.kind == "foreign_line" for each in lateral.defects)
