"""In which order to set what, so that as little as can be of what is already set is disturbed, and why."""

from __future__ import annotations

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
    rule : str
        What holds in any order.
    """

    groups: tuple[AdjusterGroup, ...]
    reasons: tuple[PairReason, ...]
    disturbance: float
    rule: str = NOT_FORCE


def order_of_work(
    build: ArmBuild,
    targets: SettingTargets,
    limits: HeadshellLimits,
    adjustments: Adjustments | None = None,
) -> OrderOfWork:
    """Return the order in which the least is disturbed that was set before.

    A typical move of an adjuster is the one that moves what it is there for by half its tolerance. What it does to a
    setting of another group counts in halves of that setting's tolerance. Of all orders the one is taken in which such
    disturbances of what was set before are smallest together.

    Parameters
    ----------
    build : ArmBuild
    targets : SettingTargets
    limits : HeadshellLimits
        Groups that cannot be moved are left out.
    adjustments : Adjustments, optional
        Where the adjusters stand.

    Raises
    ------
    ValueError
        If the arm cannot stand so.
    """
    stands = adjustments or Adjustments()
    slopes = settings_jacobian(arm_state(build, stands), targets) @ couplings(build, stands)
    groups = [group for group in GROUPS if not all(map(limits.is_fixed, group.adjusters))]
    widths = _half_tolerances(targets)
    typical = {group.key: _typical_moves(group, slopes, widths) for group in groups}
    worst = {
        (mover.key, other.key): _worst(mover, other, slopes, widths, typical[mover.key])
        for mover in groups
        for other in groups
        if mover is not other
    }

    def disturbance(order: tuple[AdjusterGroup, ...]) -> float:
        return sum(
            worst[later.key, earlier.key].share for place, later in enumerate(order) for earlier in order[:place]
        )

    best = min(permutations(groups), key=disturbance)
    reasons = tuple(
        _reason(first, then, worst[first.key, then.key], worst[then.key, first.key])
        for place, first in enumerate(best)
        for then in best[place + 1 :]
    )
    return OrderOfWork(best, reasons, disturbance(best))


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
    typical: dict[str, float],
) -> _Worst:
    # Two groups may serve one setting; moving either is then what it is for, no disturbance.
    settings = [SETTING_KEYS.index(key) for key in other.serves if key not in mover.serves]
    found = [
        _Worst(
            name,
            typical[name],
            setting,
            float(slopes[setting, place] * typical[name]),
            float(abs(slopes[setting, place] * typical[name]) / widths[setting]),
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
