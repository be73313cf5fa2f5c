"""A move that was chosen, in workshop terms, with what it does to the rest."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.bench.estimate.calculated import MIN_NOTICEABLE_CHANGE
from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingKey
from groovewright.bench.moves.adjuster_groups import AdjusterGroup
from groovewright.bench.moves.move_wording import blurred, changed, instruction, listed
from groovewright.bench.moves.needed_moves import GOOD_ENOUGH, amount_uncertainty, single_logs
from groovewright.bench.moves.next_step import Disturbance, ProposedMove
from groovewright.bench.moves.outlook import Outlook
from groovewright.bench.moves.permitted_move import FORCE_ROW, PermittedMove
from groovewright.bench.moves.plan import half_widths
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import in_unit
from groovewright.tonearm.arm_state import Adjustments

MIN_REPORTED_CHANGE = 0.05
"""In the setting's unit; of a force, half a step of a usual scale."""

SPOILED = 0.5
"""A setting that was good and conforms with less than this probability after a move is told as spoiled by it."""

PRONOUNS = {2: "both", 3: "all of them"}


@dataclass(frozen=True, eq=False)
class JudgedMove:
    """A move, the group that it moves, and the logarithm of the probability after it and those that must follow.

    Attributes
    ----------
    move : PermittedMove
    group : AdjusterGroup
    log_after : float
    followed_by : tuple of AdjusterGroup
        Those without which it would be no gain.
    makes_room : bool
        Whether it is made so that the maker's force range allows the next.
    mends : tuple of AdjusterGroup
        All that are still to be moved after it.
    order_reason : str
        Why it comes before what is usually set first; empty where the usual order is kept.
    """

    move: PermittedMove
    group: AdjusterGroup
    log_after: float
    followed_by: tuple[AdjusterGroup, ...] = ()
    makes_room: bool = False
    mends: tuple[AdjusterGroup, ...] = ()
    order_reason: str = ""


def proposed_move(now: Outlook, best: JudgedMove, log_now: float) -> ProposedMove:
    """Return a move in workshop terms.

    Parameters
    ----------
    now : Outlook
    best : JudgedMove
    log_now : float
        Logarithm of the probability that all settings conform as things stand.
    """
    move, group = best.move, best.group
    needed = amount_uncertainty(now, group, move.amounts)
    disturbs = _disturbances(now, move, group)
    again = _read_again(now, move)
    spoils = _spoiled(now, move, group)
    sentence = _instruction(now, move, group, needed) + _consequences(disturbs, again) + "."
    following = [other.gerund for other in best.followed_by]
    if best.makes_room:
        sentence += f" Only then is there room in the maker's range for {listed(following)}."
    elif following:
        sentence += f" It helps only together with {listed(following)}, which comes next."
    elif move.held_by_force:
        sentence += " More at once might take the tracking force out of the maker's range."
    if spoils:
        sentence += f" {_spoils_sentence(spoils, best.mends)}"
    if best.order_reason:
        sentence += f" {best.order_reason}"
    return ProposedMove(
        amounts=Adjustments.from_array(move.amounts),
        uncertainty=Adjustments.from_array(needed),
        hand=Adjustments.from_array(move.hand),
        sentence=sentence,
        caution=group.caution,
        serves=group.serves,
        disturbs=disturbs,
        spoils=spoils,
        read_again=again,
        log_probability_before=log_now,
        log_probability_after=best.log_after,
        followed_by=tuple(other.key for other in best.followed_by),
    )


def _instruction(now: Outlook, move: PermittedMove, group: AdjusterGroup, needed: np.ndarray) -> str:
    if group.key == "counterweight":
        return _by_the_scale(now, move)
    steps = [
        (name, float(move.amounts[k]), float(needed[k]))
        for name, k in zip(group.adjusters, group.places, strict=True)
        if move.amounts[k]
    ]
    return instruction(now.build, steps)


def _by_the_scale(now: Outlook, move: PermittedMove) -> str:
    """Return how to move a counterweight: nobody measures its way, so by what the scale is to show."""
    before, after = (Quantity.exact(float(at.mean[FORCE_ROW]), "mN") for at in (now, move.after))
    start, end = (f"{in_unit(force, 'g').value:.2f} g" for force in (before, after))
    toward = "toward" if after.value > before.value else "away from"
    return f"Move the counterweight {toward} the pivot until the scale reads {end} at record height (now {start})"


def _spoiled(now: Outlook, move: PermittedMove, group: AdjusterGroup) -> tuple[SettingKey, ...]:
    """Return the settings that are good now and likely out of tolerance after the move."""
    before, after = single_logs(now), single_logs(move.after)
    return tuple(
        key
        for k, key in enumerate(SETTING_KEYS)
        if key not in group.serves and before[k] >= math.log(GOOD_ENOUGH) and after[k] < math.log(SPOILED)
    )


def _spoils_sentence(spoils: tuple[SettingKey, ...], mends: tuple[AdjusterGroup, ...]) -> str:
    titles = listed(_titles(spoils))
    menders = [group.gerund for group in mends if set(group.serves) & set(spoils)]
    text = f"It takes the {titles} out of tolerance"
    return f"{text}, which {listed(menders)} then mends." if menders else f"{text}: set that anew afterwards."


def _disturbances(now: Outlook, move: PermittedMove, group: AdjusterGroup) -> tuple[Disturbance, ...]:
    lower, upper = now.limits
    widths = half_widths(lower, upper, np.full(len(SETTING_KEYS), math.nan))
    changes = move.after.settings - now.settings
    added = np.diag(move.after.settings_covariance) - np.diag(now.settings_covariance)
    found = []
    for k, key in enumerate(SETTING_KEYS):
        change, blur, width = float(changes[k]), math.sqrt(max(float(added[k]), 0.0)), float(widths[k])
        seen = (
            max(abs(change), blur) > MIN_NOTICEABLE_CHANGE * width
            if math.isfinite(width)
            else abs(change) > MIN_REPORTED_CHANGE
        )
        # Whoever moves a cartridge wants to know what the force does, however little.
        told = key == "tracking_force" and group.key == "headshell" and abs(change) >= MIN_REPORTED_CHANGE
        if key in group.serves or not (seen or told):
            continue
        share = change / width if math.isfinite(width) else None
        text = changed(key, change) if abs(change) >= blur or told else blurred(key, blur)
        found.append(Disturbance(key, change, blur, SETTINGS[key].unit, share, text))
    return tuple(found)


def _read_again(now: Outlook, move: PermittedMove) -> tuple[SettingKey, ...]:
    """Return the settings that the move makes stale, as the estimate will say once it was made."""
    lower, upper = now.limits
    widths = half_widths(lower, upper, np.zeros(len(SETTING_KEYS)))
    change = np.abs(move.after.settings - now.settings)
    added = np.diag(move.after.settings_covariance) - np.diag(now.settings_covariance)
    stale = np.maximum(change, np.sqrt(np.maximum(added, 0.0))) > MIN_NOTICEABLE_CHANGE * widths
    return tuple(key for key, is_stale in zip(SETTING_KEYS, stale, strict=True) if is_stale)


def _consequences(disturbs: tuple[Disturbance, ...], again: tuple[SettingKey, ...]) -> str:
    """Return what the move disturbs and what must be read again after it."""
    if not disturbs:
        return f"; then read the {listed(_titles(again))} again" if again else ""
    stale = [one for one in disturbs if one.key in again]
    text = f"; this {listed([one.text for one in disturbs])}"
    others = [key for key in again if key not in {one.key for one in disturbs}]
    if len(stale) == len(disturbs):
        text += ", so read it again" if len(stale) == 1 else f", so read {PRONOUNS[min(len(stale), 3)]} again"
    elif stale:
        text += f", so read the {listed(_titles(tuple(one.key for one in stale)))} again"
    return (
        f"{text}, and the {listed(_titles(tuple(others)))}"
        if others and stale
        else (f"{text}; then read the {listed(_titles(tuple(others)))} again" if others else text)
    )


def _titles(keys: tuple[SettingKey, ...]) -> list[str]:
    return [SETTINGS[key].title.lower() for key in keys]
