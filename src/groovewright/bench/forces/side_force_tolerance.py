"""Limits of the side force in the middle of the groove that stand for the whole of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.conformity import Tolerance
from groovewright.tonearm.compensation import Compensation, TableCompensation
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range
from groovewright.tonearm.side_force import least_side_force_radius, side_force_mn

POINTS = 401
"""Radii looked at for the limits in the middle, besides those at which side force or table turn."""


def side_force_tolerance_at_middle(
    *,
    geometry: Geometry,
    tracking_force_mn: float,
    friction_coefficient: float,
    innermost_mm: float,
    outermost_mm: float,
    limit_mn: float,
    compensation: Compensation | None = None,
    bearing_friction_mn: float = 0.0,
) -> Tolerance:
    """Return the limits in the middle of the groove that keep the whole groove within its own.

    Side force and compensation run over the groove as they do, and only their distance is set. So the limits in the
    middle are those of the groove less what the rest rises and falls from there, and less the bearings' friction.

    Parameters
    ----------
    geometry : Geometry
    tracking_force_mn, friction_coefficient : float
        [mN], [1]
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    limit_mn : float
        Side force that may be left over anywhere, either way. [mN]
    compensation : Compensation, optional
        Its course over the groove; constant if not given.
    bearing_friction_mn : float
        Static, either way. [mN]

    Raises
    ------
    ValueError
        If the rest varies so much over the groove that no setting keeps the limits.
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    middle_mm = (innermost_mm + outermost_mm) / 2
    kinks = compensation.radii_mm if isinstance(compensation, TableCompensation) else ()
    radii_mm = np.append(groove_radii(geometry, innermost_mm, outermost_mm, kinks, points=POINTS), middle_mm)
    rest = side_force_mn(
        radii_mm, geometry=geometry, tracking_force_mn=tracking_force_mn, friction_coefficient=friction_coefficient
    )
    if compensation is not None:
        rest = rest - compensation.force_mn(radii_mm)
    course = rest - rest[-1]
    lower = -limit_mn + bearing_friction_mn - float(course.min())
    upper = limit_mn - bearing_friction_mn - float(course.max())
    if not lower < upper:
        held = f" and the bearings hold {bearing_friction_mn:.2g} mN either way" if bearing_friction_mn else ""
        raise ValueError(
            f"over the groove the side force left over varies by {float(np.ptp(course)):.2g} mN{held}, so no setting "
            f"keeps it within {limit_mn:.2g} mN either way; allow more, or mend the compensation's course or the "
            "bearings first"
        )
    return Tolerance(lower, upper, "mN")


def groove_radii(
    geometry: Geometry, innermost_mm: float, outermost_mm: float, besides_mm: Sequence[float], *, points: int
) -> NDArray[np.float64]:
    """Return where forces are worked out: evenly, where the side force is least, and at further radii. [mm]"""
    least = least_side_force_radius(geometry)
    extra = [radius for radius in (*besides_mm, least) if radius is not None and innermost_mm < radius < outermost_mm]
    return np.unique(np.concatenate([np.linspace(innermost_mm, outermost_mm, points), extra]))
