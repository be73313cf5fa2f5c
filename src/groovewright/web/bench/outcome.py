"""The bench's answer for one job: the seven settings, the next step, or why there is none yet."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from groovewright.bench.estimate.job_state import JobState
from groovewright.bench.estimate.moves import Move
from groovewright.bench.moves.next_step import NextStep, ProposedMove
from groovewright.bench.moves.order_of_work import OrderOfWork, order_of_work
from groovewright.jobbook.job_states import JudgedJob, judged_job, next_step_of
from groovewright.jobbook.queries import JobRecord
from groovewright.tonearm.arm_state import Adjustments
from groovewright.web.bench.move_form import instruction_of
from groovewright.web.bench.shown import ShownSetting, odds, shown_settings

FAR_OFF = 1e-3
"""A chance below this tells nobody anything: our choice."""

T = TypeVar("T")


@dataclass(frozen=True)
class Place:
    """One step of the order of work, and why it comes before the one after it."""

    title: str
    reason: str


@dataclass(frozen=True)
class Outcome:
    """What can be said now; `lacking` is one sentence where something cannot, and what is not known is then empty."""

    lacking: str = ""
    state: JobState | None = None
    rows: tuple[ShownSetting, ...] = ()
    step: NextStep | None = None
    order: tuple[Place, ...] = ()

    @property
    def move(self) -> ProposedMove | None:
        """The move that is proposed."""
        return None if self.step is None else self.step.move

    @property
    def instruction(self) -> str:
        """What to move, and how far."""
        return "" if self.move is None else instruction_of(self.move)

    @property
    def what_follows(self) -> str:
        """What the move does besides, and what to read again after it."""
        rest = "" if self.move is None else self.move.sentence.partition(";")[2].strip()
        return f"{rest[:1].upper()}{rest[1:]}"

    @property
    def is_all_read(self) -> bool:
        """Whether there is a chance to speak of: nothing is known of what is not read."""
        return self.state is not None and self.state.now.probability_all_conform is not None

    @property
    def is_far_off(self) -> bool:
        """Whether even the proposed move leaves so much to do that the chance of all seven tells nobody anything."""
        return self.is_all_read and self.move is not None and self.move.log_probability_after < math.log(FAR_OFF)

    @property
    def odds_now(self) -> str:
        """How likely all seven conform, in words."""
        return odds(self.step.log_probability) if self.step is not None else ""

    @property
    def odds_after(self) -> str:
        """How likely all seven conform after the move, in words."""
        return odds(self.move.log_probability_after) if self.move is not None else ""


def outcome_of(record: JobRecord) -> Outcome:
    """Return what the bench can say of a job now."""
    judged, lacking = _or_why_not(lambda: judged_job(record))
    if judged is None:
        return Outcome(lacking)
    step, no_step = _or_why_not(lambda: next_step_of(record))
    order, no_order = _or_why_not(lambda: _order(judged))
    state = judged.state
    rows = shown_settings(state.now, None if state.as_left is None else state.as_found)
    return Outcome(no_step or no_order, state, rows, step, order or ())


def _or_why_not(compute: Callable[[], T]) -> tuple[T | None, str]:
    try:
        return compute(), ""
    except ValueError as refusal:
        sentence = str(refusal).rstrip(".")
        return None, f"{sentence[0].upper()}{sentence[1:]}."


def _order(judged: JudgedJob) -> tuple[Place, ...]:
    inputs = judged.bench.inputs
    return _places(order_of_work(inputs.build, inputs.targets, judged.bench.limits, _moved(inputs.moves)))


def _moved(moves: Sequence[Move]) -> Adjustments:
    """Return where all adjusters are after the moves."""
    amounts = [move.amounts.as_array() for move in moves]
    return Adjustments.from_array(sum(amounts, Adjustments().as_array()))


def _places(order: OrderOfWork) -> tuple[Place, ...]:
    reasons = {(reason.first, reason.then): reason.text for reason in order.reasons}
    followers = [*order.groups[1:], None]
    return tuple(
        Place(group.title, "" if then is None else reasons[group.key, then.key])
        for group, then in zip(order.groups, followers, strict=True)
    )
