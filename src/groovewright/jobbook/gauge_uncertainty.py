"""What a gauge lends to the readings made with it."""

from __future__ import annotations

import math

from groovewright.jobbook.models import Gauge
from groovewright.measurement.quantity import Quantity, Source


def with_gauge_uncertainty(quantity: Quantity, gauge: Gauge | None) -> Quantity:
    """Return the reading with the error of its gauge as a source that all readings with that gauge share.

    A reading typed without an uncertainty gets the gauge's; how well it repeats is then left to several readings. A
    typed uncertainty keeps its size: what is the gauge's in it is shared, the rest is the reading's own.
    """
    lent = None if gauge is None else gauge.standard_uncertainty
    if gauge is None or lent is None or lent.unit != quantity.unit or not lent.components:
        return quantity
    if quantity.components is None:
        return Quantity(quantity.value, quantity.unit, lent.components, how=f"with {gauge.description}")
    typed, of_gauge = quantity.standard_uncertainty, lent.standard_uncertainty
    if not typed or not of_gauge:
        return quantity
    share = min(1.0, of_gauge / typed)
    components: dict[Source, float] = {
        source: part * share * typed / of_gauge for source, part in lent.components.items()
    }
    if share < 1:
        rest = math.sqrt(1 - share**2)
        components |= {source: part * rest for source, part in quantity.components.items()}
    return Quantity(quantity.value, quantity.unit, components, how=quantity.how)
