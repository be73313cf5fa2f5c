"""All rows of one job, read together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from groovewright.jobbook.models import (
    AdjustmentMade,
    Attachment,
    Correctable,
    Deck,
    Fault,
    Intake,
    IssuedPlate,
    IssuedReport,
    Job,
    Reading,
    ScaleCheck,
    TargetChoice,
)

C = TypeVar("C", bound=Correctable)


@dataclass(frozen=True)
class JobRecord:
    """All rows of one job, read in one query a table.

    `complaint` is the one that stands.
    `readings`, `adjustments`, `scale_checks` and `faults` are those that stand.
    `all_readings` and `all_adjustments` have the corrected and the withdrawn too, `all_choices` the former targets.
    """

    job: Job
    deck: Deck
    complaint: str
    intake: Intake | None
    choice: TargetChoice | None
    readings: tuple[Reading, ...]
    all_readings: tuple[Reading, ...]
    scale_checks: tuple[ScaleCheck, ...]
    plates: tuple[IssuedPlate, ...]
    faults: tuple[Fault, ...]
    reports: tuple[IssuedReport, ...]
    attachments: tuple[Attachment, ...]
    entries_since_report: int
    adjustments: tuple[AdjustmentMade, ...] = ()
    all_adjustments: tuple[AdjustmentMade, ...] = ()
    all_choices: tuple[TargetChoice, ...] = ()

    def readings_of(self, kind: str, stage: str | None = None) -> tuple[Reading, ...]:
        """Return the readings of one kind that stand, oldest first; of one stage, if given."""
        return tuple(r for r in self.readings if r.kind == kind and stage in (None, r.stage))


def job_record(job: Job) -> JobRecord:
    """Read all that belongs to a job."""
    intakes = list(
        job.intakes.select_related("arm__deck", "cartridge", "arm__corrected_by", "cartridge__corrected_by").order_by(
            "version"
        )
    )
    choices = list(job.target_choices.order_by("pk"))
    # Joined, hundreds of readings would each bring the same few gauges along.
    readings = list(job.readings.prefetch_related("gauge", "scale", "plate", "analysis__sheet__capture").order_by("pk"))
    checks = list(job.scale_checks.select_related("scale").order_by("pk"))
    plates = list(job.plates.order_by("pk"))
    adjustments = list(job.adjustments.order_by("pk"))
    faults = list(job.faults.order_by("pk"))
    reports = list(job.reports.order_by("pk"))
    complaints = list(job.complaint_corrections.order_by("pk"))
    since = 0
    if reports:
        handed_over = reports[-1].recorded_at
        entries = (*complaints, *intakes, *choices, *readings, *adjustments, *checks, *faults)
        since = sum(entry.recorded_at > handed_over for entry in entries)
    return JobRecord(
        job=job,
        deck=deck_now(job),
        complaint=complaints[-1].text if complaints else job.complaint,
        intake=intakes[-1] if intakes else None,
        choice=choices[-1] if choices else None,
        readings=tuple(reading for reading in standing(readings) if not reading.withdrawn),
        all_readings=tuple(readings),
        scale_checks=tuple(standing(checks)),
        plates=tuple(plates),
        faults=tuple(fault for fault in standing(faults) if not fault.withdrawn),
        reports=tuple(reports),
        attachments=tuple(job.attachments.order_by("pk")),
        entries_since_report=since,
        adjustments=tuple(move for move in standing(adjustments) if not move.withdrawn),
        all_adjustments=tuple(adjustments),
        all_choices=tuple(choices),
    )


def complaint_of(job: Job) -> str:
    """Return the complaint of a job as it stands."""
    last = job.complaint_corrections.order_by("-pk").first()
    return job.complaint if last is None else last.text


def standing(rows: Sequence[C]) -> list[C]:
    """Return the rows that none of the others corrects."""
    corrected = {row.corrects_id for row in rows}
    return [row for row in rows if row.pk not in corrected]


def decks_now(numbers: set[int]) -> dict[int, Deck]:
    """Return decks by number, each as it is described now."""
    decks = Deck.objects.filter(number__in=numbers, corrected_by=None).select_related("owner__details")
    return {deck.number: deck for deck in decks}


def deck_now(job: Job) -> Deck:
    """Return the deck of a job as it is described now."""
    return decks_now({job.deck.number})[job.deck.number]
