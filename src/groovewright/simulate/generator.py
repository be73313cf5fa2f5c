"""From what the walls of the groove do to the voltages of both channels."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groovewright.simulate.deck import REFERENCE_VELOCITY_CM_S, TrueDeck

LOST_GRIP = 0.8
"""Share of the velocity above the threshold that a stylus which left its wall does not follow."""

RATTLE = 0.5
"""Rms of the rattle of such a stylus, relative to the velocity above the threshold."""


def generator_matrix(deck: TrueDeck) -> NDArray[np.float64]:
    """Return what turns the velocities of both walls into both outputs; rows are outputs, left first.

    The generator turned by d gives [[cos d, sin d], [-sin d, cos d]]; then comes the leak, alike both ways, and then
    each channel's gain and polarity.
    """
    turn = math.radians(deck.azimuth_rotation_deg)
    leak = 0.0 if deck.leak_db is None else 10 ** (deck.leak_db / 20)
    turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    gains = np.array(
        [sign * 10 ** (gain / 20) for sign, gain in zip(deck.polarity, deck.channel_gains_db, strict=True)]
    )
    return np.asarray(np.diag(gains) @ np.array([[1.0, leak], [leak, 1.0]]) @ turned)


def with_lost_grip(walls_cm_s: NDArray[np.float64], deck: TrueDeck, rattle: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the velocities of both walls, shape (2, frames), as a stylus follows them that leaves a wall too fast.

    The wall falls away from the stylus in one half of the wave: there the velocity above the threshold is followed
    in part only, and the stylus rattles until it has caught the wall again.
    """
    followed = walls_cm_s.copy()
    for wall, threshold_cm_s in enumerate(deck.mistracking_cm_s):
        if threshold_cm_s is None:
            continue
        above = np.maximum(walls_cm_s[wall] - threshold_cm_s, 0.0)
        followed[wall] -= above * (LOST_GRIP - RATTLE * rattle[wall])
    return followed


def with_own_harmonics(
    channels_cm_s: NDArray[np.float64], mean_square: NDArray[np.float64], deck: TrueDeck
) -> NDArray[np.float64]:
    """Return the channels' velocities, shape (2, frames), with the curvature of the generator.

    A coil has no constant voltage, so what squaring adds on average (`mean_square`) is taken off.
    """
    second, third = deck.second_harmonic_percent / 100, deck.third_harmonic_percent / 100
    result = channels_cm_s
    if second:
        result = result + 2 * second / REFERENCE_VELOCITY_CM_S * (channels_cm_s**2 - mean_square)
    if third:
        result = result + 4 * third / REFERENCE_VELOCITY_CM_S**2 * channels_cm_s**3
    return result
