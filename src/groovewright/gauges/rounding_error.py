"""What a display's last step hides, and how much of it repeats can average out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

# Above this noise, in steps, repeats average the rounding out to below a millionth of a step.
_AMPLE_NOISE = 1.0
_MOST_HARMONICS = 200


@dataclass(frozen=True, slots=True)
class RoundingSplit:
    """Rounding error of repeats, split by what averaging does to it.

    Attributes
    ----------
    common : float
        Standard uncertainty that all repeats of one load share, in the unit of the step.
    scatter : float
        Standard deviation of single indications, rounding included, in the unit of the step.
    """

    common: float
    scatter: float


def split_rounding(*, step: float, scatter: float) -> RoundingSplit:
    """Return how much of a display's rounding stays in the mean of repeats.

    A quiet reading always rounds the same way, so repeats of it share one error, rectangular over the step. Noise
    beneath the rounding makes the last digit move, and the mean of repeats then finds the value between two steps.

    Parameters
    ----------
    step : float
        Last step of the display, above 0.
    scatter : float
        Pooled standard deviation of single indications as displayed, 0 or more, in the unit of the step.

    Notes
    -----
    With noise of standard deviation s and a true value anywhere within a step d, the displayed value has a mean
    square error s^2 + d^2/12. The part of it common to repeats is the sum over k of
    d^2 / (2 pi^2 k^2) exp(-4 pi^2 k^2 s^2 / d^2), from the Fourier series of the rounding; the rest scatters. The
    noise is found from the scatter by bisection.

    Examples
    --------
    >>> round(split_rounding(step=0.01, scatter=0.0).common, 6)
    0.002887
    >>> split_rounding(step=0.01, scatter=0.01).common < 1e-6
    True
    """
    if not (step > 0 and math.isfinite(step)):
        raise ValueError(f"the last step of a display must be above 0, not {step:g}")
    return RoundingSplit(step * _common_to_repeats(scatter / step), scatter)


@lru_cache(maxsize=256)
def _common_to_repeats(scatter: float) -> float:
    """Return the common part for a scatter, both in steps."""
    if scatter**2 > _AMPLE_NOISE**2 + 1 / 12:
        return 0.0
    quiet, noisy = 0.0, _AMPLE_NOISE
    for _ in range(40):
        middle = (quiet + noisy) / 2
        if middle**2 + 1 / 12 - _common_variance(middle) < scatter**2:
            quiet = middle
        else:
            noisy = middle
    return math.sqrt(_common_variance(quiet))


def _common_variance(noise: float) -> float:
    if noise == 0:
        return 1 / 12
    # Harmonics beyond 1/noise are below 1e-17 of the first.
    last = min(_MOST_HARMONICS, math.ceil(1 / noise))
    return math.fsum(math.exp(-((2 * math.pi * k * noise) ** 2)) / (2 * (math.pi * k) ** 2) for k in range(1, last + 1))
