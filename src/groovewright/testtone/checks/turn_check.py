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

CLEARER = 3.0
"""Times by which another turn's line must stand over that of the sheet's."""

OVER_NOISE = 6.0
"""Times by which it must stand over the lines beside it."""


def doubts_of_turn(speed: SpeedResult, speed_rpm: float) -> list[Doubt]:
    """Return the doubt about the sheet's speed where another usual one is what the tone's speed swings with.

    An off-centre record swings the speed once a turn, and every record is off centre by some hundredths of a mm.
    """
    fit = speed.fit
    times_s = fit.times_s - fit.times_s[0]
    phase = fit.phase_rad - np.polyval(np.polyfit(times_s, fit.phase_rad, 2), times_s)
    length_s = float(times_s[-1])
    if length_s * USUAL_SPEEDS_RPM[0] / 60 < MIN_TURNS:
        return []
    stated = _line(phase, times_s, speed_rpm)
    others = {rpm: _line(phase, times_s, rpm) for rpm in USUAL_SPEEDS_RPM if abs(rpm / speed_rpm - 1) > 0.05}
    rpm, height = max(others.items(), key=lambda item: item[1])
    # Places that no usual turn, nor twice one, is near.
    beside = np.median([_line(phase, times_s, other) for other in (26.0, 38.5, 53.0, 59.0)])
    if height < CLEARER * stated or height < OVER_NOISE * float(beside):
        return []
    what = (
        f"The sheet says {speed_rpm:.4g} rpm; the speed of the tone swings once in the turn of {rpm:.4g} rpm instead, by "
        f"{height / max(stated, 1e-300):.0f} times as much."
    )
    kept = (*CHANNELS, *RESONANCE, *DISTORTION, *LADDER, "hum", "speed_error")
    withheld = tuple(name for name in EVERYTHING if name not in kept)
    return [Doubt("speed_rpm", "", what, {"speed_rpm": rpm}, withheld)]


def _line(phase_rad: NDArray[np.float64], times_s: NDArray[np.float64], rpm: float) -> float:
    """Return the size of the line in the speed at a turn's rate, in any unit."""
    omega = 2 * math.pi * rpm / 60
    window = np.hanning(times_s.size + 2)[1:-1]
    return omega * abs(complex(np.sum(window * phase_rad * np.exp(-1j * omega * times_s)) / window.sum()))
