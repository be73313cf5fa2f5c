"""In which order to set what, so that as little as can be of what is already set is disturbed, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingTargets, settings_jacobian
from groovewright.bench.moves.adjuster_groups import GROUPS, AdjusterGroup
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.moves.move_wording import amount_text, setting_amount
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_build import ArmBuild
from groovewright.tonearm.arm_model import arm_state, couplings
from groovewright.tonearm.arm_state import Adjustments

NOTICEABLE = 0.05
"""A disturbance below this share of half a tolerance is left out of the reasons: our choice."""

CUSTOM = ("base", "headshell", "counterweight", "height", "roll", "compensation")
"""The usual order at the bench: length, force, height, azimuth, then zenith once more, and compensation last. Common
practice, no source."""

DEPARTURE = 0.5
"""What doing a pair the other way round than is usual must spare, in halves of a tolerance: our choice."""

NOT_FORCE = "Mistracking is nearly always a fault of the side force: set that, and never answer it with more force."


@dataclass(frozen=True)
class PairReason:
    """Why one group of adjusters comes before another.

    Attributes
    ----------
    first, then : str
        Keys of the groups.
    forward, backward : float
        What a typical move of `first` does to the settings of `then`, and the other way round, the worst of them, in
        halves of its tolerance.
    text : str
        One sentence.
    """

    first: str
    then: str
    forward: float
    backward: float
    text: str


@dataclass(frozen=True)
class OrderOfWork:
    """An order of work.

    Attributes
    ----------
    groups : tuple of AdjusterGroup
        First to last; groups that cannot be moved are left out.
    reasons : tuple of PairReason
        One for each pair, in the order of the work.
    disturbance : float
        What all later moves do to what was set before them, in halves of tolerances together.
    departures : dict of (str, str) to str
        Why a pair is done the other way round than is usual, by the keys of its first and second group.
    rule : str
        What holds in any order.
    """

    groups: tuple[AdjusterGroup, ...]
    reasons: tuple[PairReason, ...]
    disturbance: float
    departures: dict[tuple[str, str], str]
    rule: str = NOT_FORCE


def order_of_work(
    build: ArmBuild,
    targets: SettingTargets,
    limits: HeadshellLimits,
    adjustments: Adjustments | None = None,
    planned: Mapping[AdjusterGroup, NDArray[np.float64]] | None = None,
) -> OrderOfWork:
    """Return the usual order, or another where that disturbs clearly less of what was set before.

    What counts is the move that is planned. Where none is, it is a typical one: the move that changes what an adjuster
    is there for by half its tolerance. What a move does to a setting of another group counts in halves of that
    setting's tolerance. Of all orders the one is taken in which such disturbances of what was set before are smallest
    together, a pair done the other way round than is usual counting as `DEPARTURE` more.

    Parameters
    ----------
    build : ArmBuild
    targets : SettingTargets
    limits : HeadshellLimits
        Groups that cannot be moved are left out.
    adjustments : Adjustments, optional
        Where the adjusters stand.
    planned : mapping of AdjusterGroup to ndarray, shape (7,), optional
        How far groups are going to be moved, in the order of `ADJUSTERS`.

    Raises
    ------
    ValueError
        If the arm cannot stand so.
    """
    stands = adjustments or Adjustments()
    slopes = settings_jacobian(arm_state(build, stands), targets) @ couplings(build, stands)
    groups = [group for group in GROUPS if not all(map(limits.is_fixed, group.adjusters))]
    widths = _half_tolerances(targets)
    moves = {group.key: _moves_of(group, (planned or {}).get(group), slopes, widths) for group in groups}
    worst = {
        (mover.key, other.key): _worst(mover, other, slopes, widths, moves[mover.key])
        for mover in groups
        for other in groups
        if mover is not other
    }

    def disturbance(order: tuple[AdjusterGroup, ...]) -> float:
        return sum(
            worst[later.key, earlier.key].share for place, later in enumerate(order) for earlier in order[:place]
        )

    def cost(order: tuple[AdjusterGroup, ...]) -> float:
        return disturbance(order) + DEPARTURE * len(_swapped(order))

    best = min(permutations(groups), key=cost)
    reasons = tuple(
        _reason(first, then, worst[first.key, then.key], worst[then.key, first.key])
        for place, first in enumerate(best)
        for then in best[place + 1 :]
    )
    departures = {
        (first.key, then.key): _departure(first, then, worst[first.key, then.key])
        for first, then in _swapped(best)
        if worst[first.key, then.key].share >= NOTICEABLE
    }
    return OrderOfWork(best, reasons, disturbance(best), departures)


def _swapped(order: tuple[AdjusterGroup, ...]) -> list[tuple[AdjusterGroup, AdjusterGroup]]:
    """Return the pairs that are the other way round than is usual."""
    return [
        (first, then)
        for place, first in enumerate(order)
        for then in order[place + 1 :]
        if CUSTOM.index(first.key) > CUSTOM.index(then.key)
    ]


def _departure(first: AdjusterGroup, then: AdjusterGroup, forward: _Worst) -> str:
    return (
        f"It comes before {then.gerund}, against the usual order, since {_described(forward)}, and little comes back."
    )


@dataclass(frozen=True, slots=True)
class _Worst:
    """Largest disturbance by one typical move: by which adjuster, how far, of which setting, and how much of it."""

    adjuster: str
    amount: float
    setting: int
    change: float
    share: float


def _half_tolerances(targets: SettingTargets) -> NDArray[np.float64]:
    """Return half of each tolerance; infinite, so that nothing disturbs it, where there are not two limits."""
    halves = np.full(len(SETTING_KEYS), np.inf)
    for k, key in enumerate(SETTING_KEYS):
        tolerance = targets.tolerances.get(key)
        if tolerance is not None and tolerance.lower is not None and tolerance.upper is not None:
            halves[k] = (tolerance.upper - tolerance.lower) / 2
    return halves


def _moves_of(
    group: AdjusterGroup,
    planned: NDArray[np.float64] | None,
    slopes: NDArray[np.float64],
    widths: NDArray[np.float64],
) -> dict[str, float]:
    if planned is None:
        return _typical_moves(group, slopes, widths)
    return {name: float(planned[place]) for name, place in zip(group.adjusters, group.places, strict=True)}


def _typical_moves(group: AdjusterGroup, slopes: NDArray[np.float64], widths: NDArray[np.float64]) -> dict[str, float]:
    """Return for each adjuster of a group the move that changes what it serves most by half its tolerance."""
    served = [SETTING_KEYS.index(key) for key in group.serves]
    moves = {}
    for name, place in zip(group.adjusters, group.places, strict=True):
        per_unit = float(np.max(np.abs(slopes[served, place]) / widths[served]))
        moves[name] = 1 / per_unit if per_unit > 0 else 0.0
    return moves


def _worst(
    mover: AdjusterGroup,
    other: AdjusterGroup,
    slopes: NDArray[np.float64],
    widths: NDArray[np.float64],
    moves: dict[str, float],
) -> _Worst:
    # Two groups may serve one setting; moving either is then what it is for, no disturbance.
    settings = [SETTING_KEYS.index(key) for key in other.serves if key not in mover.serves]
    found = [
        _Worst(
            name,
            moves[name],
            setting,
            float(slopes[setting, place] * moves[name]),
            float(abs(slopes[setting, place] * moves[name]) / widths[setting]),
        )
        for name, place in zip(mover.adjusters, mover.places, strict=True)
        for setting in settings
    ]
    return max(found, key=lambda worst: worst.share, default=_Worst(mover.adjusters[0], 0.0, 0, 0.0, 0.0))


def _reason(first: AdjusterGroup, then: AdjusterGroup, forward: _Worst, backward: _Worst) -> PairReason:
    before = f"{first.title} before {then.title[0].lower()}{then.title[1:]}: "
    if max(forward.share, backward.share) < NOTICEABLE:
        text = f"{before}either order would do, as neither noticeably disturbs what the other sets."
    elif forward.share < NOTICEABLE:
        text = f"{before}either way the second disturbs the first ({_described(backward)}), so read it again after."
    else:
        back = "nothing noticeable comes back"
        if backward.share >= NOTICEABLE:
            back = f"less comes back: {_described(backward)}"
        text = f"{before}{_described(forward)}; {back}."
    return PairReason(first.key, then.key, forward.share, backward.share, text)


def _described(worst: _Worst) -> str:
    key = SETTING_KEYS[worst.setting]
    return (
        f"{ADJUSTER_TABLE[worst.adjuster].gerund} by {amount_text(worst.adjuster, worst.amount)} changes the "
        f"{SETTINGS[key].title.lower()} by {setting_amount(key, abs(worst.change))}, "
        f"{worst.share:.2g} of half its tolerance"
    )
