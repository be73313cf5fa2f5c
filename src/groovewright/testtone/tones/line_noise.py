"""Noise close to a spectral line, from what is left of its baseband once the line is taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WINDOW_SPREAD = 35 / 18
"""Bins of a Hann-windowed periodogram that share one independent value: the sum of its squared correlations."""

CHANCE_OF_A_LINE = 1e-4
"""Share of bins of pure noise that are taken for a line of hum or flutter and left out."""

FEWEST_BINS = 8


@dataclass(frozen=True, eq=False)
class LineNoise:
    """Noise beside one line in every channel.

    Attributes
    ----------
    density : ndarray, shape (channels, channels)
        Two-sided cross-density of the complex baseband, Hermitian. [full scale squared per Hz]
    degrees_of_freedom : float
        How well it is known: two for each independent bin.
    """

    density: NDArray[np.complex128]
    degrees_of_freedom: float


def noise_beside_line(
    residual: NDArray[np.complex128], rate_hz: float, *, nearest_hz: float, farthest_hz: float
) -> LineNoise:
    """Return the noise between two distances from a line, on both of its sides.

    Both sides together cancel a slope of the noise across the line. Bins that stand out of the others, as those of
    hum and of single flutter frequencies do, are left out.

    Parameters
    ----------
    residual : ndarray, shape (samples, channels)
        Baseband around the line with the line taken out. [full scale]
    rate_hz : float
        Its samples a second. [Hz]
    nearest_hz, farthest_hz : float
        Distances from the line between which the noise is taken. [Hz]

    Raises
    ------
    ValueError
        If the stretch is too short for a spectrum between these distances.

    References
    ----------
    .. [1] P. D. Welch, IEEE Trans. Audio Electroacoust. 15, 70 (1967).
    """
    count = residual.shape[0]
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(count) + 0.5) / count)
    spectrum = np.fft.fft(residual * window[:, np.newaxis], axis=0)
    distance_hz = np.abs(np.fft.fftfreq(count, 1 / rate_hz))
    bins = spectrum[(distance_hz >= nearest_hz) & (distance_hz <= farthest_hz)]
    if bins.shape[0] < FEWEST_BINS:
        raise ValueError(
            f"{count / rate_hz:.3g} s are too short to tell the noise from {nearest_hz:g} to {farthest_hz:g} Hz beside "
            f"the tone; it takes {FEWEST_BINS / (2 * (farthest_hz - nearest_hz)):.2g} s"
        )
    kept = bins[_quiet_bins(np.abs(bins) ** 2)]
    density = kept.T @ kept.conj() / kept.shape[0] / (rate_hz * float(window @ window))
    return LineNoise(density, 2 * kept.shape[0] / WINDOW_SPREAD)


def _quiet_bins(power: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which bins hold noise only, in every channel; the power of a bin of noise is exponentially distributed."""
    limit = -np.log(CHANCE_OF_A_LINE)
    mean = np.median(power, axis=0) / np.log(2)
    for _ in range(8):
        quiet = (power <= limit * mean).all(axis=1)
        settled = power[quiet].mean(axis=0)
        if np.array_equal(settled, mean):
            break
        mean = settled
    return np.asarray(quiet)
