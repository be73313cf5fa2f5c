"""The visits of a deck, and how far it drifted between two of them."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from groovewright.bench.visits.comparison import compare_visits
from groovewright.jobbook.models import Deck
from groovewright.jobbook.queries import current_rows, visits_of
from groovewright.web.visits.forms import ComparisonForm
from groovewright.web.visits.shown import listed_visits, shown_comparison


@require_GET
def visits(request: HttpRequest, deck: int) -> HttpResponse:
    """List the visits of a deck, and put two of them side by side."""
    known = get_object_or_404(current_rows(Deck).select_related("owner__details"), number=deck)
    all_visits = visits_of(known)
    context = {"deck": known, "page": "jobs", "visits": listed_visits(all_visits)}
    if len(all_visits) < 2:
        return render(request, "visits/page.html", context)
    form = ComparisonForm(all_visits, request.GET)
    context["form"] = form
    if not form.is_valid():
        return render(request, "visits/page.html", context, status=422)
    earlier, *between, later = form.picked
    context["comparison"] = shown_comparison(compare_visits(earlier.visit, later.visit), between)
    return render(request, "visits/page.html", context)
