"""Whether two readings differ by more than their uncertainty."""

from __future__ import annotations

from groovewright.measurement.coverage import coverage_factor
from groovewright.measurement.quantity import Quantity


def exceeds_uncertainty(difference: Quantity) -> bool:
    """Return whether a difference lies outside its own 95 % interval about 0; False if its uncertainty is unknown."""
    u = difference.standard_uncertainty
    return u is not None and abs(difference.value) > coverage_factor(difference) * u
