"""Speed against the angle of the platter, turn under turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.speed.speed import SpeedResult

BINS = 180


@dataclass(frozen=True, eq=False)
class TurnRaster:
    """Speed of every turn at every angle. What belongs to the record stands still, what belongs to the motor drifts.

    Attributes
    ----------
    angle_deg : ndarray, shape (bins,)
        Middle of each bin, from where the platter stood when the stretch began. [deg]
    start_s : ndarray, shape (turns,)
        When each turn began; only whole turns are in it. [s]
    speed_percent : ndarray, shape (turns, bins)
        Mean speed within each bin, from the mean speed of the stretch. [%]
    standing_percent : ndarray, shape (bins,)
        Mean over the turns: what comes back at the same angle. [%]
    drifting_percent : ndarray, shape (turns, bins)
        What is left. [%]
    """

    angle_deg: NDArray[np.float64]
    start_s: NDArray[np.float64]
    speed_percent: NDArray[np.float64]
    standing_percent: NDArray[np.float64]
    drifting_percent: NDArray[np.float64]


def turn_raster(speed: SpeedResult, *, bins: int = BINS) -> TurnRaster:
    """Return the speed of a tone laid out turn under turn.

    The angle is that of the platter, read from the tone's own phase, so it keeps step with the record however long
    the stretch is.

    Raises
    ------
    ValueError
        If the stretch holds less than two whole turns.
    """
    fit = speed.fit
    turns = int(fit.angle_rad[-1] / (2 * np.pi))
    if turns < 2:
        raise ValueError(f"the stretch holds {fit.turns:.2f} turns; turns can be compared from 2 whole ones on")
    edges_rad = 2 * np.pi * np.arange(turns * bins + 1) / bins
    edges_s = np.interp(edges_rad, fit.angle_rad, fit.times_s)
    # The tone's phase at both edges of a bin gives its mean speed exactly, whatever happens within.
    tone_rad = np.interp(edges_s, fit.times_s, fit.tone_angle_rad)
    relative = np.diff(tone_rad) / np.diff(edges_s) / (2 * np.pi * fit.turn_hz)
    speed_percent = 100 * (relative.reshape(turns, bins) / (1 + fit.speed_error) - 1)
    standing = speed_percent.mean(axis=0)
    return TurnRaster(
        angle_deg=(np.arange(bins) + 0.5) * 360 / bins,
        start_s=edges_s[: turns * bins : bins],
        speed_percent=speed_percent,
        standing_percent=standing,
        drifting_percent=speed_percent - standing,
    )
