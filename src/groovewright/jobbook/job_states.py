"""The state of a job and what comes next, worked out once for each state of the record."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.estimate.groove import GrooveCourse, groove_of
from groovewright.bench.estimate.job_state import JobState
from groovewright.bench.estimate.setting_state import DeckState
from groovewright.bench.job_steps import JobProgress, Step, job_steps
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.next_move import next_step
from groovewright.bench.moves.next_step import NextStep
from groovewright.jobbook.bench_inputs import JobBench, job_bench
from groovewright.jobbook.job_facts import facts_of, plates_of, reports_of, target_request, targets_of
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.stretches import is_left

STATES_REMEMBERED = 4_000
"""Some 20 kB each: more jobs than a workshop has open."""

R = TypeVar("R")

_remembered: dict[Hashable, Any] = {}


@dataclass(frozen=True)
class JudgedJob:
    """A job with its state and what that was worked out from.

    Attributes
    ----------
    bench : JobBench
        As the deck is now.
    state : JobState
    """

    bench: JobBench
    state: JobState


def judged_job(record: JobRecord) -> JudgedJob:
    """Return the state of a job with what it was worked out from.

    Raises
    ------
    ValueError
        In one sentence, if that cannot be told; see `job_bench`.
    """
    return _once(record, "judged", lambda: _judged(record))


def job_state(record: JobRecord) -> JobState:
    """Return the seven settings of a job as found and as left; see `judged_job`."""
    return judged_job(record).state


def next_step_of(record: JobRecord) -> NextStep:
    """Return what comes next for the deck of a job; see `judged_job`. ValueError too before targets are chosen."""
    if record.choice is None:
        raise ValueError(
            f"job {record.job.number} has no targets yet, from which its settings are counted; choose them"
        )
    job = judged_job(record)
    return _once(record, "next", lambda: next_step(job.bench.inputs, job.state.now, job.bench.limits, Hands()))


def groove_of_job(record: JobRecord, deck: DeckState) -> GrooveCourse:
    """Return tracking error and distortion over the groove for one of a job's two states.

    Raises
    ------
    ValueError
        In one sentence, if the effective length is not read or does not apply, or no targets are chosen.
    """
    if record.choice is None:
        raise ValueError("tracking error and distortion cannot be told: no targets are chosen")
    return groove_of(deck, judged_job(record).bench.inputs.targets, target_request(record.choice))


def steps_of(record: JobRecord) -> tuple[Step, ...]:
    """Return the five steps of a job, each with how far it is."""
    return job_steps(progress_of(record))


def progress_of(record: JobRecord) -> JobProgress:
    """Return what the steps of a job are judged by."""
    state, reason = None, ""
    try:
        state = job_state(record)
    except ValueError as refusal:
        reason = f"{str(refusal)[0].upper()}{str(refusal)[1:].rstrip('.')}."
    return JobProgress(
        facts=facts_of(record),
        geometry=None if record.choice is None else targets_of(record.choice).geometry,
        state=state,
        reason=reason,
        plates=plates_of(record),
        reports=reports_of(record),
    )


def _judged(record: JobRecord) -> JudgedJob:
    found = job_bench(record, as_found=True)
    if not is_left(record):
        return JudgedJob(found, JobState(_deck(found), None))
    now = job_bench(record)
    return JudgedJob(now, JobState(_deck(found), _deck(now)))


def _deck(bench: JobBench) -> DeckState:
    state = deck_state(bench.inputs)
    return replace(state, notes=(*bench.notes, *state.notes))


def _once(record: JobRecord, what: str, compute: Callable[[], R]) -> R:
    key = (what, *_identity(record))
    if key not in _remembered:
        if len(_remembered) >= STATES_REMEMBERED:
            _remembered.clear()
        _remembered[key] = compute()
    found: R = _remembered[key]
    return found


def _identity(record: JobRecord) -> tuple[Hashable, ...]:
    """Return the identities of all rows that the state is based on; a row never changes, so the same mean the same."""
    intake = record.intake
    described = () if intake is None else (intake, *(row.current() for row in (intake.arm, intake.cartridge) if row))
    rows = (
        described,
        record.all_choices,
        record.readings,
        record.adjustments,
        record.scale_checks,
        record.plates,
        record.faults,
    )
    return tuple(tuple(row.uid for row in some) for some in rows)
