"""The one thing to do next at the bench: the first move, in the order of work, that the deck cannot do without."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.further_reading import TYPICAL_UNCERTAINTY
from groovewright.bench.estimate.setting_state import DeckState, FurtherReading, SettingState
from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingKey
from groovewright.bench.moves.adjuster_groups import GROUP, AdjusterGroup
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.moves.needed_moves import NeededMoves, needed_moves, single_logs
from groovewright.bench.moves.next_step import NextStep, ReadFirst
from groovewright.bench.moves.order_of_work import OrderOfWork, order_of_work
from groovewright.bench.moves.outlook import Outlook, outlook
from groovewright.bench.moves.permitted_move import PermittedMove, permitted, place_is_lost
from groovewright.bench.moves.plan import Plan, log_normal_share, make_plan
from groovewright.bench.moves.proposed_move import JudgedMove, proposed_move
from groovewright.bench.moves.unreachable import out_of_reach, unreachable
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS

MIN_GAIN = 0.002
"""Of the logarithm of the probability: less is within the error of computing it, and not worth a move."""

MIN_COUNTERWEIGHT_MOVE = 2.0
"""By how many times the hand's fineness a counterweight must be moved before it is said to make room for another."""


def next_step(inputs: DeckInputs, state: DeckState, limits: HeadshellLimits, hands: Hands) -> NextStep:
    """Return what to do next.

    Moved is only what the deck cannot do without, and as far as brings all settings into their tolerances together, so
    that no move chases what another adjuster will put right. Of these moves the first in the order of work is
    proposed, if it raises the probability that all settings conform, the hand's error included, by itself or with
    those that follow. If a reading would raise more what can be reached, that comes first.

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
    needed, faults = needed_moves(now, limits, hands, by_base=False), []
    if out_of_reach(needed.plan) > 0:
        whole, by_base = _whole_plan(now, limits, hands)
        faults = unreachable(now, whole, limits, hands, inputs.rule)
        needed = needed_moves(now, limits, hands, by_base=True) if by_base else needed
    found = _first_move(_Bench(now, needed, limits, hands), log_now)
    move = None if found.best is None else proposed_move(now, found.best, log_now)
    if faults:
        rest = "" if move is None else f" What still helps: {move.sentence[0].lower()}{move.sentence[1:]}"
        return NextStep("cannot be reached", " ".join(faults) + rest, move, None, tuple(faults), log_now)
    reading, reading_gain = _best_reading(needed.plan, open_settings, found)
    if found.best is not None and move is not None and found.gain >= reading_gain:
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


def _whole_plan(now: Outlook, limits: HeadshellLimits, hands: Hands) -> tuple[Plan, bool]:
    """Return the plan of all adjusters, and whether the arm's base is part of it: only where the rest falls short."""
    plan = make_plan(now, limits, hands)
    if out_of_reach(plan) <= 0 or limits.is_fixed("base_position_mm"):
        return plan, False
    return make_plan(now, limits, hands, by_base=True), True


@dataclass(frozen=True, eq=False)
class _Bench:
    """What a move is chosen from."""

    now: Outlook
    needed: NeededMoves
    limits: HeadshellLimits
    hands: Hands

    def permitted(
        self, group: AdjusterGroup, amounts: NDArray[np.float64], begin: Outlook | None = None
    ) -> PermittedMove | None:
        """Return as much of a move as the limits allow, from where the deck stands or from `begin`."""
        return permitted(begin or self.now, group, amounts, self.limits, self.hands)


@dataclass(frozen=True, eq=False)
class _Found:
    """The move to make, the most that a needed move gains by itself or with others, and what force holds back."""

    best: JudgedMove | None
    gain: float
    held_back: tuple[AdjusterGroup, ...]


def _first_move(bench: _Bench, log_now: float) -> _Found:
    """Return the first of the needed moves in the order of work that is a gain, by itself or with all that follow."""
    now, amounts = bench.now, bench.needed.amounts
    work = order_of_work(now.build, now.targets, bench.limits, now.adjusted, amounts)
    # What is good now is not moved before what would disturb it.
    wanted = sorted((g for g in work.groups if g in amounts), key=lambda group: group not in bench.needed.at_once)
    tried = {group: bench.permitted(group, amounts[group]) for group in wanted}
    held_back = tuple(group for group, move in tried.items() if move is None or move.held_by_force)
    allowed = [(group, move) for group, move in tried.items() if move is not None]
    gain = max((float(np.sum(single_logs(move.after) - single_logs(now))) for _, move in allowed), default=0.0)
    best = None
    if allowed:
        group, move = allowed[0]
        best = JudgedMove(move, group, move.after.log_probability(), mends=_after(group, wanted))
    if held_back and wanted[0] in held_back:
        best = _room_making(bench, held_back[0]) or best
    if best is not None and not best.log_after > log_now + MIN_GAIN:
        best = _with_followers(bench, wanted)
    if best is None or not best.log_after > log_now + MIN_GAIN:
        return _Found(None, 0.0, held_back)
    best = replace(best, order_reason=_order_reason(work, best.group, wanted))
    return _Found(best, max(gain, best.log_after - log_now), held_back)


def _after(group: AdjusterGroup, wanted: list[AdjusterGroup]) -> tuple[AdjusterGroup, ...]:
    return tuple(wanted[wanted.index(group) + 1 :])


def _order_reason(work: OrderOfWork, group: AdjusterGroup, wanted: list[AdjusterGroup]) -> str:
    """Return why a group is moved before one that is usually moved first; empty where the usual order is kept."""
    return next(
        (
            text
            for (first, then), text in work.departures.items()
            if first == group.key and any(other.key == then for other in wanted)
        ),
        "",
    )


def _room_making(bench: _Bench, held: AdjusterGroup) -> JudgedMove | None:
    """Return the counterweight's move where another would else leave the maker's force range, judged by both."""
    weight = GROUP["counterweight"]
    if held is weight:
        return None
    plan = make_plan(bench.now, bench.limits, bench.hands)
    amounts = np.where(np.isin(np.arange(len(ADJUSTERS)), weight.places), plan.amounts, 0.0)
    surely = MIN_COUNTERWEIGHT_MOVE * bench.hands.fineness.as_array()[list(weight.places)]
    if not (np.abs(amounts[list(weight.places)]) > surely).any():
        return None
    first = bench.permitted(weight, amounts)
    second = None if first is None else bench.permitted(held, bench.needed.amounts[held], first.after)
    if first is None or second is None:
        return None
    return JudgedMove(first, weight, second.after.log_probability(), (held,), makes_room=True)


def _with_followers(bench: _Bench, wanted: list[AdjusterGroup]) -> JudgedMove | None:
    """Return the first of the needed moves, judged by all of them: each alone may only shift the fault."""
    first: tuple[PermittedMove, AdjusterGroup] | None = None
    after, followers = bench.now, []
    for group in wanted:
        move = bench.permitted(group, bench.needed.amounts[group], after)
        if move is None:
            continue
        after = move.after
        if first is None:
            first = move, group
        else:
            followers.append(group)
    if first is None:
        return None
    return JudgedMove(*first, after.log_probability(), tuple(followers), mends=tuple(followers))


def _best_reading(plan: Plan, open_settings: list[SettingState], found: _Found) -> tuple[ReadFirst | None, float]:
    """Return the reading that most raises what the plan can reach, and by how much."""
    readable = [setting for setting in open_settings if setting.tolerance is not None]
    if not readable:
        return None, 0.0
    lower, upper = plan.end.limits
    covariance, mean = plan.end.settings_covariance, plan.end.settings

    def single(variance: NDArray[np.float64]) -> float:
        return float(np.sum(log_normal_share(mean, np.sqrt(np.maximum(variance, 1e-18)), lower, upper).log))

    reached = single(np.diag(covariance))

    def gain(setting: SettingState) -> float:
        if setting.further is None:
            return 0.0
        k = SETTING_KEYS.index(setting.key)
        variance = covariance[k, k]
        taken = max(1 - setting.further.leaves**2 / variance, 0.0) if variance > 0 else 0.0
        left = np.diag(covariance) - covariance[:, k] ** 2 / max(variance, 1e-300) * taken
        return single(left) - reached

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


def _lost_places(now: Outlook, best: JudgedMove, limits: HeadshellLimits) -> tuple[str, ...]:
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
