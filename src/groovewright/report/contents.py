"""What the job book knows of a job, put together for its report."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from groovewright.report.parts import AS_FOUND, AS_LEFT, DETAILS_DELETED, ReportContents

if TYPE_CHECKING:
    from groovewright.bench.assessment import Assessment
    from groovewright.bench.estimate.job_inputs import JobInputs
    from groovewright.jobbook.job_record import JobRecord
    from groovewright.jobbook.models import Job

__all__ = ["ReportContents", "contents_of_job", "numbered"]


def contents_of_job(
    job: Job,
    *,
    record: JobRecord | None = None,
    assessment: Assessment | None = None,
    report_date: date | None = None,
    report_number: str = "",
    workshop: str = "",
    done: tuple[str, ...] = (),
    paper: str = "a4",
) -> ReportContents:
    """Return the contents of a job's report as the record stands.

    Parameters
    ----------
    job : Job
        The job; it is read anew from the job book unless `record` is given.
    record : JobRecord, optional
        Its rows, where they were read already.
    assessment : Assessment, optional
        What those rows mean, where that was computed already; it must be of the same rows.
    report_date : date, optional
        Printed on the report. Without one it is the day of the job's last entry, so that a report made again from
        the same record is the same to the byte.
    report_number : str
        The number under which the report is issued; empty for a preview.
    workshop : str
        Who did the work.
    done : tuple of str
        What was done, in sentences, besides what the readings show.
    paper : str
        "a4" or "us-letter".
    """
    from groovewright.bench.assessment import assess
    from groovewright.jobbook.queries import inputs_of, job_record
    from groovewright.report import bench_findings, evidence, findings

    record = record or job_record(job)
    inputs = inputs_of(record)
    assessment = assessment or assess(inputs)
    last = evidence.last_entry(record)
    intake = record.intake
    curves, undrawn = findings.curves_of(assessment)
    settings, settings_notes = bench_findings.settings_of_bench(record)
    return ReportContents(
        title=_title(report_number),
        report_date=report_date or last.day,
        workshop=workshop,
        job_number=str(record.job.number),
        record_number=str(last.sequence),
        record_hash=last.digest,
        taken_in=record.job.opened,
        left_on=evidence.last_read(record, AS_LEFT),
        owner=_owner(record),
        equipment=evidence.equipment_of(record),
        complaint=record.complaint,
        records_played="" if intake is None else evidence.records_played(intake),
        innermost_mm=None if intake is None else intake.innermost_mm,
        outermost_mm=None if intake is None else intake.outermost_mm,
        targets=findings.target_set(assessment),
        judgements=findings.judgements_of(assessment),
        readings=evidence.readings_of(record),
        gauges=evidence.gauges_of(record),
        curves=curves,
        curves_note=_curves_note(record) if len(curves) > 1 else "",
        plates=evidence.plates_of(record),
        settings=settings,
        settings_as_found=bench_findings.settings_as_found(record) if settings else (),
        settings_stage=bench_findings.stage_of_bench(record),
        settings_notes=settings_notes,
        moves=bench_findings.moves_of(record),
        visit_before=bench_findings.visit_before_of(record),
        resonance=findings.resonance_of(assessment),
        done=done + findings.changes_of(assessment) + evidence.work_of(record),
        faults=assessment.faults,
        missing=_missing(assessment, inputs, record) + undrawn,
        paper=paper,
    )


def numbered(contents: ReportContents, report_number: str) -> ReportContents:
    """Return the same contents under the number they are issued under."""
    return replace(contents, title=_title(report_number))


def _title(report_number: str) -> str:
    return f"Set-up report {report_number}".rstrip()


def _owner(record: JobRecord) -> str | None:
    from groovewright.jobbook.models import OwnerDetailsChange

    owner = record.deck.owner
    details = getattr(owner, "details", None)
    if details is not None and details.name:
        return str(details.name)
    erased = OwnerDetailsChange.objects.filter(owner=owner, what=OwnerDetailsChange.What.ERASED).exists()
    return DETAILS_DELETED if erased else None


# What may well stay unread, with the kinds of reading that tell it.
_TOLD_BY = {
    "offset angle": ("zenith_error", "offset_angle", "null_angle"),
    "side force": ("side_force_rest", "compensation_force", "start_force_outward"),
    "azimuth": ("azimuth_rotation",),
    "stylus rake angle": ("stylus_rake_angle",),
    "vertical tracking angle": ("vertical_tracking_angle", "vertical_tracking_angle_error"),
    "speed": ("speed_error",),
}


def _curves_note(record: JobRecord) -> str:
    from groovewright.report.findings import CURVES_NOTE, CURVES_NOTE_OFFSET_READ

    read = {reading.kind for reading in record.readings}.intersection(_TOLD_BY["offset angle"])
    return CURVES_NOTE_OFFSET_READ if read else CURVES_NOTE


def _missing(assessment: Assessment, inputs: JobInputs, record: JobRecord) -> tuple[str, ...]:
    """Return what the report cannot say, and why: problems, what was not read, and steps that are not done."""
    from groovewright.bench.steps import NO_LENGTH, is_tangential
    from groovewright.report.wording import listed

    sentences = [f"{problem.about}: {problem.sentence}" for problem in assessment.problems]
    without_length = is_tangential(inputs)
    if without_length:
        sentences.append(NO_LENGTH)
    for stage, readings in ((AS_FOUND, inputs.as_found), (AS_LEFT, inputs.as_left)):
        if not (readings.lengths or without_length):
            sentences.append(f"Effective length {stage}: not measured.")
        if not readings.forces:
            sentences.append(f"Tracking force {stage}: not measured.")
    kinds = {reading.kind for reading in record.readings}
    unread = [what for what, told_by in _TOLD_BY.items() if not kinds.intersection(told_by)]
    if without_length:
        unread = ["set error of the arm", *(what for what in unread if what != "offset angle")]
    if unread:
        words = listed(unread)
        sentences.append(f"{words[:1].upper()}{words[1:]}: not measured.")
    sentences += [
        f"{step.title}: {step.detail}"
        for step in assessment.missing
        if step.state in ("next", "open", "stale") and step.key not in ("report", "verdicts")
    ]
    return tuple(sentences)
