"""Checks of the scale with known weights, before and after the readings of a job."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from groovewright.jobbook.entries import EntryRefused, check_scale
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import Job, Scale, ScaleCheck
from groovewright.jobbook.queries import current_rows, job_record
from groovewright.web.bench.panel import address_of
from groovewright.web.bench.scale_check_form import LOADS, ScaleCheckForm
from groovewright.web.bench.scale_check_result import check_before_entry
from groovewright.web.frame.job_frame import job_frame, job_of
from groovewright.web.frame.way_back import chosen_in

CHANGED = (
    "Meanwhile this check was corrected; the newer one is on the bench. What you typed is still here: press the same "
    "button again to correct that one."
)


@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, number: int) -> HttpResponse:
    """Enter what a scale showed under known weights."""
    job = job_of(number)
    if request.method == "GET":
        when = request.GET.get("when", ScaleCheck.When.BEFORE)
        usual = {"when": when, "accuracy_class": "M1", "load_1": "empty", "load_2": "2 g"}
        form = ScaleCheckForm(initial=usual | chosen_in(request.GET, "scale"))
        return _page(request, job, form)
    return _enter(request, job, corrects=None)


@require_http_methods(["GET", "POST"])
def correct_check(request: HttpRequest, number: int, check: int) -> HttpResponse:
    """Enter a check anew; the old one stays readable."""
    job = job_of(number)
    row = get_object_or_404(job.scale_checks.select_related("scale"), pk=check)
    now = row.current()
    if request.method == "GET":
        return _page(request, job, ScaleCheckForm(initial=typed_before(now)), corrects=now)
    if now != row:
        form = ScaleCheckForm(request.POST)
        form.add_error(None, CHANGED)
        return _page(request, job, form, corrects=now, status=422)
    return _enter(request, job, corrects=row)


@require_POST
def preview_check(request: HttpRequest, number: int) -> HttpResponse:
    """Say what the check that is being typed shows of the scale. Never writes."""
    job = job_of(number)
    form = ScaleCheckForm(request.POST)
    if not form.is_valid():
        return render(request, "bench/check_result.html", {"form": form, "typing": True}, status=422)
    shown = check_before_entry(job, form.facts())
    return render(request, "bench/check_result.html", {"form": form, "shown": shown, "typing": True})


def typed_before(row: ScaleCheck) -> dict[str, Any]:
    """Return the fields of a check that is to be corrected: its loads, and under each what was typed."""
    fields: dict[str, Any] = {"scale": row.scale_id, "when": row.when, "note": row.note, "accuracy_class": "M1"}
    shown: dict[str, list[str]] = {}
    for load in row.readings:
        for weight in load["weights"]:
            fields["accuracy_class"] = weight["name"].partition(", class ")[2] or fields["accuracy_class"]
        names = " + ".join(weight["name"].partition(", class ")[0] for weight in load["weights"]) or "empty"
        shown.setdefault(names, []).append(load["text"] or f"{load['indication_mn']:.6g} mN")
    for k, (names, texts) in enumerate(list(shown.items())[:LOADS], start=1):
        fields |= {f"load_{k}": names, f"shown_{k}": "; ".join(texts)}
    return fields


def _enter(request: HttpRequest, job: Job, *, corrects: ScaleCheck | None) -> HttpResponse:
    form = ScaleCheckForm(request.POST)
    if not form.is_valid():
        return _page(request, job, form, corrects=corrects, status=422)
    shown = check_before_entry(job, form.facts())
    if shown.refusal:
        form.add_error(None, shown.refusal)
        return _page(request, job, form, corrects=corrects, status=422)
    try:
        check_scale(job=job, corrects=corrects, **form.facts())
    except EntryRefused as refusal:
        form.add_error(None, str(refusal))
        return _page(request, job, form, corrects=corrects, status=422)
    return redirect(address_of(job.number, "enter=tracking_force"))


def _page(
    request: HttpRequest, job: Job, form: ScaleCheckForm, *, corrects: ScaleCheck | None = None, status: int = 200
) -> HttpResponse:
    context = job_frame(job, steps_of(job_record(job)), "bench")
    context |= {"form": form, "corrects": corrects, "has_scales": current_rows(Scale).exists()}
    return render(request, "bench/check.html", context, status=status)
