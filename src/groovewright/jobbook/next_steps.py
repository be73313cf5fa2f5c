"""Which step comes next in each of many jobs: the same as an assessment of each says, in a few queries for all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.db.models import QuerySet

from groovewright.bench.assessment import assess
from groovewright.bench.estimate.job_inputs import JobInputs, StageReadings
from groovewright.bench.estimate.joined_readings import JoinedReadings, join_readings
from groovewright.bench.steps import StageResult, Step, steps
from groovewright.jobbook.assessing import inputs_of, targets_of
from groovewright.jobbook.job_record import JobRecord, standing
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
    Stage,
    TargetChoice,
)

JOBS_REMEMBERED = 20_000
# A page of jobs reads hundreds of readings; what no step rests on stays in the book.
OF_A_READING = (
    "uid",
    "recorded_at",
    "corrects_id",
    "job_id",
    "kind",
    "stage",
    "place",
    "surface",
    "quantity",
    "platform_height",
    "scale_id",
    "plate_id",
    "withdrawn",
)
NOTHING_COMPUTED = StageResult("as left", None, None)


_remembered: dict[tuple[Any, ...], Step] = {}


def next_steps(jobs: Sequence[Job]) -> dict[int, Step]:
    """Return for each job, by its key, the step that comes first; the report, done, where nothing is left to do.

    What a step lacks shows without computing anything, and so does all of a job that was handed over. Only where all
    is read and no report of it stands are the readings judged, once for each state of the record.
    """
    return {record.job.pk: _next_step(record) for record in _records(jobs)}


def _next_step(record: JobRecord) -> Step:
    inputs = inputs_of(record)
    targets = None if record.choice is None else targets_of(record.choice)
    listed = steps(inputs, _joined(inputs), targets, NOTHING_COMPUTED, ())
    first = next(step for step in listed if step.state != "done")
    if first.key != "verdicts":
        return first
    if _judged_when_handed_over(record):
        return listed[-1]
    return _assessed(record, inputs)


def _joined(inputs: JobInputs) -> JoinedReadings | None:
    if not inputs.pivot_to_spindle:
        return None
    try:
        return join_readings(inputs.pivot_to_spindle, name="pivot-to-spindle distance")
    except ValueError:
        return None


def _judged_when_handed_over(record: JobRecord) -> bool:
    """Return whether the newest report rests on all entries and judges both settings as left."""
    if not record.reports or record.entries_since_report:
        return False
    judged = [v for v in record.reports[-1].assessment.get("verdicts", ()) if v.get("stage") == Stage.AS_LEFT]
    has_length = record.choice is None or record.choice.effective_length is not None
    return len(judged) >= 1 + has_length


def _state(record: JobRecord) -> tuple[Any, ...]:
    """Return the identities of all rows that an assessment rests on; a row never changes, so the same mean the same."""
    intake = record.intake
    described = () if intake is None else (intake, intake.arm.current(), intake.cartridge.current())
    rows: tuple[Sequence[Any], ...] = (
        described,
        () if record.choice is None else (record.choice,),
        record.readings,
        record.scale_checks,
        record.plates,
        record.reports,
    )
    return (*(tuple(row.uid for row in some) for some in rows), record.entries_since_report)


def _assessed(record: JobRecord, inputs: JobInputs) -> Step:
    state = _state(record)
    if state not in _remembered:
        if len(_remembered) >= JOBS_REMEMBERED:
            _remembered.clear()
        # Nothing of the state as found bears on which step comes first once all is read as left.
        listed = assess(replace(inputs, as_found=StageReadings())).missing
        _remembered[state] = next((step for step in listed if step.state != "done"), listed[-1])
    return _remembered[state]


def _records(jobs: Sequence[Job]) -> list[JobRecord]:
    """Read what the steps of many jobs rest on, one query a table."""
    intakes = _by_job(
        Intake.objects.select_related("arm__corrected_by", "cartridge__corrected_by").order_by("version"), jobs
    )
    complaints = _by_job(ComplaintCorrection.objects.order_by("pk"), jobs)
    choices = _by_job(TargetChoice.objects.order_by("pk"), jobs)
    readings = _by_job(Reading.objects.only(*OF_A_READING).order_by("pk"), jobs)
    adjustments = _by_job(AdjustmentMade.objects.order_by("pk"), jobs)
    checks = _by_job(ScaleCheck.objects.select_related("scale").order_by("pk"), jobs)
    plates = _by_job(IssuedPlate.objects.order_by("pk"), jobs)
    faults = _by_job(Fault.objects.order_by("pk"), jobs)
    reports = _by_job(IssuedReport.objects.order_by("pk"), jobs)
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
                faults=(),
                reports=tuple(reports[key]),
                attachments=(),
                entries_since_report=since,
            )
        )
    return records


def _by_job(rows: QuerySet[Any], jobs: Sequence[Job]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows.filter(job__in=[job.pk for job in jobs]):
        found[row.job_id].append(row)
    return found
