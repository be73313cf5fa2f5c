"""The uncertainty budget: which source gives how much of a combined standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.measurement.quantity import Quantity


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One line of an uncertainty budget.

    Parameters
    ----------
    source : str
        Label of the cause.
    contribution : float
        Standard uncertainty it gives to the result, never negative, in the unit of the result.
    share : float
        Its part of the variance; the shares of a budget add up to 1.
    degrees_of_freedom : float
    """

    source: str
    contribution: float
    share: float
    degrees_of_freedom: float


def uncertainty_budget(quantity: Quantity) -> tuple[BudgetRow, ...]:
    """Return the budget of a quantity, largest contribution first.

    The parts of one fit or calibration stand in one row, since none of them has a meaning alone. A quantity
    without uncertainty has an empty budget.

    Raises
    ------
    ValueError
        If the uncertainty is unknown.
    """
    if quantity.components is None:
        raise ValueError(f"no budget without an uncertainty ({quantity.why_unknown})")
    variances: dict[tuple[str, float], float] = {}
    for source, contribution in quantity.components.items():
        key = (source.ensemble or source.label, source.degrees_of_freedom)
        variances[key] = variances.get(key, 0.0) + contribution**2
    total = math.fsum(variances.values())
    rows = [
        BudgetRow(label, math.sqrt(variance), variance / total, dof)
        for (label, dof), variance in variances.items()
        if variance > 0
    ]
    return tuple(sorted(rows, key=lambda row: (-row.contribution, row.source)))
