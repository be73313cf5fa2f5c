"""Frequency weighting of wow and flutter, and the band in which it is measured without weighting."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

WEIGHTING_TABLE = (
    (0.1, -48.0),
    (0.2, -30.6),
    (0.315, -19.7),
    (0.4, -15.0),
    (0.63, -8.4),
    (0.8, -6.0),
    (1.0, -4.2),
    (1.6, -1.8),
    (2.0, -0.9),
    (4.0, 0.0),
    (6.3, -0.9),
    (10.0, -2.1),
    (20.0, -5.9),
    (40.0, -10.4),
    (63.0, -14.2),
    (100.0, -17.3),
    (200.0, -23.0),
)
"""Frequency in Hz and gain in dB. Written from memory of IEC 60386 and AES6, and not yet compared with either."""

FROM_MEMORY = (
    "The weighting's numbers are from memory of IEC 60386 and AES6 and were not compared with the documents; "
    "its shape is the one that AES6's abstract gives."
)

LOWEST_HZ, HIGHEST_HZ = 0.2, 200.0
"""Band that is measured without weighting."""

FADE_TO_HZ = 250.0
"""Both responses fade from the upper end of the band to nothing here."""

FADE_FROM_HZ = 0.1
"""The response without weighting fades in from here to the lower end of the band."""


def weighting_gain(frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Return the gain of the wow and flutter weighting of IEC 60386 and AES6, 1 at 4 Hz.

    The table is from memory and not confirmed against either document. What the abstract of AES6 says holds: about
    6 dB an octave down on both sides of 4 Hz, and an additional drop below 0.5 Hz. Between its rows a smooth curve
    that never overshoots joins gain in dB and the logarithm of frequency, so the gain is exact at every row.

    Parameters
    ----------
    frequency_hz : array_like, any shape
        Modulation frequency, 0 or more. [Hz]

    Returns
    -------
    ndarray, shape of `frequency_hz`
        Amplitude ratio. Below the table its steepest slope goes on, above 200 Hz it fades to 0 at 250 Hz.

    References
    ----------
    .. [1] AES6-2008, abstract.
    .. [2] IEC 60386:1972 with amendment 1:1988.
    """
    from scipy.interpolate import PchipInterpolator

    f = np.asarray(frequency_hz, dtype=float)
    rows_hz, rows_db = np.array(WEIGHTING_TABLE).T
    octaves = np.log2(rows_hz)
    within = np.log2(np.clip(f, rows_hz[0], rows_hz[-1]))
    gain_db = PchipInterpolator(octaves, rows_db)(within)
    lowest_slope_db = (rows_db[1] - rows_db[0]) / (octaves[1] - octaves[0])
    with np.errstate(divide="ignore"):
        gain_db = gain_db + lowest_slope_db * np.log2(np.minimum(f / rows_hz[0], 1.0))
    gain: NDArray[np.float64] = 10 ** (gain_db / 20) * _fade_out(f)
    return gain


def unweighted_gain(frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Return 1 from 0.2 to 200 Hz, faded to 0 at 0.1 Hz below and at 250 Hz above.

    The abstract of AES6 speaks of 0.1 Hz; a record of a few seconds holds too little of a turn of 10 s for that.
    """
    f = np.asarray(frequency_hz, dtype=float)
    into = np.clip((f - FADE_FROM_HZ) / (LOWEST_HZ - FADE_FROM_HZ), 0.0, 1.0)
    gain: NDArray[np.float64] = np.sin(np.pi / 2 * into) ** 2 * _fade_out(f)
    return gain


def _fade_out(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    beyond = np.clip((frequency_hz - HIGHEST_HZ) / (FADE_TO_HZ - HIGHEST_HZ), 0.0, 1.0)
    faded: NDArray[np.float64] = np.cos(np.pi / 2 * beyond) ** 2
    return faded
