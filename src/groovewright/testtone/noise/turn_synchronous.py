"""The part of a noise that repeats from turn to turn of the platter."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

LEAST_TURNS = 4


@dataclass(frozen=True)
class SynchronousPower:
    """Power that repeats each turn.

    Attributes
    ----------
    turns : int
        Whole turns it rests on.
    power : ndarray, shape (channels,)
        Mean square, freed of the noise that an average of so many turns keeps; it may come out below 0.
    uncertainty : ndarray, shape (channels,)
        Its standard uncertainty.
    """

    turns: int
    power: NDArray[np.float64]
    uncertainty: NDArray[np.float64]


def synchronous_power(
    samples: NDArray[np.float64],
    rate_hz: float,
    *,
    turn_s: float,
    gain: Callable[[ArrayLike], NDArray[np.float64]],
) -> SynchronousPower | None:
    """Return the power at harmonics of the turn that keeps its phase from turn to turn; None below four turns.

    Parameters
    ----------
    samples : ndarray, shape (frames, channels)
        Noise, hum taken out.
    rate_hz : float
        Frames a second. [Hz]
    turn_s : float
        What a turn took. A turn wrong by 0.1 % blurs 100 Hz in about ten turns, so it must be the measured one. [s]
    gain : callable
        Factor on power at frequencies in Hz; 0 outside the band.

    Notes
    -----
    Each harmonic has a mean over the turns and a scatter about it; the scatter over the number of turns is taken from
    the mean's power, so that pure noise gives 0 on average.
    """
    from scipy.interpolate import CubicSpline

    frames = samples.shape[0]
    turns = int((frames - 1) / rate_hz / turn_s)
    if turns < LEAST_TURNS:
        return None
    # Outside the band there may be far more than within, such as the slow part of a warp.
    spectrum = np.fft.rfft(samples, axis=0)
    weight = np.sqrt(gain(np.fft.rfftfreq(frames, 1 / rate_hz)))
    banded = np.fft.irfft(spectrum * weight[:, np.newaxis], n=frames, axis=0)
    points = int(2 * np.ceil(rate_hz * turn_s))
    course = CubicSpline(np.arange(frames) / rate_hz, banded, axis=0)
    harmonics = np.arange(1, points // 4)
    inside = harmonics[gain(harmonics / turn_s) > 0]
    lines = np.empty((turns, inside.size, samples.shape[1]), dtype=complex)
    for turn in range(turns):
        lines[turn] = np.fft.rfft(course((turn + np.arange(points) / points) * turn_s), axis=0)[inside] / points
    mean = lines.mean(axis=0)
    # A complex scatter: both parts together, of the mean.
    noise = (np.abs(lines - mean) ** 2).sum(axis=0) / (turns - 1) / turns
    repeated = np.abs(mean) ** 2 - noise
    variance = 2 * np.maximum(repeated, 0.0) * noise + noise**2 * turns / (turns - 1)
    return SynchronousPower(turns, 2 * repeated.sum(axis=0), 2 * np.sqrt(variance.sum(axis=0)))
