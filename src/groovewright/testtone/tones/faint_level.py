"""Level in dB of a small vector among noise: a value where it stands out, an upper bound where it doesn't.

The dB of an amplitude near the noise is far from normally distributed, and has no lowest value. So a level is given
with an uncertainty only where the amplitude is several times its noise; below that all that is known is a level which
it hardly exceeds, and the quantity says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SHOWN_SIGMAS = 5.0
"""Amplitude over its standard uncertainty from which on its level is given with an uncertainty."""

BOUND_PROBABILITY = 0.95

DB_PER_NEPER = 20 / math.log(10)


@dataclass(frozen=True, eq=False)
class FaintLevel:
    """Level of the length of a vector.

    Attributes
    ----------
    level_db : float
        The level, or the bound where `is_bound`. [dB]
    gradient_db : ndarray, shape (n,)
        Change of the level with each part of the vector, to first order; 0 where `is_bound`. [dB]
    is_bound : bool
        Whether the noise hides the vector.
    """

    level_db: float
    gradient_db: NDArray[np.float64]
    is_bound: bool


def faint_level(parts: NDArray[np.float64], covariance: NDArray[np.float64]) -> FaintLevel:
    """Return the level of a vector's length, relative to length 1.

    Parameters
    ----------
    parts : ndarray, shape (n,)
        Estimate of the vector.
    covariance : ndarray, shape (n, n)
        Of its errors, taken as normal.

    Notes
    -----
    What the noise across the vector adds to its length on average is taken off. The bound is the 95 % quantile of the
    length of the true vector given the estimate, all vectors being as likely beforehand.
    """
    length = float(np.linalg.norm(parts))
    if length > 0:
        direction = parts / length
        along = float(direction @ covariance @ direction)
        true_square = length**2 - (float(np.trace(covariance)) - along)
        if true_square > 0 and true_square >= SHOWN_SIGMAS**2 * along:
            amplitude = math.sqrt(true_square)
            return FaintLevel(DB_PER_NEPER * math.log(amplitude), DB_PER_NEPER * direction / amplitude, False)
    return FaintLevel(DB_PER_NEPER * math.log(_bound(length, covariance)), np.zeros_like(parts), True)


def _bound(length: float, covariance: NDArray[np.float64]) -> float:
    from scipy.special import chndtrix

    widest = float(np.linalg.eigvalsh(covariance)[-1])
    if widest == 0:
        raise ValueError("a vector of length 0 that has no noise has no level in dB")
    square = chndtrix(BOUND_PROBABILITY, covariance.shape[0], length**2 / widest)
    return math.sqrt(widest * float(square))
