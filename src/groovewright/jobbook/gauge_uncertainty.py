"""What a gauge lends to a reading that was typed without an uncertainty of its own."""

from __future__ import annotations

from groovewright.jobbook.models import Gauge
from groovewright.measurement.quantity import Quantity


def with_gauge_uncertainty(quantity: Quantity, gauge: Gauge | None) -> Quantity:
    """Return the reading with the gauge's standard uncertainty where it has none of its own.

    The error of a gauge is the same in every reading made with it, so all these share one source.
    An uncertainty that was typed stands as it is.
    """
    if quantity.components is not None or gauge is None or gauge.standard_uncertainty is None:
        return quantity
    if gauge.standard_uncertainty.unit != quantity.unit or not gauge.standard_uncertainty.components:
        return quantity
    return Quantity(
        quantity.value, quantity.unit, gauge.standard_uncertainty.components, how=f"with {gauge.description}"
    )
