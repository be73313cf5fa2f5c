"""How the error of a quantity is distributed: normal or Student's t, and with it the largest rectangular part.

By its standard uncertainty alone a figure that is only rounded would get an interval that holds it always, 13 % too
wide. Where one rectangular part stands out, the error is that part and the rest of it added up, which has a closed
form. Further rectangular parts count as normal, which the sum of several soon is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.measurement.quantity import Quantity

LEAST_HALF_WIDTH = 1e-3
"""Of a rectangular part, against the standard uncertainty of the rest, below which it counts as normal."""

NEAR_ENOUGH = 1e-12


@dataclass(frozen=True, slots=True)
class ErrorShape:
    """Distribution of an error about zero: a rectangular part and an independent normal or t-distributed one.

    Parameters
    ----------
    spread : float
        Standard uncertainty of the normal or t-distributed part, 0 if there is none.
    degrees_of_freedom : float
        Of that part; infinite for a normal one, and above 1 beside a rectangular one.
    half_width : float
        Of the rectangular part, 0 if there is none.
    """

    spread: float
    degrees_of_freedom: float
    half_width: float

    def below(self, error: float) -> float:
        """Return the probability of an error below this one."""
        if self.half_width == 0:
            return _cumulative(error / self.spread, self.degrees_of_freedom)
        if self.spread == 0:
            return min(max((error / self.half_width + 1) / 2, 0.0), 1.0)
        ends = ((error + side * self.half_width) / self.spread for side in (1, -1))
        upper, lower = (_summed(end, self.degrees_of_freedom) for end in ends)
        return min(max((upper - lower) * self.spread / (2 * self.half_width), 0.0), 1.0)

    def exceeded_with(self, risk: float) -> float:
        """Return the error that is exceeded with a probability below one half, on one side."""
        if self.half_width == 0:
            return self.spread * _quantile(risk, self.degrees_of_freedom)
        if self.spread == 0:
            return self.half_width * (1 - 2 * risk)
        from scipy.optimize import brentq

        farthest = self.half_width + self.spread * _quantile(risk, self.degrees_of_freedom)
        # By the lower tail, whose probability keeps its precision. So far out that it has none left, rather too far.
        if self.below(-farthest) >= risk:
            return farthest
        return float(brentq(lambda error: self.below(-error) - risk, 0.0, farthest, xtol=NEAR_ENOUGH * farthest))


def error_shape(quantity: Quantity, *, whole_degrees: bool = False) -> ErrorShape:
    """Return how the error of a quantity is distributed.

    Parameters
    ----------
    quantity : Quantity
        Of known uncertainty.
    whole_degrees : bool
        Truncate degrees of freedom to a whole number, as JCGM 100 asks for a coverage interval. Below 1 they stay as
        they are, since 1 would make it too short.

    Raises
    ------
    ValueError
        If the uncertainty is unknown.

    References
    ----------
    .. [1] JCGM 100:2008, G.2.2 (a rectangular part among others), G.4.1 and G.6.4.
    """
    if quantity.components is None:
        raise ValueError(f"nothing is known of an error without an uncertainty ({quantity.why_unknown})")
    rectangular = max((abs(part) for source, part in quantity.components.items() if source.rectangular), default=0.0)
    total = quantity.standard_uncertainty or 0.0
    if rectangular:
        spread = math.sqrt(max(math.fsum(c * c for c in quantity.components.values()) - rectangular**2, 0.0))
        half_width = math.sqrt(3) * rectangular
        if spread < LEAST_HALF_WIDTH * half_width:
            return ErrorShape(0.0, math.inf, half_width)
        # The effective degrees of freedom are those of all parts together; without the rectangular one they are fewer.
        dof = _whole(quantity.degrees_of_freedom * (spread / total) ** 4, whole_degrees)
        if half_width >= LEAST_HALF_WIDTH * spread and dof > 1:
            return ErrorShape(spread, dof, half_width)
    return ErrorShape(total, _whole(quantity.degrees_of_freedom, whole_degrees), 0.0)


def _whole(degrees_of_freedom: float, wanted: bool) -> float:
    if not wanted or math.isinf(degrees_of_freedom):
        return degrees_of_freedom
    # Four degrees of freedom come out of their formula as 3.9999999999999996 now and then; that is no 3.
    return math.floor(degrees_of_freedom * (1 + NEAR_ENOUGH) + NEAR_ENOUGH) or degrees_of_freedom


def _cumulative(standardised: float, degrees_of_freedom: float) -> float:
    if math.isinf(degrees_of_freedom):
        # erfc keeps its precision in the far tail.
        return 0.5 * math.erfc(-standardised / math.sqrt(2))
    from scipy.special import stdtr

    return float(stdtr(degrees_of_freedom, standardised))


def _quantile(risk: float, degrees_of_freedom: float) -> float:
    from scipy.special import ndtri, stdtrit

    # By the lower tail, whose probability keeps its precision for a large factor.
    if math.isinf(degrees_of_freedom):
        return -float(ndtri(risk))
    return -float(stdtrit(degrees_of_freedom, risk))


def _summed(standardised: float, degrees_of_freedom: float) -> float:
    """Return the integral of the cumulative distribution from minus infinity on.

    Normal: z Phi(z) + phi(z). Student's t with n degrees of freedom: z T(z) + (n + z^2) / (n - 1) t(z).
    """
    z, n = standardised, degrees_of_freedom
    if math.isinf(n):
        return z * _cumulative(z, n) + math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    logarithm = math.lgamma((n + 1) / 2) - math.lgamma(n / 2) - math.log(n * math.pi) / 2
    density = math.exp(logarithm - (n + 1) / 2 * math.log1p(z * z / n))
    return z * _cumulative(z, n) + (n + z * z) / (n - 1) * density
