"""Which settings a move has touched since they were last read: their numbers are calculated, not read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.carrying import CarriedMove
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation
from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingTargets
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.formatting import format_force, format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_state import STATE

MIN_NOTICEABLE_CHANGE = 0.05
"""A shift, or a doubt about it, beyond this share of half the tolerance touches a setting: our choice."""


@dataclass(frozen=True, slots=True)
class Touched:
    """What moves have done to a setting since it was last read.

    Attributes
    ----------
    reason : str
        One sentence; empty where no move has touched it.
    by_unknown_amount : bool
        Whether one of the moves was of an amount that nobody knows, so that nothing can be calculated either.
    """

    reason: str = ""
    by_unknown_amount: bool = False


def touched_since_read(
    observations: Sequence[Observation],
    moves: Sequence[CarriedMove],
    slopes: NDArray[np.float64],
    targets: SettingTargets,
) -> tuple[Touched, ...]:
    """Return for each setting what moves have done to it since it was last read.

    A move touches what it changes noticeably, directly or through something else, until that is read anew. A reading
    of the setting itself, such as the overhang for the effective length, settles it whatever was moved before.

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
    state_read_at = np.array(
        [_last(o.order for o in observations if name in KINDS_OF_READING[o.kind].reads) for name in STATE]
    )
    found = []
    for k, key in enumerate(SETTING_KEYS):
        setting_read_at = _last(o.order for o in observations if key in KINDS_OF_READING[o.kind].settles)
        half = half_width(targets.tolerances.get(key), targets.aims.get(key))
        later = []
        by_unknown_amount = False
        for move in moves:
            if move.move.order < setting_read_at:
                continue
            through = np.where(state_read_at < move.move.order, slopes[k], 0.0)
            errors = through @ move.contributions
            change = max(abs(float(through @ move.shift)), float(np.linalg.norm(errors)))
            if change > MIN_NOTICEABLE_CHANGE * half:
                later.append(move)
            unknown = float(np.linalg.norm(errors[move.by_unknown]))
            by_unknown_amount |= unknown > MIN_NOTICEABLE_CHANGE * half
        found.append(_touched(k, later, slopes, by_unknown_amount=by_unknown_amount))
    return tuple(found)


def _last(orders: Iterable[float]) -> float:
    return max(orders, default=-np.inf)


def half_width(tolerance: Tolerance | None, aim: float | None) -> float:
    """Return half the tolerance or, with one limit, how far the aim is from it; 0 where nothing is known."""
    if tolerance is None:
        return 0.0
    if tolerance.lower is not None and tolerance.upper is not None:
        return (tolerance.upper - tolerance.lower) / 2
    limit = tolerance.lower if tolerance.lower is not None else tolerance.upper
    return 0.0 if aim is None or limit is None else abs(aim - limit)


def _touched(
    setting: int, moves: Sequence[CarriedMove], slopes: NDArray[np.float64], *, by_unknown_amount: bool
) -> Touched:
    if not moves:
        return Touched()
    labels = [move.move.label for move in moves]
    who = labels[0] if len(labels) == 1 else f"{', '.join(labels[:-1])} and {labels[-1]}"
    who = f"{who[:1].upper()}{who[1:]}"
    if by_unknown_amount:
        sentence = f"{who} moved it by an amount that is not known, and it has not been read since: read it again."
        return Touched(sentence, by_unknown_amount=True)
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
    amount = format_force(shift) if known.unit == "mN" else format_quantity(shift)
    return Touched(f"Calculated: {who} moved it by about {amount}, and it has not been read since. Read it again.")
