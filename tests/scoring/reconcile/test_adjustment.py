import math

import pytest

from scoring.reconcile.adjustment import Readings, adjust
from scoring.reconcile.assumptions import Doubt
from scoring.reconcile.linear import NotPositiveDefinite, cholesky, inverse, log_determinant, solve

# [[4, 2], [2, 3]]: determinant 12 - 4 = 8, inverse 1/8 [[3, -2], [-2, 4]]
MATRIX = [[4.0, 2.0], [2.0, 3.0]]


def test_the_inverse_of_a_small_matrix():
    assert inverse(cholesky(MATRIX)) == [
        pytest.approx([3 / 8, -2 / 8]),
        pytest.approx([-2 / 8, 4 / 8]),
    ]
    assert log_determinant(cholesky(MATRIX)) == pytest.approx(math.log(8))


def test_solving_a_small_system():
    # 4x + 2y = 8, 2x + 3y = 8: x = 1, y = 2
    assert solve(cholesky(MATRIX), [8.0, 8.0]) == pytest.approx([1.0, 2.0])


def test_a_matrix_that_holds_no_variances_is_refused():
    with pytest.raises(NotPositiveDefinite):
        cholesky([[1.0, 2.0], [2.0, 1.0]])


NOISE_ONLY = Doubt(reading_m=0.1, slip_m=0.0, scale=0.0, missed=0.1, weight=1.0)


def test_two_readings_of_one_place_are_averaged_and_surer_than_one():
    # two runs from the datum (-1) read 10.0 and 10.2 with 0.1 m each: mean 10.1, sd 0.1/sqrt(2)
    runs = [Readings(-1, 20.0, [10.0], [0], [0.0]), Readings(-1, 20.0, [10.2], [0], [0.0])]

    found = adjust(runs, 1, NOISE_ONLY)

    assert found.station(0) == pytest.approx(10.1)
    assert math.sqrt(found.variance(0)) == pytest.approx(0.1 / math.sqrt(2), rel=1e-4)


def test_a_stretch_of_both_counters_is_shared_between_them():
    # both read the main, 20 m away, at 20.0 and 20.4; one finding at 10.0 by the first alone: the main is at
    # 20.2, the first counter is short by 1 %, so that the finding is at 10.1
    stretch = Doubt(reading_m=0.0, slip_m=0.0, scale=0.02, missed=0.1, weight=1.0)
    runs = [Readings(-1, 20.0, [20.0], [0], [0.0]), Readings(-1, 20.4, [20.4], [0], [0.0])]

    found = adjust(runs, 1, stretch)

    assert found.station(0) == pytest.approx(20.2, abs=0.01)
    assert found.position(0, 10.0) == pytest.approx(10.1, abs=0.01)


def test_a_run_alone_is_not_corrected():
    found = adjust([Readings(-1, 20.0, [], [], [])], 0, NOISE_ONLY)

    assert found.position(0, 7.3) == 7.3
