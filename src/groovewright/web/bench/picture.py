"""The picture of the seven settings: one track a setting, all with tolerance bands of one width, values to scale."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity

WIDTH = 560.0
EDGE = 14.0
BAND_LEFT, BAND_RIGHT = 200.0, 360.0
"""Where the limits of a two-sided tolerance stand on every track, in drawing units."""


@dataclass(frozen=True)
class Track:
    """Where the marks of one setting stand along its track, in drawing units; None where there is nothing to draw.

    Attributes
    ----------
    band_left, band_right : float
        The tolerance; a missing limit lets it run to the edge of the track.
    lower, upper, aim : float or None
        Posts of the limits, and where the setting should be.
    value : float or None
        Best estimate; on the edge of the track if it lies beyond.
    interval : tuple of two floats or None
        95 % interval, cut at the edges of the track.
    found : float or None
        Where it was found; on the edge of the track if that lies beyond.
    beyond : str
        ``"left"`` or ``"right"`` where the value lies beyond the track, else empty.
    """

    band_left: float
    band_right: float
    lower: float | None
    upper: float | None
    aim: float | None
    value: float | None
    interval: tuple[float, float] | None
    found: float | None
    beyond: str


def track(
    quantity: Quantity | None, tolerance: Tolerance, aim: float | None, *, found: Quantity | None = None
) -> Track:
    """Return the marks of one setting.

    Parameters
    ----------
    quantity : Quantity or None
        Best estimate, in the unit of the tolerance; None if nothing was read.
    tolerance : Tolerance
    aim : float or None
        Where the setting should be, in the same unit.
    found : Quantity or None
        As found, in the same unit.
    """
    start, per_unit = _scale(tolerance)

    def place(value: float) -> float:
        return BAND_LEFT + (value - start) * per_unit

    lower = None if tolerance.lower is None else place(tolerance.lower)
    upper = None if tolerance.upper is None else place(tolerance.upper)
    return Track(
        band_left=EDGE if lower is None else round(lower, 2),
        band_right=WIDTH - EDGE if upper is None else round(upper, 2),
        lower=None if lower is None else round(lower, 2),
        upper=None if upper is None else round(upper, 2),
        aim=None if aim is None else _within(place(aim)),
        value=None if quantity is None else _within(place(quantity.value)),
        interval=_interval(quantity, place),
        found=None if found is None else _within(place(found.value)),
        beyond=_beyond(quantity, place),
    )


def _scale(tolerance: Tolerance) -> tuple[float, float]:
    """Return the value that stands at the left post, and drawing units per unit of the setting."""
    lower, upper = tolerance.lower, tolerance.upper
    if lower is not None and upper is not None:
        return lower, (BAND_RIGHT - BAND_LEFT) / (upper - lower)
    only = lower if lower is not None else upper
    assert only is not None
    # A lone limit gives no width to scale by: a quarter of its size then.
    width = abs(only) / 4 or 1.0
    return (only if lower is not None else only - width), (BAND_RIGHT - BAND_LEFT) / width


def _within(place: float) -> float:
    return round(min(max(place, EDGE), WIDTH - EDGE), 2)


def _interval(quantity: Quantity | None, place: Callable[[float], float]) -> tuple[float, float] | None:
    if quantity is None or not quantity.standard_uncertainty:
        return None
    low, high = (_within(place(end)) for end in coverage_interval(quantity))
    return (low, high) if high > low else None


def _beyond(quantity: Quantity | None, place: Callable[[float], float]) -> str:
    if quantity is None:
        return ""
    at = place(quantity.value)
    if at < EDGE:
        return "left"
    return "right" if at > WIDTH - EDGE else ""
