"""A pivoted arm's horizontal geometry: where it stands, how long it is, how its cartridge is turned."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.tonearm.tracking import null_radii, tracking_error


@dataclass(frozen=True)
class Geometry:
    """Pivot-to-spindle distance, effective length and offset angle of a pivoted arm.

    Parameters
    ----------
    pivot_to_spindle_mm, effective_length_mm : float
        Pivot to spindle centre, and pivot to stylus, both horizontal. [mm]
    offset_angle_deg : float
        Cantilever axis from the line pivot-stylus, seen from above; 0 for a straight arm. [deg]

    Raises
    ------
    ValueError
        If a length is not above 0, or the angle is not between -90 and 90 degrees.
    """

    pivot_to_spindle_mm: float
    effective_length_mm: float
    offset_angle_deg: float

    def __post_init__(self) -> None:
        for name in ("pivot_to_spindle_mm", "effective_length_mm"):
            length = getattr(self, name)
            if not (math.isfinite(length) and length > 0):
                raise ValueError(f"{name} must be above 0 mm and finite, not {length:g} mm")
        if not abs(self.offset_angle_deg) < 90:
            raise ValueError(f"offset_angle_deg must lie between -90 and 90 deg, not {self.offset_angle_deg:g} deg")

    @property
    def overhang_mm(self) -> float:
        """Effective length less pivot-to-spindle distance; negative for an underhung arm. [mm]"""
        return self.effective_length_mm - self.pivot_to_spindle_mm

    @property
    def linear_offset_mm(self) -> float:
        """Distance of the cantilever's axis from the pivot, the mean of the two null radii. [mm]"""
        return self.effective_length_mm * math.sin(math.radians(self.offset_angle_deg))

    @property
    def null_radii_mm(self) -> tuple[float, ...]:
        """Radii of zero tracking error, the smaller first; none, one or two. [mm]"""
        return null_radii(
            effective_length_mm=self.effective_length_mm,
            pivot_to_spindle_mm=self.pivot_to_spindle_mm,
            offset_angle_deg=self.offset_angle_deg,
        )

    def tracking_error_deg(self, radius_mm: ArrayLike) -> NDArray[np.float64]:
        """Return the tracking error at each radius, shape of `radius_mm`; see `tracking.tracking_error`. [deg]"""
        return tracking_error(
            radius_mm,
            effective_length_mm=self.effective_length_mm,
            pivot_to_spindle_mm=self.pivot_to_spindle_mm,
            offset_angle_deg=self.offset_angle_deg,
        )


def geometry_from_nulls(*, pivot_to_spindle_mm: float, null_radii_mm: tuple[float, float]) -> Geometry:
    """Return the one geometry that has both null radii at this pivot-to-spindle distance.

    Parameters
    ----------
    pivot_to_spindle_mm : float
        Pivot to spindle centre, horizontal. [mm]
    null_radii_mm : tuple of two float
        Radii of zero tracking error, in either order; equal for a double null. [mm]

    Raises
    ------
    ValueError
        If a radius or the distance is not above 0, or no arm of that length can hold the linear offset.

    Examples
    --------
    >>> round(geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(65.998, 120.891)).overhang_mm, 2)
    17.3
    """
    first, second = null_radii_mm
    for name, length in (
        ("pivot_to_spindle_mm", pivot_to_spindle_mm),
        ("null radius", first),
        ("null radius", second),
    ):
        if not (math.isfinite(length) and length > 0):
            raise ValueError(f"{name} must be above 0 mm and finite, not {length:g} mm")
    length = math.sqrt(pivot_to_spindle_mm**2 + first * second)
    offset = (first + second) / 2
    if not offset < length:
        raise ValueError(
            f"null radii {first:g} and {second:g} mm need a linear offset of {offset:g} mm, which an arm of "
            f"{length:g} mm, mounted {pivot_to_spindle_mm:g} mm from the spindle, cannot hold"
        )
    return Geometry(pivot_to_spindle_mm, length, math.degrees(math.asin(offset / length)))
