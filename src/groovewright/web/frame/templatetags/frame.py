"""Tags for every page: icons, quantities as shown, and verdict scales."""

from __future__ import annotations

from urllib.parse import urlencode

from django import template
from django.utils.safestring import SafeString, mark_safe

from groovewright.measurement.conformity import Verdict
from groovewright.measurement.formatting import format_number, format_quantity, split_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.report.layout import minus
from groovewright.web.frame.icons import icon_svg
from groovewright.web.frame.verdict_scale import VerdictScale, verdict_scale
from groovewright.web.frame.way_back import NEXT

register = template.Library()


@register.simple_tag(takes_context=True)
def way_back_here(context: template.Context) -> str:
    """Write the query of a link that is to lead back to the page it stands on, also from a part that htmx fetched."""
    request = context["request"]
    return f"?{urlencode({NEXT: request.htmx.current_url_abs_path or request.get_full_path()})}"


@register.simple_tag
def icon(name: str) -> SafeString:
    """Draw one of our icons."""
    return mark_safe(icon_svg(name))


# A sentence of ours says "-0.5 mm"; on a page its minus is as wide as the one of the numbers beside it. What a user
# typed is never put through this.
register.filter("minus", minus)


@register.filter
def parts(quantity: Quantity, unit: str = "") -> dict[str, str | None]:
    """Split a quantity into value, uncertainty and unit as they are shown; `unit` converts first."""
    value, uncertainty, shown_unit = split_quantity(quantity, unit or None)
    if quantity.standard_uncertainty == 0:
        uncertainty = None
    return {"value": minus(value), "uncertainty": uncertainty, "unit": shown_unit}


@register.filter
def shown(quantity: Quantity, unit: str = "") -> str:
    """Write a quantity in one line: "222.00 mm ± 0.30 mm"."""
    return minus(format_quantity(quantity, unit=unit or None))


@register.filter
def scale_of(verdict: Verdict) -> VerdictScale:
    """Place the marks of a verdict scale."""
    return verdict_scale(verdict)


@register.filter
def limit(value: float) -> str:
    """Write a limit without idle zeros, with a minus sign as wide as a plus."""
    return minus(format_number(value, None))
