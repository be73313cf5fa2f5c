"""The workshop: its letterhead, scales and gauges, owners, and the deletion of an owner's personal data."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from groovewright.jobbook.entries import (
    EntryRefused,
    add_gauge,
    add_scale,
    erase_owner_details,
    replace_owner_details,
    set_letterhead,
)
from groovewright.jobbook.models import Deck, Gauge, Job, Letterhead, Owner, Scale
from groovewright.jobbook.queries import current_rows
from groovewright.web.attachments.kept_file import kept_file
from groovewright.web.bench.scale_check_result import check_result
from groovewright.web.frame.way_back import back_with, way_back
from groovewright.web.workshop.forms import EraseForm, GaugeForm, LetterheadForm, OwnerForm, ScaleForm

OWNERS_ON_A_PAGE = 25


@require_GET
def workshop(request: HttpRequest) -> HttpResponse:
    """Show scales and gauges, and owners by name."""
    sought = request.GET.get("sought", "").strip()[:100]
    owners = Owner.objects.select_related("details").order_by("-number")
    if sought:
        owners = owners.filter(details__name__icontains=sought)
    context = {
        "page": "workshop",
        "sought": sought,
        "owners": Paginator(owners, OWNERS_ON_A_PAGE).get_page(request.GET.get("page")),
    }
    if request.htmx:
        return render(request, "workshop/owners.html", context)
    context |= {
        "scales": [(scale, scale.checks.order_by("-pk").first()) for scale in current_rows(Scale)],
        "gauges": current_rows(Gauge),
        "letterhead": _letterhead(),
    }
    return render(request, "workshop/page.html", context)


@require_http_methods(["GET", "POST"])
def letterhead(request: HttpRequest) -> HttpResponse:
    """Show the letterhead of the reports, and store a new one."""
    if request.method == "GET":
        return _letterhead_page(request, LetterheadForm.of(_letterhead()))
    form = LetterheadForm.of(_letterhead(), request.POST, request.FILES)
    if not form.is_valid():
        return _letterhead_page(request, form, status=422)
    set_letterhead(**form.facts())
    return redirect("workshop")


@require_GET
def logo(request: HttpRequest) -> HttpResponse:
    """Send the logo of the letterhead."""
    row = _letterhead()
    if row is None or not row.logo_sha256:
        raise Http404("the letterhead has no logo")
    kind = "svg" if row.logo_media_type == "image/svg+xml" else "png"
    return kept_file(request, sha256=row.logo_sha256, media_type=row.logo_media_type, name=f"logo.{kind}")


def _letterhead() -> Letterhead | None:
    return Letterhead.objects.order_by("-pk").first()


def _letterhead_page(request: HttpRequest, form: LetterheadForm, *, status: int = 200) -> HttpResponse:
    context = {"form": form, "letterhead": _letterhead(), "page": "workshop"}
    return render(request, "workshop/letterhead.html", context, status=status)


@require_http_methods(["GET", "POST"])
def new_scale(request: HttpRequest) -> HttpResponse:
    """Add a scale."""
    form = ScaleForm(request.POST if request.method == "POST" else None)
    if request.method == "GET":
        return _form_page(request, form, "Add a scale")
    if not form.is_valid():
        return _form_page(request, form, "Add a scale", status=422)
    return redirect(_back(request, scale=add_scale(**form.cleaned_data).pk))


@require_http_methods(["GET", "POST"])
def scale(request: HttpRequest, key: int) -> HttpResponse:
    """Show a scale with its checks, and describe it anew."""
    # An older page names the row that another one has corrected since.
    row = get_object_or_404(Scale, pk=key).current()
    checks = [check_result(check) for check in row.checks.filter(corrected_by=None).order_by("-pk")[:10]]
    if request.method == "GET":
        return _form_page(request, ScaleForm.of(row), str(row), checks=checks)
    form = ScaleForm.of(row, request.POST)
    if not form.is_valid():
        return _form_page(request, form, str(row), checks=checks, status=422)
    try:
        add_scale(corrects=row, **form.cleaned_data)
    except EntryRefused as refusal:
        form.add_error(None, str(refusal))
        return _form_page(request, form, str(row), checks=checks, status=422)
    return redirect("workshop")


@require_http_methods(["GET", "POST"])
def new_gauge(request: HttpRequest) -> HttpResponse:
    """Add a gauge."""
    form = GaugeForm(request.POST if request.method == "POST" else None)
    if request.method == "GET":
        return _form_page(request, form, "Add a gauge")
    if not form.is_valid():
        return _form_page(request, form, "Add a gauge", status=422)
    return redirect(_back(request, gauge=add_gauge(**form.facts()).pk))


@require_http_methods(["GET", "POST"])
def gauge(request: HttpRequest, key: int) -> HttpResponse:
    """Describe a gauge anew."""
    row = get_object_or_404(Gauge, pk=key).current()
    if request.method == "GET":
        return _form_page(request, GaugeForm.of(row), str(row))
    form = GaugeForm.of(row, request.POST)
    if not form.is_valid():
        return _form_page(request, form, str(row), status=422)
    try:
        add_gauge(corrects=row, **form.facts())
    except EntryRefused as refusal:
        form.add_error(None, str(refusal))
        return _form_page(request, form, str(row), status=422)
    return redirect("workshop")


@require_http_methods(["GET", "POST"])
def owner(request: HttpRequest, number: int) -> HttpResponse:
    """Show an owner with decks and jobs, and replace the details."""
    row = get_object_or_404(Owner.objects.select_related("details"), number=number)
    if request.method == "GET":
        return _owner_page(request, row, OwnerForm.of(row))
    form = OwnerForm.of(row, request.POST)
    if not form.is_valid():
        return _owner_page(request, row, form, status=422)
    replace_owner_details(row, **form.cleaned_data)
    return redirect("owner", number=number)


@require_http_methods(["GET", "POST"])
def erase(request: HttpRequest, number: int) -> HttpResponse:
    """Delete an owner's personal data for good; the record remains under the owner's number."""
    row = get_object_or_404(Owner.objects.select_related("details"), number=number)
    form = EraseForm(request.POST if request.method == "POST" else None)
    context = {"owner": row, "form": form, "page": "workshop"}
    if request.method == "GET":
        return render(request, "workshop/erase.html", context)
    if not form.is_valid():
        return render(request, "workshop/erase.html", context, status=422)
    erase_owner_details(row)
    return redirect("owner", number=number)


def _back(request: HttpRequest, **added: int) -> str:
    """Return where the page was asked for, with what was added chosen there; else the workshop."""
    address = way_back(request)
    return back_with(address, **added) if address else reverse("workshop")


def _form_page(
    request: HttpRequest, form: Any, title: str, *, checks: list[Any] | None = None, status: int = 200
) -> HttpResponse:
    context = {
        "form": form,
        "heading": title,
        "checks": checks or [],
        "page": "workshop",
        "way_back": way_back(request),
    }
    return render(request, "workshop/form.html", context, status=status)


def _owner_page(request: HttpRequest, row: Owner, form: OwnerForm, *, status: int = 200) -> HttpResponse:
    context = {
        "owner": row,
        "form": form,
        "page": "workshop",
        "decks": current_rows(Deck).filter(owner=row),
        "jobs": Job.objects.filter(deck__owner=row).select_related("deck").order_by("-number"),
        "changes": row.details_changes.order_by("-pk"),
    }
    return render(request, "workshop/owner.html", context, status=status)
