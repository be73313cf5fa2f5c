"""Where all adjusters would have to stand together: the plan that single moves are taken from."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.hands import Hands
from groovewright.bench.headshell_limits import SURE, HeadshellLimits
from groovewright.bench.outlook import Outlook
from groovewright.bench.settings import SETTING_KEYS, settings_jacobian
from groovewright.tonearm.arm_state import ADJUSTERS

BASE, COUNTERWEIGHT = ADJUSTERS.index("base_position_mm"), ADJUSTERS.index("counterweight_mm")
FORCE = SETTING_KEYS.index("tracking_force")

ROUNDS, STEPS = 3, 40
PULL_TO_AIM = 1e-3
"""Curvature toward the aim, in halves of a tolerance: decides where the probability alone is flat."""
EFFORT = 1e-6
"""Curvature against moving at all, in fineness of the hand: decides where two adjusters do the same."""


@dataclass(frozen=True, eq=False)
class Plan:
    """How far each adjuster would have to move for all settings to conform as likely as can be.

    Attributes
    ----------
    amounts : ndarray, shape (7,)
        In the order of `ADJUSTERS`.
    bounded : ndarray of bool, shape (7,)
        Whether a limit holds the adjuster back.
    end : Outlook
        After all of it, by hands without error.
    """

    amounts: NDArray[np.float64]
    bounded: NDArray[np.bool_]
    end: Outlook


def make_plan(outlook: Outlook, limits: HeadshellLimits, hands: Hands, *, by_base: bool = False) -> Plan:
    """Return the plan within the limits.

    The counterweight answers to the tracking force alone, so that no other fault, mistracking above all, is ever
    answered with force.

    Parameters
    ----------
    outlook : Outlook
    limits : HeadshellLimits
    hands : Hands
    by_base : bool
        Whether the arm's base may be moved too; a base is left where it stands as long as the slots suffice.

    Raises
    ------
    ValueError
        If the arm cannot stand as it does.
    """
    lowest, highest = room(outlook, limits, hands)
    if not by_base:
        lowest[BASE] = highest[BASE] = 0.0
    amounts, end = np.zeros(len(ADJUSTERS)), outlook
    for _ in range(ROUNDS):
        amounts = amounts + _best_step(end, lowest - amounts, highest - amounts, hands, amounts)
        try:
            end = outlook.after(amounts, np.zeros(len(ADJUSTERS)))
        except ValueError:
            # The slopes led beyond what the arm can do; half the way lies within.
            amounts = amounts / 2
            end = outlook.after(amounts, np.zeros(len(ADJUSTERS)))
    slack = 1e-9 + 1e-6 * (highest - lowest)
    bounded = (lowest < highest) & ((amounts <= lowest + slack) | (amounts >= highest - slack))
    return Plan(amounts, bounded, end)


def room(outlook: Outlook, limits: HeadshellLimits, hands: Hands) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far each adjuster may still be asked to move either way, hand's error kept clear, shape (7,) each."""
    stands = outlook.adjusted.as_array()
    ends = np.array([limits.ranges[name] for name in ADJUSTERS])
    margin = SURE * np.sqrt(outlook.adjusted_variance + hands.fineness.as_array() ** 2)
    fixed = np.array([limits.is_fixed(name) for name in ADJUSTERS])
    # The hand's error grows with the way, so the way to an end is that much shorter.
    lowest = np.minimum((ends[:, 0] + margin - stands) / (1 + SURE * hands.share), 0.0)
    highest = np.maximum((ends[:, 1] - margin - stands) / (1 + SURE * hands.share), 0.0)
    return np.where(fixed, 0.0, lowest), np.where(fixed, 0.0, highest)


def _best_step(
    outlook: Outlook,
    lowest: NDArray[np.float64],
    highest: NDArray[np.float64],
    hands: Hands,
    so_far: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the step that makes the logarithms of all single probabilities largest together: concave, by Newton."""
    slopes = planning_slopes(outlook)
    fineness = hands.fineness.as_array()
    variance = np.diag(outlook.settings_covariance) + (slopes**2) @ fineness**2
    lower, upper = outlook.limits
    limited = np.isfinite(lower) | np.isfinite(upper)
    spread = np.sqrt(np.where(variance > 0, variance, 1e-12))
    width = half_widths(lower, upper, spread)
    aims = np.array([outlook.targets.aims.get(key, np.nan) for key in SETTING_KEYS])
    middle = np.where(np.isfinite(lower), np.where(np.isfinite(upper), (_finite(lower) + upper) / 2, lower), upper)
    aims = np.where(np.isfinite(aims), aims, np.where(limited, _finite(middle), 0.0))
    start = outlook.settings
    scale = np.where(fineness > 0, fineness, 1e-3)

    def value(step: NDArray[np.float64]) -> tuple[float, NDArray[np.float64], NDArray[np.float64]]:
        reached = start + slopes @ step
        inside = log_normal_share(reached, spread, lower, upper)
        off = np.where(limited, (reached - aims) / width, 0.0)
        way = (so_far + step) / scale
        total = float(np.sum(inside.log) - PULL_TO_AIM * (off @ off) / 2 - EFFORT * (way @ way) / 2)
        gradient = inside.slope - PULL_TO_AIM * off / width
        curvature = inside.bend - np.where(limited, PULL_TO_AIM / width**2, 0.0)
        uphill = slopes.T @ gradient - EFFORT * way / scale
        return total, uphill, (slopes.T * curvature) @ slopes - np.diag(EFFORT / scale**2)

    step = np.clip(np.zeros(len(ADJUSTERS)), lowest, highest)
    best, uphill, bends = value(step)
    for _ in range(STEPS):
        held = ((step <= lowest) & (uphill <= 0)) | ((step >= highest) & (uphill >= 0))
        free = ~held
        if not free.any():
            break
        way = np.zeros(len(ADJUSTERS))
        way[free] = np.linalg.solve(-bends[np.ix_(free, free)], uphill[free])
        for halving in range(12):
            tried = np.clip(step + way / 2**halving, lowest, highest)
            total, tried_uphill, tried_bends = value(tried)
            if total > best:
                break
        else:
            break
        gained, best = total - best, total
        step, uphill, bends = tried, tried_uphill, tried_bends
        if gained < 1e-10 * (1 + abs(best)):
            break
    return step


def half_widths(
    lower: NDArray[np.float64], upper: NDArray[np.float64], otherwise: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return half of each tolerance, and something else where it has not two limits."""
    both = np.isfinite(lower) & np.isfinite(upper)
    return np.where(both, (_finite(upper) - _finite(lower)) / 2, otherwise)


def planning_slopes(outlook: Outlook) -> NDArray[np.float64]:
    """Return how the settings follow the adjusters, shape (7, 7), the counterweight moving the tracking force alone."""
    slopes = settings_jacobian(outlook.state, outlook.targets) @ outlook.couplings()
    force = slopes[FORCE, COUNTERWEIGHT]
    slopes[:, COUNTERWEIGHT] = 0.0
    slopes[FORCE, COUNTERWEIGHT] = force
    return np.asarray(slopes)


@dataclass(frozen=True, eq=False, slots=True)
class NormalShares:
    """Logarithms of the probabilities of single settings, with their first and second derivatives by the mean."""

    log: NDArray[np.float64]
    slope: NDArray[np.float64]
    bend: NDArray[np.float64]


def log_normal_share(
    mean: NDArray[np.float64], spread: NDArray[np.float64], lower: NDArray[np.float64], upper: NDArray[np.float64]
) -> NormalShares:
    """Return how likely each of some normal quantities keeps its limits, shape of `mean`; `spread` is above 0."""
    from scipy.special import log_ndtr

    begin, end = (lower - mean) / spread, (upper - mean) / spread
    # By the tail that keeps its precision.
    flip = begin > -end
    left, right = np.where(flip, -end, begin), np.where(flip, -begin, end)
    log_right, log_left = log_ndtr(right), log_ndtr(left)
    log = log_right + np.log(-np.expm1(np.minimum(log_left - log_right, -1e-300)))
    at_left, at_right = (np.exp(-np.square(at) / 2 - LOG_ROOT_TWO_PI - log) for at in (left, right))
    slope = at_left - at_right
    bend = _finite(left) * at_left - _finite(right) * at_right - slope**2
    return NormalShares(log, np.where(flip, -slope, slope) / spread, np.minimum(bend, 0.0) / spread**2)


LOG_ROOT_TWO_PI = math.log(2 * math.pi) / 2


def _finite(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(np.isfinite(values), values, 0.0)
