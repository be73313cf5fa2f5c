"""The gauges' page: ready gauges and one's own, compared for a target, without a job and without writing anything."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from groovewright.files.chain_sheet import chain_sheet_text
from groovewright.gauges.ready_chains import READY_CHAINS
from groovewright.web.gauges_page.forms import ComparisonForms, starting_entries
from groovewright.web.gauges_page.results import compared

LOOKS = {key: look for look, key in enumerate((*READY_CHAINS, "own"), start=1)}
NOTHING_PICKED = "No gauge is ticked; tick one, or describe your own."


@require_http_methods(["GET", "POST"])
def compare(request: HttpRequest) -> HttpResponse:
    """Show the gauges compared, as the page opens or by what was typed."""
    typed = ComparisonForms(request.POST if request.method == "POST" else starting_entries())
    results, is_right = _results(typed)
    context = {"page": "gauges", "typed": typed, "ready": READY_CHAINS, **results}
    return render(request, "gauges_page/page.html", context, status=200 if is_right else 422)


@require_POST
def preview(request: HttpRequest) -> HttpResponse:
    """Answer while typing: the comparison, or the words that belong beside the fields."""
    typed = ComparisonForms(request.POST)
    results, is_right = _results(typed)
    answer = render(request, "gauges_page/preview.html", {"typed": typed, **results}, status=200 if is_right else 422)
    if not is_right:
        # The comparison stays as it is; only the words beside the fields are swapped, out of band.
        answer["HX-Reswap"] = "none"
    return answer


@require_GET
def sheet(request: HttpRequest, key: str) -> HttpResponse:
    """Give a ready gauge as the text of a chain sheet, to begin one's own from."""
    if key not in READY_CHAINS:
        raise Http404(f"There is no ready gauge {key}.")
    answer = HttpResponse(chain_sheet_text(READY_CHAINS[key]), content_type="text/plain; charset=utf-8")
    answer["Content-Disposition"] = f'inline; filename="{key}.toml"'
    return answer


def _results(typed: ComparisonForms) -> tuple[dict[str, Any], bool]:
    if not typed.is_valid():
        return {"trouble": "Something typed is not right yet; the comparison waits for it."}, False
    chains = typed.chains()
    if not chains:
        return {"trouble": NOTHING_PICKED}, False
    try:
        return compared(chains, typed.gauge_target(), LOOKS), True
    except ValueError as refusal:
        return {"trouble": f"{str(refusal)[:1].upper()}{str(refusal)[1:]}."}, False
