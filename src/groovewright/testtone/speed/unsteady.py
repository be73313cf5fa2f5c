"""What one stretch of a tone cannot say of a deck's wow and flutter: how steady it is, and whose it is.

A deck's flutter is not steady, so the reading of a few seconds differs from that of the next. How much is told from the
scatter between parts of the stretch that are independent of each other; samples are not. What repeats with the turn
may be the platter's or the record's (a warp, a pressing that is not round), and every record has flutter of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Source
from groovewright.testtone.sheet.allowances import Allowances, cut_source
from groovewright.testtone.speed.flutter_weighting import unweighted_gain, weighting_gain
from groovewright.testtone.speed.quasi_peak import quasi_peak
from groovewright.testtone.speed.speed import SpeedResult
from groovewright.testtone.speed.wow_flutter import Gain, WowFlutter, two_sigma

Vector = NDArray[np.float64]

PART_S = 2.0
"""Length of a part of the stretch: the slowest flutter that counts, 0.5 Hz, has come round. [s]"""

MIN_PARTS = 2

QUANTILE_OVER_RMS = 1.34
"""How many times as uncertain the size that is exceeded for 5 % of the time is as the root mean square, of Gaussian
noise: sqrt(0.05 x 0.95) / (2 x 0.0584 x 1.96) over sqrt(1/2)."""

TURN_HARMONICS = 8
"""Waves a turn up to which something is taken to repeat with it: warps and pressings have few."""

MIN_TURNS = 3.0
"""Turns of a stretch below which what repeats cannot be told from what does not."""

READINGS: dict[str, tuple[Gain, bool]] = {
    "weighted_2sigma": (weighting_gain, False),
    "unweighted_2sigma": (unweighted_gain, False),
    "weighted_quasi_peak": (weighting_gain, True),
}
"""Every reading, with its weighting and whether it is one of peaks."""


def with_unsteadiness(
    flutter: WowFlutter, speed: SpeedResult, *, allowances: Allowances, source: str, record_name: str
) -> WowFlutter:
    """Return wow and flutter with what one stretch of one record cannot say of the deck in the uncertainty.

    Parameters
    ----------
    flutter, speed : WowFlutter, SpeedResult
        Of one tone.
    allowances : Allowances
        With the flutter that a record has of its own.
    source : str
        Label of this stretch.
    record_name : str
        Label of the record.
    """
    changed: dict[str, Any] = {}
    once = 100 * speed.fit.once_per_turn_speed() if speed.fit.has_turn else np.zeros(flutter.times_s.size)
    turn_hz = speed.fit.turn_hz * (1 + speed.fit.speed_error)
    for name, (gain, of_peaks) in READINGS.items():
        course = flutter.weighted_percent if gain is weighting_gain else flutter.unweighted_percent
        bare = course - float(gain(turn_hz)) * once
        for field, deviation in ((name, course), (f"{name}_without_eccentricity", bare)):
            quantity = getattr(flutter, field)
            if quantity is not None:
                added = _doubts(deviation, speed, quantity.value, of_peaks=of_peaks)
                own = cut_source("flutter", record_name)
                parts = {Source(f"{source}, {what}", freedom): u for what, (u, freedom) in added.items()}
                parts[Source(own)] = _of_record(quantity.value, allowances.cut_flutter_percent)
                changed[field] = replace(quantity, components={**(quantity.components or {}), **parts})
    return replace(flutter, **changed)


def _of_record(value: float, record_percent: float) -> float:
    """Return by how much the record's own flutter may have raised a reading; both add by their squares."""
    return value - math.sqrt(max(value**2 - record_percent**2, 0.0))


def _doubts(deviation: Vector, speed: SpeedResult, value: float, *, of_peaks: bool) -> dict[str, tuple[float, float]]:
    """Return the uncertainty from how unsteady the flutter is and from what repeats, with degrees of freedom."""
    rate_hz = speed.baseband.rate_hz
    read: Callable[[Vector], float] = (lambda part: float(quasi_peak(part, rate_hz))) if of_peaks else two_sigma
    parts = np.array_split(deviation, max(MIN_PARTS, int(deviation.size / (PART_S * rate_hz))))
    freedom = float(len(parts) - 1)
    if of_peaks:
        scatter = float(np.std([read(part) for part in parts], ddof=1))
    else:
        squares = np.array([np.mean(part**2) for part in parts])
        relative = float(np.std(squares, ddof=1) / np.mean(squares) / math.sqrt(len(parts))) if squares.any() else 0.0
        scatter = QUANTILE_OVER_RMS * value * relative / 2
    found = {"flutter that is not steady": (scatter, freedom)}
    if speed.fit.turns >= MIN_TURNS:
        without = read(deviation - _repeating(deviation, speed.fit.angle_rad))
        found["flutter that repeats with the turn, the platter's or the record's"] = (
            max(read(deviation) - without, 0.0) / math.sqrt(3),
            math.inf,
        )
    return found


def _repeating(deviation: Vector, angle_rad: Vector) -> Vector:
    """Return what repeats with the turn, two to `TURN_HARMONICS` waves each."""
    # Over some turns the waves are as good as orthogonal, so each is taken off alone and memory stays small.
    left = deviation.copy()
    for waves in range(2, TURN_HARMONICS + 1):
        for column in (np.cos(waves * angle_rad), np.sin(waves * angle_rad)):
            left -= float(column @ left) / float(column @ column) * column
    return deviation - left
