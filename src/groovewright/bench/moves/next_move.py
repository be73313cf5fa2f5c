"""The one thing to do next at the bench: the move that most raises the probability that all settings conform."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.calculated import MIN_NOTICEABLE_CHANGE
from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.further_reading import TYPICAL_UNCERTAINTY
from groovewright.bench.estimate.setting_state import DeckState, FurtherReading, SettingState
from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingKey
from groovewright.bench.moves.adjuster_groups import GROUP, GROUPS, AdjusterGroup
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.moves.move_wording import blurred, changed, instruction, listed
from groovewright.bench.moves.next_step import Disturbance, NextStep, ProposedMove, ReadFirst
from groovewright.bench.moves.order_of_work import order_of_work
from groovewright.bench.moves.outlook import Outlook, outlook
from groovewright.bench.moves.permitted_move import FORCE_ROW, PermittedMove, permitted, place_is_lost
from groovewright.bench.moves.plan import Plan, adjuster_slopes, half_widths, log_normal_share, make_plan
from groovewright.bench.moves.unreachable import out_of_reach, unreachable
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import in_unit
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

MIN_GAIN = 0.002
"""Of the logarithm of the probability: less is within the error of computing it, and not worth a move."""

JUDGED = 2
"""Moves whose probability is computed in full: the best by the probabilities of the single settings."""

MIN_MOVE_IN_FINENESS = 0.5
"""An amount below this share of the hand's fineness is left out of a move."""

MIN_COUNTERWEIGHT_MOVE = 2.0
"""By how many times the hand's fineness a counterweight must be moved before it is said to make room for another."""


def next_step(inputs: DeckInputs, state: DeckState, limits: HeadshellLimits, hands: Hands) -> NextStep:
    """Return what to do next.

    The amounts come from the plan that brings all settings into their tolerances together, so that no move chases what
    another adjuster will put right. Of the moves that the plan is made of, the one is proposed that most raises the
    probability that all settings conform, the hand's error included. Where each alone would only shift the fault, it
    is the first in the order of work. If a reading would raise more what the plan can reach, that comes first.

    Parameters
    ----------
    inputs : DeckInputs
    state : DeckState
        Estimated from `inputs`.
    limits : HeadshellLimits
    hands : Hands

    Raises
    ------
    ValueError
        If the arm cannot stand as it does, or the uncertainty of a part of its state is unknown.
    """
    now = outlook(inputs, state.state)
    log_now = now.log_probability()
    open_settings = [s for s in state.settings if not s.is_in_tolerance and s.basis != "does not apply"]
    if not open_settings:
        return _all_shown(log_now)
    if state.unresolved:
        return _settle_first(state, log_now)
    plan = _plan(now, limits, hands)
    faults = unreachable(now, plan, limits, hands, inputs.rule)
    found = _best_move(now, plan, limits, hands, log_now)
    move = None if found.best is None else _proposed(now, found.best, log_now)
    if faults:
        rest = "" if move is None else f" What still helps: {move.sentence[0].lower()}{move.sentence[1:]}"
        return NextStep("cannot be reached", " ".join(faults) + rest, move, None, tuple(faults), log_now)
    reading, reading_gain = _best_reading(plan, open_settings, found)
    if found.best is not None and move is not None and found.best.log_after - log_now >= reading_gain:
        notes = (*_lost_places(now, found.best, limits), *_notes(state))
        return NextStep("move", move.sentence, move, None, (), log_now, notes)
    if reading is not None:
        return NextStep("read first", reading.why, None, reading, (), log_now, _notes(state))
    missing = tuple(_without_tolerance(setting) for setting in open_settings)
    return NextStep("cannot be reached", " ".join(missing), None, None, missing, log_now)


def _all_shown(log_now: float) -> NextStep:
    return NextStep(
        "all in tolerance",
        "All settings are in tolerance; nothing needs to be moved.",
        None,
        None,
        (),
        log_now,
    )


def _settle_first(state: DeckState, log_now: float) -> NextStep:
    """Return the reading that settles which of two disagreeing ones is right: until then none of them steers a move."""
    disagreement = state.unresolved[0]
    key = disagreement.settings[0]
    kind = disagreement.kinds[0]
    residual = next(one for one in state.residuals if one.label == disagreement.labels[0])
    u = TYPICAL_UNCERTAINTY[kind]
    reading = FurtherReading(kind, u, residual.measured.unit, None, state_uncertainty(state, key))
    return NextStep(
        "read first", disagreement.sentence, None, ReadFirst(key, disagreement.sentence, reading), (), log_now
    )


def state_uncertainty(state: DeckState, key: SettingKey) -> float:
    """Return the standard uncertainty of a setting; 0 where it is not known."""
    quantity = state.setting(key).quantity
    return 0.0 if quantity is None else quantity.standard_uncertainty or 0.0


def _plan(now: Outlook, limits: HeadshellLimits, hands: Hands) -> Plan:
    """Return the plan; the arm's base is moved only where the rest does not suffice."""
    plan = make_plan(now, limits, hands)
    if out_of_reach(plan) <= 0 or limits.is_fixed("base_position_mm"):
        return plan
    return make_plan(now, limits, hands, by_base=True)


@dataclass(frozen=True, eq=False)
class _Judged:
    """A move, the group that it moves, and the logarithm of the probability after it and those that must follow."""

    move: PermittedMove
    group: AdjusterGroup
    log_after: float
    followed_by: tuple[AdjusterGroup, ...] = ()
    makes_room: bool = False


@dataclass(frozen=True, eq=False)
class _Found:
    """The best move, and groups whose move the maker's force range holds back."""

    best: _Judged | None
    held_back: tuple[AdjusterGroup, ...]


def _best_move(now: Outlook, plan: Plan, limits: HeadshellLimits, hands: Hands, log_now: float) -> _Found:
    candidates: list[tuple[float, PermittedMove, AdjusterGroup]] = []
    held_back: dict[AdjusterGroup, NDArray[np.float64]] = {}
    for group in GROUPS:
        for amounts in _amounts_of(group, plan, hands):
            move = permitted(now, group, amounts, limits, hands)
            if move is None or move.held_by_force:
                held_back.setdefault(group, amounts)
            if move is not None:
                candidates.append((_single(move.after), move, group))
    candidates.sort(key=lambda candidate: -candidate[0])
    judged = [_Judged(move, group, move.after.log_probability()) for _, move, group in candidates[:JUDGED]]
    judged += _room_making(now, plan, held_back, limits, hands)
    best = max(judged, key=lambda one: one.log_after, default=None)
    if best is None or not best.log_after > log_now + MIN_GAIN:
        best = _first_of_all(now, plan, limits, hands)
    if best is not None and not best.log_after > log_now + MIN_GAIN:
        best = None
    return _Found(best, tuple(held_back))


def _room_making(
    now: Outlook, plan: Plan, held_back: dict[AdjusterGroup, NDArray[np.float64]], limits: HeadshellLimits, hands: Hands
) -> list[_Judged]:
    """Return the counterweight's move where another would else leave the maker's force range, judged by both."""
    weight = GROUP["counterweight"]
    amounts = np.where(np.isin(np.arange(len(ADJUSTERS)), weight.places), plan.amounts, 0.0)
    surely = MIN_COUNTERWEIGHT_MOVE * hands.fineness.as_array()[list(weight.places)]
    moves = bool((np.abs(amounts[list(weight.places)]) > surely).any())
    first = permitted(now, weight, amounts, limits, hands) if held_back and moves else None
    if first is None:
        return []
    seconds = [
        (second, group)
        for group, wanted in held_back.items()
        if group is not weight and (second := permitted(first.after, group, wanted, limits, hands)) is not None
    ]
    if not seconds:
        return []
    second, group = max(seconds, key=lambda one: _single(one[0].after))
    return [_Judged(first, weight, second.after.log_probability(), (group,), makes_room=True)]


def _first_of_all(now: Outlook, plan: Plan, limits: HeadshellLimits, hands: Hands) -> _Judged | None:
    """Return the first of all moves of the plan, judged by all of them: each alone may only shift the fault."""
    order = order_of_work(now.build, now.targets, limits, now.adjusted).groups
    wanted = [(group, choices[0]) for group in order if (choices := _amounts_of(group, plan, hands))]
    first: tuple[PermittedMove, AdjusterGroup] | None = None
    after, followers = now, []
    for group, amounts in wanted:
        move = permitted(after, group, amounts, limits, hands)
        if move is None:
            continue
        after = move.after
        if first is None:
            first = move, group
        else:
            followers.append(group)
    return None if first is None else _Judged(*first, after.log_probability(), tuple(followers))


def _amounts_of(group: AdjusterGroup, plan: Plan, hands: Hands) -> list[NDArray[np.float64]]:
    """Return the moves of a group worth a look: all its adjusters as planned, and each alone."""
    fineness = hands.fineness.as_array()
    moved = [k for k in group.places if abs(plan.amounts[k]) > MIN_MOVE_IN_FINENESS * fineness[k]]
    choices = [moved] + ([[k] for k in moved] if len(moved) > 1 else [])
    found = []
    for places in choices:
        amounts = np.zeros(len(ADJUSTERS))
        amounts[places] = plan.amounts[places]
        if places:
            found.append(amounts)
    return found


def _single(outlook_: Outlook) -> float:
    """Return the sum of the logarithms of the single probabilities."""
    lower, upper = outlook_.limits
    return _single_of(outlook_.settings, np.diag(outlook_.settings_covariance), lower, upper)


def _single_of(
    mean: NDArray[np.float64], variance: NDArray[np.float64], lower: NDArray[np.float64], upper: NDArray[np.float64]
) -> float:
    spread = np.sqrt(np.maximum(variance, 1e-18))
    return float(np.sum(log_normal_share(mean, spread, lower, upper).log))


def _best_reading(plan: Plan, open_settings: list[SettingState], found: _Found) -> tuple[ReadFirst | None, float]:
    """Return the reading that most raises what the plan can reach, and by how much."""
    readable = [setting for setting in open_settings if setting.tolerance is not None]
    if not readable:
        return None, 0.0
    lower, upper = plan.end.limits
    covariance, mean = plan.end.settings_covariance, plan.end.settings
    reached = _single_of(mean, np.diag(covariance), lower, upper)

    def gain(setting: SettingState) -> float:
        if setting.further is None:
            return 0.0
        k = SETTING_KEYS.index(setting.key)
        variance = covariance[k, k]
        taken = max(1 - setting.further.leaves**2 / variance, 0.0) if variance > 0 else 0.0
        left = np.diag(covariance) - covariance[:, k] ** 2 / max(variance, 1e-300) * taken
        return _single_of(mean, left, lower, upper) - reached

    def pressing(setting: SettingState) -> tuple[float, bool, float]:
        conforms = setting.verdict.probability_of_conformity if setting.verdict is not None else None
        return gain(setting), setting.basis != "read", -(conforms or 0.0)

    most = max(readable, key=pressing)
    held_by = next((group for group in found.held_back if "tracking_force" not in group.serves), None)
    force = next((setting for setting in readable if setting.key == "tracking_force"), None)
    if found.best is None and held_by is not None and force is not None and force.further is not None:
        return ReadFirst("tracking_force", _before_moving(held_by), force.further), gain(force)
    return ReadFirst(most.key, _why_read(most), most.further), gain(most)


def _before_moving(group: AdjusterGroup) -> str:
    return f"Read the tracking force first: as it is known now, {group.gerund} might take it out of the maker's range."


def _why_read(setting: SettingState) -> str:
    title = SETTINGS[setting.key].title.lower()
    if setting.quantity is None:
        reason = setting.reason or "Nothing has been read of it yet."
        return f"Read the {title} first. {reason} {setting.helps_most}".strip()
    if setting.basis == "calculated":
        return f"Read the {title} first. {setting.reason}"
    reason = setting.verdict.reason if setting.verdict is not None else ""
    better = setting.helps_most or "No usual reading tells it closer: use a finer gauge, or average more readings."
    return f"Read the {title} again before anything is moved: no move makes it likelier to conform. {reason} {better}"


def _without_tolerance(setting: SettingState) -> str:
    if setting.key == "tracking_force":
        return "The tracking force has no limits: enter the maker's range of the cartridge."
    return f"The {SETTINGS[setting.key].title.lower()} has no limits: enter its tolerance."


def _lost_places(now: Outlook, best: _Judged, limits: HeadshellLimits) -> tuple[str, ...]:
    """Return a note for each adjuster of a move whose end cannot be reckoned."""
    lost = place_is_lost(now, limits)
    return tuple(
        f"Where the adjuster stands within {ADJUSTER_TABLE[name].room} is not known, as it was moved without an entry: "
        "mind its end."
        for name, k in zip(best.group.adjusters, best.group.places, strict=True)
        if lost[k] and best.move.amounts[k]
    )


def _notes(state: DeckState) -> tuple[str, ...]:
    return tuple(_without_tolerance(setting) for setting in state.settings if setting.tolerance is None)


def _proposed(now: Outlook, best: _Judged, log_now: float) -> ProposedMove:
    move, group = best.move, best.group
    needed = _needed_uncertainty(now, group, move.amounts)
    disturbs = _disturbances(now, move, group)
    again = _read_again(now, move)
    steps = [
        (name, float(move.amounts[k]), float(needed[k]))
        for name, k in zip(group.adjusters, group.places, strict=True)
        if move.amounts[k]
    ]
    sentence = instruction(now.build, steps) + _force_end(now, move, group) + _consequences(disturbs, again) + "."
    following = [other.gerund for other in best.followed_by]
    if best.makes_room:
        sentence += f" Only then is there room in the maker's range for {listed(following)}."
    elif following:
        sentence += f" It helps only together with {listed(following)}, which comes next."
    elif move.held_by_force:
        sentence += " More at once might take the tracking force out of the maker's range."
    return ProposedMove(
        amounts=Adjustments.from_array(move.amounts),
        uncertainty=Adjustments.from_array(needed),
        hand=Adjustments.from_array(move.hand),
        sentence=sentence,
        caution=group.caution,
        serves=group.serves,
        disturbs=disturbs,
        read_again=again,
        log_probability_before=log_now,
        log_probability_after=best.log_after,
        followed_by=tuple(other.key for other in best.followed_by),
    )


def _needed_uncertainty(now: Outlook, group: AdjusterGroup, amounts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far the amount that would be exactly right is uncertain, by what is known of what the group serves."""
    moved = [k for k in group.places if amounts[k]]
    served = [SETTING_KEYS.index(key) for key in group.serves]
    lower, upper = now.limits
    widths = half_widths(lower, upper, np.ones(len(SETTING_KEYS)))[served]
    answer = np.linalg.pinv(adjuster_slopes(now)[np.ix_(served, moved)] / widths[:, None]) / widths
    spread = answer @ now.settings_covariance[np.ix_(served, served)] @ answer.T
    needed = np.zeros(len(ADJUSTERS))
    needed[moved] = np.sqrt(np.maximum(np.diag(spread), 0.0))
    return needed


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


MIN_REPORTED_CHANGE = 0.05
"""In the setting's unit; of a force, half a step of a usual scale."""


def _read_again(now: Outlook, move: PermittedMove) -> tuple[SettingKey, ...]:
    """Return the settings that the move makes stale, as the estimate will say once it was made."""
    lower, upper = now.limits
    widths = half_widths(lower, upper, np.zeros(len(SETTING_KEYS)))
    change = np.abs(move.after.settings - now.settings)
    added = np.diag(move.after.settings_covariance) - np.diag(now.settings_covariance)
    stale = np.maximum(change, np.sqrt(np.maximum(added, 0.0))) > MIN_NOTICEABLE_CHANGE * widths
    return tuple(key for key, is_stale in zip(SETTING_KEYS, stale, strict=True) if is_stale)


def _force_end(now: Outlook, move: PermittedMove, group: AdjusterGroup) -> str:
    """Return where the tracking force comes to, for whoever moves the counterweight by the scale."""
    if group.key != "counterweight":
        return ""
    before, after = (Quantity.exact(float(at.mean[FORCE_ROW]), "mN") for at in (now, move.after))
    start, end = (f"{in_unit(force, 'g').value:.2f} g" for force in (before, after))
    return f", from {start} to about {end} of tracking force"


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


PRONOUNS = {2: "both", 3: "all of them"}


def _titles(keys: tuple[SettingKey, ...]) -> list[str]:
    return [SETTINGS[key].title.lower() for key in keys]
