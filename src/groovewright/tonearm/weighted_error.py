"""Peak and rms of a weighted tracking error over the grooves, with their slopes in every dimension of the arm."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.tonearm.box_step import least_peak_step, least_square_step
from groovewright.tonearm.radius_grid import gauss_nodes

Vector = NDArray[np.float64]
Weight = Callable[[Vector], Vector]

PEAK_POINTS = 97
RMS_PANELS = 5
# Steps of the search that end it: a tenth of a picometre, or the like in radians.
SMALLEST_STEP = 1e-10
# Three radii about each summit, first as far apart as the grid, then this much closer.
CLOSER = 16


@dataclass(frozen=True)
class RadiiPlayed:
    """How often each part of the records is really played.

    Parameters
    ----------
    edges_mm : tuple of float, length n + 1
        Rising edges of the radius bins. [mm]
    counts : tuple of float, length n
        Plays, or minutes, in each bin; at least one above 0.

    Raises
    ------
    ValueError
        If the edges do not rise, the lengths do not match, or nothing was played.
    """

    edges_mm: tuple[float, ...]
    counts: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.edges_mm) != len(self.counts) + 1:
            raise ValueError(f"{len(self.counts)} counts need {len(self.counts) + 1} edges, not {len(self.edges_mm)}")
        if not all(low < high for low, high in zip(self.edges_mm[:-1], self.edges_mm[1:], strict=True)):
            raise ValueError(f"the edges of the radii played must rise, not {self.edges_mm}")
        if not all(math.isfinite(count) and count >= 0 for count in self.counts) or not any(self.counts):
            raise ValueError(f"counts of radii played must be 0 or more, and one above 0, not {self.counts}")


@dataclass(frozen=True)
class Grooves:
    """What the arm must play.

    Parameters
    ----------
    innermost_mm, outermost_mm : float
        The whole range, which the stylus must reach. [mm]
    segments : tuple of (low, high, share)
        The parts that count, in mm, and how much of the mean square each is worth; the shares sum to 1.
    weight : callable
        Weight of the tracking error at each radius.
    """

    innermost_mm: float
    outermost_mm: float
    segments: tuple[tuple[float, float, float], ...]
    weight: Weight

    def weights(self, radius_mm: Vector) -> Vector:
        """Return the weight at each radius, refusing what is not a weight."""
        weights = np.asarray(self.weight(radius_mm), dtype=float)
        if weights.shape != radius_mm.shape or not np.isfinite(weights).all() or weights.min() < 0:
            raise ValueError("the weight must give one finite number, 0 or more, for every radius of the groove range")
        return weights

    def playable(self, at: Vector) -> bool:
        """Whether the arm reaches every groove with less than a right angle of error, where a tangent tells it."""
        mounting, length, offset = at
        if not (abs(length - mounting) < self.innermost_mm and length + mounting > self.outermost_mm):
            return False
        product = (length - mounting) * (length + mounting)
        radii = [self.innermost_mm, self.outermost_mm]
        if product > 0:
            radii.append(min(max(math.sqrt(product), radii[0]), radii[1]))
        sines = (min(max((r * r + product) / (2 * r * length), -1.0), 1.0) for r in radii)
        return all(abs(math.asin(sine) - offset) < math.pi / 2 for sine in sines)


@dataclass(frozen=True)
class Rating:
    """An objective at one geometry.

    Parameters
    ----------
    value : float
        The peak or the rms.
    residual : ndarray, shape (n,)
        weight * tan(tracking error) at the radii looked at.
    slopes : ndarray, shape (3, n)
        Its derivatives with distance [1/mm], length [1/mm] and offset angle [1/rad].
    """

    value: float
    residual: Vector
    slopes: Vector


class PeakOfError:
    """The largest weight * |tan(tracking error)| over the grooves, found between grid points too."""

    def __init__(self, grooves: Grooves) -> None:
        self.grooves = grooves
        parts = [np.linspace(low, high, PEAK_POINTS) for low, high in _joined(grooves.segments)]
        self._radii = np.concatenate(parts)
        self._weights = grooves.weights(self._radii)
        inner = np.concatenate([np.r_[False, np.ones(part.size - 2, dtype=bool), False] for part in parts])
        self._inner = inner[1:-1]

    def rate(self, at: Vector) -> Rating:
        """Return the peak, with residuals at the grid and at the true summits between its points."""
        radii = self._radii
        residual, slopes = weighted_tangent(radii, self._weights, at)
        heights = np.abs(residual)
        rising = heights[1:] >= heights[:-1]
        summit = 1 + np.flatnonzero(self._inner & rising[:-1] & ~rising[1:])
        if summit.size == 0:
            return Rating(float(heights.max()), residual, slopes)
        spacing = radii[summit + 1] - radii[summit]
        centre = radii[summit]
        left, middle, right = heights[summit - 1], heights[summit], heights[summit + 1]
        # The vertex of the parabola through three points, then again through three much closer ones.
        for _ in range(2):
            bend = np.minimum(left - 2 * middle + right, -1e-300)
            centre = centre + np.clip(0.5 * (left - right) / bend, -1, 1) * spacing
            spacing = spacing / CLOSER
            around = np.concatenate([centre - spacing, centre, centre + spacing])
            closer, closer_slopes = weighted_tangent(around, self.grooves.weights(around), at)
            left, middle, right = np.abs(closer).reshape(3, -1)
        # The summit stands in for the grid point beside it: two so close would be one condition written twice.
        found = slice(summit.size, 2 * summit.size)
        residual[summit], slopes[:, summit] = closer[found], closer_slopes[:, found]
        return Rating(float(np.abs(residual).max()), residual, slopes)

    def step(self, rating: Rating, *, free: list[int], lower: Vector, upper: Vector) -> Vector | None:
        """Return the best step of the free dimensions for the linear problem; None when there is no better place."""
        step, predicted = least_peak_step(rating.residual, rating.slopes[free].T, lower=lower, upper=upper)
        arrived = rating.value - predicted <= 1e-13 * rating.value or np.abs(step).max() <= SMALLEST_STEP
        return None if arrived else step


class RmsOfError:
    """The root of the mean square of weight * tan(tracking error) over the grooves, by Gauss quadrature."""

    def __init__(self, grooves: Grooves) -> None:
        self.grooves = grooves
        panels = RMS_PANELS if len(grooves.segments) == 1 else 1
        radii, shares = [], []
        for low, high, share in grooves.segments:
            nodes, node_weights = gauss_nodes(np.linspace(low, high, panels + 1))
            radii.append(nodes.ravel())
            shares.append(node_weights.ravel() * share / panels)
        self._radii = np.concatenate(radii)
        self._shares = np.concatenate(shares)
        self._weights = grooves.weights(self._radii)

    def rate(self, at: Vector) -> Rating:
        """Return the rms with the residuals at the nodes of the quadrature."""
        residual, slopes = weighted_tangent(self._radii, self._weights, at)
        return Rating(math.sqrt(float(self._shares @ (residual * residual))), residual, slopes)

    def step(self, rating: Rating, *, free: list[int], lower: Vector, upper: Vector) -> Vector | None:
        """Return the best step of the free dimensions for the linear problem; None when there is no better place."""
        step = least_square_step(rating.residual, rating.slopes[free].T, shares=self._shares, lower=lower, upper=upper)
        return None if np.abs(step).max() <= SMALLEST_STEP else step


def weighted_tangent(radius_mm: Vector, weights: Vector, at: Vector) -> tuple[Vector, Vector]:
    """Return weight * tan(tracking error) at each radius, and its slopes.

    Parameters
    ----------
    radius_mm, weights : ndarray, shape (n,)
        Groove radii [mm] and their weights.
    at : ndarray, shape (3,)
        Distance [mm], length [mm] and offset angle [rad].

    Returns
    -------
    tuple of ndarray, shapes (n,) and (3, n)
        The second in the order of `at`.
    """
    mounting, length, offset = at
    sine = (radius_mm * radius_mm + (length - mounting) * (length + mounting)) / (2 * length * radius_mm)
    cosine = np.sqrt(np.maximum((1 - sine) * (1 + sine), 1e-30))
    lean = math.tan(offset)
    tangent = (sine - cosine * lean) / (cosine + sine * lean)
    secant = weights * (1 + tangent * tangent)
    slopes = np.empty((3, radius_mm.size))
    slopes[0] = secant * (-mounting / length) / (radius_mm * cosine)
    slopes[1] = secant * (1 / radius_mm - sine / length) / cosine
    slopes[2] = -secant
    return weights * tangent, slopes


def _joined(segments: tuple[tuple[float, float, float], ...]) -> list[tuple[float, float]]:
    joined = [segments[0][:2]]
    for low, high, _ in segments[1:]:
        if low == joined[-1][1]:
            joined[-1] = (joined[-1][0], high)
        else:
            joined.append((low, high))
    return joined
