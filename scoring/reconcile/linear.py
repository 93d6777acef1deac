"""Small dense linear algebra on lists of floats: enough for a few dozen unknowns."""

from math import log, sqrt
from operator import mul

Matrix = list[list[float]]
Vector = list[float]


class NotPositiveDefinite(ValueError):
    """A matrix that should hold variances does not. Report the runs that led here."""

    code = "not_positive_definite"


def cholesky(matrix: Matrix) -> Matrix:
    """Lower factor of a symmetric positive definite matrix; only its lower half is read."""
    factor: Matrix = []
    for i, source in enumerate(matrix):
        row: Vector = []
        for j in range(i):
            other = factor[j]
            row.append((source[j] - sum(map(mul, row, other))) / other[j])
        rest = source[i] - sum(map(mul, row, row))
        if rest <= 0.0:
            raise NotPositiveDefinite("The variances of the readings do not fit together; look at the runs.")
        row.append(sqrt(rest))
        factor.append(row)
    return factor


def forward(factor: Matrix, right: Vector) -> Vector:
    """Solve L z = right."""
    out: Vector = []
    for row, value in zip(factor, right, strict=True):
        out.append((value - sum(map(mul, row, out))) / row[-1])
    return out


def backward(factor: Matrix, right: Vector) -> Vector:
    """Solve L' z = right."""
    out = list(right)
    for i in range(len(factor) - 1, -1, -1):
        row = factor[i]
        value = out[i] / row[i]
        out[i] = value
        for k in range(i):
            out[k] -= row[k] * value
    return out


def solve(factor: Matrix, right: Vector) -> Vector:
    """Solve L L' z = right."""
    return backward(factor, forward(factor, right))


def inverse(factor: Matrix) -> Matrix:
    """The inverse of L L', from the columns of the inverse of L, each kept from its diagonal down."""
    size = len(factor)
    columns = [_inverse_column(factor, i) for i in range(size)]
    out = [[0.0] * size for _ in range(size)]
    for i, column in enumerate(columns):
        for j in range(i, size):
            out[i][j] = out[j][i] = sum(map(mul, column[j - i :], columns[j]))
    return out


def _inverse_column(factor: Matrix, i: int) -> Vector:
    column = [1.0 / factor[i][i]]
    for k in range(i + 1, len(factor)):
        row = factor[k]
        column.append(-sum(map(mul, row[i:k], column)) / row[k])
    return column


def log_determinant(factor: Matrix) -> float:
    """Logarithm of the determinant of L L'."""
    return 2.0 * sum(log(row[-1]) for row in factor)


def dot(left: Vector, right: Vector) -> float:
    """Sum of products."""
    return float(sum(map(mul, left, right)))
