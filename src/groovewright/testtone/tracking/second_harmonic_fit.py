"""Least squares for second harmonics over radius: parameters, the sources of their errors, and the other polarity."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Quantity, Source, correlated_quantities

Model = Callable[[NDArray[np.float64]], NDArray[np.float64] | None]
"""Ratios, shape (m, n), for m sets of parameters, shape (m, p); None where no stylus could read such a groove."""

STEPS = 60
SMALLEST_STEP = 2.0**-12
NEAR_ENOUGH = 1e-6

SINGULAR = 1e-13

CHANCE_OF_A_BAD_FIT = 1e-3
"""Scatter that chance alone would exceed this rarely widens the uncertainties to what the bands really show."""


@dataclass(frozen=True)
class Belief:
    """What is known of a parameter before the fit: a value with its standard uncertainty, and why.

    The error of a `rectangular` one may lie anywhere alike within the root of 3 times that.
    """

    value: float
    standard_uncertainty: float
    source: str
    rectangular: bool = False


@dataclass(frozen=True, eq=False)
class LeastSquares:
    """The best parameters and how errors of the bands and of the beliefs move them.

    Attributes
    ----------
    parameters : ndarray, shape (p,)
    fitted : ndarray, shape (n,)
        Ratios that they give.
    noise_covariance : ndarray, shape (p, p)
        From the bands' noise alone.
    belief_shifts : dict of int to ndarray
        For each parameter that had a belief, the change of all parameters with one standard uncertainty of it.
    chi_square : float
        Of the bands.
    objective : float
        The same with that of the beliefs.
    log_volume : float
        Half the logarithm of the determinant of the whole covariance.
    band_slopes : ndarray, shape (p, n)
        Change of the parameters with each ratio.
    """

    parameters: NDArray[np.float64]
    fitted: NDArray[np.float64]
    noise_covariance: NDArray[np.float64]
    belief_shifts: dict[int, NDArray[np.float64]]
    chi_square: float
    objective: float
    log_volume: float
    band_slopes: NDArray[np.float64]

    def with_uncertainty(self, number: int, ratio: float) -> LeastSquares:
        """Return the same for a belief this many times as uncertain that the bands are still not let correct."""
        return replace(self, belief_shifts={**self.belief_shifts, number: ratio * self.belief_shifts[number]})


@dataclass(frozen=True, eq=False)
class _Problem:
    """What is to be fitted: bands first, then beliefs, each divided by its standard uncertainty."""

    model: Model
    observed: NDArray[np.float64]
    uncertainties: NDArray[np.float64]
    beliefs: dict[int, Belief]
    steps: NDArray[np.float64]

    def misfits(self, parameters: NDArray[np.float64]) -> NDArray[np.float64] | None:
        ratios = self.model(parameters)
        if ratios is None:
            return None
        held = [
            (belief.value - parameters[:, [number]]) / belief.standard_uncertainty
            for number, belief in self.beliefs.items()
        ]
        return np.hstack([(self.observed - ratios) / self.uncertainties, *held])

    def misfit(self, parameters: NDArray[np.float64]) -> NDArray[np.float64] | None:
        misfits = self.misfits(parameters[np.newaxis])
        return None if misfits is None else misfits[0]

    def slopes(self, at: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """Return how the weighted ratios and beliefs grow with each parameter, counted in its steps."""
        sides = np.diag(self.steps) / 2
        misfits = self.misfits(np.vstack((at - sides, at + sides)))
        return None if misfits is None else (misfits[: at.size] - misfits[at.size :]).T


def least_squares(
    model: Model,
    observed: NDArray[np.float64],
    uncertainties: NDArray[np.float64],
    *,
    start: NDArray[np.float64],
    beliefs: dict[int, Belief],
    steps: NDArray[np.float64],
    near_enough: float = NEAR_ENOUGH,
) -> LeastSquares | None:
    """Fit by damped Gauss-Newton steps; None if the start is out of the model's reach or the bands don't suffice.

    Parameters
    ----------
    model : callable
        Ratios at many sets of parameters, a row for each.
    observed, uncertainties : ndarray, shape (n,)
        Ratios and their independent standard uncertainties.
    start : ndarray, shape (p,)
        Where to begin.
    beliefs : dict of int to Belief
        By the number of the parameter.
    steps : ndarray, shape (p,)
        Of the numerical slopes, and the natural size of each parameter.
    near_enough : float
        Gain of a step, relative to chi-square or 1, below which it is the last.
    """
    problem = _Problem(model, observed, uncertainties, beliefs, steps)
    at, left = start, problem.misfit(start)
    if left is None:
        return None
    for _ in range(STEPS):
        rows = problem.slopes(at)
        if rows is None:
            return None
        change = steps * np.linalg.lstsq(rows, left, rcond=SINGULAR)[0]
        before = float(left @ left)
        at, left = _shortened(problem, at, left, change)
        if before - float(left @ left) < near_enough * (1 + before):
            break
    rows = problem.slopes(at)
    if rows is None or np.linalg.matrix_rank(rows, tol=SINGULAR * np.abs(rows).max()) < at.size:
        return None
    inverse = np.linalg.pinv(rows, rcond=SINGULAR)
    gain = steps[:, np.newaxis] * inverse
    n = observed.size
    return LeastSquares(
        parameters=at,
        fitted=observed - left[:n] * uncertainties,
        noise_covariance=gain[:, :n] @ gain[:, :n].T,
        belief_shifts={number: gain[:, n + k] for k, number in enumerate(beliefs)},
        chi_square=float(left[:n] @ left[:n]),
        objective=float(left @ left),
        log_volume=float(np.log(steps).sum() - np.log(np.linalg.svd(rows, compute_uv=False)).sum()),
        band_slopes=gain[:, :n] / uncertainties,
    )


def _shortened(
    problem: _Problem, at: NDArray[np.float64], left: NDArray[np.float64], change: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the first of the step, its half, its quarter ... that lowers the misfit, or where we stand."""
    share = 1.0
    while share > SMALLEST_STEP:
        there = at + share * change
        left_there = problem.misfit(there)
        if left_there is not None and left_there @ left_there <= left @ left:
            return there, left_there
        share /= 2
    return at, left


def widening(chi_square: float, degrees_of_freedom: int) -> float:
    """Return the factor for variances where bands scatter beyond their noise, 1 where they don't.

    >>> widening(5.0, 3)
    1.0
    >>> widening(60.0, 3)
    20.0
    """
    from scipy.special import gammaincc

    if degrees_of_freedom < 1 or gammaincc(degrees_of_freedom / 2, chi_square / 2) > CHANCE_OF_A_BAD_FIT:
        return 1.0
    return chi_square / degrees_of_freedom


def fitted_quantities(
    fit: LeastSquares,
    beliefs: dict[int, Belief],
    *,
    units: Sequence[str],
    noise_source: str,
    variance_factor: float,
    how: str,
    unseen: Mapping[str, NDArray[np.float64]],
) -> list[Quantity]:
    """Return every parameter as a quantity; errors of the bands, of each belief and `unseen` ones are sources apart.

    `unseen` has, by its label, the change of all ratios with one standard uncertainty of an error that all bands share.
    """
    noisy = correlated_quantities(
        fit.parameters, variance_factor * fit.noise_covariance, units=units, source=noise_source, how=how
    )
    quantities = []
    for k, quantity in enumerate(noisy):
        components = dict(quantity.components or {})
        for parameter, shift in fit.belief_shifts.items():
            belief = beliefs[parameter]
            components[Source(belief.source, rectangular=belief.rectangular)] = float(shift[k])
        for label, change in unseen.items():
            components[Source(label)] = float(fit.band_slopes[k] @ change)
        quantities.append(Quantity(quantity.value, quantity.unit, components, how=how))
    return quantities


def probability_of_the_other(chosen: LeastSquares | None, other: LeastSquares | None) -> float:
    """Return how likely the other of two polarities is, both alike likely beforehand.

    Each counts by how well it fits, within what is plausible, times the volume of parameters that fit (Laplace's
    approximation of the integral).
    """
    if chosen is None or other is None:
        return 0.0 if other is None and chosen is not None else 1.0
    log_odds = (chosen.objective - other.objective) / 2 + other.log_volume - chosen.log_volume
    return 1 / (1 + math.exp(min(-log_odds, 700.0)))
