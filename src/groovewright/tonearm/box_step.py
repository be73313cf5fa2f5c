"""The best step in two unknowns inside a box, for residuals taken as linear: least peak, or least mean square."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]

MOST_EXCHANGES = 200


def least_peak_step(residual: Vector, slopes: Vector, *, lower: Vector, upper: Vector) -> tuple[Vector, float]:
    """Return the step d in a box that minimises max |residual + slopes d|, and that maximum.

    A dual simplex search: it begins with the largest residual and a corner of the box, and takes in the most
    violated radius, letting one go, until none is violated. It ends at the exact solution.

    Parameters
    ----------
    residual : ndarray, shape (n,)
        Values at d = 0.
    slopes : ndarray, shape (n, 2)
        Their derivatives.
    lower, upper : ndarray, shape (2,)
        The box, finite.

    Returns
    -------
    tuple of ndarray, shape (2,), and float

    Raises
    ------
    RuntimeError
        If the exchange does not end, which no input is known to cause.
    """
    scale = np.maximum(np.abs(slopes).max(axis=0), 1e-300)
    slopes, low, high = slopes / scale, lower * scale, upper * scale
    size = float(np.abs(residual).max())
    rounding = 1e-15 * float(scale.max())
    # Rows a with right sides b, meaning a . (d1, d2, t) >= b; the objective is t.
    first = int(np.argmax(np.abs(residual)))
    sign = 1.0 if residual[first] >= 0 else -1.0
    falls = sign * slopes[first] < 0
    rows = np.array(
        [
            [-sign * slopes[first, 0], -sign * slopes[first, 1], 1.0],
            [-1.0 if falls[0] else 1.0, 0.0, 0.0],
            [0.0, -1.0 if falls[1] else 1.0, 0.0],
        ]
    )
    right = np.array([sign * residual[first], -high[0] if falls[0] else low[0], -high[1] if falls[1] else low[1]])
    for _ in range(MOST_EXCHANGES):
        inverse = np.linalg.inv(rows)
        solution = inverse @ right
        step, peak = solution[:2], solution[2]
        entering, level, excess = _most_violated(residual, slopes, step=step, peak=peak, low=low, high=high)
        # Below this, `excess` is the rounding of the residuals, or of residual + slopes d.
        if excess <= 1e-13 * size + rounding + 1e-15 * float(np.abs(step).sum()):
            return np.clip(step / scale, lower, upper), float(peak)
        # Multipliers of the old rows, and of the entering row in terms of them: the ratio test keeps all >= 0.
        multipliers, shares = inverse[2], entering @ inverse
        positive = shares > 1e-12
        ratios = np.where(positive, multipliers / np.where(positive, shares, 1.0), np.inf)
        leaving = int(np.argmin(ratios))
        rows[leaving], right[leaving] = entering, level
    raise RuntimeError(f"the exchange did not end for a peak of {size:g} in a box {lower} to {upper}")


def least_square_step(residual: Vector, slopes: Vector, *, shares: Vector, lower: Vector, upper: Vector) -> Vector:
    """Return the step d in a box that minimises sum(shares (residual + slopes d)^2).

    Parameters
    ----------
    residual : ndarray, shape (n,)
        Values at d = 0.
    slopes : ndarray, shape (n, 2)
        Their derivatives.
    shares : ndarray, shape (n,)
        Non-negative weights of the squares.
    lower, upper : ndarray, shape (2,)
        The box, finite.
    """
    root = np.sqrt(shares)
    target, columns = -root * residual, root[:, None] * slopes
    gram, moment = columns.T @ columns, columns.T @ target
    # A convex parabola over a box: its lowest point if inside, else the lowest of the four edges. Where both columns
    # are one but for rounding it is a valley, which crosses an edge too.
    determinant = gram[0, 0] * gram[1, 1] - gram[0, 1] ** 2
    if determinant > 1e-12 * gram[0, 0] * gram[1, 1]:
        inside: Vector = np.array(
            [gram[1, 1] * moment[0] - gram[0, 1] * moment[1], gram[0, 0] * moment[1] - gram[0, 1] * moment[0]]
        )
        inside /= determinant
        if np.all((lower <= inside) & (inside <= upper)):
            return inside
    best = np.zeros(2)
    lowest = np.inf
    for fixed, at in ((0, lower[0]), (0, upper[0]), (1, lower[1]), (1, upper[1])):
        free = 1 - fixed
        along = (moment[free] - gram[0, 1] * at) / gram[free, free] if gram[free, free] > 0 else 0.0
        step = np.empty(2)
        step[fixed], step[free] = at, min(max(along, lower[free]), upper[free])
        height = float(np.linalg.norm(columns @ step - target))
        if height < lowest:
            best, lowest = step, height
    return best


def _most_violated(
    residual: Vector, slopes: Vector, *, step: Vector, peak: float, low: Vector, high: Vector
) -> tuple[Vector, float, float]:
    values = residual + slopes @ step
    worst = int(np.argmax(np.abs(values)))
    sign = 1.0 if values[worst] >= 0 else -1.0
    row = np.array([-sign * slopes[worst, 0], -sign * slopes[worst, 1], 1.0])
    level, excess = sign * float(residual[worst]), abs(float(values[worst])) - peak
    for axis in (0, 1):
        for side, bound in ((1.0, low[axis]), (-1.0, -high[axis])):
            beyond = bound - side * step[axis]
            if beyond > excess:
                row = np.zeros(3)
                row[axis] = side
                level, excess = float(bound), float(beyond)
    return row, level, excess
