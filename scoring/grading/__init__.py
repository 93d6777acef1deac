"""Grading: schemes as versioned data, every grade with its rule, source and coverage.

scheme = load_scheme(BUILT_IN_SCHEMES["open-five"])
grading = grade(inspected_from_run(run), scheme)
document = grading_document(grading)
"""

from scoring.grading.alarms import ALARMING_KINDS, FOREIGN_LINE_CAUTION, alarms
from scoring.grading.applying import Applied, apply_scheme
from scoring.grading.coverage import Coverage, coverage
from scoring.grading.density import Density
from scoring.grading.disagreement import Disagreement, Judgement, Opinion, disagreements
from scoring.grading.document import alarm_document, grading_document, verdict
from scoring.grading.faults import KindUnknown, SchemeFault, SchemeInvalid
from scoring.grading.grading import (
    Grading,
    SchemeUsed,
    SegmentGrading,
    grade,
    grade_defects,
    grade_lateral,
    grade_segments,
)
from scoring.grading.guidance import Guidance, guidance
from scoring.grading.inspected import inspected_from_lateral, inspected_from_run, unplaced_defects
from scoring.grading.kinds import ASPECTS, KINDS, SERVICE_KINDS, STRUCTURAL_KINDS
from scoring.grading.lengths import damage_length_m, damage_points, pipe_lengths
from scoring.grading.loading import load_scheme
from scoring.grading.pairing import Observation, Pair, Pairing, PairProblem, pair_continuous
from scoring.grading.scheme import Scheme
from scoring.grading.summaries import GradeCount, Summary
from scoring.grading.tables import BUILT_IN_SCHEMES

__all__ = [
    "ALARMING_KINDS",
    "ASPECTS",
    "BUILT_IN_SCHEMES",
    "FOREIGN_LINE_CAUTION",
    "KINDS",
    "SERVICE_KINDS",
    "STRUCTURAL_KINDS",
    "Applied",
    "Coverage",
    "Density",
    "Disagreement",
    "GradeCount",
    "Grading",
    "Guidance",
    "Judgement",
    "KindUnknown",
    "Observation",
    "Opinion",
    "Pair",
    "PairProblem",
    "Pairing",
    "Scheme",
    "SchemeFault",
    "SchemeInvalid",
    "SchemeUsed",
    "SegmentGrading",
    "Summary",
    "alarm_document",
    "alarms",
    "apply_scheme",
    "coverage",
    "damage_length_m",
    "damage_points",
    "disagreements",
    "grade",
    "grade_defects",
    "grade_lateral",
    "grade_segments",
    "grading_document",
    "guidance",
    "inspected_from_lateral",
    "inspected_from_run",
    "load_scheme",
    "pair_continuous",
    "pipe_lengths",
    "unplaced_defects",
    "verdict",
]
