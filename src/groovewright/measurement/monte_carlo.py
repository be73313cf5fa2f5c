"""Propagation of distributions by Monte Carlo (JCGM 101, clauses 5.9 and 7), vectorised and seeded."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.quantity import Quantity, Source

FEWEST_TRIALS = 1000


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws of one output, with what they say of it.

    Parameters
    ----------
    values : ndarray, shape (trials,)
        In `unit`, and in the order of the trials, so that two outputs of one run stay paired.
    unit : str
    """

    values: NDArray[np.float64]
    unit: str

    @property
    def mean(self) -> float:
        """Estimate of the output."""
        return float(np.mean(self.values))

    @property
    def standard_uncertainty(self) -> float:
        """Standard deviation of the draws. It does not settle if an input has two degrees of freedom or fewer."""
        return float(np.std(self.values, ddof=1))

    def symmetric_interval(self, probability: float = 0.95) -> tuple[float, float]:
        """Return the ends that leave the same share of draws on either side."""
        return symmetric_interval(self.values, probability)

    def shortest_interval(self, probability: float = 0.95) -> tuple[float, float]:
        """Return the ends of the shortest interval that holds this share of the draws."""
        return shortest_interval(self.values, probability)


def symmetric_interval(values: ArrayLike, probability: float = 0.95) -> tuple[float, float]:
    """Return the probabilistically symmetric coverage interval of draws (JCGM 101, 7.7.2)."""
    drawn, inside = _drawn(values, probability)
    first = (drawn.size - inside) // 2
    # Two order statistics need no full sort, which takes eight times as long.
    ends = np.partition(drawn, (first, first + inside))
    return float(ends[first]), float(ends[first + inside])


def shortest_interval(values: ArrayLike, probability: float = 0.95) -> tuple[float, float]:
    """Return the shortest coverage interval of draws (JCGM 101, 7.7.4)."""
    drawn, inside = _drawn(values, probability)
    # Only the draws that can be an end of it are sorted.
    beginnings = drawn.size - inside
    parted = np.partition(drawn, (beginnings - 1, inside))
    low, high = np.sort(parted[:beginnings]), np.sort(parted[inside:])
    first = int(np.argmin(high - low))
    return float(low[first]), float(high[first])


def draw_quantities(inputs: Mapping[str, Quantity], *, trials: int, seed: int) -> dict[str, NDArray[np.float64]]:
    """Return draws of quantities, correlated wherever they share a source.

    Each source is drawn once: from the normal distribution if its uncertainty was stated, from the t-distribution
    of its degrees of freedom if it was estimated. The parts of one ensemble share one draw of its scatter.

    Parameters
    ----------
    inputs : mapping of str to Quantity
    trials, seed : int
        Number of draws, and the seed that makes them repeatable.

    Returns
    -------
    dict of str to ndarray, each of shape (trials,)

    Raises
    ------
    ValueError
        If the uncertainty of an input is unknown, or there are fewer than 1000 trials.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.7 to 6.4.9.
    """
    if trials < FEWEST_TRIALS:
        raise ValueError(f"{trials} trials show nothing of the tails; draw at least {FEWEST_TRIALS}")
    generator = np.random.default_rng(seed)
    errors: dict[Source, NDArray[np.float64]] = {}
    scatter: dict[tuple[str, float], NDArray[np.float64]] = {}
    drawn: dict[str, NDArray[np.float64]] = {}
    for name, quantity in inputs.items():
        if quantity.components is None:
            raise ValueError(f"{name} cannot be drawn: its uncertainty is unknown ({quantity.why_unknown})")
        values = np.full(trials, quantity.value, dtype=float)
        for source, contribution in quantity.components.items():
            if source not in errors:
                errors[source] = _standard_error(source, scatter, generator, trials)
            values += contribution * errors[source]
        drawn[name] = values
    return drawn


def monte_carlo(
    model: Callable[..., Mapping[str, ArrayLike]],
    inputs: Mapping[str, Quantity],
    *,
    units: Mapping[str, str],
    trials: int = 200_000,
    seed: int = 0,
) -> dict[str, Draws]:
    """Return draws of every output of a model, correlations kept.

    Parameters
    ----------
    model : callable
        Called once, with one array of shape (trials,) as keyword for each input; returns a mapping with the keys
        of `units`. A model that also takes floats serves `propagate_all` too.
    inputs : mapping of str to Quantity
    units : mapping of str to str
        Unit of each output.
    trials, seed : int
        As for `draw_quantities`.

    Raises
    ------
    ValueError
        If an input cannot be drawn, or the model has no finite result for some of the draws.
    """
    return run_model(model, draw_quantities(inputs, trials=trials, seed=seed), units)


def run_model(
    model: Callable[..., Mapping[str, ArrayLike]],
    drawn: Mapping[str, NDArray[np.float64]],
    units: Mapping[str, str],
) -> dict[str, Draws]:
    """Return the outputs of a model at inputs that were drawn already."""
    results = model(**drawn)
    trials = max((values.size for values in drawn.values()), default=1)
    outputs: dict[str, Draws] = {}
    for name, unit in units.items():
        values = np.broadcast_to(np.asarray(results[name], dtype=float), (trials,))
        failed = trials - int(np.count_nonzero(np.isfinite(values)))
        if failed:
            raise ValueError(f"{name} has no finite value for {failed} of {trials} draws; the model ends too near")
        outputs[name] = Draws(values, unit)
    return outputs


def _standard_error(
    source: Source,
    scatter: dict[tuple[str, float], NDArray[np.float64]],
    generator: np.random.Generator,
    trials: int,
) -> NDArray[np.float64]:
    standard = generator.standard_normal(trials)
    dof = source.degrees_of_freedom
    if math.isinf(dof):
        return standard
    key = (source.ensemble or f"source {source.label}", dof)
    if key not in scatter:
        scatter[key] = np.sqrt(dof / generator.chisquare(dof, trials))
    return standard * scatter[key]


def _drawn(values: ArrayLike, probability: float) -> tuple[NDArray[np.float64], int]:
    if not 0 < probability < 1:
        raise ValueError(f"a coverage probability lies between 0 and 1, not at {probability}")
    drawn = np.ravel(np.asarray(values, dtype=float))
    inside = min(int(probability * drawn.size + 0.5), drawn.size - 1)
    if inside < 1:
        raise ValueError(f"{drawn.size} draws are too few for an interval")
    return drawn, inside
