"""Least squares between quantities that may share sources, so that what is fitted keeps those sources."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.quantity import Quantity, Source

Model = Callable[[NDArray[np.float64]], tuple[NDArray[np.float64], NDArray[np.float64]]]

DISAGREEMENT_RISK = 0.05

MOST_STEPS = 50
"""Of Gauss and Newton; a fit that makes sense needs four or five."""

CLOSE_ENOUGH = 1e-7
"""Where the last step, in standard deviations, is shorter than this; the next would be far shorter still."""

MOST_HALVINGS = 30
"""Of one step that went too far."""


@dataclass(frozen=True, eq=False)
class CorrelatedFit:
    """What a fit gave.

    Attributes
    ----------
    quantities : tuple of Quantity
        The fitted parameters. Each carries what every source of the observations contributes to it, so that they are
        correlated with each other and with whatever else rests on those sources.
    residuals : ndarray, shape (n,)
        Observed less fitted, in the unit of each observation.
    slopes : ndarray, shape (n, p)
        How the observations change with the parameters, at the fit.
    chi_square : float
        Squared residuals in units of the covariance of the observations.
    degrees_of_freedom : int
        Observations less parameters.
    """

    quantities: tuple[Quantity, ...]
    residuals: NDArray[np.float64]
    slopes: NDArray[np.float64]
    chi_square: float
    degrees_of_freedom: int


def fit_correlated(
    observed: Sequence[Quantity], model: Model, start: ArrayLike, *, units: Sequence[str], how: str
) -> CorrelatedFit:
    """Fit the parameters of a model by least squares weighted with the whole covariance of what was observed.

    Parameters
    ----------
    observed : sequence of Quantity
        At least as many as parameters, each of a known uncertainty above 0.
    model : callable
        Takes the parameters and returns what would be observed, shape (n,), and its slopes, shape (n, p). ValueError
        where the parameters are impossible; such a step is halved.
    start : array_like, shape (p,)
        Parameters to begin at.
    units : sequence of str
        Unit of each parameter.
    how : str
        Remark carried by every fitted quantity.

    Raises
    ------
    ValueError
        If an uncertainty is unknown or 0, the observations cannot tell the parameters apart, or no fit is found.

    References
    ----------
    .. [1] JCGM 102:2011, 6.2 (propagation with covariance).
    """
    at = np.asarray(start, dtype=float)
    if len(observed) < at.size:
        raise ValueError(f"{len(observed)} observations cannot settle {at.size} unknowns")
    sources, parts = contributions(observed)
    root = _root_of_covariance(parts)
    values = np.array([quantity.value for quantity in observed])

    def whitened(parameters: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        predicted, slopes = model(parameters)
        return np.asarray(np.linalg.solve(root, values - predicted)), np.asarray(np.linalg.solve(root, slopes))

    misfit, slopes = whitened(at)
    for _ in range(MOST_STEPS):
        before = float(misfit @ misfit)
        at, misfit, slopes, moved = _take(at, _solve(slopes, misfit), misfit, slopes, whitened)
        # Beside a very small uncertainty rounding alone moves a fit for ever.
        if moved < CLOSE_ENOUGH or float(misfit @ misfit) >= before:
            break
    else:
        raise ValueError("no fit was found; the readings contradict the plate that they are said to be from")
    inverse = np.linalg.inv(root)
    gain = _solve(slopes, np.eye(len(observed))) @ inverse
    shares = gain @ parts
    quantities = tuple(
        Quantity(float(value), unit, dict(zip(sources, map(float, row), strict=True)), how=how)
        for value, unit, row in zip(at, units, shares, strict=True)
    )
    predicted, plain_slopes = model(at)
    return CorrelatedFit(quantities, values - predicted, plain_slopes, float(misfit @ misfit), len(observed) - at.size)


def readings_agree(chi_square: float, degrees_of_freedom: int) -> bool:
    """Return whether readings scatter no more than their uncertainties allow; honest ones fail once in twenty times."""
    from scipy.special import chdtrc

    return degrees_of_freedom == 0 or float(chdtrc(degrees_of_freedom, chi_square)) >= DISAGREEMENT_RISK


def contributions(observed: Sequence[Quantity]) -> tuple[list[Source], NDArray[np.float64]]:
    """Return all sources of some quantities, and what each contributes to each, shape (quantities, sources).

    ValueError if an uncertainty is unknown or 0.
    """
    for quantity in observed:
        u = quantity.standard_uncertainty
        if u is None:
            raise ValueError(
                f"{quantity.value:g} {quantity.unit} has no known uncertainty, so it cannot be weighed against the "
                f"other readings ({quantity.why_unknown}); state one"
            )
        if u == 0:
            raise ValueError(f"{quantity.value:g} {quantity.unit} needs a standard uncertainty above 0 to be weighed")
    sources = list({source: None for quantity in observed for source in quantity.components or {}})
    parts = np.array([[(quantity.components or {}).get(source, 0.0) for source in sources] for quantity in observed])
    return sources, parts


def _root_of_covariance(parts: NDArray[np.float64]) -> NDArray[np.float64]:
    scale = np.linalg.norm(parts, axis=1)
    correlation = parts @ parts.T / np.outer(scale, scale)
    if np.linalg.eigvalsh(correlation)[0] < 1e-12:
        raise ValueError(
            "some readings share all of their uncertainty, so nothing is left by which to weigh them; give each an "
            "uncertainty of its own"
        )
    return np.asarray(scale[:, None] * np.linalg.cholesky(correlation))


def _solve(slopes: NDArray[np.float64], right: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the least-squares solution; columns of unit length keep the precision of very unlike parameters."""
    lengths = np.linalg.norm(slopes, axis=0)
    if not (lengths > 0).all() or np.linalg.matrix_rank(slopes / lengths, tol=1e-9) < lengths.size:
        raise ValueError("the readings cannot tell the unknowns apart; take them farther from each other")
    q, r = np.linalg.qr(slopes / lengths)
    scaled = np.linalg.solve(r, q.T @ right)
    return np.asarray(scaled / (lengths[:, None] if right.ndim == 2 else lengths))


def _take(
    at: NDArray[np.float64],
    step: NDArray[np.float64],
    misfit: NDArray[np.float64],
    slopes: NDArray[np.float64],
    whitened: Model,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], float]:
    """Return where a step leads, halved until it is possible and no worse, and its size in standard deviations."""
    before = float(misfit @ misfit)
    size = float(np.linalg.norm(slopes @ step))
    for _ in range(MOST_HALVINGS):
        try:
            there = whitened(at + step)
        except ValueError:
            step = step / 2
            continue
        # Rounding alone must not keep a fit from ending.
        if float(there[0] @ there[0]) <= before * (1 + 1e-12) + 1e-18:
            return at + step, *there, size
        step, size = step / 2, size / 2
    return at, misfit, slopes, 0.0
