"""Which groups of adjusters have to be moved at all, and how far, so that nothing good is touched without need."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.settings import SETTING_KEYS
from groovewright.bench.moves.adjuster_groups import GROUPS, AdjusterGroup
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.moves.outlook import Outlook
from groovewright.bench.moves.plan import Plan, half_widths, log_normal_share, make_plan
from groovewright.tonearm.arm_state import ADJUSTERS

GOOD_ENOUGH = 0.95
"""A setting that conforms with this probability needs no move: what the usual decision rule calls in tolerance."""

MIN_SINGLE_GAIN = 0.02
"""Of the logarithm of a setting's probability: a move that gains less is left alone. Our choice."""


@dataclass(frozen=True, eq=False)
class NeededMoves:
    """The moves that the deck cannot do without.

    Attributes
    ----------
    amounts : mapping of AdjusterGroup to ndarray, shape (7,)
        How far, in the order of `ADJUSTERS`, at where all others will stand; in the order of `GROUPS`.
    plan : Plan
        Where all come to with these moves alone.
    at_once : frozenset of AdjusterGroup
        Those whose settings fall short as the deck stands; the others only make up for what these disturb.
    """

    amounts: dict[AdjusterGroup, NDArray[np.float64]]
    plan: Plan
    at_once: frozenset[AdjusterGroup]


def needed_moves(now: Outlook, limits: HeadshellLimits, hands: Hands, *, by_base: bool) -> NeededMoves:
    """Return the moves without which a setting would not be good enough.

    To begin with nothing is moved. A group is moved where a setting that it serves would else be too unlikely to
    conform, at where the moves found so far leave it. A move that is smaller than its own uncertainty, by the hand and
    by what is known of the amount together, is none: the setting has to be read closer first.

    Parameters
    ----------
    now : Outlook
    limits : HeadshellLimits
    hands : Hands
    by_base : bool
        Whether the arm's base may be moved too.
    """
    movable = [g for g in GROUPS if not all(map(limits.is_fixed, g.adjusters)) and (by_base or g.key != "base")]
    moved: list[AdjusterGroup] = []
    dropped: list[AdjusterGroup] = []
    plan = _plan(now, moved, limits, hands)
    for _ in range(2 * len(GROUPS)):
        short = [g for g in movable if g not in moved and g not in dropped and _falls_short(g, plan.end)]
        if short:
            trial = _plan(now, [*moved, *short], limits, hands)
            worth = [g for g in short if _is_worth_it(g, plan, trial, now, hands)]
            dropped += [g for g in short if g not in worth]
            moved += worth
            plan = trial if worth == short else _plan(now, moved, limits, hands)
            continue
        small = [g for g in moved if not _amounts(g, plan, now, hands).any()]
        if not small:
            break
        moved = [g for g in moved if g not in small]
        dropped += small
        plan = _plan(now, moved, limits, hands)
    at_once = frozenset(g for g in moved if _falls_short(g, now))
    return NeededMoves({g: _amounts(g, plan, now, hands) for g in GROUPS if g in moved}, plan, at_once)


def served_places(group: AdjusterGroup) -> list[int]:
    """Return the places in `SETTING_KEYS` of what a group is there for."""
    return [SETTING_KEYS.index(key) for key in group.serves]


def single_logs(outlook: Outlook) -> NDArray[np.float64]:
    """Return the logarithm of the probability that each setting conforms, shape (7,); 0 for one without limits."""
    lower, upper = outlook.limits
    spread = np.sqrt(np.maximum(np.diag(outlook.settings_covariance), 1e-18))
    return log_normal_share(outlook.settings, spread, lower, upper).log


def amount_uncertainty(now: Outlook, group: AdjusterGroup, amounts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far the amount that would be exactly right is uncertain, by what is known of what a group serves."""
    moved = [k for k in group.places if amounts[k]]
    served = served_places(group)
    lower, upper = now.limits
    widths = half_widths(lower, upper, np.ones(len(SETTING_KEYS)))[served]
    answer = np.linalg.pinv(now.adjuster_slopes[np.ix_(served, moved)] / widths[:, None]) / widths
    spread = answer @ now.settings_covariance[np.ix_(served, served)] @ answer.T
    needed = np.zeros(len(ADJUSTERS))
    needed[moved] = np.sqrt(np.maximum(np.diag(spread), 0.0))
    return needed


def _plan(now: Outlook, moved: list[AdjusterGroup], limits: HeadshellLimits, hands: Hands) -> Plan:
    free = {name for group in moved for name in group.adjusters}
    held = {name: limits.ranges[name] if name in free else (0.0, 0.0) for name in ADJUSTERS}
    return make_plan(now, replace(limits, ranges=held), hands, by_base=True)


def _falls_short(group: AdjusterGroup, end: Outlook) -> bool:
    return bool((single_logs(end)[served_places(group)] < np.log(GOOD_ENOUGH)).any())


def _is_worth_it(group: AdjusterGroup, without: Plan, plan: Plan, now: Outlook, hands: Hands) -> bool:
    served = served_places(group)
    gain = float(np.sum(single_logs(plan.end)[served] - single_logs(without.end)[served]))
    return gain > MIN_SINGLE_GAIN and bool(_amounts(group, plan, now, hands).any())


def _amounts(group: AdjusterGroup, plan: Plan, now: Outlook, hands: Hands) -> NDArray[np.float64]:
    """Return the planned amounts of a group, without those that hand and knowledge leave more uncertain than large."""
    planned = np.where(np.isin(np.arange(len(ADJUSTERS)), group.places), plan.amounts, 0.0)
    least = np.hypot(hands.fineness.as_array(), amount_uncertainty(now, group, planned))
    return np.where(np.abs(planned) >= least, planned, 0.0)
