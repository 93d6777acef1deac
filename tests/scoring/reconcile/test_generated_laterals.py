"""A few of the generated laterals of `tests/bench/reconcile_laterals.py`; the whole table takes minutes.

Goals are a little wider than the table's, because few laterals scatter more.
"""

import math

import pytest

from tests.bench.reconcile_laterals import SETS, counted, share


@pytest.fixture(scope="module", params=SETS, ids=lambda row: row.name)
def judged_set(request):
    return request.param, counted((request.param, 0, 40, False))


@pytest.fixture(scope="module", params=SETS, ids=lambda row: row.name)
def judged_with_joints(request):
    return counted((request.param, 0, 20, True))


def test_findings_are_matched_as_they_truly_belong(judged_set):
    row, count = judged_set

    assert share(count.sure_right, count.sure_matched) >= row.goal - 0.005
    assert share(count.sure_right, count.sure_true) >= row.goal - 0.005
    assert share(count.right, count.true) >= (
        0.85 if row.from_both_ends_only else row.goal - (0.02 if row.twins else 0.01)
    )


def test_stations_are_nearly_as_good_as_with_the_true_matches_known(judged_set):
    _, count = judged_set

    assert math.sqrt(count.squares) <= 1.2 * math.sqrt(count.oracle_squares)


def test_intervals_hold_what_they_promise(judged_set):
    _, count = judged_set

    assert 0.88 <= share(count.covered, count.sightings) <= 0.99


def test_little_is_ambiguous_and_no_order_contradicts_every_run(judged_set):
    row, count = judged_set

    assert count.against_order == 0
    assert row.from_both_ends_only or share(count.ambiguous, count.findings) <= (0.05 if row.twins else 0.03)


def test_sound_joints_that_are_matched_are_the_same_joint_and_upset_no_order(judged_with_joints):
    count = judged_with_joints

    assert share(count.joints_right, count.joints_matched) >= 0.98
    assert count.against_order == 0
