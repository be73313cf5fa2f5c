"""Phase of a tone against time, followed through wow and past clicks, from its baseband."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

TAPER_SHARE = 0.1
"""Share of the band, at either end, over which its weight rises."""

SETTLING_PASSES = 5
CLICK_SIGMAS = 6.0
MOST_CLICKS = 0.4
"""Where more than this share would count as clicks they are the rule, and nothing is left out."""

FAINTEST_SHARE = 1e-4
"""Unrest of a line, relative to itself, below which nothing counts as a click: a phase is not followed more closely."""

FAINTEST = 1e-9
"""Rounding of the samples, which is no noise to measure clicks against. [full scale]"""

CLICK_REACH = 0.1
"""Reach of a click to either side, in periods of the tracking width: the length of the filter that it rang."""


@dataclass(frozen=True, eq=False)
class Line:
    """Baseband around one harmonic, shape (samples, channels), and the time of each sample."""

    samples: NDArray[np.complex128]
    times_s: NDArray[np.float64]
    rate_hz: float


@dataclass(frozen=True, eq=False)
class FollowedPhase:
    """Phase of the fundamental against time, 0 in `keep` where a click stands, and the phase's mean slope."""

    times_s: NDArray[np.float64]
    phase: NDArray[np.float64]
    keep: NDArray[np.float64]
    slope_hz: float


def followed_phase(fundamental: Line, reference: int, tracking_hz: float) -> FollowedPhase:
    """Return the phase of the fundamental.

    What the first smoothing leaves at the ends and where the speed changes is followed again until it is settled. Each
    pass also lets through more of what is faster, so the settled phase is smoothed once more before clicks are looked
    for.
    """
    rate_hz = fundamental.rate_hz
    keep = np.ones(fundamental.times_s.size)
    smooth = _smoothed(fundamental.samples[:, [reference]], keep, rate_hz, tracking_hz)[:, 0]
    phase = np.unwrap(np.angle(smooth))
    for _ in range(SETTLING_PASSES):
        left_over = np.angle(fundamental.samples[:, reference] * np.exp(-1j * phase))
        phase = phase + _followed(left_over, keep, rate_hz, tracking_hz)
    phase = _followed(phase, keep, rate_hz, tracking_hz)
    for _ in range(2):
        straight = fundamental.samples * np.exp(-1j * phase)[:, np.newaxis]
        keep = without_clicks(straight, keep, rate_hz, tracking_hz)
        phase = phase + _followed(np.angle(straight[:, reference]), keep, rate_hz, tracking_hz)
    slope_rad_s = np.polyfit(fundamental.times_s - fundamental.times_s[0], phase, 1, w=taper(phase.size))[0]
    return FollowedPhase(fundamental.times_s, phase, keep, float(slope_rad_s) / (2 * np.pi))


def without_clicks(
    straight: NDArray[np.complex128], keep: NDArray[np.float64], rate_hz: float, tracking_hz: float
) -> NDArray[np.float64]:
    """Return a weight of 1, and 0 around each moment at which any channel leaves its noise."""
    away = np.abs(straight - _smoothed(straight, keep, rate_hz, tracking_hz))
    # The magnitude of complex noise has its median at 1.177 standard deviations of a part.
    sigma = np.median(away[keep > 0], axis=0) / 1.1774
    sigma = np.maximum(sigma, FAINTEST_SHARE * np.median(np.abs(straight), axis=0) + FAINTEST)
    click = (away > CLICK_SIGMAS * sigma).any(axis=1)
    reach = round(CLICK_REACH * rate_hz / tracking_hz)
    near = np.convolve(click, np.ones(2 * reach + 1), mode="same") > 0
    if near.mean() > MOST_CLICKS:
        return np.ones(keep.size)
    return np.where(near, 0.0, 1.0)


def taper(count: int) -> NDArray[np.float64]:
    """Return a weight that rises as a cosine at both ends, so that no other line leaks in."""
    place = (np.arange(count) + 0.5) / count
    edge = np.minimum(place, 1 - place) / TAPER_SHARE
    return np.asarray(np.where(edge < 1, 0.5 - 0.5 * np.cos(np.pi * np.minimum(edge, 1)), 1.0))


def _kernel(rate_hz: float, tracking_hz: float) -> NDArray[np.float64]:
    """Return a window one period of the tracking width long, which passes nothing at twice that width."""
    return np.hanning(2 * max(1, round(rate_hz / tracking_hz / 2)) + 1)


def _smoothed(
    lines: NDArray[np.complex128], keep: NDArray[np.float64], rate_hz: float, tracking_hz: float
) -> NDArray[np.complex128]:
    """Return basebands smoothed to the tracking width, bridging what has no weight."""
    from scipy.signal import fftconvolve

    kernel = _kernel(rate_hz, tracking_hz)
    share = fftconvolve(keep, kernel, mode="same")
    smooth = fftconvolve(lines * keep[:, np.newaxis], kernel[:, np.newaxis], mode="same", axes=0)
    return np.asarray(smooth / np.maximum(share, 1e-6 * kernel.sum())[:, np.newaxis])


def _followed(
    phase: NDArray[np.float64], keep: NDArray[np.float64], rate_hz: float, tracking_hz: float
) -> NDArray[np.float64]:
    """Return a phase smoothed by a straight line through each neighbourhood, which holds to the very ends."""
    from scipy.signal import fftconvolve

    kernel = _kernel(rate_hz, tracking_hz)
    # Convolution turns the kernel round, so the distance is that of the neighbour from the middle.
    distance = np.linspace(1, -1, kernel.size)
    share, first, second = (fftconvolve(keep, kernel * distance**k, mode="same") for k in range(3))
    level, moment = (fftconvolve(phase * keep, kernel * distance**k, mode="same") for k in range(2))
    spread = second * share - first**2
    held = spread > 1e-6 * float(kernel.sum()) ** 2
    return np.asarray(np.where(held, (second * level - first * moment) / np.where(held, spread, 1.0), 0.0))
