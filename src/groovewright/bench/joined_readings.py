"""Several readings of one quantity joined into one, with a check that they agree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity, Source, covariance

# Honest readings scatter more than this once in a hundred times.
_DISAGREEMENT_RISK = 0.01


@dataclass(frozen=True)
class JoinedReadings:
    """Readings of one quantity, joined.

    Attributes
    ----------
    quantity : Quantity
        Joined value; where the readings disagree its uncertainty is widened until they would just agree.
    count : int
        How many readings.
    chi_square : float or None
        Weighted sum of squared residuals; None with an unknown uncertainty.
    degrees_of_freedom : int
        What chi-square should be near to.
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


def join_readings(readings: Sequence[Quantity], *, name: str) -> JoinedReadings:
    """Return readings of one quantity joined by weighted least squares with their covariance.

    Parameters
    ----------
    readings : sequence of Quantity
        At least one, all in one unit. Those that share sources are correlated.
    name : str
        What was read, for the note, such as ``"pivot-to-spindle distance"``.

    Returns
    -------
    JoinedReadings
        With one reading of unknown uncertainty among them nothing can be weighted: the plain mean then, of unknown
        uncertainty. Readings that disagree are never averaged in silence: the note names both ends, and the
        uncertainty is widened by the root of chi-square over its degrees of freedom.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2 (correlated inputs) and H.3.
    .. [2] R. T. Birge, Phys. Rev. 40, 207 (1932) (widening by the ratio of external to internal consistency).
    """
    if not readings:
        raise ValueError(f"no reading of the {name} yet")
    units = {reading.unit for reading in readings}
    if len(units) > 1:
        raise ValueError(f"readings of the {name} are in {' and '.join(sorted(units))}; give all in one unit")
    if len(readings) == 1:
        return JoinedReadings(readings[0], 1, 0.0, 0, agree=True, note="")
    unknown = next((reading for reading in readings if reading.standard_uncertainty is None), None)
    if unknown is not None:
        return _plain_mean(readings, unknown, name)

    values = np.array([reading.value for reading in readings])
    matrix = np.array([[covariance(a, b) for b in readings] for a in readings])
    # Readings that share every error have a singular covariance; a millionth of their spread settles the weights.
    floor = max(1e-12 * float(np.trace(matrix)), 1e-18 * float(np.max(np.abs(values)) ** 2), 1e-30)
    inverse = np.linalg.inv(matrix + floor * np.eye(values.size))
    weights = inverse.sum(axis=0) / inverse.sum()
    residuals = values - weights @ values
    chi_square = float(residuals @ inverse @ residuals)
    freedom = values.size - 1

    components: dict[Source, float] = {}
    for weight, reading in zip(weights, readings, strict=True):
        for source, contribution in (reading.components or {}).items():
            components[source] = components.get(source, 0.0) + float(weight) * contribution
    joined = Quantity(
        float(weights @ values),
        readings[0].unit,
        components,
        how=f"{values.size} readings, joined by their uncertainties",
    )
    if _chance_of_more(chi_square, freedom) >= _DISAGREEMENT_RISK:
        return JoinedReadings(joined, values.size, chi_square, freedom, agree=True, note="")
    return JoinedReadings(
        _widened(joined, chi_square / freedom, residuals, name),
        values.size,
        chi_square,
        freedom,
        agree=False,
        note=_disagreement(readings, name),
    )


def _plain_mean(readings: Sequence[Quantity], unknown: Quantity, name: str) -> JoinedReadings:
    value = math.fsum(reading.value for reading in readings) / len(readings)
    mean = Quantity.unknown_uncertainty(
        value, unknown.unit, why=unknown.why_unknown, how=f"plain mean of {len(readings)} readings"
    )
    note = (
        f"One of {len(readings)} readings of the {name} has an unknown uncertainty, so they cannot be weighted: this "
        f"is their plain mean. State that uncertainty, or correct the reading."
    )
    return JoinedReadings(mean, len(readings), None, len(readings) - 1, agree=True, note=note)


def _chance_of_more(chi_square: float, degrees_of_freedom: int) -> float:
    from scipy.special import chdtrc

    return float(chdtrc(degrees_of_freedom, chi_square))


def _widened(
    joined: Quantity, ratio: float, residuals: np.ndarray[tuple[int], np.dtype[np.float64]], name: str
) -> Quantity:
    u = joined.standard_uncertainty or 0.0
    # The scatter cannot ask for more than its own size, however small the stated uncertainties are.
    extra = min(u * math.sqrt(max(ratio - 1, 0.0)) or math.inf, float(np.abs(residuals).max()))
    components = {**(joined.components or {}), Source(f"disagreement of the readings of the {name}"): extra}
    return Quantity(joined.value, joined.unit, components, how=f"{joined.how}, widened because they disagree")


def _disagreement(readings: Sequence[Quantity], name: str) -> str:
    lowest = min(readings, key=lambda reading: reading.value)
    highest = max(readings, key=lambda reading: reading.value)
    return (
        f"The {len(readings)} readings of the {name} disagree by more than their uncertainties allow: from "
        f"{format_quantity(lowest)} to {format_quantity(highest)}. Find out which is wrong and correct it; until then "
        f"the uncertainty is widened to cover them."
    )
