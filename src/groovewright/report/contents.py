"""What the job book knows of a job, put together for its report."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from groovewright.report.parts import AS_FOUND, AS_LEFT, DETAILS_DELETED, HandOver, Head, Photo, ReportContents

if TYPE_CHECKING:
    from groovewright.jobbook.job_record import JobRecord
    from groovewright.jobbook.job_states import JudgedJob
    from groovewright.jobbook.models import Attachment, Job

__all__ = ["ReportContents", "contents_of_job", "head_of", "numbered", "proposal"]

NO_WORKSHOP = "Workshop without a name"

COME_BACK_HOURS = 500.0
"""Of playing until a stylus is looked at again: rule of thumb."""

COME_BACK_DAYS = 365
"""Until a set-up is checked again, whatever was played: rule of thumb."""


def contents_of_job(
    job: Job,
    *,
    record: JobRecord | None = None,
    report_date: date | None = None,
    report_number: str = "",
    head: Head | None = None,
    words: HandOver | None = None,
) -> ReportContents:
    """Return the contents of a job's report as the record is now.

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
    head : Head, optional
        The letterhead; without one, that of the job book.
    words : HandOver, optional
        What the workshop says besides; without it, only what the record shows.

    Raises
    ------
    ValueError
        In one sentence, if a chosen photo is not of this job or cannot be read.
    """
    from groovewright.bench.targets.target_curves import curves
    from groovewright.jobbook.job_facts import facts_of, targets_of
    from groovewright.jobbook.queries import job_record
    from groovewright.report import evidence, findings

    record = record or job_record(job)
    words = words or HandOver()
    judged, why_no_state = _judged(record)
    state = None if judged is None else judged.state
    targets = None if record.choice is None else targets_of(record.choice)
    grooves, no_grooves = findings.grooves_of(record, state)
    last = evidence.last_entry(record)
    intake = record.intake
    return ReportContents(
        report_date=report_date or last.day,
        report_number=report_number,
        head=head or head_of(),
        words=words,
        job_number=str(record.job.number),
        record_number=str(last.sequence),
        record_hash=last.digest,
        taken_in=record.job.opened,
        left_on=evidence.last_read(record, AS_LEFT),
        owner=_owner(record),
        equipment=evidence.equipment_of(record),
        stylus_hours=evidence.stylus_hours_of(record),
        complaint=record.complaint,
        records_played="" if intake is None else evidence.records_played(intake),
        innermost_mm=None if intake is None else intake.innermost_mm,
        outermost_mm=None if intake is None else intake.outermost_mm,
        targets=findings.target_set(targets),
        state=state,
        why_no_state=why_no_state,
        rule="" if judged is None else judged.bench.inputs.rule.describe(),
        grooves=grooves,
        no_grooves=no_grooves,
        target_curves=None
        if targets is None or targets.geometry is None
        else curves(targets, targets.request.innermost_mm, targets.request.outermost_mm),
        null_readings=evidence.null_readings_of(record),
        readings=evidence.readings_of(record),
        gauges=evidence.gauges_of(record),
        plates=evidence.plates_of(record),
        adjusted=findings.adjusted_of(record),
        moves=findings.moves_of(record),
        visit_before=findings.visit_before_of(record),
        resonance=findings.resonance_of(facts_of(record)),
        work=evidence.work_of(record),
        faults=findings.faults_of(record, state),
        missing=_missing(record, judged, why_no_state),
        photos=_photos(record, words),
    )


def numbered(contents: ReportContents, report_number: str) -> ReportContents:
    """Return the same contents under the number they are issued under."""
    return replace(contents, report_number=report_number)


def proposal(record: JobRecord, *, today: date) -> HandOver:
    """Return what a new report of a job begins with: what its newest report said, and when to come back."""
    if not record.reports:
        return HandOver(come_back_hours=COME_BACK_HOURS, come_back_on=today + timedelta(days=COME_BACK_DAYS))
    said = record.reports[-1].assessment.get("words") or {}
    on = said.get("come_back_on")
    return HandOver(
        done=tuple(said.get("done", ())),
        parts_fitted=tuple(said.get("parts_fitted", ())),
        time_spent=said.get("time_spent", ""),
        come_back_hours=said.get("come_back_hours", COME_BACK_HOURS),
        come_back_on=date.fromisoformat(on) if on else today + timedelta(days=COME_BACK_DAYS),
        photos=said.get("photos", {}),
    )


def head_of(name: str | None = None) -> Head:
    """Return the letterhead of the job book; under another name, where one is given.

    In a book that has none it is the name on the newest report, as books had before letterheads.
    """
    from groovewright.jobbook import content_store
    from groovewright.jobbook.models import IssuedReport, Letterhead

    row = Letterhead.objects.order_by("-pk").first()
    if row is None:
        newest = IssuedReport.objects.order_by("-pk").first()
        before = "" if newest is None else str(newest.assessment.get("workshop", ""))
        return Head(name or before or NO_WORKSHOP)
    lines = tuple(line.strip() for line in row.address.splitlines() if line.strip())
    logo = content_store.read(row.logo_sha256) if row.logo_sha256 else None
    return Head(name or row.name, lines, logo, "svg" if row.logo_media_type == "image/svg+xml" else "png")


def _judged(record: JobRecord) -> tuple[JudgedJob | None, str]:
    from groovewright.jobbook.job_states import judged_job

    try:
        return judged_job(record), ""
    except ValueError as refusal:
        return None, f"The seven settings cannot be told: {str(refusal).rstrip('.')}."


def _owner(record: JobRecord) -> str | None:
    from groovewright.jobbook.models import OwnerDetailsChange

    owner = record.deck.owner
    details = getattr(owner, "details", None)
    if details is not None and details.name:
        return str(details.name)
    erased = OwnerDetailsChange.objects.filter(owner=owner, what=OwnerDetailsChange.What.ERASED).exists()
    return DETAILS_DELETED if erased else None


def _photos(record: JobRecord, words: HandOver) -> tuple[Photo, ...]:
    from groovewright.jobbook import content_store
    from groovewright.report.pictures import printable_photo

    kept: dict[str, Attachment] = {str(row.uid): row for row in record.attachments}
    strangers = set(words.photos) - set(kept)
    if strangers:
        raise ValueError(f"a photo that was chosen ({min(strangers)[:8]}) is not among the files of this job")
    return tuple(
        Photo(printable_photo(content_store.read(kept[uid].file_sha256), kept[uid].name), caption)
        for uid, caption in words.photos.items()
    )


def _missing(record: JobRecord, judged: JudgedJob | None, why_no_state: str) -> tuple[str, ...]:
    """Return what the report cannot say, and why: what was not read, and steps that are not done."""
    from groovewright.bench.estimate.settings import SETTINGS
    from groovewright.jobbook.job_states import steps_of
    from groovewright.report.wording import listed

    sentences = [why_no_state] if why_no_state else []
    decks = {} if judged is None else {AS_FOUND: judged.state.as_found, AS_LEFT: judged.state.as_left}
    for stage, deck in decks.items():
        if deck is not None:
            unread = [SETTINGS[one.key].title.lower() for one in deck.settings if one.basis == "not read"]
            sentences += [f"Not read {stage}: {listed(unread)}."] if unread else []
    if not record.readings_of("speed_error"):
        sentences.append("Speed: not measured.")
    sentences += [
        f"{step.title}: {step.detail}"
        for step in steps_of(record)
        if step.state != "done" and step.key not in ("report", "bench")
    ]
    return tuple(sentences)
