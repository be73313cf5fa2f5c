"""Probability that several correlated quantities keep their limits all at once (multivariate normal)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

SHIFTS = 10
POINTS = 509
"""A prime; with ten shifts the probability of seven quantities comes out within about 0.001 in some milliseconds."""

SEED = 20_261_125

ROUNDING = 1e-10
"""What is left of a standard deviation, relative to itself, where a quantity follows from the others."""


@dataclass(frozen=True, slots=True)
class BoxProbability:
    """A probability and how far its computation may be off.

    Attributes
    ----------
    value : float
    log : float
        Natural logarithm; it keeps its slope where the value itself is next to 0, and is minus infinity where it is 0.
    error : float
        Three standard errors of `value`.
    """

    value: float
    log: float
    error: float


def box_probability(
    means: ArrayLike, covariance_matrix: ArrayLike, *, lower: ArrayLike, upper: ArrayLike
) -> BoxProbability:
    """Return the probability that a normal vector lies between its limits in every place.

    The limits are taken one after another, the narrowest first, each given those before (separation of variables),
    over a lattice of points with random shifts from a fixed seed: the same question has the same answer.

    Parameters
    ----------
    means : array_like, shape (n,)
    covariance_matrix : array_like, shape (n, n)
        May be singular: a quantity without uncertainty, or one that follows from the others.
    lower, upper : array_like, shape (n,)
        Infinite where there is no limit. A value on a limit keeps it.

    Raises
    ------
    ValueError
        If shapes do not fit or a lower limit is above its upper one.

    References
    ----------
    .. [1] A. Genz, "Numerical computation of multivariate normal probabilities", J. Comput. Graph. Stat. 1, 141 (1992).

    Examples
    --------
    >>> both = box_probability([0, 0], [[1, 0], [0, 1]], lower=[-1, -1], upper=[1, 1])
    >>> round(both.value, 4)
    0.4661
    """
    from scipy.special import log_ndtr, logsumexp, ndtri_exp

    centre, matrix = np.asarray(means, dtype=float), np.asarray(covariance_matrix, dtype=float)
    low, high = np.asarray(lower, dtype=float), np.asarray(upper, dtype=float)
    count = centre.size
    if matrix.shape != (count, count) or low.shape != (count,) or high.shape != (count,):
        raise ValueError(f"{count} means need a square covariance of that size and as many lower and upper limits")
    if not (low <= high).all():
        raise ValueError("a lower limit lies above its upper one")
    scale = np.sqrt(np.clip(np.diag(matrix), 0.0, None))
    safe = np.where(scale > 0, scale, 1.0)
    low, high = (low - centre) / safe, (high - centre) / safe
    order, factor = _narrowest_first(matrix / np.outer(safe, safe), low, high)
    low, high = low[order], high[order]

    uniform = _lattice(count)
    drawn = np.zeros(uniform.shape)
    logs = np.zeros(uniform.shape[1])
    for k in range(count):
        shift = factor[k, :k] @ drawn[:k]
        own = factor[k, k]
        if own <= ROUNDING:
            slack = 10 * ROUNDING * (1 + np.abs(shift))
            kept = (shift >= low[k] - slack) & (shift <= high[k] + slack)
            logs = np.where(kept, logs, -np.inf)
            continue
        a, b = (low[k] - shift) / own, (high[k] - shift) / own
        # By the tail that keeps its precision.
        flip = np.where(a > 0, -1.0, 1.0)
        a, b = np.where(a > 0, -b, a), np.where(a > 0, -a, b)
        log_b, log_a = log_ndtr(b), log_ndtr(a)
        with np.errstate(divide="ignore", invalid="ignore"):
            log_inside = log_b + np.log1p(-np.exp(log_a - log_b))
            logs = logs + log_inside
            if k < count - 1:
                drawn[k] = flip * np.clip(ndtri_exp(np.logaddexp(log_a, np.log(uniform[k]) + log_inside)), a, b)
    log = float(logsumexp(logs)) - math.log(logs.size)
    by_shift = np.exp(logs).reshape(SHIFTS, POINTS).mean(axis=1)
    return BoxProbability(
        value=min(1.0, math.exp(log)), log=min(0.0, log), error=float(3 * by_shift.std(ddof=1) / math.sqrt(SHIFTS))
    )


def _narrowest_first(
    correlation: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return an order, and the lower triangle whose product with its transpose is the matrix in that order."""
    from scipy.special import ndtr

    count = low.size
    order, factor = np.arange(count), np.zeros((count, count))
    left = correlation.copy()
    for k in range(count):
        # What remains of each given those before; the least likely of them comes next.
        own = np.sqrt(np.clip(np.diag(left)[k:], ROUNDING**2, None))
        chance = ndtr(high[order[k:]] / own) - ndtr(low[order[k:]] / own)
        best = k + int(np.argmin(chance))
        for swapped in (order, factor, left):
            swapped[[k, best]] = swapped[[best, k]]
        left[:, [k, best]] = left[:, [best, k]]
        if left[k, k] <= ROUNDING**2:
            continue
        factor[k:, k] = left[k:, k] / math.sqrt(left[k, k])
        left[k:, k:] -= np.outer(factor[k:, k], factor[k:, k])
    return order, factor


@lru_cache(maxsize=16)
def _lattice(dimensions: int) -> NDArray[np.float64]:
    """Return points between 0 and 1, shape (dimensions, SHIFTS * POINTS): multiples of roots of primes, folded."""
    primes = [number for number in range(2, 400) if all(number % divisor for divisor in range(2, number))]
    if dimensions > len(primes):
        raise ValueError(f"at most {len(primes)} quantities can be judged at once, not {dimensions}")
    roots = np.sqrt(primes[:dimensions])[:, None, None]
    shifts = np.random.default_rng(SEED).random((dimensions, SHIFTS, 1))
    points = np.arange(1, POINTS + 1)[None, None, :] * roots + shifts
    # Folded, so that the two ends of the range meet.
    folded = np.abs(2 * (points - np.floor(points)) - 1).reshape(dimensions, SHIFTS * POINTS)
    return np.clip(folded, 1e-15, 1 - 1e-15)
