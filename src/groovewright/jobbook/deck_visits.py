"""The visits of one deck, each with how it was found and left."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.bench.estimate.deck_state import BenchState
from groovewright.bench.visits.comparison import Visit
from groovewright.jobbook.bench_states import deck_as_found, standing_deck
from groovewright.jobbook.job_record import JobRecord, job_record
from groovewright.jobbook.models import Deck, Job


@dataclass(frozen=True)
class DeckVisit:
    """One job of a deck as a visit.

    Attributes
    ----------
    job : Job
    visit : Visit
        Without states where they cannot be told.
    why_not : str
        Why they cannot; empty where they can.
    """

    job: Job
    visit: Visit
    why_not: str = ""


def visits_of(deck: Deck) -> tuple[DeckVisit, ...]:
    """Return all visits of a deck under any description it had, oldest first."""
    jobs = Job.objects.filter(deck__number=deck.number).select_related("deck").order_by("opened", "number")
    return tuple(visit_of(job_record(job)) for job in jobs)


def visit_before(record: JobRecord) -> DeckVisit | None:
    """Return the visit of the same deck before a job; None at its first."""
    job = record.job
    earlier = [
        other
        for other in Job.objects.filter(deck__number=record.deck.number).select_related("deck")
        if (other.opened, other.number) < (job.opened, job.number)
    ]
    if not earlier:
        return None
    return visit_of(job_record(max(earlier, key=lambda other: (other.opened, other.number))))


def visit_of(record: JobRecord) -> DeckVisit:
    """Return a job as a visit of its deck."""
    as_found: BenchState | None = None
    as_left: BenchState | None = None
    targets, why_not = None, ""
    try:
        found, left = deck_as_found(record), standing_deck(record)
    except ValueError as refusal:
        why_not = str(refusal)
    else:
        as_found, as_left, targets = found.state, left.state, left.bench.inputs.targets
    intake = record.intake
    cartridge = None if intake is None or intake.cartridge is None else intake.cartridge.current()
    hours = None if intake is None else intake.stylus_hours
    if hours is None and intake is not None and intake.cartridge is not None:
        # As the cartridge was described then: what is known of it now belongs to a later visit.
        hours = intake.cartridge.stylus_hours
    visit = Visit(
        name=f"job {record.job.number}",
        on=record.job.opened,
        targets=targets,
        as_found=as_found,
        as_left=as_left,
        stylus="" if cartridge is None else cartridge.description,
        stylus_hours=hours,
        moves=tuple(move.text for move in record.adjustments),
    )
    return DeckVisit(record.job, visit, why_not)
