"""The quasi-peak detector of wow and flutter: rectifiers that charge fast and leak slowly, and a pointer."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

CHARGE_S, LEAK_S, POINTER_S = 0.0486, 0.731, 0.0957
"""Time constants, fitted to how a pulse of 10, 30, 60 or 100 ms must read once a second."""

SEGMENT_S, RUN_UP_S = 10.0, 8.0
"""Long signals are read in stretches at once; what came before a run-up is forgotten to 2 parts in 100,000."""

FULL_LENGTH_S = 20.0
STEPS_AT_ONCE = 512


def quasi_peak(deviation: NDArray[np.floating], rate_hz: float) -> NDArray[np.float64]:
    """Return the highest reading of the quasi-peak detector over a signal.

    Half of peak to peak: one rectifier follows the upward and one the downward deviation, and a pointer follows half
    of their sum. The scale is set by a sine of 4 Hz, which reads its peak. The dynamics are those of IEC 60386 as
    far as AES6's abstract gives them (pulses once a second: 60 ms reads 90 %, and between pulses of 100 ms the
    reading falls to 40 %); the rows for 10, 30 and 100 ms are from memory of IEC 60386 and not confirmed.

    Parameters
    ----------
    deviation : ndarray, shape (..., n)
        Speed deviation, weighted or not; each signal along the last axis is read on its own.
    rate_hz : float
        Samples a second; 800 or more, so that a flutter of 200 Hz keeps its peaks. [Hz]

    Returns
    -------
    ndarray, shape (...)
        Reading in the unit of `deviation`.
    """
    if rate_hz < 800:
        raise ValueError(f"{rate_hz:g} samples a second hold too little of a peak; give at least 800")
    reading: NDArray[np.float64] = pointer(deviation, rate_hz)[0] / _reading_of_unit_sine(round(rate_hz, 6))
    return reading


def highest_reading(deviation: NDArray[np.floating], rate_hz: float) -> tuple[float, slice]:
    """Return the reading of one signal, shape (n,), and the stretch, run-up included, in which it is reached.

    A long signal is read in stretches at once.
    """
    if deviation.size <= FULL_LENGTH_S * rate_hz:
        return float(quasi_peak(deviation, rate_hz)), slice(0, deviation.size)
    segment, run_up = int(SEGMENT_S * rate_hz), int(RUN_UP_S * rate_hz)
    padded = np.pad(deviation, (0, -(deviation.size - run_up) % segment))
    windows = np.lib.stride_tricks.sliding_window_view(padded, run_up + segment)[::segment]
    readings = quasi_peak(windows, rate_hz)
    highest = int(readings.argmax())
    return float(readings[highest]), slice(highest * segment, highest * segment + run_up + segment)


def pointer(
    deviation: NDArray[np.floating], rate_hz: float, settled_s: float = 0.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the highest and the lowest the pointer goes once it is settled, not yet to scale.

    Time runs along the last axis; all signals advance together, one step after the other.
    """
    keep = np.exp(-1 / (rate_hz * LEAK_S))
    charge = 1 / (rate_hz * CHARGE_S)
    follow = 1 - np.exp(-1 / (rate_hz * POINTER_S))
    others = deviation.shape[:-1]
    held, signed = np.zeros((2, *others)), np.zeros((2, *others))
    shown, highest, lowest = np.zeros(others), np.zeros(others), np.full(others, np.inf)
    settled = int(settled_s * rate_hz)
    for first in range(0, deviation.shape[-1], STEPS_AT_ONCE):
        steps = np.ascontiguousarray(np.moveaxis(deviation[..., first : first + STEPS_AT_ONCE], -1, 0))
        for now, at in enumerate(steps, start=first):
            signed[0] = at
            signed[1] = -at
            held *= keep
            # Charging slows with the root of what is missing, which is what pulses of 10 to 100 ms ask for.
            missing = np.maximum(signed - held, 0.0)
            current = np.sqrt(missing * np.maximum(signed, 0.0))
            held += np.minimum(charge * current, missing)
            shown += follow * ((held[0] + held[1]) / 2 - shown)
            np.maximum(highest, shown, out=highest)
            if now >= settled:
                np.minimum(lowest, shown, out=lowest)
    return highest, lowest


@lru_cache(maxsize=8)
def _reading_of_unit_sine(rate_hz: float) -> float:
    """Return what a sine of 4 Hz and peak 1 reads: the middle of the pointer's small swing once it has settled."""
    t = np.arange(int(8 * rate_hz)) / rate_hz
    highest, lowest = pointer(np.sin(2 * np.pi * 4 * t), rate_hz, settled_s=7.0)
    return float(highest + lowest) / 2
