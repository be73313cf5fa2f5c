"""What the page of a capture shows: its recording, the sheet that stands, how far its analysis is, what it showed."""

from __future__ import annotations

from typing import Any

from groovewright.jobbook import content_store
from groovewright.jobbook.capture_record import StoredResult, result_from_record
from groovewright.jobbook.models import Capture, CaptureAnalysis, CaptureSheet, Job
from groovewright.jobbook.picture_arrays import read_pictures
from groovewright.jobbook.reading_kinds import CAPTURE_UNITS
from groovewright.testtone.sheet.band_sheet import Band, BandSheet, read_band_sheet
from groovewright.web.captures.figures import figures_of, overview_figure
from groovewright.web.captures.forms import BandRow
from groovewright.web.captures.results import result_groups
from groovewright.web.captures.uploads import in_words
from groovewright.web.captures.worker import QUEUE

# How the sentence begins that warns of clipping, which stands before all results.
CLIPPED = "Clipped"


def standing_sheet(capture: Capture) -> CaptureSheet:
    """Return the newest sheet of a capture."""
    return capture.sheets.select_related("analysis", "capture", "choice").order_by("-pk")[0]


def analysis_of(sheet: CaptureSheet) -> CaptureAnalysis | None:
    """Return what the sheet's analysis entered, if it has."""
    return getattr(sheet, "analysis", None)


def captures_of(job: Job) -> list[dict[str, Any]]:
    """Return the captures of a job, newest first, each with its sheet and how far its analysis is."""
    rows = [(capture, standing_sheet(capture)) for capture in job.captures.order_by("-pk")]
    return [
        {"row": capture, "size": in_words(capture.size), "sheet": sheet, "analysis": analysis_of(sheet),
         "run": QUEUE.run_of(sheet)}
        for capture, sheet in rows
    ]  # fmt: skip


def capture_context(sheet: CaptureSheet, rows: tuple[BandRow, ...] = ()) -> dict[str, Any]:
    """Return all that the page shows of a capture under one of its sheets.

    Parameters
    ----------
    rows : tuple of BandRow
        Bands as they were typed, where something is wrong with them.
    """
    capture = sheet.capture
    analysis = analysis_of(sheet)
    band_sheet = read_band_sheet(sheet.text)
    result = None if analysis is None or analysis.result is None else result_from_record(analysis.result)
    notes = () if result is None else result.notes
    context = {
        "capture": capture,
        "size": in_words(capture.size),
        "sheet": sheet,
        "analysis": analysis,
        "is_newest": not capture.sheets.filter(pk__gt=sheet.pk).exists(),
        "run": None if analysis is not None else QUEUE.run_of(sheet),
        "earlier": capture.sheets.exclude(pk=sheet.pk).select_related("analysis").order_by("-pk"),
        "bands": rows or band_rows(band_sheet, result),
        "result": result,
        "warnings": [note for note in notes if note.startswith(CLIPPED)],
        "notes": [note for note in notes if not note.startswith(CLIPPED)],
        "groups": () if result is None else result_groups(result),
        "entered": () if analysis is None else analysis.readings.filter(withdrawn=False).order_by("pk"),
        "can_enter": result is not None and bool(set(result.quantities) & set(CAPTURE_UNITS)),
    }
    return context | _pictures(analysis, result)


def _pictures(analysis: CaptureAnalysis | None, result: StoredResult | None) -> dict[str, Any]:
    if analysis is None or not analysis.pictures_sha256:
        return {}
    try:
        pictures = read_pictures(content_store.read(analysis.pictures_sha256))
        hum = () if result is None else result.quantities.get("hum", ())
        lines = [(entry.at.value, entry.quantity.value) for entry in hum if entry.at.value > 0]
        return {"outline": overview_figure(pictures["overview"]), "figures": figures_of(pictures, lines)}
    except content_store.ContentDamaged as damage:
        return {"pictures_trouble": str(damage)}
    except (ValueError, KeyError, TypeError, IndexError, AttributeError):
        # The file came from elsewhere, in an archive: it has its hash and yet may be no pictures at all.
        return {"pictures_trouble": "The kept pictures cannot be read; analyse the capture again."}


def band_rows(sheet: BandSheet, result: StoredResult | None) -> tuple[BandRow, ...]:
    """Return the bands of a sheet with the places where they were found, or else those that the sheet gives."""
    placed = {} if result is None else {band.name: band for band in result.bands}
    rows = []
    for place, band in enumerate(sheet.bands):
        at = placed.get(band.name)
        start_s, duration_s = (band.start_s, band.duration_s) if at is None else (at.start_s, at.duration_s)
        how = "not found" if at is None and result is not None else "" if at is None else at.how
        rows.append(BandRow(place, band.name, _words(band), _seconds(start_s), _seconds(duration_s), how))
    return tuple(rows)


def _words(band: Band) -> str:
    tones = " and ".join(f"{frequency:g}" for frequency in band.frequency_hz)
    if band.kind == "sweep":
        tones = f"{band.frequency_hz[0]:g} to {band.frequency_hz[1]:g}"
    cut = "" if band.kind == "silence" else f", {band.cut}"
    hertz = f" {tones} Hz" if tones else ""
    # A number and its unit stay on one line.
    return f"{band.kind}{hertz}{cut}, {band.radius_mm[0]:g} to {band.radius_mm[1]:g}\N{NO-BREAK SPACE}mm"


def _seconds(seconds: float | None) -> str:
    return "" if seconds is None else f"{seconds:.3f}".rstrip("0").rstrip(".")
