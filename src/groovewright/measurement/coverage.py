"""Coverage intervals of a quantity (JCGM 100, clause 6 and annex G), and whether Monte Carlo bears them out."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

from groovewright.measurement.error_shape import error_shape
from groovewright.measurement.monte_carlo import Draws
from groovewright.measurement.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Validation:
    """Whether a coverage interval agrees with the Monte Carlo one (JCGM 101, clause 8).

    Parameters
    ----------
    difference_low, difference_high : float
        How far the ends lie apart, in the unit of the quantity.
    numerical_tolerance : float
        Half a unit of the last significant digit asked for in the standard uncertainty.
    """

    difference_low: float
    difference_high: float
    numerical_tolerance: float

    @property
    def is_valid(self) -> bool:
        """True if both ends agree within the numerical tolerance."""
        return max(self.difference_low, self.difference_high) <= self.numerical_tolerance


def coverage_factor(quantity: Quantity, probability: float = 0.95) -> float:
    """Return how many standard uncertainties reach to each end of a coverage interval.

    From the t-distribution of the effective degrees of freedom, truncated to a whole number as G.4.1 asks, and with a
    rectangular part among the others by the distribution of their sum: 1.65 for a figure that is only rounded.
    Without any uncertainty it is that of a normal distribution.

    References
    ----------
    .. [1] JCGM 100:2008, G.2, G.3, G.4 and G.6.4.
    """
    _between_0_and_1(probability)
    uncertainty = quantity.standard_uncertainty
    if not uncertainty:
        return NormalDist().inv_cdf((1 + probability) / 2)
    return error_shape(quantity, whole_degrees=True).exceeded_with((1 - probability) / 2) / uncertainty


def coverage_interval(quantity: Quantity, probability: float = 0.95) -> tuple[float, float]:
    """Return both ends of a coverage interval, in the unit of the quantity.

    Raises
    ------
    ValueError
        If the uncertainty is unknown.
    """
    uncertainty = quantity.standard_uncertainty
    if uncertainty is None:
        raise ValueError(f"no coverage interval without an uncertainty ({quantity.why_unknown})")
    reach = coverage_factor(quantity, probability) * uncertainty
    return quantity.value - reach, quantity.value + reach


def numerical_tolerance(standard_uncertainty: float, significant_digits: int = 2) -> float:
    """Return half a unit of the last significant digit of a standard uncertainty (JCGM 101, 7.9.2).

    >>> numerical_tolerance(0.0754, 1), numerical_tolerance(10.1)
    (0.005, 0.5)
    """
    if not standard_uncertainty > 0:
        raise ValueError(f"a numerical tolerance needs an uncertainty above 0, not {standard_uncertainty}")
    # By way of printing, which carries 9.96 over to 10 as the clause does.
    exponent = int(f"{standard_uncertainty:.{significant_digits - 1}e}".partition("e")[2])
    return 0.5 * float(f"1e{exponent - significant_digits + 1}")


def validate(quantity: Quantity, draws: Draws, *, probability: float = 0.95, significant_digits: int = 2) -> Validation:
    """Compare the coverage interval of a quantity with the shortest one of its Monte Carlo draws.

    References
    ----------
    .. [1] JCGM 101:2008, clause 8.1.
    """
    if quantity.unit != draws.unit:
        raise ValueError(f"the quantity is in {quantity.unit} and its draws are in {draws.unit}")
    low, high = coverage_interval(quantity, probability)
    drawn_low, drawn_high = draws.shortest_interval(probability)
    tolerance = numerical_tolerance(draws.standard_uncertainty, significant_digits)
    return Validation(abs(low - drawn_low), abs(high - drawn_high), tolerance)


def _between_0_and_1(probability: float) -> None:
    if not 0 < probability < 1:
        raise ValueError(f"a coverage probability lies between 0 and 1, not at {probability}")
