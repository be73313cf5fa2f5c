"""The exact optimum: least peak or least rms of a weighted tracking error, with any dimension held or bounded.

Along geometries with the same null radii the error shrinks at every radius as the arm grows longer, so the best
geometry in a box of limits lies where the distance or the length is at its upper limit, or the offset angle at its
lower one. On each of these faces two unknowns are left, in which the error is nearly linear; steps that are exact for
the linear problem reach the optimum in a few rounds. The search begins at the best closed form that fits the limits
and never steps uphill.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from groovewright.tonearm.box_step import least_peak_step, least_square_step
from groovewright.tonearm.criteria import CLOSED_FORM_NULL_RADII
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range
from groovewright.tonearm.radius_grid import gauss_nodes

Vector = NDArray[np.float64]
Weight = Callable[[Vector], Vector]
Limit = float | tuple[float, float] | None
Objective = Literal["peak", "rms"]

PARAMETERS = ("pivot_to_spindle_mm", "effective_length_mm", "offset_angle_deg")
PEAK_POINTS = 97
RMS_PANELS = 5
MOST_ROUNDS = 60
STEEPEST_DEG = 89.0


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
        if not all(low < high for low, high in zip(self.edges_mm, self.edges_mm[1:], strict=False)):
            raise ValueError(f"the edges of the radii played must rise, not {self.edges_mm}")
        if not all(math.isfinite(count) and count >= 0 for count in self.counts) or not any(self.counts):
            raise ValueError(f"counts of radii played must be 0 or more, and one above 0, not {self.counts}")


@dataclass(frozen=True)
class Optimum:
    """The best geometry within the limits.

    Parameters
    ----------
    geometry : Geometry
        Where the objective is least.
    value : float
        Peak or rms of weight * |tan(tracking error)| there, in the unit of the weight (1/mm by default).
    at_limit : tuple of str
        Names of the bounded dimensions that ended on one of their limits.
    """

    geometry: Geometry
    value: float
    at_limit: tuple[str, ...]


def over_radius(radius_mm: Vector) -> Vector:
    """Return 1 / radius, the weight that makes a tracking error into distortion. [1/mm]"""
    return 1 / radius_mm


def evenly(radius_mm: Vector) -> Vector:
    """Return 1 at every radius, the weight for the tracking error itself."""
    return np.ones_like(radius_mm)


def optimum(
    objective: Objective,
    *,
    innermost_mm: float,
    outermost_mm: float,
    pivot_to_spindle_mm: Limit,
    effective_length_mm: Limit = None,
    offset_angle_deg: Limit = None,
    weight: Weight = over_radius,
    radii_played: RadiiPlayed | None = None,
) -> Optimum:
    """Return the geometry with the least peak or rms of weight * |tan(tracking error)|.

    Parameters
    ----------
    objective : {"peak", "rms"}
        Peak over the groove range, or root of the mean square over radius.
    innermost_mm, outermost_mm : float
        Groove range, all of which the stylus must reach. [mm]
    pivot_to_spindle_mm, effective_length_mm, offset_angle_deg : float, tuple of two float, or None
        A number holds the dimension there, a pair bounds it, None leaves it free. The distance may not be free:
        the longer the arm the smaller its error. [mm], [mm], [deg]
    weight : callable
        Maps an array of radii to non-negative weights; smooth over a few millimetres. Default 1 / radius.
    radii_played : RadiiPlayed, optional
        The mean square counts every bin by its plays, and the peak leaves out bins that are never played. Without it
        every millimetre of radius counts alike.

    Raises
    ------
    ValueError
        If a limit makes no sense, or no arm within the limits reaches all of the grooves.

    Examples
    --------
    >>> best = optimum("peak", innermost_mm=60.325, outermost_mm=146.05, pivot_to_spindle_mm=222)
    >>> [round(radius, 2) for radius in best.geometry.null_radii_mm]
    [65.98, 121.04]
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    if objective not in ("peak", "rms"):
        raise ValueError(f"the objective is 'peak' or 'rms', not {objective!r}")
    grooves = _Grooves(innermost_mm, outermost_mm, _played_segments(innermost_mm, outermost_mm, radii_played), weight)
    lower, upper = _limits(
        (pivot_to_spindle_mm, effective_length_mm, offset_angle_deg),
        innermost_mm=innermost_mm,
        outermost_mm=outermost_mm,
    )
    search = _least_peak if objective == "peak" else _least_rms
    best: tuple[float, Vector] | None = None
    for fixed, face_lower, face_upper in _faces(lower, upper):
        start = _start(grooves, search, fixed, face_lower, face_upper)
        if start is None:
            continue
        found = search(grooves, start, fixed, face_lower, face_upper)
        if best is None or found[0] < best[0]:
            best = found
    if best is None:
        raise ValueError(
            f"no arm with {_describe(lower, upper)} reaches all grooves from {innermost_mm:g} to {outermost_mm:g} mm"
        )
    value, (mounting, length, offset) = best
    at_limit = tuple(
        name
        for name, given, low, high, at in zip(
            PARAMETERS,
            (pivot_to_spindle_mm, effective_length_mm, offset_angle_deg),
            lower,
            upper,
            best[1],
            strict=True,
        )
        if isinstance(given, tuple) and (at <= low + 1e-9 or at >= high - 1e-9)
    )
    return Optimum(Geometry(float(mounting), float(length), math.degrees(offset)), value, at_limit)


@dataclass(frozen=True)
class _Grooves:
    """What the arm must play: the whole range for reach, the segments with their shares for the objective."""

    innermost_mm: float
    outermost_mm: float
    segments: tuple[tuple[float, float, float], ...]
    weight: Weight

    def weights(self, radius_mm: Vector) -> Vector:
        weights = np.asarray(self.weight(radius_mm), dtype=float)
        if weights.shape != radius_mm.shape or not np.all(np.isfinite(weights) & (weights >= 0)):
            raise ValueError("the weight must give one finite number, 0 or more, for every radius of the groove range")
        return weights

    def reached_by(self, at: Vector) -> bool:
        mounting, length, _ = at
        return bool(abs(length - mounting) < self.innermost_mm and length + mounting > self.outermost_mm)


def _played_segments(
    innermost_mm: float, outermost_mm: float, radii_played: RadiiPlayed | None
) -> tuple[tuple[float, float, float], ...]:
    if radii_played is None:
        return ((innermost_mm, outermost_mm, 1.0),)
    edges = radii_played.edges_mm
    if edges[0] < innermost_mm or edges[-1] > outermost_mm:
        raise ValueError(
            f"the radii played run from {edges[0]:g} to {edges[-1]:g} mm, beyond the groove range of "
            f"{innermost_mm:g} to {outermost_mm:g} mm; widen the range or drop the outer bins"
        )
    total = math.fsum(radii_played.counts)
    return tuple(
        (low, high, count / total)
        for low, high, count in zip(edges[:-1], edges[1:], radii_played.counts, strict=True)
        if count > 0
    )


def _limits(given: tuple[Limit, Limit, Limit], *, innermost_mm: float, outermost_mm: float) -> tuple[Vector, Vector]:
    pairs: list[tuple[float, float] | None] = []
    for name, limit in zip(PARAMETERS, given, strict=True):
        pair = None if limit is None else limit if isinstance(limit, tuple) else (limit, limit)
        unit = name.rsplit("_", 1)[1]
        if pair is not None:
            low, high = pair
            if not (math.isfinite(low) and math.isfinite(high) and low <= high):
                raise ValueError(f"{name} must be bounded from low to high, not from {low:g} to {high:g} {unit}")
            if unit == "mm" and not low > 0:
                raise ValueError(f"{name} must be above 0 mm, not {low:g} mm")
            if unit == "deg" and not (low > -STEEPEST_DEG and high < STEEPEST_DEG):
                raise ValueError(
                    f"{name} must lie between {-STEEPEST_DEG:g} and {STEEPEST_DEG:g} deg, not {low:g} to {high:g} deg"
                )
        pairs.append(pair)
    mounting, length, offset = pairs
    if mounting is None:
        raise ValueError(
            "pivot_to_spindle_mm must be held or bounded: the longer the arm the smaller its error, without end"
        )
    # The stylus must get in to the innermost groove, past the spindle or short of it, and out to the outermost.
    reach = (
        max(mounting[0] - innermost_mm, outermost_mm - mounting[1], 1e-6),
        mounting[1] + innermost_mm,
    )
    length = reach if length is None else (max(length[0], reach[0]), min(length[1], reach[1]))
    if not length[0] <= length[1]:
        raise ValueError(
            f"no arm of such a length reaches all grooves from {innermost_mm:g} to {outermost_mm:g} mm: mounted "
            f"{mounting[0]:g} to {mounting[1]:g} mm from the spindle, effective_length_mm must lie between "
            f"{reach[0]:g} and {reach[1]:g} mm"
        )
    offset = (-STEEPEST_DEG, STEEPEST_DEG) if offset is None else offset
    lower = np.array([mounting[0], length[0], math.radians(offset[0])])
    upper = np.array([mounting[1], length[1], math.radians(offset[1])])
    return lower, upper


def _faces(lower: Vector, upper: Vector) -> list[tuple[int, Vector, Vector]]:
    held = np.flatnonzero(lower == upper)
    if held.size:
        return [(int(held[0]), lower, upper)]
    faces = [(0, float(upper[0])), (1, float(upper[1]))]
    # The offset angle shrinks in magnitude as the arm grows at the same nulls.
    if lower[2] > 0 or upper[2] < 0:
        faces.append((2, float(lower[2] if lower[2] > 0 else upper[2])))
    boxes = []
    for fixed, at in faces:
        face_lower, face_upper = lower.copy(), upper.copy()
        face_lower[fixed] = face_upper[fixed] = at
        boxes.append((fixed, face_lower, face_upper))
    return boxes


def _describe(lower: Vector, upper: Vector) -> str:
    texts = []
    for name, low, high in zip(PARAMETERS, lower, upper, strict=True):
        stem, unit = name.rsplit("_", 1)
        ends = (math.degrees(low), math.degrees(high)) if unit == "deg" else (low, high)
        texts.append(f"{stem.replace('_', ' ')} {ends[0]:g} to {ends[1]:g} {unit}")
    return ", ".join(texts)


def _start(
    grooves: _Grooves, search: Callable[..., tuple[float, Vector]], fixed: int, lower: Vector, upper: Vector
) -> Vector | None:
    """Return the best of the closed forms after moving each into the box; None if none of them can play."""
    r1, r2 = grooves.innermost_mm, grooves.outermost_mm
    offsets_and_products = [
        (sum(nulls) / 2, nulls[0] * nulls[1])
        for nulls in (form(innermost_mm=r1, outermost_mm=r2) for form in CLOSED_FORM_NULL_RADII.values())
    ]
    offsets_and_products.append((0.0, -2 / (r1**-2 + r2**-2)))
    candidates = [(lower + upper) / 2]
    for offset, product in offsets_and_products:
        mounting, length = upper[0], upper[1]
        if fixed == 0:
            length = math.sqrt(max(mounting**2 + product, lower[1] ** 2))
        elif fixed == 2 and lower[2] != 0:
            length = offset / math.sin(lower[2])
        length = min(max(length, lower[1]), upper[1])
        if fixed != 0:
            mounting = math.sqrt(max(length**2 - product, lower[0] ** 2))
        candidates.append(np.array([mounting, length, math.asin(min(offset / length, 1.0))]))
    # The angle minimax has the same product at the geometric mean, with the offset that halves the spread.
    mounting = upper[0]
    length = math.sqrt(mounting**2 + r1 * r2)
    ends = [math.asin(min((r * r + r1 * r2) / (2 * r * length), 1.0)) for r in (r1, math.sqrt(r1 * r2))]
    candidates.append(np.array([mounting, length, sum(ends) / 2]))
    rated = [
        (search(grooves, clipped, fixed, clipped, clipped)[0], tuple(clipped))
        for clipped in (np.clip(candidate, lower, upper) for candidate in candidates)
        if grooves.reached_by(clipped)
    ]
    return np.array(min(rated)[1]) if rated else None


def _residual(radius: Vector, weights: Vector, at: Vector) -> tuple[Vector, Vector]:
    """Return weight * tan(error) at each radius, and its slopes in distance, length and offset (radians)."""
    mounting, length, offset = at
    sine = (radius * radius + (length - mounting) * (length + mounting)) / (2 * length * radius)
    cosine = np.sqrt(np.maximum((1 - sine) * (1 + sine), 1e-30))
    tangent = (sine - cosine * math.tan(offset)) / (cosine + sine * math.tan(offset))
    secant = weights * (1 + tangent * tangent)
    slopes = np.empty((3, radius.size))
    slopes[0] = secant * (-mounting / length) / (radius * cosine)
    slopes[1] = secant * (1 / radius - sine / length) / cosine
    slopes[2] = -secant
    return weights * tangent, slopes


def _playable(grooves: _Grooves, at: Vector) -> bool:
    """Whether the arm reaches every groove with less than a right angle of error, where the tangent means it."""
    if not grooves.reached_by(at):
        return False
    mounting, length, offset = at
    product = (length - mounting) * (length + mounting)
    radii = [grooves.innermost_mm, grooves.outermost_mm]
    if product > 0:
        radii.append(min(max(math.sqrt(product), radii[0]), radii[1]))
    return all(abs(math.asin((r * r + product) / (2 * r * length)) - offset) < math.pi / 2 for r in radii)


def _least_peak(grooves: _Grooves, start: Vector, fixed: int, lower: Vector, upper: Vector) -> tuple[float, Vector]:
    free = [axis for axis in range(3) if axis != fixed]
    grid = [np.linspace(low, high, PEAK_POINTS) for low, high, _ in _joined(grooves.segments)]
    radii = np.concatenate(grid)
    ends = np.zeros(radii.size, dtype=bool)
    starts = np.cumsum([0, *(part.size for part in grid)])
    ends[starts[:-1]] = ends[starts[1:] - 1] = True
    weights = grooves.weights(radii)

    def peak(at: Vector) -> tuple[float, Vector, Vector]:
        return _peak_at(grooves, radii, weights, ends, at)

    at, (value, residual, slopes) = start, peak(start)
    for _ in range(MOST_ROUNDS):
        step, predicted = least_peak_step(
            residual, slopes[free].T, lower=lower[free] - at[free], upper=upper[free] - at[free]
        )
        if value - predicted <= 1e-13 * value:
            break
        moved = _downhill(grooves, at, free=free, step=step, value=value, rate=peak)
        if moved is None:
            break
        at, (value, residual, slopes) = moved
    return value, at


def _least_rms(grooves: _Grooves, start: Vector, fixed: int, lower: Vector, upper: Vector) -> tuple[float, Vector]:
    free = [axis for axis in range(3) if axis != fixed]
    radii_parts, share_parts = [], []
    panels = RMS_PANELS if len(grooves.segments) == 1 else 1
    for low, high, share in grooves.segments:
        nodes, node_weights = gauss_nodes(np.linspace(low, high, panels + 1))
        radii_parts.append(nodes.ravel())
        share_parts.append(node_weights.ravel() * share / panels)
    radii, shares = np.concatenate(radii_parts), np.concatenate(share_parts)
    weights = grooves.weights(radii)

    def rms(at: Vector) -> tuple[float, Vector, Vector]:
        residual, slopes = _residual(radii, weights, at)
        return math.sqrt(float(np.sum(shares * residual * residual))), residual, slopes

    at, (value, residual, slopes) = start, rms(start)
    for _ in range(MOST_ROUNDS):
        step, _predicted = least_square_step(
            residual, slopes[free].T, shares=shares, lower=lower[free] - at[free], upper=upper[free] - at[free]
        )
        if np.all(np.abs(step) <= 1e-13 * np.maximum(np.abs(at[free]), 1.0)):
            break
        moved = _downhill(grooves, at, free=free, step=step, value=value, rate=rms)
        if moved is None:
            break
        at, (value, residual, slopes) = moved
    return value, at


def _downhill(
    grooves: _Grooves,
    at: Vector,
    *,
    free: list[int],
    step: Vector,
    value: float,
    rate: Callable[[Vector], tuple[float, Vector, Vector]],
) -> tuple[Vector, tuple[float, Vector, Vector]] | None:
    """Return the first of the step, its half, its quarter ... that does not go uphill; None if all do."""
    for halvings in range(40):
        trial = at.copy()
        trial[free] += step * 0.5**halvings
        if not _playable(grooves, trial):
            continue
        rated = rate(trial)
        if rated[0] <= value * (1 + (1e-15 if halvings == 0 else -1e-15)):
            return trial, rated
    return None


def _joined(segments: tuple[tuple[float, float, float], ...]) -> list[tuple[float, float, float]]:
    joined = [segments[0]]
    for low, high, share in segments[1:]:
        if low == joined[-1][1]:
            joined[-1] = (joined[-1][0], high, joined[-1][2] + share)
        else:
            joined.append((low, high, share))
    return joined


def _peak_at(
    grooves: _Grooves, radii: Vector, weights: Vector, ends: NDArray[np.bool_], at: Vector
) -> tuple[float, Vector, Vector]:
    """Return the peak with residuals and slopes at the grid and at the true summits between its points."""
    residual, slopes = _residual(radii, weights, at)
    heights = np.abs(residual)
    inner = ~ends[1:-1]
    summit = 1 + np.flatnonzero(inner & (heights[1:-1] >= heights[:-2]) & (heights[1:-1] >= heights[2:]))
    if summit.size == 0:
        return float(heights.max()), residual, slopes
    spacing = radii[summit + 1] - radii[summit]
    centre = radii[summit]
    left, middle, right = heights[summit - 1], heights[summit], heights[summit + 1]
    # The vertex of the parabola through three points, then again through three much closer ones.
    for _ in range(2):
        bend = left - 2 * middle + right
        shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, 1.0), 0.0)
        centre = centre + np.clip(shift, -1, 1) * spacing
        spacing = spacing / 16
        around = np.stack([centre - spacing, centre, centre + spacing])
        flat = around.ravel()
        closer, closer_slopes = _residual(flat, grooves.weights(flat), at)
        left, middle, right = np.abs(closer).reshape(around.shape)
        residual, slopes = np.concatenate([residual, closer]), np.concatenate([slopes, closer_slopes], axis=1)
    return float(np.abs(residual).max()), residual, slopes
