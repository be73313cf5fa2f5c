"""Quantities with no more digits than anyone would read."""

from __future__ import annotations

import math

from groovewright.measurement.quantity import Quantity

MOST_DIGITS = 6


def in_sensible_digits(quantity: Quantity) -> Quantity:
    """Return a quantity as it is printed: with an uncertainty that leaves its value at most six digits.

    A smaller one is rounded up to that, so that what is printed never claims more than was found.
    """
    uncertainty = quantity.standard_uncertainty
    if not uncertainty or not quantity.value:
        return quantity
    # Two digits of an uncertainty are printed.
    smallest = 10.0 ** (math.floor(math.log10(abs(quantity.value))) + 2 - MOST_DIGITS)
    if uncertainty >= smallest:
        return quantity
    return Quantity.measured(
        quantity.value, quantity.unit, standard_uncertainty=smallest, source="digits printed", how=quantity.how
    )
