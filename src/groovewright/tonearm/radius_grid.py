"""Peaks and means of a smooth curve over a groove range."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from groovewright.tonearm.groove_ranges import check_groove_range

Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]

COARSE_POINTS = 129
ZOOM_POINTS = 17
NODES, NODE_WEIGHTS = np.polynomial.legendre.leggauss(8)


def largest_magnitude(curve: Curve, *, innermost_mm: float, outermost_mm: float) -> tuple[float, float]:
    """Return the radius where a curve is largest in magnitude, and that magnitude.

    Parameters
    ----------
    curve : callable
        Maps an array of radii [mm] to an array of the same shape; smooth over a few millimetres.
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    low, high, points = innermost_mm, outermost_mm, COARSE_POINTS
    # Each pass looks between the neighbours of the last pass's best point; the last places it within 2 um.
    for _ in range(4):
        radii = np.linspace(low, high, points)
        heights = np.abs(curve(radii))
        best = int(np.argmax(heights))
        where, height = float(radii[best]), float(heights[best])
        low, high, points = float(radii[max(best - 1, 0)]), float(radii[min(best + 1, len(radii) - 1)]), ZOOM_POINTS
    return where, height


def gauss_nodes(edges_mm: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return Gauss-Legendre radii in each interval between edges, and weights that sum to 1 in each interval.

    Parameters
    ----------
    edges_mm : ndarray, shape (n + 1,)
        Rising interval edges. [mm]

    Returns
    -------
    tuple of ndarray, shape (n, 8) each
    """
    half = np.diff(edges_mm)[:, None] / 2
    middle = (edges_mm[:-1] + edges_mm[1:])[:, None] / 2
    return middle + half * NODES, np.broadcast_to(NODE_WEIGHTS / 2, (len(half), NODES.size))


def mean_square(curve: Curve, *, innermost_mm: float, outermost_mm: float) -> float:
    """Return the mean over radius of the square of a smooth curve; parameters as in `largest_magnitude`."""
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    radii, weights = gauss_nodes(np.linspace(innermost_mm, outermost_mm, 5))
    return float(np.mean(np.sum(weights * curve(radii) ** 2, axis=1)))
