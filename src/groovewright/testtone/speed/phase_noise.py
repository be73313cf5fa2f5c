"""What a fit of a tone's phase leaves over: steady flutters that stand out, and noise."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LINE_POWER = 25.0
"""How far above the noise around it a steady flutter must stand: noise alone does so once in a million records."""

NOISE_TO_HZ = 20.0
"""The noise that moves mean and once-per-turn part is told from what is left up to here."""

CLEARLY_BETTER = 6.0
"""By how much the log likelihood must rise before noise white in speed is believed beside noise white in phase."""

FAINTEST_LINE_RAD = 1e-4
"""A flutter that swings the phase by less is no concern: 4 Hz on a tone of 3150 Hz is then 0.00001 %."""

ROUNDING_RAD = 1e-12
"""What is left of a perfect tone is rounding of this size; nothing is looked for in it."""

OWN_BINS = 0.75
"""Nearer than this over the stretch's length, a flutter can't be told from another, from the turn or from drift."""


def _power(rest: NDArray[np.float64], step_s: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return frequencies and the one-sided power density of what is left, Hann windowed."""
    window = np.hanning(rest.size + 2)[1:-1]
    spectrum = np.fft.rfft(rest * window)
    density = 2 * step_s * np.abs(spectrum) ** 2 / np.sum(window**2)
    return np.fft.rfftfreq(rest.size, step_s).astype(np.float64), np.maximum(density, ROUNDING_RAD**2 * step_s)


def strongest_line(
    rest: NDArray[np.float64], step_s: float, taken_hz: list[float], *, flat_to_hz: float
) -> float | None:
    """Return the frequency of the strongest that stands out of the noise around it, if any does."""
    from scipy.ndimage import median_filter

    frequency, density = _power(rest, step_s)
    spacing = frequency[1]
    width = min(61, density.size // 4 * 2 + 1)
    # Noise white in phase is level, noise white in speed falls with the square: the larger of both guesses holds.
    level = median_filter(density, size=width, mode="mirror")
    falling = median_filter(density * frequency**2, size=width, mode="mirror") / np.maximum(frequency, spacing) ** 2
    noise = np.maximum(level, falling) / np.log(2)
    contrast = density / noise
    for hz in taken_hz:
        contrast[np.abs(frequency - hz) < OWN_BINS * spacing] = 0.0
    contrast[:2] = contrast[-2:] = 0.0
    contrast[frequency > flat_to_hz] = 0.0
    # Of all that stand out the strongest comes first: the others may be its skirts.
    k = int(np.where(contrast >= LINE_POWER, density, 0.0).argmax())
    if contrast[k] < LINE_POWER or density[k] * spacing < FAINTEST_LINE_RAD**2:
        return None
    left, top, right = np.sqrt(density[k - 1 : k + 2])
    return float(frequency[k] + spacing * (right - left) / (left + top + right))


def noise_of(
    rest: NDArray[np.float64], step_s: float, taken_hz: list[float], *, flat_to_hz: float
) -> tuple[float, float]:
    """Return (a, b) of a one-sided density a + b/f^2: noise white in phase, and noise white in speed."""
    frequency, density = _power(rest, step_s)
    usable = np.ones(frequency.size, dtype=bool)
    usable[:2] = usable[-1:] = False
    for hz in taken_hz:
        usable &= np.abs(frequency - hz) > 1.5 * frequency[1]
    if usable.sum() < 4:
        usable[2:] = True
    usable &= frequency <= min(max(NOISE_TO_HZ, 60 * frequency[1]), flat_to_hz)
    f, p = frequency[usable], density[usable]
    shapes = np.column_stack([np.ones_like(f), (f[0] / f) ** 2])
    level = np.array([float(np.mean(p)), 0.0])
    falling = np.array([0.0, float(np.mean(p / shapes[:, 1]))])
    both = (level + falling) / 2
    # Whittle's likelihood by reweighting: each bin counts by its own expected size.
    for _ in range(30):
        expected = shapes @ both
        weighted = shapes / expected[:, None]
        both = np.clip(np.linalg.lstsq(weighted, p / expected, rcond=None)[0], 1e-9 * level[0], None)
    if _misfit(p, shapes @ level) - _misfit(p, shapes @ both) < CLEARLY_BETTER:
        both = level
    return float(both[0]), float(both[1] * f[0] ** 2)


def _misfit(density: NDArray[np.float64], expected: NDArray[np.float64]) -> float:
    """Return minus the logarithm of Whittle's likelihood."""
    return float(np.sum(np.log(expected) + density / expected))


def covariance_under(
    design: NDArray[np.float64], wanted: slice, noise: tuple[float, float], step_s: float
) -> NDArray[np.float64]:
    """Return the covariance of the wanted parameters under the noise found, for the ordinary least squares used."""
    scale = np.linalg.norm(design, axis=0)
    scaled = design / scale
    # Through the normal equations, many times quicker over a long stretch; a covariance needs no more digits.
    inverse = np.linalg.pinv(scaled.T @ scaled, hermitian=True)
    weights = (inverse[wanted] / scale[wanted, None]) @ scaled.T
    level, falling = noise
    # Noise white in speed walks the phase at random: each step moves all samples that follow it.
    steps = np.cumsum(weights[:, ::-1], axis=1)
    covariance: NDArray[np.float64] = (
        level / (2 * step_s) * weights @ weights.T + 2 * np.pi**2 * falling * step_s * steps @ steps.T
    )
    return covariance
