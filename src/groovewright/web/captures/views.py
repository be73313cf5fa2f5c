"""Captures of a job: handing one in, watching its analysis, moving its bands, entering its quantities."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groovewright.jobbook import content_store
from groovewright.jobbook.capture_entries import add_capture, add_capture_sheet, enter_capture
from groovewright.jobbook.entries import EntryRefused
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import Capture, CaptureSheet, Job
from groovewright.jobbook.queries import job_record
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.web.bench.stage import likely_stage
from groovewright.web.captures.forms import CaptureForm, example_sheet, moved_sheet, sheet_to_start_from
from groovewright.web.captures.sheet_text import sheet_text
from groovewright.web.captures.shown import analysis_of, band_rows, capture_context, captures_of, standing_sheet
from groovewright.web.captures.uploads import in_words
from groovewright.web.captures.worker import QUEUE
from groovewright.web.frame.job_frame import job_frame, job_of

CAUTIONS = (
    "Test tones into an open amplifier burn out loudspeakers and hurt ears: turn the volume right down and switch the "
    "loudspeakers off before the stylus is lowered. Record from the line output.",
    "Lower and raise the stylus with the lift, platter turning, and keep the guard on whenever it is not needed.",
)


@require_http_methods(["GET", "POST"])
def captures(request: HttpRequest, number: int) -> HttpResponse:
    """Show the captures of a job with a form for the next, or take one in."""
    job = job_of(number)
    if request.method == "GET":
        stage = likely_stage(job_record(job))
        return _list(request, job, CaptureForm(initial={"stage": stage, "sheet": sheet_to_start_from()}))
    form = CaptureForm(request.POST, request.FILES)
    if not form.is_valid():
        return _list(request, job, form, status=422)
    typed = form.cleaned_data
    size = typed["draft"].stat().st_size
    sheet = add_capture(
        job,
        stage=typed["stage"],
        name=typed["upload_name"],
        size=size,
        file_sha256=content_store.keep_file(typed["draft"]),
        sheet_text=typed["sheet"],
    )
    QUEUE.ask(sheet)
    return redirect("capture", number=number, capture=sheet.capture_id)


@require_GET
def capture_page(request: HttpRequest, number: int, capture: int) -> HttpResponse:
    """Show a capture under the sheet that stands."""
    job = job_of(number)
    return _page(request, job, standing_sheet(_capture(job, capture)))


@require_GET
def earlier(request: HttpRequest, number: int, capture: int, sheet: int) -> HttpResponse:
    """Show a capture under one of its earlier sheets."""
    job = job_of(number)
    return _page(request, job, get_object_or_404(_capture(job, capture).sheets, pk=sheet))


@require_GET
def progress(request: HttpRequest, number: int, capture: int, sheet: int) -> HttpResponse:
    """Say how far an analysis is; once it is done or ended, have the page loaded anew."""
    row = get_object_or_404(CaptureSheet, pk=sheet, capture=capture, job__number=number)
    run = QUEUE.run_of(row)
    if analysis_of(row) is not None or run is None or not run.is_live:
        answer = HttpResponse(status=204)
        answer["HX-Redirect"] = reverse("capture", args=(number, capture))
        return answer
    return render(request, "captures/progress.html", {"job": row.job, "sheet": row, "capture": row.capture, "run": run})


@require_POST
def stop(request: HttpRequest, number: int, capture: int) -> HttpResponse:
    """Stop the analysis of a capture."""
    QUEUE.stop(standing_sheet(_capture(job_of(number), capture)))
    return redirect("capture", number=number, capture=capture)


@require_POST
def run(request: HttpRequest, number: int, capture: int) -> HttpResponse:
    """Analyse a capture that was not finished, or analyse it anew with the targets that stand now."""
    row = _capture(job_of(number), capture)
    sheet = standing_sheet(row)
    if analysis_of(sheet) is not None:
        sheet = add_capture_sheet(row, text=sheet.text, origin=CaptureSheet.Origin.REPEATED)
    QUEUE.ask(sheet)
    return redirect("capture", number=number, capture=capture)


@require_POST
def move_bands(request: HttpRequest, number: int, capture: int) -> HttpResponse:
    """Analyse a capture with its bands where they were put by hand; the earlier analysis stays."""
    job = job_of(number)
    row = _capture(job, capture)
    standing = standing_sheet(row)
    sheet = read_band_sheet(standing.text)
    typed = tuple(
        replace(
            band,
            start=request.POST.get(f"start-{band.place}", ""),
            duration=request.POST.get(f"duration-{band.place}", ""),
        )
        for band in band_rows(sheet, None)
    )
    moved, rows = moved_sheet(sheet, typed)
    if moved is None:
        return _page(request, job, standing, rows=rows, status=422)
    text = sheet_text(moved)
    try:
        read_band_sheet(text)
    except ValueError as refusal:
        return _page(request, job, standing, rows=rows, refusal=str(refusal), status=422)
    new = add_capture_sheet(row, text=text, origin=CaptureSheet.Origin.MOVED)
    QUEUE.ask(new)
    return redirect("capture", number=number, capture=capture)


@require_POST
def enter(request: HttpRequest, number: int, capture: int) -> HttpResponse:
    """Enter what a capture showed into the job as readings."""
    job = job_of(number)
    sheet = standing_sheet(_capture(job, capture))
    analysis = analysis_of(sheet)
    if analysis is None:
        return _page(request, job, sheet, refusal="the analysis is not finished; wait for it first", status=422)
    try:
        enter_capture(analysis)
    except EntryRefused as refusal:
        return _page(request, job, sheet, refusal=str(refusal), status=422)
    return redirect("capture", number=number, capture=capture)


def _capture(job: Job, key: int) -> Capture:
    return get_object_or_404(job.captures, pk=key)


def _list(request: HttpRequest, job: Job, form: CaptureForm, *, status: int = 200) -> HttpResponse:
    context = job_frame(job, steps_of(job_record(job)), "captures") | {
        "form": form,
        "captures": captures_of(job),
        "cautions": CAUTIONS,
        "example": example_sheet(),
        "largest": in_words(settings.LARGEST_RECORDING_BYTES),
    }
    return render(request, "captures/list.html", context, status=status)


def _page(
    request: HttpRequest, job: Job, sheet: CaptureSheet, *, status: int = 200, refusal: str = "", rows: Any = ()
) -> HttpResponse:
    context = job_frame(job, steps_of(job_record(job)), "captures")
    context |= capture_context(sheet, rows) | {"refusal": refusal}
    return render(request, "captures/page.html", context, status=status)
