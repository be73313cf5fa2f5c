"""Spectrum of the speed: which wow and flutter there is, and how much of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.speed.flutter_weighting import HIGHEST_HZ
from groovewright.testtone.speed.speed import SpeedResult

LONGEST_S = 60.0


@dataclass(frozen=True, eq=False)
class SpeedSpectrum:
    """Peak of the speed deviation against frequency.

    Attributes
    ----------
    frequency_hz, peak_percent : ndarray, shape (n,)
        A steady flutter shows its peak at its own frequency; noise shows more the wider the resolution. [Hz, %]
    resolution_hz : float
        Width at half height of a steady flutter. [Hz]
    """

    frequency_hz: NDArray[np.float64]
    peak_percent: NDArray[np.float64]
    resolution_hz: float


def speed_spectrum(speed: SpeedResult) -> SpeedSpectrum:
    """Return the spectrum of the deviation from mean speed and drift, up to 200 Hz.

    Stretches of a minute at most, half over one another, are averaged in power through a Hann window.
    """
    fit = speed.fit
    rate_hz = speed.baseband.rate_hz
    seconds = fit.times_s - fit.middle_s
    phase = fit.phase_rad - (fit.polynomial[0] + fit.polynomial[1] * seconds + fit.polynomial[2] * seconds**2 / 2)
    deviation = np.diff(phase) * rate_hz / (2 * np.pi * speed.mean_frequency_hz)
    length = min(deviation.size, int(LONGEST_S * rate_hz))
    window = np.hanning(length + 2)[1:-1]
    starts = range(0, deviation.size - length + 1, max(length // 2, 1))
    power: NDArray[np.float64] = np.mean(
        [np.abs(np.fft.rfft(deviation[k : k + length] * window)) ** 2 for k in starts], axis=0
    )
    frequency = np.asarray(np.fft.rfftfreq(length, 1 / rate_hz), dtype=np.float64)
    # The difference of neighbours makes fast flutter smaller; sinc gives it back.
    peak: NDArray[np.float64] = 100 * 2 * np.sqrt(power) / window.sum() / np.sinc(frequency / rate_hz)
    kept = frequency <= HIGHEST_HZ
    return SpeedSpectrum(frequency[kept], peak[kept], 2 * rate_hz / length)
