"""The bench: the seven settings, what comes next, and the entry of readings, moves, faults and files."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.jobbook.entries import (
    EntryRefused,
    record_adjustment,
    record_fault,
    record_readings,
    withdraw_adjustment,
    withdraw_fault,
    withdraw_reading,
)
from groovewright.jobbook.job_facts import facts_of
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import Job, Reading
from groovewright.jobbook.queries import JobRecord, job_record
from groovewright.web.bench.groove import groove_figure, shown_groove
from groovewright.web.bench.kinds import KINDS
from groovewright.web.bench.last_trace import last_trace
from groovewright.web.bench.listed import PRINT_BARS, listed_page
from groovewright.web.bench.move_form import MoveForm
from groovewright.web.bench.outcome import outcome_of
from groovewright.web.bench.panel import address_of, panel_of, wanted_reading
from groovewright.web.bench.reading_form import FaultForm, ReadingForm, WithdrawForm
from groovewright.web.bench.scale_check_result import check_result
from groovewright.web.bench.stage import likely_stage
from groovewright.web.bench.trace_form import TraceForm
from groovewright.web.frame.job_frame import job_frame, job_of

CAUTIONS = (
    "A bare stylus pierces skin and breaks at a touch: lock the arm in its rest, or lift it clear, before hands come "
    "near, and keep the guard on whenever the stylus is not needed.",
    "Platter stopped, amplifier off or its volume right down, before the stylus is lowered, lifted or bumped.",
)


@require_GET
def bench(request: HttpRequest, number: int) -> HttpResponse:
    """Show the bench; its entry alone where that is asked for."""
    record = job_record(job_of(number))
    if request.htmx:
        outcome = outcome_of(record)
        context = {"job": record.job, "outcome": outcome} | panel_of(record, outcome, request.GET)
        return render(request, "bench/entry.html", context)
    return _page(request, record)


@require_http_methods(["GET", "POST"])
def readings(request: HttpRequest, number: int) -> HttpResponse:
    """List the readings of a job, or enter what was typed and ask for the next."""
    job = job_of(number)
    if request.method == "GET":
        return _list(request, job)
    form = _reading_form(request, job)
    if form.is_valid():
        try:
            stored = record_readings(job, form.facts())
        except EntryRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            return _next(job, stored[-1].pk)
    return _page(request, job_record(job), reading_form=form, status=422)


@require_POST
def preview(request: HttpRequest, number: int) -> HttpResponse:
    """Say what the reading that is being typed would make of its setting. Never writes."""
    job = job_of(number)
    form = _reading_form(request, job)
    if not request.POST.get("entry", "").strip():
        return HttpResponse("")
    # What is only asked back can be stored on a second press, so it is shown as well.
    kept = form if form.is_valid() else form.as_confirmed()
    if kept is None:
        return render(request, "bench/preview.html", {"form": form}, status=422)
    outcome = outcome_of(_with_readings(kept.record, kept.facts()))
    context = {"form": form, "outcome": outcome, "of": form.of, "is_shown": True}
    if form.of.subject in SETTINGS:
        context["row"] = next((row for row in outcome.rows if row.setting.key == form.of.subject), None)
    elif outcome.state is not None:
        name = {"distance": "pivot_to_spindle_mm", "friction": "friction_coefficient"}[form.of.subject]
        context["quantity"] = outcome.state.now.state[name]
    return render(request, "bench/preview.html", context)


@require_POST
def move(request: HttpRequest, number: int) -> HttpResponse:
    """Enter a move that was made."""
    job = job_of(number)
    form = MoveForm(request.POST)
    if form.is_valid():
        proposed = outcome_of(job_record(job)).move
        try:
            record_adjustment(job, **form.facts(proposed=proposed))
        except EntryRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            return _next(job, "move")
    return _page(request, job_record(job), move_form=form, status=422)


@require_POST
def fault(request: HttpRequest, number: int) -> HttpResponse:
    """Enter a fault."""
    job = job_of(number)
    form = FaultForm(request.POST)
    if not form.is_valid():
        return _page(request, job_record(job), fault_form=form, status=422)
    record_fault(job, **form.cleaned_data)
    return redirect(f"{address_of(number)}#faults")


@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, number: int, what: str, key: int) -> HttpResponse:
    """Take a reading, a move or a fault out of all results, with the reason."""
    job = job_of(number)
    rows = {
        "reading": job.readings.exclude(kind__in=PRINT_BARS),
        "move": job.adjustments.all(),
        "fault": job.faults.all(),
    }
    if what not in rows:
        raise Http404(f"nothing called {what!r} is withdrawn")
    row = get_object_or_404(rows[what].filter(corrected_by=None, withdrawn=False), pk=key)
    form = WithdrawForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        take_back = {"reading": withdraw_reading, "move": withdraw_adjustment, "fault": withdraw_fault}[what]
        take_back(row, note=form.cleaned_data["note"])
        return redirect("bench", number=number)
    context = _frame(job_record(job)) | {"form": form, "row": row, "what": what}
    return render(request, "bench/withdraw.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "POST"])
def trace(request: HttpRequest, number: int) -> HttpResponse:
    """Enter where the stylus was beside the arc of a plate, all places at once."""
    job = job_of(number)
    record = job_record(job)
    form = TraceForm(job, request.POST if request.method == "POST" else None, initial={"stage": likely_stage(record)})
    if request.method == "POST" and form.is_valid():
        try:
            record_readings(job, form.facts())
        except EntryRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("bench-trace", number=number)
    context = _frame(record) | {"form": form, "cautions": CAUTIONS, "traced": last_trace(record)}
    return render(request, "bench/trace.html", context, status=422 if form.is_bound else 200)


@require_GET
def groove(request: HttpRequest, number: int) -> HttpResponse:
    """Show tracking error and distortion over the groove, as found and as left."""
    shown = shown_groove(job_record(job_of(number)))
    return render(request, "bench/groove.html", {"shown": shown, "figure": groove_figure(shown)})


def _reading_form(request: HttpRequest, job: Job) -> ReadingForm:
    kind = request.POST.get("kind", "")
    if kind not in KINDS:
        raise Http404(f"{kind!r} is no kind of reading that is entered here")
    return ReadingForm(job, kind, request.POST)


def _with_readings(record: JobRecord, typed: list[dict[str, Any]]) -> JobRecord:
    """Return the record of a job as it would be with more readings."""
    corrected = {facts["corrects"].pk for facts in typed if facts["corrects"] is not None}
    rows = (Reading(job=record.job, recorded_at=timezone.now(), **facts) for facts in typed)
    return replace(record, readings=(*(row for row in record.readings if row.pk not in corrected), *rows))


def _next(job: Job, stored: object) -> HttpResponse:
    """Go back to the bench, which says what was stored and has the entry open that is wanted next."""
    record = job_record(job)
    wanted = wanted_reading(record, outcome_of(record))
    asked = "" if wanted is None else f"&{wanted.query}"
    return redirect(address_of(job.number, f"stored={stored}{asked}"))


def _frame(record: JobRecord) -> dict[str, Any]:
    return job_frame(record.job, steps_of(record), "bench")


def _list(request: HttpRequest, job: Job) -> HttpResponse:
    record = job_record(job)
    context = {"job": job, "listed": listed_page(record, request.GET.get("page"))}
    if request.htmx:
        return render(request, "bench/readings.html", context)
    return render(request, "bench/readings_page.html", _frame(record) | context)


def _page(
    request: HttpRequest, record: JobRecord, *, fault_form: FaultForm | None = None, status: int = 200, **forms: Any
) -> HttpResponse:
    outcome = outcome_of(record)
    facts = facts_of(record)
    asked = request.GET if request.method == "GET" else {}
    context = _frame(record) | panel_of(record, outcome, asked, **forms)
    context |= {
        "outcome": outcome,
        "wanted": wanted_reading(record, outcome),
        "stored": _stored(record, asked.get("stored", "")),
        "stored_move": record.adjustments[-1] if asked.get("stored") == "move" and record.adjustments else None,
        "record": record,
        "facts": facts,
        # Those that were written come first in the state; they are listed with a button.
        "read_faults": () if outcome.state is None else outcome.state.now.faults[len(record.faults) :],
        "resonance": _resonance(facts),
        "moves": record.adjustments[::-1],
        "checks": [check_result(check) for check in reversed(record.scale_checks)],
        "fault_form": fault_form or FaultForm(initial={"found": likely_stage(record)}),
        "cautions": CAUTIONS,
        "capture_count": record.job.captures.count(),
    }
    return render(request, "bench/page.html", context, status=status)


def _stored(record: JobRecord, key: str) -> Reading | None:
    return next((reading for reading in reversed(record.readings) if str(reading.pk) == key), None)


def _resonance(facts: Any) -> Any:
    try:
        return facts.resonance()
    except ValueError:
        return None
