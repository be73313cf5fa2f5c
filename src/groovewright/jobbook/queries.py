"""What the pages, the commands and the report read. Nothing here writes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.core.paginator import Paginator
from django.db.models import Exists, OuterRef, Q, QuerySet

from groovewright.jobbook.deck_visits import DeckVisit, visit_before, visits_of
from groovewright.jobbook.job_facts import facts_of, target_request, targets_of
from groovewright.jobbook.job_record import JobRecord, complaint_of, deck_now, decks_now, job_record, standing
from groovewright.jobbook.models import (
    ComplaintCorrection,
    Correctable,
    Deck,
    Intake,
    IssuedPlate,
    IssuedReport,
    Job,
    Reading,
    Stage,
    TargetChoice,
)

__all__ = [
    "DeckVisit",
    "JobRecord",
    "complaint_of",
    "deck_now",
    "facts_of",
    "job_record",
    "target_request",
    "targets_of",
    "visit_before",
    "visits_of",
]

JOBS_ON_A_PAGE = 25

C = TypeVar("C", bound=Correctable)


@dataclass(frozen=True)
class JobSummary:
    """A job as a line of the list.

    Attributes
    ----------
    job : Job
        The job; `job.deck.owner.name` costs no further query.
    deck : Deck
        The deck as it is described now.
    reached : str
        The last step that was entered, in words.
    """

    job: Job
    deck: Deck
    reached: str


@dataclass(frozen=True)
class JobPage:
    """One page of the list of jobs, newest first."""

    jobs: tuple[JobSummary, ...]
    number: int
    last_number: int
    total: int

    @property
    def has_previous(self) -> bool:
        """Whether there are newer jobs."""
        return self.number > 1

    @property
    def has_next(self) -> bool:
        """Whether there are older jobs."""
        return self.number < self.last_number


def job_page(number: int = 1, *, search: str = "", size: int = JOBS_ON_A_PAGE) -> JobPage:
    """Return one page of jobs; `search` looks in number, owner's name, deck and complaint."""
    jobs = Job.objects.select_related("deck__owner__details").order_by("-number")
    for word in search.split():
        match = (
            Q(deck__description__icontains=word)
            | Q(deck__owner__details__name__icontains=word)
            | Q(complaint__icontains=word)
            | Q(Exists(ComplaintCorrection.objects.filter(job=OuterRef("pk"), text__icontains=word)))
        )
        jobs = jobs.filter(match | Q(number=int(word)) if word.isdecimal() and len(word) < 10 else match)
    paginator = Paginator(jobs, size)
    page = paginator.get_page(number)
    rows = list(page.object_list)
    reached = _reached([job.pk for job in rows])
    decks = decks_now({job.deck.number for job in rows})
    return JobPage(
        jobs=tuple(JobSummary(job, decks.get(job.deck.number, job.deck), reached[job.pk]) for job in rows),
        number=page.number,
        last_number=paginator.num_pages,
        total=paginator.count,
    )


def _reached(job_keys: Sequence[int]) -> dict[int, str]:
    def has(model: type, **conditions: str) -> Exists:
        return Exists(model.objects.filter(job=OuterRef("pk"), **conditions))

    marks = {
        "report issued": has(IssuedReport),
        "read as left": has(Reading, stage=Stage.AS_LEFT),
        "read as found": has(Reading, stage=Stage.AS_FOUND),
        "plate issued": has(IssuedPlate),
        "targets chosen": has(TargetChoice),
        "taken in": has(Intake),
    }
    names = {words.replace(" ", "_"): words for words in marks}
    rows = Job.objects.filter(pk__in=job_keys).values("pk", **{name: marks[words] for name, words in names.items()})
    return {row["pk"]: next((words for name, words in names.items() if row[name]), "opened") for row in rows}


def current_rows(model: type[C]) -> QuerySet[C]:
    """Return the rows of a table that no later row corrects, newest first."""
    return model.objects.filter(corrected_by=None).order_by("-pk")


def jobs_of_deck(deck: Deck) -> QuerySet[Job]:
    """Return all jobs of a deck under any description it had, newest first."""
    return Job.objects.filter(deck__number=deck.number).order_by("-number")


def current_readings(job: Job, *, stage: str | None = None) -> tuple[Reading, ...]:
    """Return the readings of a job that stand, oldest first, in one query."""
    readings = list(job.readings.select_related("gauge", "scale", "plate").order_by("pk"))
    return tuple(r for r in standing(readings) if not r.withdrawn and stage in (None, r.stage))


def next_reading_source(job: Job, kind: str) -> str:
    """Return a source label for the uncertainty of a new reading that no other reading of the job has."""
    count = job.readings.filter(kind=kind).count()
    return f"job {job.number}, {Reading.Kind(kind).label}, reading {count + 1}"
