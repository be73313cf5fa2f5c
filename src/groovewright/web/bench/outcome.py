"""The bench's answer for one job: the state of the seven settings, the next step, or why there is none yet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse

from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.setting_state import DeckState, FurtherReading
from groovewright.bench.moves.next_step import NextStep, ProposedMove
from groovewright.bench.moves.order_of_work import OrderOfWork, order_of_work
from groovewright.jobbook.job_states import judged_job, next_step_of
from groovewright.jobbook.queries import JobRecord
from groovewright.tonearm.arm_state import Adjustments
from groovewright.web.bench.shown import ShownSetting, odds, shown_settings
from groovewright.web.readings.bench_kinds import BENCH_KINDS

FAR_OFF = 1e-3


@dataclass(frozen=True)
class Place:
    """One step of the order of work, and why it comes before the one after it."""

    title: str
    reason: str


@dataclass(frozen=True)
class Outcome:
    """What can be said now; `lacking` is one sentence where nothing can, and all else is then empty."""

    job_number: int
    lacking: str = ""
    state: DeckState | None = None
    rows: tuple[ShownSetting, ...] = ()
    step: NextStep | None = None
    order: tuple[Place, ...] = ()

    @property
    def move(self) -> ProposedMove | None:
        """The move that is proposed."""
        return None if self.step is None else self.step.move

    @property
    def wanted_reading(self) -> FurtherReading | None:
        """The reading that is proposed."""
        return None if self.step is None or self.step.read is None else self.step.read.reading

    @property
    def is_all_read(self) -> bool:
        """Whether there is a chance to speak of: nothing is known of what is not read."""
        return self.state is not None and self.state.probability_all_conform is not None

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

    @property
    def where_to_read(self) -> str:
        """The page on which the proposed reading is entered."""
        wanted = self.wanted_reading
        here = wanted is not None and wanted.kind in BENCH_KINDS
        address = reverse("bench" if here else "readings", kwargs={"number": self.job_number})
        return f"{address}#enter-reading" if here else address


def outcome_of(record: JobRecord) -> Outcome:
    """Return what the bench can say of a job now."""
    number = record.job.number
    try:
        job, step = judged_job(record), next_step_of(record)
        bench, state = job.bench, job.state.now
        order = order_of_work(bench.inputs.build, bench.inputs.targets, bench.limits, _moved(bench.inputs.moves))
    except ValueError as refusal:
        sentence = str(refusal)
        return Outcome(number, lacking=f"{sentence[0].upper()}{sentence[1:]}.")
    return Outcome(number, "", state, shown_settings(state), step, _places(order))


def _moved(moves: Sequence[Move]) -> Adjustments:
    """Return where all adjusters stand after the moves."""
    amounts = [move.amounts.as_array() for move in moves]
    return Adjustments.from_array(sum(amounts, Adjustments().as_array()))


def _places(order: OrderOfWork) -> tuple[Place, ...]:
    reasons = {(reason.first, reason.then): reason.text for reason in order.reasons}
    followers = [*order.groups[1:], None]
    return tuple(
        Place(group.title, "" if then is None else reasons[group.key, then.key])
        for group, then in zip(order.groups, followers, strict=True)
    )
