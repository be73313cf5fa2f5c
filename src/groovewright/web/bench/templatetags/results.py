"""How results are worded: intervals, forces, chances, and rows of verdicts."""

from __future__ import annotations

from django import template

from groovewright.measurement.formatting import format_force, format_interval, split_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import in_unit
from groovewright.report.layout import minus
from groovewright.report.wording import chance

register = template.Library()
register.filter("chance", chance)


@register.filter
def interval(quantity: Quantity, unit: str = "") -> str:
    """Write the 95 % coverage interval: "1.801 to 1.899 g"; empty when the uncertainty is unknown or none."""
    return minus(format_interval(quantity, unit=unit or None))


@register.filter
def force(quantity: Quantity) -> str:
    """Write a force in grams-force with millinewtons beside it."""
    return minus(format_force(quantity))


@register.filter
def millinewtons(quantity: Quantity) -> str:
    """Write a force in mN, without its uncertainty."""
    value, _, unit = split_quantity(quantity, "mN")
    return minus(f"{value} {unit}")


@register.filter
def grams(force_mn: float) -> str:
    """Write a force that is known in mN in g, to a thousandth."""
    # Rounded first, so that nothing a little below 0 keeps its sign.
    return minus(f"{round(in_unit(Quantity.exact(force_mn, 'mN'), 'g').value, 3) + 0.0:.3f}")
