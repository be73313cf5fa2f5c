"""Where the parts of the to-scale plan stand on the screen: mm, x to the right, y down, spindle at the origin."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from groovewright.bench.targets.targets import Targets
from groovewright.tonearm.geometry import Geometry

Point = tuple[float, float]

# The arm stands at the back right, as on most decks, and the platter turns clockwise.
PIVOT_BEARING_DEG = -54.0
PLATTER_RADIUS_MM = 150.0
LABEL_RADIUS_MM = 50.0
RECORD_EDGE_MM = 4.5
HEADSHELL_LENGTH_MM = 46.0
COUNTERWEIGHT_END_MM = 62.0
MARGIN_MM = 12.0
ARC_POINTS = 25
# How many times the tracking error is enlarged in the lens, so that the larger errors still fit in it.
LENS_STEPS = ((3.5, 10), (7.0, 5), (17.0, 2))


@dataclass(frozen=True)
class Plan:
    """Everything the picture needs; the stylus stands at `radius_mm`."""

    geometry: Geometry
    innermost_mm: float
    outermost_mm: float
    record_mm: float
    platter_mm: float
    label_mm: float
    pivot: Point
    stylus: Point
    bearing_deg: float
    headshell_root: Point
    headshell_length_mm: float
    arc: tuple[Point, ...]
    nulls: tuple[tuple[float, Point], ...]
    radius_mm: float
    magnification: int
    left: float
    top: float
    width: float
    height: float


def stylus_position(geometry: Geometry, radius_mm: float) -> Point:
    """Return where the stylus stands when it is on a groove radius. [mm]"""
    distance, length = geometry.pivot_to_spindle_mm, geometry.effective_length_mm
    # Cosine rule, for the corner at the spindle.
    corner = math.acos((radius_mm**2 + distance**2 - length**2) / (2 * radius_mm * distance))
    bearing = math.radians(PIVOT_BEARING_DEG) + corner
    return radius_mm * math.cos(bearing), radius_mm * math.sin(bearing)


def draw_plan(targets: Targets, radius_mm: float) -> Plan:
    """Return the plan of a pivoted arm with its stylus on a groove radius."""
    geometry, request = targets.geometry, targets.request
    innermost, outermost = request.innermost_mm, request.outermost_mm
    turn = math.radians(PIVOT_BEARING_DEG)
    pivot = (geometry.pivot_to_spindle_mm * math.cos(turn), geometry.pivot_to_spindle_mm * math.sin(turn))
    stylus = stylus_position(geometry, radius_mm)
    offset = math.radians(geometry.offset_angle_deg)
    steps = [innermost + (outermost - innermost) * k / (ARC_POINTS - 1) for k in range(ARC_POINTS)]
    record = outermost + RECORD_EDGE_MM
    widest = max(record, PLATTER_RADIUS_MM)
    left, right = -widest - MARGIN_MM, max(widest, pivot[0] + COUNTERWEIGHT_END_MM) + MARGIN_MM
    top, bottom = min(-widest, pivot[1] - COUNTERWEIGHT_END_MM) - MARGIN_MM, widest + MARGIN_MM
    return Plan(
        geometry=geometry,
        innermost_mm=innermost,
        outermost_mm=outermost,
        record_mm=record,
        platter_mm=PLATTER_RADIUS_MM,
        label_mm=min(LABEL_RADIUS_MM, innermost - 2),
        pivot=pivot,
        stylus=stylus,
        bearing_deg=math.degrees(math.atan2(stylus[1] - pivot[1], stylus[0] - pivot[0])),
        headshell_root=(
            geometry.effective_length_mm - HEADSHELL_LENGTH_MM * math.cos(offset),
            -HEADSHELL_LENGTH_MM * math.sin(offset),
        ),
        headshell_length_mm=HEADSHELL_LENGTH_MM,
        arc=tuple(stylus_position(geometry, step) for step in steps),
        nulls=tuple(
            (null, stylus_position(geometry, null)) for null in geometry.null_radii_mm if innermost <= null <= outermost
        ),
        radius_mm=radius_mm,
        magnification=_magnification(targets.peak_tracking_error.value),
        left=left,
        top=top,
        width=right - left,
        height=bottom - top,
    )


def plan_for_browser(plan: Plan, curve: dict[str, list[float]]) -> dict[str, Any]:
    """Return what the browser needs to move the stylus and to read the errors off."""
    return {
        "pivotToSpindle": plan.geometry.pivot_to_spindle_mm,
        "effectiveLength": plan.geometry.effective_length_mm,
        "offsetAngle": plan.geometry.offset_angle_deg,
        "pivotBearing": PIVOT_BEARING_DEG,
        "innermost": plan.innermost_mm,
        "outermost": plan.outermost_mm,
        "magnification": plan.magnification,
        "curve": curve,
    }


def _magnification(peak_error_deg: float) -> int:
    return next((times for error, times in LENS_STEPS if abs(peak_error_deg) <= error), 1)
