"""Entries about captures, written as those in `entries` are: rows are added, and nothing is ever changed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import PurePosixPath
from typing import Any

from groovewright import __version__
from groovewright.jobbook import content_store
from groovewright.jobbook.capture_record import result_from_record
from groovewright.jobbook.entries import EntryRefused, _next_paper_number
from groovewright.jobbook.job_record import standing
from groovewright.jobbook.ledger import append, append_all, writing
from groovewright.jobbook.models import Capture, CaptureAnalysis, CaptureSheet, Job, Reading
from groovewright.jobbook.reading_kinds import CAPTURE_UNITS
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import printed_unit

LONGEST_NAME = 150
SMALLEST_SAID = 0.001


def add_capture(job: Job, *, stage: str, name: str, size: int, file_sha256: str, sheet_text: str) -> CaptureSheet:
    """Enter a recording that is kept already, with the band sheet it is to be analysed with; return that sheet."""
    with writing():
        capture = append(
            Capture(
                job=job,
                number=_next_paper_number(job, Capture, "C"),
                stage=stage,
                name=PurePosixPath(name.replace("\\", "/")).name[-LONGEST_NAME:],
                size=size,
                file_sha256=file_sha256,
            )
        )
        return add_capture_sheet(capture, text=sheet_text, origin=CaptureSheet.Origin.GIVEN)


def add_capture_sheet(capture: Capture, *, text: str, origin: str) -> CaptureSheet:
    """Enter a further band sheet for a capture; it is compared with the targets that stand now."""
    with writing():
        return append(
            CaptureSheet(
                job_id=capture.job_id,
                capture=capture,
                origin=origin,
                text=text,
                text_sha256=hashlib.sha256(text.encode()).hexdigest(),
                choice=capture.job.target_choices.order_by("-pk").first(),
            )
        )


def record_analysis(
    sheet: CaptureSheet, *, result: Mapping[str, Any] | None, refusal: str, pictures: Mapping[str, Any] | None
) -> CaptureAnalysis:
    """Enter what a capture showed under a sheet, or why it showed nothing."""
    pictures_sha256 = "" if pictures is None else content_store.keep(json.dumps(pictures).encode())
    with writing():
        if CaptureAnalysis.objects.filter(sheet=sheet).exists():
            raise EntryRefused("this sheet was analysed already; load the page again")
        return append(
            CaptureAnalysis(
                job_id=sheet.job_id,
                sheet=sheet,
                program=__version__,
                result=None if result is None else dict(result),
                refusal=refusal,
                pictures_sha256=pictures_sha256,
            )
        )


def enter_capture(analysis: CaptureAnalysis) -> tuple[Reading, ...]:
    """Enter the single quantities of an analysis into its job as readings of the capture's stage.

    A reading that an earlier analysis of the same capture gave is corrected by the new one; one that the new analysis
    does not show is withdrawn.
    """
    if analysis.result is None:
        raise EntryRefused("this capture showed nothing that could be entered")
    capture = analysis.sheet.capture
    shown = result_from_record(analysis.result).quantities
    single = {kind: shown[kind] for kind in CAPTURE_UNITS if isinstance(shown.get(kind), Quantity)}
    if not single:
        raise EntryRefused("this capture shows no quantity that a job keeps as a reading")
    with writing():
        standing_now = _standing_readings(capture)
        if any(reading.analysis_id == analysis.pk for reading in standing_now.values()):
            raise EntryRefused("these quantities were entered already; they stand among the readings of the job")
        rows = [_reading(analysis, kind, quantity, standing_now.pop(kind, None)) for kind, quantity in single.items()]
        gone = [_withdrawal(analysis, reading) for reading in standing_now.values() if not reading.withdrawn]
        append_all([*rows, *gone])
        return tuple(rows)


def _withdrawal(analysis: CaptureAnalysis, reading: Reading) -> Reading:
    return Reading(
        job_id=analysis.job_id,
        kind=reading.kind,
        stage=reading.stage,
        analysis=analysis,
        quantity=None,
        withdrawn=True,
        note=f"not shown by the later analysis of {analysis.sheet.capture}",
        corrects=reading,
    )


def _standing_readings(capture: Capture) -> dict[str, Reading]:
    readings = Reading.objects.filter(job_id=capture.job_id).order_by("pk")
    return {reading.kind: reading for reading in standing(list(readings.filter(analysis__sheet__capture=capture)))}


def _reading(analysis: CaptureAnalysis, kind: str, quantity: Quantity, corrects: Reading | None) -> Reading:
    sheet = analysis.sheet
    return Reading(
        job_id=analysis.job_id,
        kind=kind,
        stage=sheet.capture.stage,
        text=_text(quantity),
        quantity=quantity,
        analysis=analysis,
        note=f"recording {sheet.capture.file_sha256[:12]}, band sheet {sheet.text_sha256[:12]}",
        corrects=corrects,
    )


def _text(quantity: Quantity) -> str:
    """Return a quantity in words; digits beyond what any deck is set to are left to the quantity itself."""
    u = quantity.standard_uncertainty
    if u is None or u == 0 or u >= SMALLEST_SAID:
        return format_quantity(quantity)
    unit = printed_unit(quantity.unit)
    return f"{quantity.value:.3f} {unit} ± < {SMALLEST_SAID} {unit}"
