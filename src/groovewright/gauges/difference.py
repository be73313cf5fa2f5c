"""Whether two readings differ by more than their uncertainty."""

from __future__ import annotations

from groovewright.measurement.coverage import coverage_factor
from groovewright.measurement.quantity import Quantity

RISK = 0.05
"""That readings of what did not change are said to differ."""


def exceeds_uncertainty(difference: Quantity, *, among: int = 1) -> bool:
    """Return whether a difference lies outside its own 95 % interval about 0; False if its uncertainty is unknown.

    Parameters
    ----------
    among : int
        How many differences are looked at together. The interval is then that outside of which not one of them lies by
        chance, 19 times in 20 (Bonferroni).
    """
    u = difference.standard_uncertainty
    return u is not None and abs(difference.value) > coverage_factor(difference, 1 - RISK / among) * u
