"""The choose page: conditions typed, criteria compared on a plan, curves and a table, targets entered."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from groovewright.bench.targets.targets import Targets, choose_targets
from groovewright.jobbook.entries import record_targets
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import Job
from groovewright.jobbook.queries import JobRecord, job_record
from groovewright.web.choose.comparison import HEADINGS, compare, curve_of
from groovewright.web.choose.curves_figure import curves_figure
from groovewright.web.choose.forms import TANGENTIAL, ChooseForm
from groovewright.web.choose.plan import draw_plan, plan_for_browser
from groovewright.web.choose.starting_values import known_arm, known_distance, same_request, starting_values
from groovewright.web.frame.job_frame import job_frame


@require_http_methods(["GET", "POST"])
def choose(request: HttpRequest, number: int) -> HttpResponse:
    """Show the page, or enter the targets that were chosen."""
    job = get_object_or_404(Job, number=number)
    record = job_record(job)
    if request.method == "GET":
        values = starting_values(record)
        # While the distance is not known there is nothing to compute, and nothing wrong either.
        known = values if values["pivot_to_spindle"] or values["arm_kind"] == TANGENTIAL else None
        form = ChooseForm(known, initial=values, known_distance=known_distance(record), arm=known_arm(record))
        return _page(request, record, form)
    form = ChooseForm(request.POST, known_distance=known_distance(record), arm=known_arm(record))
    if not form.is_valid():
        return _page(request, record, form, status=422)
    try:
        targets = choose_targets(form.request(form.cleaned_data["criterion"]))
    except ValueError as refusal:
        return _page(request, record, form, status=422, refusal=str(refusal))
    record_targets(job, targets)
    # No plate is drawn for an arm without a pivot.
    return redirect("bench" if targets.geometry is None else "plate", number=number)


@require_POST
def preview(request: HttpRequest, number: int) -> HttpResponse:
    """Answer while typing: the pictures, or the words that belong beside the fields."""
    job = get_object_or_404(Job, number=number)
    record = job_record(job)
    form = ChooseForm(request.POST, known_distance=known_distance(record), arm=known_arm(record))
    # What is asked back is drawn all the same: the button that keeps it stands among the pictures.
    drawn = form if form.is_valid() else form.as_confirmed()
    context = {"form": form, "job": job, **(_results(drawn, record) if drawn else {})}
    answer = render(request, "choose/preview.html", context, status=200 if drawn else 422)
    if not drawn:
        # The pictures stay as they are; only the words beside the fields are swapped, out of band.
        answer["HX-Reswap"] = "none"
    return answer


def _page(
    request: HttpRequest,
    record: JobRecord,
    form: ChooseForm,
    *,
    status: int = 200,
    refusal: str = "",
) -> HttpResponse:
    drawn = form if form.is_valid() else form.as_confirmed()
    results = _results(drawn, record) if drawn else {}
    context = {**job_frame(record.job, steps_of(record), "choose"), "form": form, "refusal": refusal, **results}
    return render(request, "choose/page.html", context, status=status)


def _results(form: ChooseForm, record: JobRecord) -> dict[str, Any]:
    rows = compare(form)
    key = form.cleaned_data["criterion"]
    chosen = next(row for row in rows if row.key == key)
    # Criteria share out an error; without any there is nothing to compare.
    comparable = form.cleaned_data["arm_kind"] != TANGENTIAL
    results: dict[str, Any] = {
        "rows": rows if comparable else (),
        "headings": HEADINGS,
        "chosen_key": key,
        "standing": record.choice,
    }
    if chosen.targets is None:
        return {**results, "refusal": chosen.refusal}
    results |= {"chosen": chosen}
    if record.choice is not None:
        results["standing_is_shown"] = same_request(record.choice, chosen.targets.request)
    if chosen.targets.geometry is None:
        return results
    curves = {row.key: curve_of(row.targets) for row in rows if row.targets is not None}
    names = {row.key: row.name for row in rows}
    return {**results, **_pictures(chosen.targets, curves, names, key)}


def _pictures(targets: Targets, curves: dict[str, Any], names: dict[str, str], key: str) -> dict[str, Any]:
    request = targets.request
    plan = draw_plan(targets, radius_mm=(request.innermost_mm * request.outermost_mm) ** 0.5)
    nulls = [null for null, _ in plan.nulls]
    return {
        "plan": plan,
        "plan_numbers": plan_for_browser(plan, curves[key]),
        "figure": curves_figure(curves, names=names, chosen=key, null_radii_mm=nulls),
    }
