"""Several readings of one quantity joined into one, with a check that they agree."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity, Source, covariance

# Honest readings scatter more than this once in a hundred times: our choice, as for the whole job.
_DISAGREEMENT_RISK = 0.01

# Scatter below this share of the values is rounding.
_ROUNDING = 1e-12


@dataclass(frozen=True)
class JoinedReadings:
    """Readings of one quantity, joined.

    Attributes
    ----------
    quantity : Quantity
        Joined value; where the readings disagree, or do not say how well they repeat, their scatter is part of its
        uncertainty.
    count : int
        How many readings.
    chi_square : float or None
        Weighted sum of squared residuals; None with an unknown uncertainty.
    degrees_of_freedom : int
        What chi-square should be near to, where every reading has an error of its own.
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


@dataclass(frozen=True)
class _Mean:
    """Readings joined in one step."""

    quantity: Quantity
    chi_square: float
    agree: bool


def join_readings(readings: Sequence[Quantity], *, name: str) -> JoinedReadings:
    """Return readings of one quantity joined by what they do not share.

    The error of a reading has a part that others have too, such as the error of the gauge, and a part of its own. Only
    the own parts settle the weights, and only they shrink with the number of readings: a shared error stays whole, and
    no weights are sought that would cancel it. Readings by one gauge are joined first, then those of several gauges.

    Parameters
    ----------
    readings : sequence of Quantity
        At least one, all in one unit. Those that name the same source share its error.
    name : str
        What was read, for the note, such as ``"pivot-to-spindle distance"``.

    Returns
    -------
    JoinedReadings
        With one reading of unknown uncertainty among them nothing can be weighted: the plain mean then, of unknown
        uncertainty. Where the readings have no part of their own, or scatter by more than that explains (chi-square,
        1 %), the standard deviation of their mean is added, with its degrees of freedom. Readings disagree when they
        scatter by more than their own parts explain or, without such parts, by more than their whole uncertainties
        would if they were independent. The note names both ends then.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2.3 (standard deviation of the mean), 5.2 (shared sources) and H.3.
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

    alike = _alike(readings)
    within = [_mean(group, _scatter_label(group, readings, name)) for group in alike]
    between = _mean([mean.quantity for mean in within], f"scatter between {len(alike)} gauges for the {name}")
    steps = (*within, between)
    joined = Quantity(
        between.quantity.value,
        between.quantity.unit,
        between.quantity.components,
        how=f"{len(readings)} readings, joined by what they do not share",
    )
    agree = all(step.agree for step in steps)
    return JoinedReadings(
        joined,
        len(readings),
        math.fsum(step.chi_square for step in steps),
        len(readings) - 1,
        agree=agree,
        note="" if agree else _disagreement(readings, name),
    )


def _alike(readings: Sequence[Quantity]) -> list[list[Quantity]]:
    """Return the readings in groups that share the same sources, such as those by one gauge."""
    shared = _shared_sources(readings)
    groups: dict[frozenset[Source], list[Quantity]] = {}
    for reading in readings:
        groups.setdefault(frozenset(_sources(reading) & shared), []).append(reading)
    return list(groups.values())


def _sources(reading: Quantity) -> set[Source]:
    return {source for source, contribution in (reading.components or {}).items() if contribution}


def _shared_sources(readings: Iterable[Quantity]) -> set[Source]:
    seen: set[Source] = set()
    shared: set[Source] = set()
    for reading in readings:
        shared |= _sources(reading) & seen
        seen |= _sources(reading)
    return shared


def _scatter_label(group: Sequence[Quantity], readings: Sequence[Quantity], name: str) -> str:
    """Return a label that tells the scatter of this group from that of the others."""
    label = f"scatter of {len(group)} readings of the {name}"
    by_all = set.intersection(*(_sources(reading) for reading in readings))
    by_group = set.intersection(*(_sources(reading) for reading in group)) & _shared_sources(readings)
    names = sorted(source.label for source in by_group - by_all)
    return f"{label}, with {', '.join(names)}" if names else label


def _mean(readings: Sequence[Quantity], scatter_label: str) -> _Mean:
    """Return the mean by what the readings do not share; their scatter joins it where that does not explain it."""
    if len(readings) == 1:
        return _Mean(readings[0], 0.0, agree=True)
    values = np.array([reading.value for reading in readings])
    own = _own_variances(readings)
    has_own = bool((own > 0).all())
    # Nothing tells readings without a part of their own apart, so they count alike.
    weights = 1 / (own + _uneven_variances(readings)) if has_own else np.ones(values.size)
    weights /= weights.sum()
    # From the middle, so that large values keep the precision of their differences.
    middle = (values.min() + values.max()) / 2
    value = float(middle + weights @ (values - middle))
    scatter = math.sqrt(float(weights @ (values - value) ** 2) / (values.size - 1))
    if scatter <= _ROUNDING * float(np.abs(values).max()):
        scatter = 0.0
    if not scatter:
        chi_square = 0.0
    elif has_own:
        chi_square = _chi_square(values, np.array([[covariance(a, b) for b in readings] for a in readings]))
    else:
        # What the whole uncertainties would explain, were they independent, is as far as such readings may differ.
        chi_square = _chi_square(values, np.diag([covariance(reading, reading) for reading in readings]))
    agree = chi_square == 0 or _chance_of_more(chi_square, values.size - 1) >= _DISAGREEMENT_RISK

    components: dict[Source, float] = {}
    for weight, reading in zip(weights, readings, strict=True):
        for source, contribution in (reading.components or {}).items():
            components[source] = components.get(source, 0.0) + float(weight) * contribution
    if scatter and not (has_own and agree):
        components[Source(scatter_label, values.size - 1)] = scatter
    return _Mean(Quantity(value, readings[0].unit, components), chi_square, agree)


def _own_variances(readings: Sequence[Quantity]) -> NDArray[np.float64]:
    shared = _shared_sources(readings)
    return np.array([math.fsum(c * c for s, c in (r.components or {}).items() if s not in shared) for r in readings])


def _uneven_variances(readings: Sequence[Quantity]) -> NDArray[np.float64]:
    """Return what each reading has of shared sources beyond what all have of them.

    The error of the distance bears on a length and hardly on an overhang: that difference counts in the weights as if
    it were each reading's own, so that it can never make one of them negative.
    """
    variances = np.zeros(len(readings))
    for source in _shared_sources(readings):
        parts = np.array([(reading.components or {}).get(source, 0.0) for reading in readings])
        in_all = min(parts.max(), 0.0) if parts.min() < 0 else parts.min()
        variances += (parts - in_all) ** 2
    return variances


def _chi_square(values: NDArray[np.float64], matrix: NDArray[np.float64]) -> float:
    """Return the sum of squared differences in units of their covariance; infinite where that allows none."""
    contrast = np.hstack([np.eye(values.size - 1), -np.ones((values.size - 1, 1))])
    differences, spread = contrast @ values, contrast @ matrix @ contrast.T
    if np.linalg.matrix_rank(spread, hermitian=True) < values.size - 1:
        return math.inf
    return float(differences @ np.linalg.solve(spread, differences))


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


def _disagreement(readings: Sequence[Quantity], name: str) -> str:
    lowest = min(readings, key=lambda reading: reading.value)
    highest = max(readings, key=lambda reading: reading.value)
    return (
        f"The {len(readings)} readings of the {name} disagree by more than their uncertainties allow: from "
        f"{format_quantity(lowest)} to {format_quantity(highest)}. Find out which is wrong and correct it; until then "
        f"their scatter is part of the uncertainty."
    )
