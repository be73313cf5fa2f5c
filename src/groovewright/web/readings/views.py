"""Readings: entering them, seeing at once what they mean, correcting and withdrawing them."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from groovewright.jobbook.entries import EntryRefused, record_reading, withdraw_reading
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import Job, Scale
from groovewright.jobbook.queries import JobRecord, current_rows, job_record
from groovewright.web.frame.job_frame import job_frame
from groovewright.web.intake.quantity_field import typed_again
from groovewright.web.readings.forms import KINDS, ReadingForm, WithdrawForm
from groovewright.web.readings.listed import grouped_readings
from groovewright.web.readings.needed import needed_readings, next_reading
from groovewright.web.readings.preview import check_result, shown_result, with_reading

CAUTIONS = (
    "A bare stylus pierces skin and breaks at a touch: lock the arm in its rest, or lift it clear, before hands come "
    "near, and keep the guard on whenever the stylus is not needed.",
    "Platter stopped, amplifier off or its volume right down, before the stylus is lowered, lifted or bumped.",
)


def job_of(number: int) -> Job:
    """Return the job with its deck and owner, or answer 404."""
    return get_object_or_404(Job.objects.select_related("deck__owner__details"), number=number)


@require_http_methods(["GET", "POST"])
def readings(request: HttpRequest, number: int) -> HttpResponse:
    """Show all readings with a form for the next, or enter the one that was typed."""
    job = job_of(number)
    if request.method == "GET":
        return _page(request, job_record(job))
    form = ReadingForm(job, request.POST)
    if not form.is_valid():
        return _page(request, job_record(job), form, status=422)
    try:
        stored = record_reading(job, **form.facts())
    except EntryRefused as refusal:
        form.add_error(None, str(refusal))
        return _page(request, job_record(job), form, status=422)
    if not request.htmx:
        return redirect("readings", number=number)
    return _page(request, job_record(job), stored=stored)


@require_POST
def preview(request: HttpRequest, number: int) -> HttpResponse:
    """Say what the reading that is being typed would mean. Never writes."""
    job = job_of(number)
    form = ReadingForm(job, request.POST)
    record = job_record(job)
    if form.is_valid():
        facts = form.facts()
        shown = shown_result(with_reading(record, facts), kind=facts["kind"], stage=facts["stage"])
        return render(request, "readings/preview.html", {"shown": shown, "form": form, "typing": True})
    context = {"form": form, "typing": True, "entry_errors": form.errors.get("entry", [])}
    return render(request, "readings/preview.html", context, status=422)


@require_http_methods(["GET"])
def correct(request: HttpRequest, number: int, reading: int) -> HttpResponse:
    """Show the form with a reading that is to be corrected."""
    job = job_of(number)
    row = get_object_or_404(job.readings.filter(corrected_by=None, withdrawn=False), pk=reading)
    fields = {name: getattr(row, name) for name in ("stage", "kind", "place", "surface", "note")}
    fields |= {"entry": row.text, "gauge": row.gauge_id, "scale": row.scale_id, "corrects": row.pk}
    fields |= {"platform_height": typed_again(row.platform_height)}
    return _page(request, job_record(job), ReadingForm(job, initial=fields), corrected=row)


@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, number: int, reading: int) -> HttpResponse:
    """Take a reading out of all results, with the reason."""
    job = job_of(number)
    row = get_object_or_404(job.readings.filter(corrected_by=None, withdrawn=False), pk=reading)
    form = WithdrawForm(request.POST if request.method == "POST" else None)
    context = _frame(job_record(job)) | {"form": form, "reading": row}
    if request.method == "GET":
        return render(request, "readings/withdraw.html", context)
    if not form.is_valid():
        return render(request, "readings/withdraw.html", context, status=422)
    withdraw_reading(row, note=form.cleaned_data["note"])
    return redirect("readings", number=number)


def _frame(record: JobRecord, stored: Any = None) -> dict[str, Any]:
    needed = needed_readings(record)
    fields = next_reading(record, needed)
    # What was just stored is what one wants to see, although the form is ready for the next.
    kind, stage = (fields["kind"], fields["stage"]) if stored is None else (stored.kind, stored.stage)
    shown = shown_result(record, kind=kind, stage=stage)
    return job_frame(record.job, steps_of(record), "readings") | {
        "needed": needed,
        "fields": fields,
        "shown": shown,
    }


def _page(
    request: HttpRequest,
    record: JobRecord,
    form: ReadingForm | None = None,
    *,
    status: int = 200,
    stored: Any = None,
    corrected: Any = None,
) -> HttpResponse:
    context = _frame(record, stored)
    if form is None:
        fields = context["fields"] | {"platform_height": typed_again(context["fields"].get("platform_height"))}
        form = ReadingForm(record.job, initial=fields)
    elif form.is_bound and corrected is None and form.cleaned_data.get("corrects"):
        corrected = form.cleaned_data["corrects"]
    context |= {
        "form": form,
        "stored": stored,
        "corrected": corrected,
        "groups": grouped_readings(record),
        "checks": [check_result(check) for check in reversed(record.scale_checks)],
        "cautions": CAUTIONS,
        "kinds": KINDS,
        "has_scales": current_rows(Scale).exists(),
    }
    template = "readings/section.html" if request.htmx else "readings/page.html"
    return render(request, template, context, status=status)
