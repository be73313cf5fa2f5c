"""How a job's deck stands and what comes next, worked out once for each state of the record."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from groovewright.bench.estimate.deck_state import BenchState, bench_state
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.next_move import next_step
from groovewright.bench.moves.next_step import NextStep
from groovewright.jobbook.bench_inputs import JobBench, job_bench
from groovewright.jobbook.job_record import JobRecord

STATES_REMEMBERED = 2_000

R = TypeVar("R")

_remembered: dict[Hashable, Any] = {}


@dataclass(frozen=True)
class StandingDeck:
    """A job's deck on the bench, and how it stands by all readings together."""

    bench: JobBench
    state: BenchState


def standing_deck(record: JobRecord) -> StandingDeck:
    """Return how the deck of a job stands after all that was entered.

    Raises
    ------
    ValueError
        In one sentence, if that cannot be told; see `job_bench`.
    """
    return _once(record, "standing", lambda: _stands(job_bench(record)))


def deck_as_found(record: JobRecord) -> StandingDeck:
    """Return how the deck of a job stood when it came in; see `standing_deck`."""
    return _once(record, "as found", lambda: _stands(job_bench(record, as_found=True)))


def next_step_of(record: JobRecord) -> NextStep:
    """Return what comes next for the deck of a job; see `standing_deck`."""
    deck = standing_deck(record)
    return _once(record, "next", lambda: next_step(deck.bench.inputs, deck.state, deck.bench.limits, Hands()))


def _stands(bench: JobBench) -> StandingDeck:
    state = bench_state(bench.inputs)
    return StandingDeck(bench, replace(state, notes=(*bench.notes, *state.notes)))


def _once(record: JobRecord, what: str, compute: Callable[[], R]) -> R:
    key = (what, *_identity(record))
    if key not in _remembered:
        if len(_remembered) >= STATES_REMEMBERED:
            _remembered.clear()
        _remembered[key] = compute()
    found: R = _remembered[key]
    return found


def _identity(record: JobRecord) -> tuple[Hashable, ...]:
    """Return the identities of all rows that the estimate rests on; a row never changes, so the same mean the same."""
    intake = record.intake
    described = () if intake is None else (intake, *(row.current() for row in (intake.arm, intake.cartridge) if row))
    rows = (
        described,
        record.all_choices,
        record.readings,
        record.adjustments,
        record.scale_checks,
        record.plates,
    )
    return tuple(tuple(row.uid for row in some) for some in rows)
