"""The plate page: draw a plate, issue it under a number, check its print, issue the corrected one."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groovewright.jobbook import content_store
from groovewright.jobbook.entries import issue_plate
from groovewright.jobbook.job_states import steps_of
from groovewright.jobbook.models import IssuedPlate, Job, Reading, TargetChoice
from groovewright.jobbook.queries import JobRecord, job_record, next_reading_source
from groovewright.plates.plate import draw_plate
from groovewright.plates.svg import scene_to_svg
from groovewright.web.frame.job_frame import job_frame
from groovewright.web.intake.quantity_field import typed_again
from groovewright.web.plates_page.forms import PlateForm, PrintCheckForm, starting_values
from groovewright.web.plates_page.issued import is_true, shown_plates
from groovewright.web.plates_page.issuing import (
    issue_corrected,
    measured_scale,
    record_print_check,
)

MEDIA_TYPES = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf"}
TARGETS_FIRST = "Choose the targets first; a plate is drawn for them."


@require_http_methods(["GET", "POST"])
def plate(request: HttpRequest, number: int) -> HttpResponse:
    """Show the page, or issue the plate that is drawn on it."""
    job = get_object_or_404(Job, number=number)
    record = job_record(job)
    if request.method == "GET":
        return _page(request, record, PlateForm(starting_values(record.plates)))
    form = PlateForm(request.POST)
    if record.choice is None:
        return _page(request, record, form, status=422, refusal=TARGETS_FIRST)
    if not form.is_valid():
        return _page(request, record, form, status=422)
    try:
        issue_plate(job, form.request(record.choice), choice=record.choice)
    except ValueError:
        # The drawing on the page says the same sentence where it would have been.
        return _page(request, record, form, status=422)
    return redirect("plate", number=number)


@require_POST
def preview(request: HttpRequest, number: int) -> HttpResponse:
    """Answer while typing: the drawing, or why there is none, and the words beside the fields."""
    job = get_object_or_404(Job, number=number)
    form = PlateForm(request.POST)
    context = {"form": form, "job": job, **_drawing(form, job_record(job).choice)}
    status = 200 if context["drawing"] else 422
    return render(request, "plates_page/preview.html", context, status=status)


@require_POST
def print_check(request: HttpRequest, number: int, plate_number: str) -> HttpResponse:
    """Enter what the check bars measure; if asked to, issue the corrected plate."""
    issued = get_object_or_404(IssuedPlate, job__number=number, number=plate_number)
    form = _print_check_form(request, issued)
    context = _print_check_results(form, issued)
    if not form.is_valid() or not context.get("scale"):
        record = job_record(issued.job)
        return _page(
            request, record, PlateForm(starting_values(record.plates)), status=422, check={"plate": issued, **context}
        )
    bars = (form.cleaned_data["bar_x"], form.cleaned_data["bar_y"])
    record_print_check(issued, texts=(typed_again(bars[0]), typed_again(bars[1])), bars=bars)
    if request.POST.get("then") == "correct":
        issue_corrected(issued, context["scale"])
    return redirect("plate", number=number)


@require_POST
def print_check_preview(request: HttpRequest, number: int, plate_number: str) -> HttpResponse:
    """Answer while the bars are typed: the factors with their uncertainty, or what would be right."""
    issued = get_object_or_404(IssuedPlate, job__number=number, number=plate_number)
    form = _print_check_form(request, issued)
    context = {"issued": issued, **_print_check_results(form, issued)}
    return render(request, "plates_page/check_preview.html", context, status=200 if context.get("scale") else 422)


@require_GET
def download(request: HttpRequest, number: int, plate_number: str, form: str) -> HttpResponse:
    """Send the file of an issued plate, as it was issued."""
    issued = get_object_or_404(IssuedPlate, job__number=number, number=plate_number)
    if form not in issued.files:
        raise Http404(f"plate {issued.number} has no {form} file; it has {', '.join(issued.files)}")
    try:
        content = content_store.read(issued.files[form])
    except content_store.ContentDamaged as damage:
        return HttpResponse(str(damage), status=410, content_type="text/plain; charset=utf-8")
    answer = HttpResponse(content, content_type=MEDIA_TYPES[form])
    answer["Content-Disposition"] = f'attachment; filename="plate-{issued.number}.{form}"'
    return answer


def _page(
    request: HttpRequest,
    record: JobRecord,
    form: PlateForm,
    *,
    status: int = 200,
    refusal: str = "",
    check: dict[str, Any] | None = None,
) -> HttpResponse:
    context = {
        **job_frame(record.job, steps_of(record), "plate"),
        "form": form,
        "refusal": refusal,
        "choice": record.choice,
        "plates": shown_plates(record),
        "check": check,
        **_drawing(form, record.choice),
    }
    return render(request, "plates_page/page.html", context, status=status)


def _drawing(form: PlateForm, choice: TargetChoice | None) -> dict[str, Any]:
    if choice is None or not form.is_valid():
        return {"drawing": None}
    try:
        scene = draw_plate(form.request(choice))
    except ValueError as refusal:
        return {"drawing": None, "drawing_refusal": str(refusal)}
    kind = form.cleaned_data["kind"]
    # A page takes the drawing without the declaration that a file begins with.
    _, _, drawing = scene_to_svg(scene).partition("\n")
    # Our own writer made this text and escaped every word in it.
    return {"drawing": mark_safe(drawing), "scene": scene, "is_for_cutting": kind == "cut"}


def _print_check_form(request: HttpRequest, issued: IssuedPlate) -> PrintCheckForm:
    kinds = (Reading.Kind.PRINT_BAR_X, Reading.Kind.PRINT_BAR_Y)
    sources = (next_reading_source(issued.job, kinds[0]), next_reading_source(issued.job, kinds[1]))
    return PrintCheckForm(request.POST, plate_number=issued.number, sources=sources)


def _print_check_results(form: PrintCheckForm, issued: IssuedPlate) -> dict[str, Any]:
    # What is asked back is shown all the same: the buttons that keep it stand among the results.
    read = form if form.is_valid() else form.as_confirmed()
    if read is None:
        return {"check_form": form}
    bars = read.cleaned_data["bar_x"], read.cleaned_data["bar_y"]
    try:
        scale = measured_scale(issued, *bars)
    except ValueError as refusal:
        return {"check_form": form, "check_refusal": str(refusal)}
    return {"check_form": form, "scale": scale, "is_true": is_true(*bars)}
