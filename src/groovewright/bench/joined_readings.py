"""Several readings of one quantity joined into one, with a check that they agree."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.measurement.quantity import Quantity


@dataclass(frozen=True)
class JoinedReadings:
    """Readings of one quantity, joined.

    Attributes
    ----------
    quantity : Quantity
        Joined value; where the readings disagree its uncertainty is widened until they would just agree.
    count : int
        How many readings.
    chi_square, degrees_of_freedom : float, int
        Weighted sum of squared residuals, and what it should be near to; None with an unknown uncertainty.
    agree : bool
        False when the scatter is larger than the stated uncertainties allow.
    note : str
        One sentence where the reader should know more; else empty.
    """

    quantity: Quantity
    count: int
    chi_square: float | None
    degrees_of_freedom: int
    agree: bool
    note: str
