"""How much of a move may be made: never out of the maker's force range or an adjuster's range, not even in passing."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.moves.adjuster_groups import AdjusterGroup
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import SURE, HeadshellLimits
from groovewright.bench.moves.outlook import Outlook
from groovewright.measurement.conformity import Tolerance
from groovewright.tonearm.arm_state import ADJUSTERS, STATE, Adjustments

FORCE_ROW = STATE.index("tracking_force_mn")
HALVINGS = 5
_ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class PermittedMove:
    """A move, cut down to what may be made of it.

    Attributes
    ----------
    amounts, hand : ndarray, shape (7,)
        In the order of `ADJUSTERS`; hand's standard uncertainty.
    after : Outlook
    share : float
        Of the move wanted. [1]
    held_by_force : bool
        Whether the maker's force range is what holds back the rest.
    """

    amounts: NDArray[np.float64]
    hand: NDArray[np.float64]
    after: Outlook
    share: float
    held_by_force: bool


def permitted(
    outlook: Outlook, group: AdjusterGroup, amounts: NDArray[np.float64], limits: HeadshellLimits, hands: Hands
) -> PermittedMove | None:
    """Return as much of a move of one group as keeps every limit, or None where nothing of it does.

    A limit that is kept now, with `SURE` standard uncertainties to spare, is kept at every stage of the move and
    whatever the hand does. One that isn't must come no nearer and get left no farther.

    Parameters
    ----------
    outlook : Outlook
    group : AdjusterGroup
    amounts : ndarray, shape (7,)
        Wanted, of adjusters of the group alone.
    limits : HeadshellLimits
    hands : Hands
    """
    whole = _tried(outlook, group, amounts, limits, hands)
    if isinstance(whole, PermittedMove):
        return whole
    held_by_force = whole is _FORCE
    kept, refused, best = 0.0, 1.0, None
    for _ in range(HALVINGS):
        share = (kept + refused) / 2
        made = _tried(outlook, group, share * amounts, limits, hands)
        if isinstance(made, PermittedMove):
            kept, best = share, PermittedMove(made.amounts, made.hand, made.after, share, held_by_force)
        else:
            refused = share
    return best


def force_range(outlook: Outlook, limits: HeadshellLimits) -> Tolerance | None:
    """Return the maker's range of the tracking force, as far as it is known."""
    return limits.force or outlook.targets.tolerances.get("tracking_force")


def place_is_lost(outlook: Outlook, limits: HeadshellLimits) -> NDArray[np.bool_]:
    """Return for each adjuster whether nobody knows where in its range it stands, such as after moves not entered."""
    ends = np.array([limits.ranges[name] for name in ADJUSTERS])
    half = (ends[:, 1] - ends[:, 0]) / 2
    return np.asarray((half > 0) & (SURE * np.sqrt(outlook.adjusted_variance) > half))


def place_variance(outlook: Outlook, limits: HeadshellLimits) -> NDArray[np.float64]:
    """Return the variance of where each adjuster stands, shape (7,); 0 where its place is lost.

    Such an adjuster would never be moved again if all that it may have been moved counted; whoever moves it sees its
    end.
    """
    return np.where(place_is_lost(outlook, limits), 0.0, outlook.adjusted_variance)


def hand_of(amounts: NDArray[np.float64], limits: HeadshellLimits, hands: Hands) -> NDArray[np.float64]:
    """Return the hand's standard uncertainty in a move, 0 for what is fixed, shape (7,)."""
    fixed = np.array([limits.is_fixed(name) for name in ADJUSTERS])
    return np.where(fixed, 0.0, hands.uncertainty(Adjustments.from_array(amounts)).as_array())


_FORCE, _RANGE = "force", "range"


def _tried(
    outlook: Outlook, group: AdjusterGroup, amounts: NDArray[np.float64], limits: HeadshellLimits, hands: Hands
) -> PermittedMove | str:
    """Return the move, or what forbids it."""
    hand = hand_of(amounts, limits, hands)
    if not _within_ranges(outlook, amounts, hand, limits):
        return _RANGE
    try:
        after = outlook.after(amounts, hand)
        stages = [outlook.after(_only(amounts, group.places[:stage]), hand) for stage in range(1, len(group.places))]
    except ValueError:
        return _RANGE
    force = force_range(outlook, limits)
    if force is not None:
        now = _beyond(force, outlook)
        if any(_beyond(force, stage) > max(now, 0.0) + _ROUNDING for stage in (*stages, after)):
            return _FORCE
    return PermittedMove(amounts, hand, after, 1.0, held_by_force=False)


def _only(amounts: NDArray[np.float64], places: tuple[int, ...]) -> NDArray[np.float64]:
    kept = np.zeros_like(amounts)
    kept[list(places)] = amounts[list(places)]
    return kept


def _beyond(force: Tolerance, outlook: Outlook) -> float:
    """Return by how much the force, `SURE` uncertainties added, is past a limit; negative where it keeps both. [mN]"""
    middle = float(outlook.mean[FORCE_ROW])
    spare = SURE * math.sqrt(max(float(outlook.covariance[FORCE_ROW, FORCE_ROW]), 0.0))
    below = -math.inf if force.lower is None else force.lower - (middle - spare)
    above = -math.inf if force.upper is None else (middle + spare) - force.upper
    return max(below, above)


def _within_ranges(
    outlook: Outlook, amounts: NDArray[np.float64], hand: NDArray[np.float64], limits: HeadshellLimits
) -> bool:
    stands, variance = outlook.adjusted.as_array(), place_variance(outlook, limits)
    before, after = np.sqrt(variance), np.sqrt(variance + hand**2)
    for k in np.flatnonzero((amounts != 0) | (hand > 0)):
        lowest, highest = limits.ranges[ADJUSTERS[k]]
        now = max(lowest - (stands[k] - SURE * before[k]), stands[k] + SURE * before[k] - highest)
        place, spare = stands[k] + amounts[k], SURE * after[k]
        then = max(lowest - (place - spare), place + spare - highest)
        if then > max(now, 0.0) + _ROUNDING:
            return False
    return True
