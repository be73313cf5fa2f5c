"""Noise, clicks and hum, drawn from a seed so that any stretch of a recording is the same whenever it is made."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groovewright.simulate.deck import REFERENCE_VELOCITY_CM_S, HumLine, Rumble

CLICK_DECAY_S = 50e-6
"""Time in which a click falls to 1/e. [s]"""

_STREAMS = ("rumble", "surface", "recorder", "clicks", "rattle", "cut", "flutter", "events")


def stretch_noise(seed: int, stream: str, stretch: int) -> np.random.Generator:
    """Return the random numbers of one kind of noise for one stretch of a recording."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, _STREAMS.index(stream), stretch])))


def rumble_scales(rumble: Rumble, sample_rate_hz: float) -> NDArray[np.float64]:
    """Return the rms of the white noise that `filters.rumble_filters` turns into lateral and vertical rumble. [cm/s]

    White noise of density S passes w2 s / ((s + w1)(s + w2)) with the mean square S pi/2 f2^2 / (f1 + f2).
    """
    width_hz = math.pi / 2 * rumble.high_corner_hz**2 / (rumble.low_corner_hz + rumble.high_corner_hz)
    white_over_rumble = math.sqrt(sample_rate_hz / 2 / width_hz)
    return np.array(
        [
            0.0
            if level_db is None
            else REFERENCE_VELOCITY_CM_S / math.sqrt(2) * 10 ** (level_db / 20) * white_over_rumble
            for level_db in (rumble.lateral_db, rumble.vertical_db)
        ]
    )


def clicks(
    random: np.random.Generator, frame_count: int, *, per_frame: float, mean_velocity_cm_s: float
) -> NDArray[np.float64]:
    """Return the blows of clicks on both walls, shape (2, frames), each one frame long. [cm/s]"""
    blows = np.zeros((2, frame_count))
    count = random.poisson(per_frame * frame_count)
    at = random.integers(0, frame_count, count)
    strength = random.exponential(mean_velocity_cm_s, count)
    direction = random.uniform(0, 2 * math.pi, count)
    np.add.at(blows[0], at, strength * np.cos(direction))
    np.add.at(blows[1], at, strength * np.sin(direction))
    return blows


def hum(lines: tuple[HumLine, ...], time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sum of the lines at moments of the recording, full scale 1.0."""
    total = np.zeros_like(time_s)
    for line in lines:
        phase = 2 * math.pi * line.frequency_hz * time_s + math.radians(line.phase_deg)
        total += 10 ** (line.level_dbfs / 20) * np.cos(phase)
    return total
