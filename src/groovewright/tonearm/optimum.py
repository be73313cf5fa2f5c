"""The exact optimum: least peak or least rms of a weighted tracking error, with any dimension held or bounded.

Along geometries with the same null radii the error shrinks at every radius as the arm grows longer, so the best
geometry in a box of limits lies where the distance or the length is at its upper limit, or the offset angle at its
lower one. On each of these faces two unknowns are left, in which the error is nearly linear; steps that are exact for
the linear problem reach the optimum in a few rounds. The search begins at the best closed form that fits the limits
and never steps uphill by more than rounding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from groovewright.tonearm.criteria import CLOSED_FORM_NULL_RADII
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range
from groovewright.tonearm.weighted_error import (
    Grooves,
    PeakOfError,
    RadiiPlayed,
    Rating,
    RmsOfError,
    Vector,
    Weight,
)

Limit = float | tuple[float, float] | None
Objective = Literal["peak", "rms"]

PARAMETERS = ("pivot_to_spindle_mm", "effective_length_mm", "offset_angle_deg")
MOST_ROUNDS = 60
MOST_HALVINGS = 40
STEEPEST_DEG = 89.0
ROUNDING = 1e-14


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
    given = (pivot_to_spindle_mm, effective_length_mm, offset_angle_deg)
    lower, upper = _limits(given, innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    segments = _segments(innermost_mm, outermost_mm, radii_played)
    grooves = Grooves(innermost_mm, outermost_mm, segments, weight)
    error = PeakOfError(grooves) if objective == "peak" else RmsOfError(grooves)
    found = [
        _descend(error, *start, face_lower, face_upper)
        for face_lower, face_upper in _faces(lower, upper, innermost_mm=innermost_mm)
        if (start := _start(error, face_lower, face_upper)) is not None
    ]
    if not found:
        raise ValueError(
            f"no arm with {_describe(lower, upper)} plays all grooves from {innermost_mm:g} to {outermost_mm:g} mm "
            "with less than a right angle of tracking error; widen the limits"
        )
    best, at = min(found, key=lambda pair: pair[0].value)
    at_limit = tuple(
        name
        for name, limit, low, high, where in zip(PARAMETERS, given, lower, upper, at, strict=True)
        if isinstance(limit, tuple) and not low + 1e-9 < where < high - 1e-9
    )
    return Optimum(Geometry(float(at[0]), float(at[1]), math.degrees(at[2])), best.value, at_limit)


def _segments(
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


def _pair(name: str, limit: Limit) -> tuple[float, float] | None:
    if limit is None:
        return None
    low, high = limit if isinstance(limit, tuple) else (limit, limit)
    unit = name.rsplit("_", 1)[1]
    if not (math.isfinite(low) and math.isfinite(high) and low <= high):
        raise ValueError(f"{name} must be bounded from low to high, not from {low:g} to {high:g} {unit}")
    if unit == "mm" and not low > 0:
        raise ValueError(f"{name} must be above 0 mm, not {low:g} mm")
    if unit == "deg" and not (low >= -STEEPEST_DEG and high <= STEEPEST_DEG):
        raise ValueError(
            f"{name} must lie between {-STEEPEST_DEG:g} and {STEEPEST_DEG:g} deg, not {low:g} to {high:g} deg"
        )
    return low, high


def _limits(given: tuple[Limit, Limit, Limit], *, innermost_mm: float, outermost_mm: float) -> tuple[Vector, Vector]:
    mounting, length, offset = (_pair(name, limit) for name, limit in zip(PARAMETERS, given, strict=True))
    if mounting is None:
        raise ValueError(
            "pivot_to_spindle_mm must be held or bounded: the longer the arm the smaller its error, without end"
        )
    # The stylus must get in to the innermost groove, past the spindle or short of it, and out to the outermost.
    nearest = max(mounting[0] - innermost_mm, outermost_mm - mounting[1], 1e-6)
    farthest = mounting[1] + innermost_mm
    if nearest > farthest:
        raise ValueError(
            f"no arm mounted {_span(*mounting)} mm from the spindle reaches all grooves from "
            f"{innermost_mm:g} to {outermost_mm:g} mm; check pivot_to_spindle_mm and the groove range"
        )
    low, high = length or (nearest, farthest)
    if low > farthest or high < nearest:
        raise ValueError(
            f"an arm {_span(low, high)} mm long, mounted {_span(*mounting)} mm from the spindle, "
            f"does not reach all grooves from {innermost_mm:g} to {outermost_mm:g} mm; effective_length_mm must lie "
            f"between {nearest:g} and {farthest:g} mm"
        )
    offset = offset or (-STEEPEST_DEG, STEEPEST_DEG)
    return (
        np.array([mounting[0], max(low, nearest), math.radians(offset[0])]),
        np.array([mounting[1], min(high, farthest), math.radians(offset[1])]),
    )


def _faces(lower: Vector, upper: Vector, *, innermost_mm: float) -> list[tuple[Vector, Vector]]:
    """Return the faces of the box on which the optimum can lie; the box itself if a dimension is held."""
    if (lower == upper).any():
        return [(lower, upper)]
    faces = [(0, upper[0])]
    # A length that ends only where the stylus just reaches the innermost groove ends with the distance.
    if upper[1] < upper[0] + innermost_mm:
        faces.append((1, upper[1]))
    # The offset angle shrinks in magnitude as the arm grows at the same nulls.
    if lower[2] > 0:
        faces.append((2, lower[2]))
    if upper[2] < 0:
        faces.append((2, upper[2]))
    boxes = []
    for axis, at in faces:
        face_lower, face_upper = lower.copy(), upper.copy()
        face_lower[axis] = face_upper[axis] = at
        boxes.append((face_lower, face_upper))
    return boxes


def _describe(lower: Vector, upper: Vector) -> str:
    texts = []
    for name, low, high in zip(PARAMETERS, lower, upper, strict=True):
        stem, unit = name.rsplit("_", 1)
        ends = (math.degrees(low), math.degrees(high)) if unit == "deg" else (low, high)
        texts.append(f"{stem.replace('_', ' ')} {_span(*ends)} {unit}")
    return ", ".join(texts)


def _span(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def _start(error: PeakOfError | RmsOfError, lower: Vector, upper: Vector) -> tuple[Rating, Vector] | None:
    """Return the best of the closed forms after moving each into the box; None if none of them can play."""
    r1, r2 = error.grooves.innermost_mm, error.grooves.outermost_mm
    offsets_and_products = [
        (sum(nulls) / 2, nulls[0] * nulls[1])
        for nulls in (form(innermost_mm=r1, outermost_mm=r2) for form in CLOSED_FORM_NULL_RADII.values())
    ]
    # The straight underhung arm that errs alike at both ends.
    offsets_and_products.append((0.0, -2 / (r1**-2 + r2**-2)))
    candidates = [(lower + upper) / 2]
    for offset, product in offsets_and_products:
        mounting = upper[0]
        length = math.sqrt(max(mounting**2 + product, lower[1] ** 2))
        if lower[0] < upper[0]:
            # Where the distance may give way, the length comes from what is held, and the distance from both.
            length = offset / math.sin(lower[2]) if 0 < lower[2] == upper[2] else length
            length = min(max(length, lower[1]), upper[1])
            mounting = math.sqrt(max(length**2 - product, lower[0] ** 2))
        candidates.append(np.array([mounting, length, math.asin(min(offset / length, 1.0))]))
    length = math.sqrt(upper[0] ** 2 + r1 * r2)
    highest, lowest = (math.asin(min((r * r + r1 * r2) / (2 * r * length), 1.0)) for r in (r1, math.sqrt(r1 * r2)))
    candidates.append(np.array([upper[0], length, (highest + lowest) / 2]))
    rated = [
        (error.rate(inside), inside)
        for inside in (np.clip(candidate, lower, upper) for candidate in candidates)
        if error.grooves.playable(inside)
    ]
    return min(rated, key=lambda pair: pair[0].value) if rated else None


def _descend(
    error: PeakOfError | RmsOfError, rating: Rating, at: Vector, lower: Vector, upper: Vector
) -> tuple[Rating, Vector]:
    """Return the lowest place reached from a start, stepping in the two dimensions that the face leaves."""
    held = int(np.flatnonzero(lower == upper)[0])
    free = [axis for axis in range(3) if axis != held]
    for _ in range(MOST_ROUNDS):
        step = error.step(rating, free=free, lower=(lower - at)[free], upper=(upper - at)[free])
        moved = None if step is None else _downhill(error, rating, at, free=free, step=step)
        if moved is None:
            break
        rating, at = moved
    return rating, np.clip(at, lower, upper)


def _downhill(
    error: PeakOfError | RmsOfError, rating: Rating, at: Vector, *, free: list[int], step: Vector
) -> tuple[Rating, Vector] | None:
    """Return the first of the step, its half, its quarter ... that does not go uphill; None if all do."""
    for halvings in range(MOST_HALVINGS):
        trial = at.copy()
        trial[free] += step * 0.5**halvings
        if not error.grooves.playable(trial):
            continue
        rated = error.rate(trial)
        # Near the bottom the slopes still tell the way when the values differ by rounding only.
        if rated.value <= rating.value * (1 + ROUNDING) if halvings == 0 else rated.value < rating.value:
            return rated, trial
    return None
