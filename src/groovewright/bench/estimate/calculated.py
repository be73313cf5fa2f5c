"""Which settings a move has changed since they were last read."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.carrying import CarriedMove
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation
from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingTargets
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.formatting import format_force, format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_state import STATE

NOTICEABLE = 0.05
"""A shift, or a doubt about it, beyond this share of half the tolerance asks for a new reading: our choice."""


def why_stale(
    observations: Sequence[Observation],
    moves: Sequence[CarriedMove],
    slopes: NDArray[np.float64],
    targets: SettingTargets,
) -> tuple[str, ...]:
    """Return for each setting one sentence why it must be read again; empty where it need not.

    A move makes stale what it changes noticeably, directly or through something else, until that is read anew.

    Parameters
    ----------
    observations : sequence of Observation
        All that count.
    moves : sequence of CarriedMove
        In their order.
    slopes : ndarray, shape (7, 9)
        Of the settings against the state.
    targets : SettingTargets
    """
    read_at = {
        name: max((o.order for o in observations if name in KINDS_OF_READING[o.kind].reads), default=None)
        for name in STATE
    }
    return tuple(
        _reason(k, [move for move in moves if _is_noticeable(k, move, read_at, slopes, targets)], slopes)
        for k in range(len(SETTING_KEYS))
    )


def _is_noticeable(
    setting: int,
    move: CarriedMove,
    read_at: dict[str, int | None],
    slopes: NDArray[np.float64],
    targets: SettingTargets,
) -> bool:
    """Return whether a move changed the setting through something that has not been read since."""
    order = move.move.order
    unread = np.array([(at := read_at[name]) is None or at < order for name in STATE])
    through = np.where(unread, slopes[setting], 0.0)
    shift, blur = abs(float(through @ move.shift)), float(np.linalg.norm(through @ move.contributions))
    key = SETTING_KEYS[setting]
    return max(shift, blur) > NOTICEABLE * _half_width(targets.tolerances.get(key), targets.aims.get(key))


def _half_width(tolerance: Tolerance | None, aim: float | None) -> float:
    """Return half the tolerance or, with one limit, how far the aim is from it; 0 where nothing is known."""
    if tolerance is None:
        return 0.0
    if tolerance.lower is not None and tolerance.upper is not None:
        return (tolerance.upper - tolerance.lower) / 2
    limit = tolerance.lower if tolerance.lower is not None else tolerance.upper
    return 0.0 if aim is None or limit is None else abs(aim - limit)


def _reason(setting: int, moves: Sequence[CarriedMove], slopes: NDArray[np.float64]) -> str:
    if not moves:
        return ""
    known = SETTINGS[SETTING_KEYS[setting]]
    shift = Quantity(
        float(sum(slopes[setting] @ move.shift for move in moves)),
        known.unit,
        {
            source: float(part)
            for move in moves
            for source, part in zip(move.sources, slopes[setting] @ move.contributions, strict=True)
        },
    )
    labels = [move.move.label for move in moves]
    who = labels[0] if len(labels) == 1 else f"{', '.join(labels[:-1])} and {labels[-1]}"
    amount = format_force(shift) if known.unit == "mN" else format_quantity(shift)
    return f"{who[:1].upper()}{who[1:]} moved it by about {amount}, and it has not been read since: read it again."
