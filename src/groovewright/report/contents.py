"""What the job book knows of a job, put together for its report."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from groovewright.report.parts import AS_FOUND, AS_LEFT, DETAILS_DELETED, ReportContents

if TYPE_CHECKING:
    from groovewright.bench.job_steps import JobProgress
    from groovewright.jobbook.job_record import JobRecord
    from groovewright.jobbook.models import Job

__all__ = ["ReportContents", "contents_of_job", "numbered"]


def contents_of_job(
    job: Job,
    *,
    record: JobRecord | None = None,
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
    from groovewright.jobbook.job_states import progress_of
    from groovewright.jobbook.queries import job_record
    from groovewright.report import bench_findings, evidence, findings

    record = record or job_record(job)
    progress = progress_of(record)
    state = progress.state
    last = evidence.last_entry(record)
    intake = record.intake
    targets = findings.targets_chosen(record)
    curves, undrawn = findings.curves_of(record, state, targets)
    settings, settings_notes = bench_findings.settings_of_bench(state)
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
        targets=findings.target_set(targets),
        readings=evidence.readings_of(record),
        gauges=evidence.gauges_of(record),
        curves=curves,
        curves_note="",
        plates=evidence.plates_of(record),
        state=state,
        settings=settings,
        settings_as_found=bench_findings.settings_as_found(state),
        settings_stage=bench_findings.stage_of_bench(state),
        settings_notes=settings_notes,
        moves=bench_findings.moves_of(record),
        visit_before=bench_findings.visit_before_of(record),
        resonance=findings.resonance_of(progress.facts),
        done=done + evidence.work_of(record),
        faults=() if state is None else state.now.faults,
        missing=_missing(progress, record) + undrawn,
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


def _missing(progress: JobProgress, record: JobRecord) -> tuple[str, ...]:
    """Return what the report cannot say, and why: what was not read, and steps that are not done."""
    from groovewright.bench.estimate.settings import SETTINGS
    from groovewright.bench.job_steps import job_steps

    sentences = [progress.reason] if progress.reason else []
    if progress.state is not None:
        for stage, deck in ((AS_FOUND, progress.state.as_found), (AS_LEFT, progress.state.as_left)):
            if deck is None:
                continue
            unread = [SETTINGS[one.key].title.lower() for one in deck.settings if one.basis == "not read"]
            if unread:
                sentences.append(f"Not read {stage}: {', '.join(unread)}.")
    if not record.readings_of("speed_error"):
        sentences.append("Speed: not measured.")
    sentences += [
        f"{step.title}: {step.detail}"
        for step in job_steps(progress)
        if step.state != "done" and step.key not in ("report", "bench")
    ]
    return tuple(sentences)
