"""Whether the speed of a tone swings once in the turn that the sheet states, or in another usual one."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.checks.band_check import USUAL_SPEEDS_RPM
from groovewright.testtone.checks.doubts import Doubt
from groovewright.testtone.checks.served import CHANNELS, DISTORTION, EVERYTHING, LADDER, RESONANCE
from groovewright.testtone.speed.speed import SpeedResult

MIN_TURNS = 3.5
"""Turns of the slowest usual speed below which its line and the next cannot be told apart."""

THINNED_HZ = 50.0
"""Rate that is enough for what comes round once a second or so. [Hz]"""

CLEARER = 2.0
"""Times as much of the swing that another turn must account for as the sheet's does; over few turns each takes some of
the other's."""

LEAST_SHARE = 0.3
"""Of what is left beside speed and drift, that it must account for; the rest is flutter."""


def doubts_of_turn(speed: SpeedResult, speed_rpm: float) -> list[Doubt]:
    """Return the doubt about the sheet's speed where another usual one is what the tone's speed swings with.

    An off-centre record swings the speed once a turn, and every record is off centre by some hundredths of a mm.
    """
    fit = speed.fit
    times_s = fit.times_s - fit.times_s[0]
    length_s = float(times_s[-1])
    every = max(1, int(fit.times_s.size / (length_s * THINNED_HZ)))
    times_s, phase = times_s[::every], fit.phase_rad[::every]
    if length_s * USUAL_SPEEDS_RPM[0] / 60 < MIN_TURNS:
        return []
    steady = np.vander(times_s / length_s, 3)
    left = phase - steady @ np.linalg.lstsq(steady, phase, rcond=None)[0]
    whole = float(left @ left)
    stated = _accounted(left, steady, times_s, speed_rpm)
    others = {
        rpm: _accounted(left, steady, times_s, rpm) for rpm in USUAL_SPEEDS_RPM if abs(rpm / speed_rpm - 1) > 0.05
    }
    rpm, most = max(others.items(), key=lambda item: item[1])
    if most < CLEARER * stated or most < LEAST_SHARE * whole:
        return []
    what = (
        f"The sheet says {speed_rpm:.4g} rpm; the speed of the tone swings once in the turn of {rpm:.4g} rpm instead, "
        f"which accounts for {100 * most / whole:.0f} % of it."
    )
    kept = (*CHANNELS, *RESONANCE, *DISTORTION, *LADDER, "hum", "speed_error")
    withheld = tuple(name for name in EVERYTHING if name not in kept)
    return [Doubt("speed_rpm", "", what, {"speed_rpm": rpm}, withheld)]


def _accounted(
    left: NDArray[np.float64], steady: NDArray[np.float64], times_s: NDArray[np.float64], rpm: float
) -> float:
    """Return how much of the squares of a phase a swing once in a turn accounts for."""
    angle = 2 * math.pi * rpm / 60 * times_s
    columns = np.column_stack([steady, np.cos(angle), np.sin(angle)])
    rest = left - columns @ np.linalg.lstsq(columns, left, rcond=None)[0]
    return float(left @ left - rest @ rest)
