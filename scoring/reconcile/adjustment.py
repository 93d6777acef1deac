"""Stations by least squares: all matched readings of all runs at once, with the variances they deserve.

A reading is y = (x - o) + e (x - o) + slips + noise, with x the station, o the station of the run's start,
e the stretch of its counter. Stretch, slips and noise are taken as normal with known variances, so that
stretch and slips need no unknowns of their own: they become covariances between the readings of one run.
What is left to find are the stations, by generalised least squares; where one run alone reaches, its own
readings stand uncorrected. Notation as in Rasmussen and Williams 2006, ch. 2.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

from scoring.reconcile.assumptions import Doubt
from scoring.reconcile.linear import Matrix, Vector, cholesky, dot, forward, inverse, log_determinant, solve

TINY = 1e-8  # keeps readings at one and the same point apart, m2


@dataclass(frozen=True, slots=True)
class Readings:
    """What one run says of shared places. `places` are indices of unknowns; -1 is the datum, station 0."""

    start: int
    length_m: float
    along: Vector
    places: list[int]
    extra_variance: Vector  # of readings that are rougher than others


@dataclass(frozen=True, slots=True)
class Fit:
    """One run within the adjustment."""

    readings: Readings
    slip: float
    factor: Matrix
    weighted_misfit: Vector


@dataclass(frozen=True, slots=True)
class Adjustment:
    """Stations of the unknown places, their covariance, and how likely the readings are under `doubt`."""

    doubt: Doubt
    stations: Vector
    covariance: Matrix
    fits: list[Fit]
    log_likelihood: float

    def station(self, place: int) -> float:
        """Station of a shared place."""
        return 0.0 if place < 0 else self.stations[place]

    def variance(self, place: int) -> float:
        """Variance of the station of a shared place."""
        return 0.0 if place < 0 else max(self.covariance[place][place], 0.0)

    def position(self, run: int, along: float) -> float:
        """Station of any point of a run, with what is known of its counter there."""
        fit = self.fits[run]
        return self.station(fit.readings.start) + along - dot(self._reach(fit, along), fit.weighted_misfit)

    def position_variance(self, run: int, along: float) -> float:
        """Variance of `position`; the noise of a reading taken there comes on top."""
        fit = self.fits[run]
        reach = self._reach(fit, along)
        half = forward(fit.factor, reach)
        own = _shared(self.doubt, fit.slip, along, along) - dot(half, half)
        return max(own, 0.0) + self._spread(fit, solve(fit.factor, reach))

    def scale(self, run: int) -> float:
        """The stretch taken out of a run's counter over its whole length."""
        fit = self.fits[run]
        end = fit.readings.length_m
        if end == 0.0:
            return 1.0
        return 1.0 - dot(self._reach(fit, end), fit.weighted_misfit) / end

    def _reach(self, fit: Fit, along: float) -> Vector:
        return [_shared(self.doubt, fit.slip, along, other) for other in fit.readings.along]

    def _spread(self, fit: Fit, weights: Vector) -> float:
        """Variance passed on from the stations that the run is hung up on."""
        through: dict[int, float] = {}
        _add(through, fit.readings.start, 1.0 - sum(weights))
        for place, weight in zip(fit.readings.places, weights, strict=True):
            _add(through, place, weight)
        items = sorted(through.items())
        return max(sum(a * b * self.covariance[i][j] for i, a in items for j, b in items), 0.0)


def _add(through: dict[int, float], place: int, weight: float) -> None:
    if place >= 0:
        through[place] = through.get(place, 0.0) + weight


def _shared(doubt: Doubt, slip: float, one: float, other: float) -> float:
    """Covariance of what stretch and slips do to two readings of one run."""
    if one * other <= 0.0:
        return 0.0
    return doubt.scale**2 * one * other + slip * min(abs(one), abs(other))


def adjust(readings: Sequence[Readings], unknowns: int, doubt: Doubt, with_covariance: bool = True) -> Adjustment:
    """Find the stations of `unknowns` places from the readings of all runs.

    Without the covariance, which takes most of the time, variances cannot be asked for.

    Every unknown must be tied to the datum by some chain of readings; else NotPositiveDefinite.
    """
    normal: Matrix = [[0.0] * unknowns for _ in range(unknowns)]
    right: Vector = [0.0] * unknowns
    fits: list[Fit] = []
    log_c = 0.0
    for one in readings:
        slip = doubt.slip_variance_per_m(abs(one.length_m))
        factor = cholesky(_covariance(one, doubt, slip))
        log_c += log_determinant(factor)
        _accumulate(normal, right, one, inverse(factor))
        fits.append(Fit(one, slip, factor, []))
    if unknowns:
        upper = cholesky(normal)
        stations = solve(upper, right)
        covariance = inverse(upper) if with_covariance else []
        log_c += log_determinant(upper)
    else:
        stations, covariance = [], []
    return _finished(doubt, stations, covariance, fits, log_c)


def _finished(doubt: Doubt, stations: Vector, covariance: Matrix, fits: list[Fit], log_c: float) -> Adjustment:
    out: list[Fit] = []
    squares = 0.0
    for fit in fits:
        misfit = _misfit(fit.readings, stations)
        weighted = solve(fit.factor, misfit)
        squares += dot(weighted, misfit)
        out.append(Fit(fit.readings, fit.slip, fit.factor, weighted))
    return Adjustment(doubt, stations, covariance, out, log(doubt.weight) - 0.5 * (log_c + squares))


def _covariance(one: Readings, doubt: Doubt, slip: float) -> Matrix:
    noise = doubt.reading_m**2 + TINY
    return [
        [
            _shared(doubt, slip, a, b) + (noise + one.extra_variance[i] if i == j else 0.0)
            for j, b in enumerate(one.along[: i + 1])
        ]
        for i, a in enumerate(one.along)
    ]


def _misfit(one: Readings, stations: Vector) -> Vector:
    start = 0.0 if one.start < 0 else stations[one.start]
    return [
        along - ((0.0 if place < 0 else stations[place]) - start)
        for along, place in zip(one.along, one.places, strict=True)
    ]


def _accumulate(normal: Matrix, right: Vector, one: Readings, weight: Matrix) -> None:
    """Add H' W H and H' W y, where a row of H is +1 at the place and -1 at the run's start."""
    start = one.start
    for row, place in zip(weight, one.places, strict=True):
        pull = dot(row, one.along)
        total = sum(row)
        if place >= 0:
            right[place] += pull
            into = normal[place]
            for value, other in zip(row, one.places, strict=True):
                if other >= 0:
                    into[other] += value
        if start >= 0:
            right[start] -= pull
            normal[start][start] += total
            if place >= 0:
                normal[place][start] -= total
                normal[start][place] -= total
