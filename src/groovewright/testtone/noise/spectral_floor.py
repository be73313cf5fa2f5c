"""Noise around each line of a power spectrum, blind to the few lines that stand out of it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

NEIGHBOURS_HZ = 6.0
"""Width over which neighbours are compared: more than a strong line's foot, less than a spectrum's slope. [Hz]"""

_LN_2 = math.log(2.0)


def spectral_floor(power: NDArray[np.float64], *, step_hz: float) -> NDArray[np.float64]:
    """Return the mean power of the noise around each line, shape of `power` (lines, channels).

    It is the median of the neighbours over ln 2, as the median of an exponential distribution is ln 2 of its mean. The
    lines stand `step_hz` apart, the inverse of the span's length.
    """
    from scipy.ndimage import median_filter

    width = 2 * max(4, round(NEIGHBOURS_HZ / 2 / step_hz)) + 1
    # Column by column, since one axis has a way that is many times faster.
    columns = [median_filter(column, size=width, mode="nearest") for column in power.T]
    return np.asarray(np.stack(columns, axis=1) / _LN_2)
