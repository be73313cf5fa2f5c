"""The quasi-peak detector of wow and flutter: rectifiers that charge fast and leak slowly, and a pointer."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

CHARGE_S, LEAK_S, POINTER_S = 0.0486, 0.731, 0.0957
"""Time constants, fitted to how a pulse of 10, 30, 60 or 100 ms must read once a second."""

SEGMENT_S, RUN_UP_S = 6.0, 6.0
"""Long signals are read in stretches at once; what came before a run-up is forgotten to 3 parts in 10,000."""

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


def highest_readings(deviation: NDArray[np.floating], rate_hz: float) -> tuple[NDArray[np.float64], list[slice]]:
    """Return the reading of each signal, shape (k, n), and the stretches, run-up included, in which it is reached.

    Long signals are read in many stretches at once, so all returned stretches are equally long.
    """
    count = deviation.shape[-1]
    if count <= FULL_LENGTH_S * rate_hz:
        return quasi_peak(deviation, rate_hz), [slice(0, count)] * len(deviation)
    segment, run_up = int(SEGMENT_S * rate_hz), int(RUN_UP_S * rate_hz)
    length = run_up + segment
    # The last stretch ends with the signal, so that none is shorter than the others.
    firsts = np.append(np.arange(0, count - length, segment), count - length)
    stretches = np.lib.stride_tricks.sliding_window_view(deviation, length, axis=-1)[:, firsts]
    readings = quasi_peak(stretches, rate_hz)
    highest = firsts[readings.argmax(axis=1)]
    return readings.max(axis=1), [slice(first, first + length) for first in highest.tolist()]


def pointer(
    deviation: NDArray[np.floating], rate_hz: float, settled_s: float = 0.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the highest and the lowest the pointer goes once it is settled, not yet to scale.

    Time runs along the last axis; all signals advance together, one step after the other.
    """
    keep = np.exp(-1 / (rate_hz * LEAK_S))
    charge = 1 / (rate_hz * CHARGE_S)
    others = deviation.shape[:-1]
    held, missing, current = (np.zeros((2, *others)) for _ in range(3))
    shown, highest, lowest = np.zeros(others), np.zeros(others), np.full(others, np.inf)
    for first in range(0, deviation.shape[-1], STEPS_AT_ONCE):
        steps = np.moveaxis(deviation[..., first : first + STEPS_AT_ONCE], -1, 0)
        upward_and_downward = np.maximum(np.stack([steps, -steps], axis=1), 0.0).astype(np.float64)
        after = np.empty_like(upward_and_downward)
        for now, at in enumerate(upward_and_downward):
            np.multiply(held, keep, out=held)
            np.subtract(at, held, out=missing)
            np.maximum(missing, 0.0, out=missing)
            # Charging slows with the root of what is missing, which is what pulses of 10 to 100 ms ask for.
            np.multiply(missing, at, out=current)
            np.sqrt(current, out=current)
            np.multiply(current, charge, out=current)
            np.minimum(current, missing, out=current)
            np.add(held, current, out=held)
            after[now] = held
        trace = _followed(after.mean(axis=1), shown, rate_hz)
        shown = trace[-1]
        np.maximum(highest, trace.max(axis=0), out=highest)
        if first >= settled_s * rate_hz:
            np.minimum(lowest, trace.min(axis=0), out=lowest)
    return highest, lowest


def _followed(target: NDArray[np.float64], shown: NDArray[np.float64], rate_hz: float) -> NDArray[np.float64]:
    """Return the pointer as it follows for some hundred steps along the first axis, from where it is."""
    stays = np.exp(-1 / (rate_hz * POINTER_S))
    left = stays ** np.arange(1, len(target) + 1).reshape(-1, *[1] * shown.ndim)
    trace: NDArray[np.float64] = left * (shown + np.cumsum((1 - stays) * target / left, axis=0))
    return trace


@lru_cache(maxsize=8)
def _reading_of_unit_sine(rate_hz: float) -> float:
    """Return what a sine of 4 Hz and peak 1 reads: the middle of the pointer's small swing once it has settled."""
    t = np.arange(int(5 * rate_hz)) / rate_hz
    highest, lowest = pointer(np.sin(2 * np.pi * 4 * t), rate_hz, settled_s=4.0)
    return float(highest + lowest) / 2
