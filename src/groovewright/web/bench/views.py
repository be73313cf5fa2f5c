"""The bench: what all readings say together of the seven settings, the next move, and entering moves and readings."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groovewright.jobbook.entries import (
    EntryRefused,
    record_adjustment,
    record_reading,
    record_readings,
    withdraw_adjustment,
)
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.queries import JobRecord, job_record
from groovewright.tonearm.arm_state import Adjustments
from groovewright.web.bench.forms import BenchReadingForm, MoveForm, TraceForm, likely_stage
from groovewright.web.bench.outcome import Outcome, outcome_of
from groovewright.web.bench.traced import last_trace
from groovewright.web.frame.job_frame import job_frame
from groovewright.web.readings.bench_kinds import BENCH_KINDS
from groovewright.web.readings.forms import WithdrawForm
from groovewright.web.readings.views import CAUTIONS, job_of


@require_GET
def bench(request: HttpRequest, number: int) -> HttpResponse:
    """Show the seven settings and the next move."""
    return _page(request, job_record(job_of(number)))


@require_POST
def read(request: HttpRequest, number: int) -> HttpResponse:
    """Enter a reading."""
    job = job_of(number)
    form = BenchReadingForm(job, request.POST)
    if form.is_valid():
        try:
            record_reading(job, **form.facts())
        except EntryRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("bench", number=number)
    return _page(request, job_record(job), reading_form=form, status=422)


@require_GET
def correct(request: HttpRequest, number: int, reading: int) -> HttpResponse:
    """Show the form with a reading that is to be corrected."""
    job = job_of(number)
    standing = job.readings.filter(corrected_by=None, withdrawn=False, kind__in=BENCH_KINDS, analysis=None)
    row = get_object_or_404(standing, pk=reading)
    initial = {name: getattr(row, name) for name in ("kind", "stage", "note")}
    initial |= {"entry": row.text, "gauge": row.gauge_id, "corrects": row.pk}
    initial |= {"radius": "" if row.radius_mm is None else f"{row.radius_mm:g} mm"}
    return _page(request, job_record(job), reading_form=BenchReadingForm(job, initial=initial), corrected=row)


@require_http_methods(["GET", "POST"])
def trace(request: HttpRequest, number: int) -> HttpResponse:
    """Enter where the stylus sat beside the arc of a plate, all places at once."""
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
    context = job_frame(job, steps_of(record), "bench") | {
        "form": form,
        "cautions": CAUTIONS,
        "traced": last_trace(record),
    }
    return render(request, "bench/trace.html", context, status=422 if form.is_bound else 200)


@require_POST
def move(request: HttpRequest, number: int) -> HttpResponse:
    """Enter a move that was made."""
    job = job_of(number)
    form = MoveForm(request.POST)
    if form.is_valid():
        try:
            record_adjustment(job, **form.facts(as_asked=_as_asked(form, job_record(job))))
        except EntryRefused as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("bench", number=number)
    return _page(request, job_record(job), move_form=form, status=422)


@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, number: int, move: int) -> HttpResponse:
    """Take a move back that was never made, with the reason."""
    job = job_of(number)
    row = get_object_or_404(job.adjustments.filter(corrected_by=None, withdrawn=False), pk=move)
    form = WithdrawForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        withdraw_adjustment(row, note=form.cleaned_data["note"])
        return redirect("bench", number=number)
    context = _frame(job_record(job)) | {"form": form, "move": row}
    return render(request, "bench/withdraw.html", context, status=422 if form.is_bound else 200)


def _frame(record: JobRecord) -> dict[str, Any]:
    return job_frame(record.job, steps_of(record), "bench")


def _page(
    request: HttpRequest,
    record: JobRecord,
    *,
    reading_form: BenchReadingForm | None = None,
    move_form: MoveForm | None = None,
    corrected: Any = None,
    status: int = 200,
) -> HttpResponse:
    job = record.job
    outcome = outcome_of(record)
    if corrected is None and reading_form is not None and reading_form.is_bound:
        corrected = reading_form.cleaned_data.get("corrects")
    context = _frame(record) | {
        "outcome": outcome,
        "reading_form": reading_form or BenchReadingForm(job, initial=_next_reading(outcome, record)),
        "move_form": move_form or MoveForm(initial=asked_amounts(outcome)),
        "moves": [row for row in reversed(record.adjustments)],
        "corrected": corrected,
        "cautions": CAUTIONS,
    }
    return render(request, "bench/page.html", context, status=status)


def _next_reading(outcome: Outcome, record: JobRecord) -> dict[str, Any]:
    """Return how the form of the next reading stands before anything is typed."""
    fields = {"stage": likely_stage(record)}
    wanted = outcome.wanted_reading
    if wanted is not None and wanted.kind in BENCH_KINDS:
        fields |= {"kind": wanted.kind}
        fields |= {} if wanted.radius_mm is None else {"radius": f"{wanted.radius_mm:.4g} mm"}
    return fields


def asked_amounts(outcome: Outcome) -> dict[str, str]:
    """Return the amounts of the proposed move as they would be typed."""
    if outcome.move is None:
        return {}
    units = {"mm": "mm", "deg": "deg", "mn": "mN"}
    return {
        field.name: f"{amount:.2f} {units[field.name.rsplit('_', 1)[1]]}"
        for field in fields(Adjustments)
        if (amount := getattr(outcome.move.amounts, field.name))
    }


def _as_asked(form: MoveForm, record: JobRecord) -> str:
    """Return the instruction of the proposal where just that was made."""
    outcome = outcome_of(record)
    asked = asked_amounts(outcome)
    typed = {name: form[name].data.strip() for name in form.fields if name in Adjustments.__slots__ and form[name].data}
    if outcome.move is None or typed != asked:
        return ""
    # What it disturbs was said then; the record keeps what was done.
    return f"{outcome.move.sentence.partition(';')[0].rstrip('.')}."
