"""Step and verdicts of each of many jobs: just what the pages of each say, in a few queries for all."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Max, QuerySet

from groovewright.bench.job_steps import TITLES, Step, first_step, job_steps
from groovewright.jobbook.job_record import JobRecord, standing
from groovewright.jobbook.job_states import STATES_REMEMBERED, progress_of
from groovewright.jobbook.models import (
    AdjustmentMade,
    ComplaintCorrection,
    Fault,
    Intake,
    IssuedPlate,
    IssuedReport,
    Job,
    Reading,
    ScaleCheck,
    TargetChoice,
)

TIME_FOR_STATES_S = 0.03
"""For states that are not at hand yet: so a page of the list answers within 100 ms; the rest is asked for after."""

READ_TOGETHER = 5
"""Jobs whose rows are read at once while time is short: some 10 ms, after which the time is looked at again."""

ENTRIES = (ComplaintCorrection, Intake, TargetChoice, Reading, AdjustmentMade, ScaleCheck, Fault, IssuedPlate)
"""Tables whose rows bear on the state of a job."""

_remembered: dict[tuple[Any, ...], ListedState] = {}


@dataclass(frozen=True)
class ListedState:
    """What the list says of a job.

    Attributes
    ----------
    step : Step or None
        The step that comes first; the report, done, where nothing is left to do. None where it is not worked out yet.
    outcomes : mapping of str to str
        Verdict by setting as the deck is now, in words; empty where nothing can be told.
    stage : str
        ``"as found"``, ``"as left"``, or empty.
    """

    step: Step | None
    outcomes: Mapping[str, str] = field(default_factory=dict)
    stage: str = ""


def listed_states(jobs: Sequence[Job], *, time_s: float | None = TIME_FOR_STATES_S) -> dict[int, ListedState]:
    """Return what the list says of each job, by its key.

    A job that was handed over is as its report says. Every other state is worked out once for each state of the record;
    what would take longer than the time that is given is left without a step, to be asked for again.

    Parameters
    ----------
    time_s : float or None
        None: however long it takes. [s]
    """
    entered = _last_entered(jobs)
    reports = {report.job_id: report for report in IssuedReport.objects.filter(job__in=jobs).order_by("pk")}
    found: dict[int, ListedState] = {}
    open_jobs = []
    for job in jobs:
        report = reports.get(job.pk)
        settings = None if report is None else report.assessment.get("settings")
        if report is not None and report.recorded_at >= entered[job.pk] and settings is not None:
            found[job.pk] = _handed_over(report, settings)
        else:
            open_jobs.append(job)
    described = _described(open_jobs)
    keys = {job.pk: (job.pk, entered[job.pk], described[job.pk], reports.get(job.pk)) for job in open_jobs}
    found |= {pk: _remembered[key] for pk, key in keys.items() if key in _remembered}
    unknown = [job for job in open_jobs if job.pk not in found]
    end = None if time_s is None else time.monotonic() + time_s
    for some in _batched(unknown, len(jobs) if end is None else READ_TOGETHER):
        for record in _records(some) if end is None or time.monotonic() < end else ():
            if end is not None and time.monotonic() > end:
                break
            if len(_remembered) >= STATES_REMEMBERED:
                _remembered.clear()
            pk = record.job.pk
            found[pk] = _remembered[keys[pk]] = _worked_out(record)
    return {job.pk: found.get(job.pk, ListedState(None)) for job in jobs}


def _batched(jobs: Sequence[Job], size: int) -> list[Sequence[Job]]:
    """Return jobs in runs of a size, the last of which may be shorter."""
    return [jobs[start : start + size] for start in range(0, len(jobs), size)]


def _handed_over(report: IssuedReport, settings: Mapping[str, Any]) -> ListedState:
    stage = "as found" if settings.get("as_left") is None else "as left"
    deck = settings.get("as_left") or settings["as_found"]
    step = Step("report", TITLES["report"], "done", f"Report {report.number} is issued.")
    return ListedState(step, {one["key"]: one["verdict"] or one["basis"] for one in deck}, stage)


def _worked_out(record: JobRecord) -> ListedState:
    progress = progress_of(record)
    step = first_step(job_steps(progress))
    if progress.state is None:
        return ListedState(step)
    stage = "as found" if progress.state.as_left is None else "as left"
    return ListedState(step, {one.key: one.outcome for one in progress.state.now.settings}, stage)


def _last_entered(jobs: Sequence[Job]) -> dict[int, datetime]:
    """Return when something that bears on the state of each job was entered last, or it was opened."""
    last = {job.pk: job.recorded_at for job in jobs}
    for table in ENTRIES:
        rows = table.objects.filter(job__in=jobs).order_by().values("job").annotate(at=Max("recorded_at"))
        for row in rows:
            last[row["job"]] = max(last[row["job"]], row["at"])
    return last


def _described(jobs: Sequence[Job]) -> dict[int, tuple[Any, ...]]:
    """Return which description of arm and cartridge holds for each job: it may be corrected by a later visit."""
    found: dict[int, tuple[Any, ...]] = dict.fromkeys((job.pk for job in jobs), ())
    intakes = Intake.objects.select_related("arm__corrected_by", "cartridge__corrected_by").order_by("version")
    for intake in intakes.filter(job__in=jobs):
        found[intake.job_id] = tuple(row.current().pk for row in (intake.arm, intake.cartridge) if row is not None)
    return found


def _records(jobs: Sequence[Job]) -> list[JobRecord]:
    """Read what the state of many jobs is based on, one query a table."""
    intakes = _by_job(
        Intake.objects.select_related(
            "arm__deck", "cartridge", "arm__corrected_by", "cartridge__corrected_by"
        ).order_by("version"),
        jobs,
    )
    choices = _by_job(TargetChoice.objects.order_by("pk"), jobs)
    readings = _by_job(
        Reading.objects.select_related("gauge", "scale", "plate", "analysis__sheet__capture").order_by("pk"), jobs
    )
    adjustments = _by_job(AdjustmentMade.objects.order_by("pk"), jobs)
    checks = _by_job(ScaleCheck.objects.select_related("scale").order_by("pk"), jobs)
    plates = _by_job(IssuedPlate.objects.order_by("pk"), jobs)
    faults = _by_job(Fault.objects.order_by("pk"), jobs)
    reports = _by_job(IssuedReport.objects.order_by("pk"), jobs)
    complaints = _by_job(ComplaintCorrection.objects.order_by("pk"), jobs)
    records = []
    for job in jobs:
        key, since = job.pk, 0
        if reports[key]:
            handed_over = reports[key][-1].recorded_at
            tables = (complaints, intakes, choices, readings, adjustments, checks, faults)
            since = sum(entry.recorded_at > handed_over for table in tables for entry in table[key])
        records.append(
            JobRecord(
                job=job,
                deck=job.deck,
                complaint=job.complaint,
                intake=intakes[key][-1] if intakes[key] else None,
                choice=choices[key][-1] if choices[key] else None,
                readings=tuple(reading for reading in standing(readings[key]) if not reading.withdrawn),
                all_readings=tuple(readings[key]),
                scale_checks=tuple(standing(checks[key])),
                plates=tuple(plates[key]),
                faults=tuple(fault for fault in standing(faults[key]) if not fault.withdrawn),
                reports=tuple(reports[key]),
                attachments=(),
                entries_since_report=since,
                adjustments=tuple(move for move in standing(adjustments[key]) if not move.withdrawn),
                all_adjustments=tuple(adjustments[key]),
                all_choices=tuple(choices[key]),
            )
        )
    return records


def _by_job(rows: QuerySet[Any], jobs: Sequence[Job]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows.filter(job__in=[job.pk for job in jobs]):
        found[row.job_id].append(row)
    return found
