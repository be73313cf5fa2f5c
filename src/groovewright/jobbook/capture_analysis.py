"""Analysing a capture: from the kept recording and its band sheet to a row of the record."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from groovewright.bench.targets.capture_target import target_shift
from groovewright.files.audio import AudioRecording, open_recording, require_two_channels
from groovewright.jobbook import content_store
from groovewright.jobbook.capture_entries import record_analysis
from groovewright.jobbook.capture_record import result_record
from groovewright.jobbook.job_facts import target_request, targets_of
from groovewright.jobbook.models import CaptureAnalysis, CaptureSheet
from groovewright.jobbook.picture_arrays import overview_arrays, picture_arrays
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.capture_result import CaptureResult
from groovewright.testtone.finding.overview import overview
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.tonearm.geometry import Geometry

Progress = Callable[[float, str], None]

# Where each stage ends, as a share of the whole.
CHECKED, READ, OUTLINED = 0.08, 0.22, 0.34


def analyse(sheet: CaptureSheet, progress: Progress) -> CaptureAnalysis:
    """Analyse a capture under a sheet and enter what it showed, or the sentence that refuses it.

    Parameters
    ----------
    progress : callable
        Told the share that is done, 0 to 1, and what is being done. What it raises ends the analysis without an entry.

    Raises
    ------
    ContentDamaged
        If the recording is not in this book, or no longer what it was.
    NotWritten
        If the disk takes no more.
    """
    capture = sheet.capture
    path = content_store.check(
        capture.file_sha256, lambda share: progress(CHECKED * share, "Checking the file against its hash")
    )
    with content_store.under_name(path, capture.name) as named:
        try:
            recording = open_recording(
                named, progress=lambda share: progress(_between(CHECKED, READ, share), "Reading the recording")
            )
        except ValueError as refusal:
            return record_analysis(sheet, result=None, refusal=str(refusal), pictures=None)
        with recording:
            return _analyse(sheet, recording, progress)


def _analyse(sheet: CaptureSheet, recording: AudioRecording, progress: Progress) -> CaptureAnalysis:
    progress(READ, "Drawing the recording")
    pictures: dict[str, Any] = {"overview": overview_arrays(overview(recording))}
    try:
        result = _measured(sheet, recording, progress)
    except ValueError as refusal:
        # The outline is kept, so that the bands can be put in their places by hand.
        return record_analysis(sheet, result=None, refusal=str(refusal), pictures=pictures)
    pictures |= picture_arrays(result.pictures)
    return record_analysis(sheet, result=result_record(recording, result), refusal="", pictures=pictures)


def _measured(sheet: CaptureSheet, recording: AudioRecording, progress: Progress) -> CaptureResult:
    require_two_channels(recording, "a capture")
    first = sheet.capture.sheets.order_by("pk").first() or sheet
    return analyse_capture(
        recording,
        read_band_sheet(sheet.text),
        geometry=_geometry(sheet),
        target_shift=None if sheet.choice is None else target_shift(target_request(sheet.choice)),
        clipping=recording.clipping,
        capture_name=f"capture {sheet.capture.number}",
        # Captures under one sheet are of one test record, whose stated levels they share.
        record_name=f"record of band sheet {first.text_sha256[:12]}",
        progress=lambda share, doing: progress(_between(OUTLINED, 1.0, share), doing),
    )


def _geometry(sheet: CaptureSheet) -> Geometry | None:
    return None if sheet.choice is None else targets_of(sheet.choice).geometry


def _between(start: float, end: float, share: float) -> float:
    return start + (end - start) * share
