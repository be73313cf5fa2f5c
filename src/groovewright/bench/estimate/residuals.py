"""Every reading beside what all readings together, and the others alone, say that it should show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from groovewright.bench.estimate.joint_estimate import Estimate
from groovewright.bench.estimate.observations import ObservationKind
from groovewright.measurement.quantity import Quantity


@dataclass(frozen=True)
class Residual:
    """What a reading shows beside what all readings together say it should show.

    Attributes
    ----------
    label, kind : str
        Of the reading.
    measured : Quantity
        As read.
    fitted : float
        By the estimate, at the time of the reading.
    by_the_rest, by_the_rest_uncertainty : float
        What the other readings say of it, and the standard uncertainty of that.
    in_uncertainties : float
        Measured less `by_the_rest`, in standard uncertainties of that difference; 0 where both are exact and agree.
    """

    label: str
    kind: ObservationKind
    measured: Quantity
    fitted: float
    by_the_rest: float
    by_the_rest_uncertainty: float
    in_uncertainties: float

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        return {
            "label": self.label,
            "kind": self.kind,
            "measured": self.measured.as_json(),
            "fitted": self.fitted,
            "by_the_rest": {
                "value": self.by_the_rest,
                "unit": self.measured.unit,
                "standard_uncertainty": self.by_the_rest_uncertainty,
            },
            "in_uncertainties": self.in_uncertainties,
        }


def residuals_of(estimate: Estimate) -> tuple[Residual, ...]:
    """Return the residual of every reading, in the order of the readings."""
    spread = np.linalg.norm(estimate.leave_one_out_errors, axis=1)
    rest = np.linalg.norm(estimate.reading_errors - estimate.leave_one_out_errors, axis=1)
    return tuple(
        Residual(
            reading.label,
            reading.kind,
            reading.quantity,
            fitted=float(estimate.fitted[k]),
            by_the_rest=reading.quantity.value - float(estimate.leave_one_out_residual[k]),
            by_the_rest_uncertainty=float(rest[k]),
            in_uncertainties=float(estimate.leave_one_out_residual[k] / spread[k]) if spread[k] else 0.0,
        )
        for k, reading in enumerate(estimate.observations)
    )
