"""The equalisation of disc records, IEC 60098, which is RIAA's: complex, in both directions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

BASS_S, MIDDLE_S, TREBLE_S = 3180e-6, 318e-6, 75e-6
"""Time constants of playback: down from the first, level from the second, down again from the third. [s]"""

TIME_CONSTANTS_S = (BASS_S, MIDDLE_S, TREBLE_S)

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


def equalisation_shift(frequency_hz: ArrayLike, constant: int, percent: float) -> NDArray[np.complex128]:
    """Return by what a playback whose time constant is off multiplies, over one that is right.

    Parameters
    ----------
    frequency_hz : array_like
        [Hz]
    constant : int
        Which of `TIME_CONSTANTS_S` is off.
    percent : float
        By how much. [%]

    Returns
    -------
    ndarray, shape of `frequency_hz`
        Magnitude 1 at 1 kHz, where a phono stage is taken to have its level.
    """
    tau = TIME_CONSTANTS_S[constant]
    off = tau * (1 + percent / 100)

    def over(at_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        s = 2j * np.pi * at_hz
        ratio = (1 + s * off) / (1 + s * tau)
        return np.asarray(ratio if tau == MIDDLE_S else 1 / ratio, dtype=np.complex128)

    return np.asarray(over(np.asarray(frequency_hz, dtype=float)) / np.abs(over(np.array(REFERENCE_HZ))))


@dataclass(frozen=True)
class SubsonicFilter:
    """A high-pass of Butterworth's shape that a playback chain has.

    Attributes
    ----------
    corner_hz : float
        Where it is 3 dB down. [Hz]
    order : int
        1 or 2.
    """

    corner_hz: float
    order: int


def subsonic_response(
    frequency_hz: ArrayLike, corner_hz: float, order: int, *, off_percent: float = 0.0
) -> NDArray[np.complex128]:
    """Return what a high-pass of Butterworth's shape, of order 1 or 2, multiplies by, shape of `frequency_hz`. [Hz]

    With parts that are off, one channel's corner stands so many percent above the mean and the other's below it, and
    the damping of order 2 is off by as much; what both channels hold together is returned.

    >>> abs(subsonic_response(20.0, 20.0, 2)).round(4).item()
    0.7071
    """
    if not off_percent:
        return _high_pass(np.asarray(frequency_hz, dtype=float) / corner_hz, order, 1.0)
    off = off_percent / 100
    corners_hz = corner_hz * (1 + off), corner_hz * (1 - off)
    both = [_high_pass(np.asarray(frequency_hz, dtype=float) / one, order, 1 + off) for one in corners_hz]
    return np.asarray((both[0] + both[1]) / 2)


def _high_pass(over_corner: NDArray[np.float64], order: int, damping: float) -> NDArray[np.complex128]:
    x = 1j * over_corner
    return np.asarray(x / (1 + x) if order == 1 else x**2 / (1 + damping * np.sqrt(2) * x + x**2))


def network_source(time_constant_s: float, side: str) -> str:
    """Return what the error of one time constant of a channel's playback equalisation is called.

    >>> network_source(75e-6, "left")
    'playback equalisation, 75 us, left'
    """
    return f"playback equalisation, {1e6 * time_constant_s:.0f} us, {side}"


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
