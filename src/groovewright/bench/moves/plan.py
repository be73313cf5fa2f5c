"""Where all adjusters would have to stand together: the plan that single moves are taken from."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.settings import SETTING_KEYS
from groovewright.bench.moves.adjuster_groups import GROUPS
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import SURE, HeadshellLimits
from groovewright.bench.moves.outlook import Outlook
from groovewright.bench.moves.permitted_move import place_variance
from groovewright.tonearm.arm_state import ADJUSTERS

BASE = ADJUSTERS.index("base_position_mm")

ROUNDS, SWEEPS, STEPS, HALVINGS = 3, 2, 40, 12
SETTLED = 1e-10
PULL_TO_AIM = 1e-3
"""Curvature toward the aim, in halves of a tolerance: decides where the probability alone is flat."""
EFFORT = 1e-8
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

    Each adjuster is set for what it is there for, at where all others will stand. So no adjuster makes up for what
    another cannot do, and no fault, mistracking above all, is ever answered with tracking force.

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
    margin = SURE * np.sqrt(place_variance(outlook, limits) + hands.fineness.as_array() ** 2)
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
    """Return a step of all adjusters, each group in turn making likeliest what it serves."""
    slopes = outlook.adjuster_slopes
    variance = np.diag(outlook.settings_covariance) + (slopes**2) @ hands.fineness.as_array() ** 2
    lower, upper = outlook.limits
    limited = np.isfinite(lower) | np.isfinite(upper)
    spread = np.sqrt(np.maximum(variance, 1e-12))
    fineness = hands.fineness.as_array()
    single = _Single(
        spread=spread,
        lower=lower,
        upper=upper,
        aims=_aims(outlook, lower, upper),
        pull=np.where(limited, PULL_TO_AIM / half_widths(lower, upper, spread) ** 2, 0.0),
        effort=EFFORT / np.where(fineness > 0, fineness, 1e-3) ** 2,
    )
    step = np.clip(np.zeros(len(ADJUSTERS)), lowest, highest)
    start = outlook.settings
    for group in GROUPS * SWEEPS:
        places = [k for k in group.places if lowest[k] < highest[k]]
        if not places:
            continue
        served = [SETTING_KEYS.index(key) for key in group.serves]
        others = step.copy()
        others[places] = 0.0
        step[places] = single.best(
            served=served,
            places=places,
            reached=(start + slopes @ others)[served],
            slopes=slopes[np.ix_(served, places)],
            bounds=(lowest[places], highest[places]),
            so_far=so_far[places],
            begin=step[places],
        )
    return step


def _aims(outlook: Outlook, lower: NDArray[np.float64], upper: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what to set each to: its aim, else the middle of its limits or the only one of them, else 0."""
    ends = np.where(np.isfinite(lower), lower, upper), np.where(np.isfinite(upper), upper, lower)
    middle = (_finite(ends[0]) + _finite(ends[1])) / 2
    return np.array([outlook.targets.aims.get(key, middle[k]) for k, key in enumerate(SETTING_KEYS)])


@dataclass(frozen=True, eq=False, slots=True)
class _Single:
    """What each setting is judged by on its own, shape (7,) each; `effort` is by adjuster."""

    spread: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    aims: NDArray[np.float64]
    pull: NDArray[np.float64]
    effort: NDArray[np.float64]

    def best(
        self,
        *,
        served: list[int],
        places: list[int],
        reached: NDArray[np.float64],
        slopes: NDArray[np.float64],
        bounds: tuple[NDArray[np.float64], NDArray[np.float64]],
        so_far: NDArray[np.float64],
        begin: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        """Return the amounts of one group that make likeliest what it serves: concave, by Newton within bounds."""
        lowest, highest = bounds

        def value(amounts: NDArray[np.float64]) -> tuple[float, NDArray[np.float64], NDArray[np.float64]]:
            at = reached + slopes @ amounts
            inside = log_normal_share(at, self.spread[served], self.lower[served], self.upper[served])
            off, way = at - self.aims[served], so_far + amounts
            pull, effort = self.pull[served], self.effort[places]
            total = float(np.sum(inside.log) - (pull @ off**2 + effort @ way**2) / 2)
            uphill = slopes.T @ (inside.slope - pull * off) - effort * way
            return total, uphill, (slopes.T * (inside.bend - pull)) @ slopes - np.diag(effort)

        amounts = begin
        most, uphill, bends = value(amounts)
        for _ in range(STEPS):
            free = ~(((amounts <= lowest) & (uphill <= 0)) | ((amounts >= highest) & (uphill >= 0)))
            way = np.zeros(len(places))
            way[free] = np.linalg.solve(-bends[np.ix_(free, free)], uphill[free])
            for halving in range(HALVINGS):
                tried = np.clip(amounts + way / 2**halving, lowest, highest)
                total, tried_uphill, tried_bends = value(tried)
                if total > most:
                    break
            else:
                return amounts
            gained, most = total - most, total
            amounts, uphill, bends = tried, tried_uphill, tried_bends
            if gained < SETTLED * (1 + abs(most)):
                break
        return amounts


def half_widths(
    lower: NDArray[np.float64], upper: NDArray[np.float64], otherwise: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return half of each tolerance, and something else where it has not two limits."""
    both = np.isfinite(lower) & np.isfinite(upper)
    return np.where(both, (_finite(upper) - _finite(lower)) / 2, otherwise)


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
