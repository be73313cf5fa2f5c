"""The visits of one deck, each with how it was found and left."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.bench.estimate.setting_state import DeckState
from groovewright.bench.visits.comparison import Visit
from groovewright.jobbook.job_record import JobRecord, job_record
from groovewright.jobbook.job_states import judged_job
from groovewright.jobbook.models import Deck, Job


@dataclass(frozen=True)
class DeckVisit:
    """One job of a deck as a visit.

    Attributes
    ----------
    job : Job
    visit : Visit
        Without states where they cannot be told.
    reason : str
        Why they cannot; empty where they can.
    """

    job: Job
    visit: Visit
    reason: str = ""


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
    as_found: DeckState | None = None
    as_left: DeckState | None = None
    targets, reason = None, ""
    try:
        judged = judged_job(record)
    except ValueError as refusal:
        reason = str(refusal)
    else:
        # A deck that nobody touched leaves as it came.
        as_found, as_left = judged.state.as_found, judged.state.now
        targets = None if record.choice is None else judged.bench.inputs.targets
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
    return DeckVisit(record.job, visit, reason)
