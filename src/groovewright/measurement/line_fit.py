"""Straight lines by least squares, slope and intercept kept correlated (JCGM 100, H.3)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.quantity import Quantity, correlated_quantities


@dataclass(frozen=True)
class LineFit:
    """The line y = intercept + slope (x - about).

    Parameters
    ----------
    intercept, slope : Quantity
        They share their sources, so that anything computed from both has the right uncertainty. The intercept is
        in the unit of y, the slope in that unit over the unit of x.
    about : float
        Where the intercept is taken, in the unit of x.
    residuals : ndarray, shape (n,)
        Observed less fitted y.
    residual_standard_deviation : float or None
        Of one y of weight 1, in the unit of y; None where the points are as few as the parameters and can't scatter.
    degrees_of_freedom : int
        Number of points less number of fitted parameters.
    """

    intercept: Quantity
    slope: Quantity
    about: float
    residuals: NDArray[np.float64]
    residual_standard_deviation: float | None
    degrees_of_freedom: int

    def predict(self, x: float) -> Quantity:
        """Return y on the line at an exact x, in the unit of y."""
        distance = x - self.about
        components = dict(self.intercept.components or {})
        for source, contribution in (self.slope.components or {}).items():
            components[source] = components.get(source, 0.0) + distance * contribution
        value = self.intercept.value + distance * self.slope.value
        return Quantity(value, self.intercept.unit, components, how="from the fitted line")


def fit_line(
    x: ArrayLike,
    y: ArrayLike,
    *,
    x_unit: str,
    y_unit: str,
    source: str,
    about: float = 0.0,
    weights: ArrayLike | None = None,
) -> LineFit:
    """Fit a line whose scatter is estimated from the residuals.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Points, x without error, in `x_unit` and `y_unit`; at least 3.
    source : str
        Label of this fit in a budget.
    about : float
        Where the intercept is taken, in `x_unit`.
    weights : array_like, shape (n,), optional
        Inverse variances of y up to a common factor.

    Returns
    -------
    LineFit
        Points that lie exactly on a line leave no scatter and so an uncertainty of 0; the caller adds what the
        residuals cannot show, such as the resolution of a scale.

    Raises
    ------
    ValueError
        If there are too few points, all at one x, or anything is not finite.

    References
    ----------
    .. [1] JCGM 100:2008, H.3.
    """
    xs, ys, ws = _points(x, y, weights, fewest=3)
    basis = np.column_stack((np.ones_like(xs), xs - about))
    return _fit(basis, xs, ys, ws, x_unit=x_unit, y_unit=y_unit, source=source, about=about, known=False)


def fit_line_of_known_uncertainty(
    x: ArrayLike,
    y: ArrayLike,
    *,
    y_standard_uncertainties: ArrayLike,
    x_unit: str,
    y_unit: str,
    source: str,
    about: float = 0.0,
) -> LineFit:
    """Fit a line to points whose independent standard uncertainties are known beforehand; at least 2 points.

    The uncertainties of the line follow from them alone. `LineFit.residual_standard_deviation` is then a plain
    number that is near 1 if they are right. Otherwise as `fit_line`.
    """
    uncertainties = np.asarray(y_standard_uncertainties, dtype=float)
    if not (np.isfinite(uncertainties) & (uncertainties > 0)).all():
        raise ValueError("every point of a weighted fit needs a standard uncertainty above 0")
    xs, ys, ws = _points(x, y, uncertainties**-2.0, fewest=2)
    basis = np.column_stack((np.ones_like(xs), xs - about))
    return _fit(basis, xs, ys, ws, x_unit=x_unit, y_unit=y_unit, source=source, about=about, known=True)


def fit_line_through_origin(
    x: ArrayLike, y: ArrayLike, *, x_unit: str, y_unit: str, source: str, weights: ArrayLike | None = None
) -> LineFit:
    """Fit a line through x = 0, y = 0, its intercept exact; at least 2 points. Otherwise as `fit_line`."""
    xs, ys, ws = _points(x, y, weights, fewest=2)
    basis = xs[:, None]
    return _fit(basis, xs, ys, ws, x_unit=x_unit, y_unit=y_unit, source=source, about=0.0, known=False)


def _points(
    x: ArrayLike, y: ArrayLike, weights: ArrayLike | None, *, fewest: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    ws = np.ones_like(xs) if weights is None else np.asarray(weights, dtype=float)
    if xs.ndim != 1 or not xs.shape == ys.shape == ws.shape:
        raise ValueError(
            f"x, y and weights must be lists of one length, not of shapes {xs.shape}, {ys.shape}, {ws.shape}"
        )
    if xs.size < fewest:
        raise ValueError(f"this line needs at least {fewest} points, and {xs.size} are given")
    if not (np.isfinite(xs).all() and np.isfinite(ys).all() and np.isfinite(ws).all() and (ws > 0).all()):
        raise ValueError("every point of a line must be finite, and every weight above 0")
    return xs, ys, ws


def _fit(
    basis: NDArray[np.float64],
    xs: NDArray[np.float64],
    ys: NDArray[np.float64],
    ws: NDArray[np.float64],
    *,
    x_unit: str,
    y_unit: str,
    source: str,
    about: float,
    known: bool,
) -> LineFit:
    root = np.sqrt(ws)
    # Columns of unit length keep the precision when x is far from 0.
    design = basis * root[:, None]
    lengths = np.linalg.norm(design, axis=0)
    if not (lengths > 0).all() or np.linalg.matrix_rank(design / lengths, tol=1e-12) < design.shape[1]:
        raise ValueError(f"all points stand at {x_unit or 'x'} {xs[0]:g}; a slope needs different ones")
    q, r = np.linalg.qr(design / lengths)
    coefficients = np.linalg.solve(r, q.T @ (ys * root)) / lengths
    residuals = ys - basis @ coefficients
    dof = xs.size - coefficients.size
    variance = float(np.sum(ws * residuals**2)) / dof if dof else None
    inverse = np.linalg.inv(r) / lengths[:, None]
    covariance = inverse @ inverse.T
    if not known and variance is not None:
        covariance = covariance * variance
    slope_unit = f"{y_unit}/{x_unit}"
    fitted = correlated_quantities(
        coefficients,
        covariance,
        units=[y_unit, slope_unit][-coefficients.size :],
        source=source,
        degrees_of_freedom=math.inf if known else dof,
        how=f"fitted to {xs.size} points",
    )
    intercept = fitted[0] if coefficients.size == 2 else Quantity.exact(0.0, y_unit)
    scatter = None if variance is None else math.sqrt(variance)
    return LineFit(intercept, fitted[-1], about, residuals, scatter, dof)
