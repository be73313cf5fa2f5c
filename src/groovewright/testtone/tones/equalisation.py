"""The equalisation of disc records, IEC 60098, which is RIAA's: complex, in both directions."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

BASS_S, MIDDLE_S, TREBLE_S = 3180e-6, 318e-6, 75e-6
"""Time constants of playback: down from the first, level from the second, down again from the third. [s]"""

SUBSONIC_S = 7950e-6
"""Time constant of the playback high-pass that the 1976 amendment added and that few phono stages have. [s]"""

REFERENCE_HZ = 1000.0
"""Where the level is 0 dB. [Hz]"""


def equalisation_response(frequency_hz: ArrayLike, *, subsonic: bool = False) -> NDArray[np.complex128]:
    """Return what playback multiplies a velocity by, relative to the magnitude at 1 kHz.

    Divide a spectrum by it to have the velocity of the groove from a recording made through a phono stage.

    Parameters
    ----------
    frequency_hz : array_like
        0 or above. [Hz]
    subsonic : bool
        Whether the phono stage has the 7950 us high-pass as well.

    Returns
    -------
    ndarray, shape of `frequency_hz`
        Magnitude 1 at 1 kHz; the phase is that of the network, -49 degrees there.

    Raises
    ------
    ValueError
        If a frequency is below 0 or not finite.

    References
    ----------
    .. [1] IEC 60098, time constants 3180, 318 and 75 us.
    """
    frequencies = np.asarray(frequency_hz, dtype=float)
    if not (np.isfinite(frequencies) & (frequencies >= 0)).all():
        raise ValueError("equalisation is defined for frequencies from 0 Hz up; one given is below or not a number")
    return np.asarray(_network(frequencies, subsonic) / np.abs(_network(np.array(REFERENCE_HZ), subsonic)))


def recording_response(frequency_hz: ArrayLike) -> NDArray[np.complex128]:
    """Return what cutting multiplied the velocity by: the inverse of playback, which has no subsonic part.

    >>> complex(recording_response(40.0) * equalisation_response(40.0)).real.__round__(12)
    1.0
    """
    return 1 / equalisation_response(frequency_hz)


def equalisation_level(frequency_hz: ArrayLike, *, subsonic: bool = False) -> NDArray[np.float64]:
    """Return the level of playback against frequency; 0 dB at 1 kHz. [dB]

    >>> equalisation_level([20.0, 20_000.0]).round(2).tolist()
    [19.27, -19.62]
    """
    with np.errstate(divide="ignore"):  # The high-pass stops 0 Hz wholly: that is minus infinity.
        return np.asarray(20 * np.log10(np.abs(equalisation_response(frequency_hz, subsonic=subsonic))))


def _network(frequency_hz: NDArray[np.float64], subsonic: bool) -> NDArray[np.complex128]:
    s = 2j * np.pi * frequency_hz
    response = (1 + s * MIDDLE_S) / ((1 + s * BASS_S) * (1 + s * TREBLE_S))
    return np.asarray(response * s * SUBSONIC_S / (1 + s * SUBSONIC_S) if subsonic else response)
