"""The marks of a plate: null grid, spindle, check bar, frame."""

from __future__ import annotations

import math

from groovewright.plates.ink import ARCS, FINE, FRAME, GHOST, GRIDS, HAIRLINE, HOLE, INK, LACQUER, MARKS, OUTLINE, TEXT
from groovewright.plates.print_scale import CHECK_BAR_MM
from groovewright.plates.scene import Arc, Circle, Line, Point, Shape, Text, point_at

LANE_HALF_WIDTH_MM = 0.5
RAIL_OFFSETS_MM = (LANE_HALF_WIDTH_MM, 2.0, 3.5, 5.0, 7.0, 9.0, 11.5, 14.0, 17.0)
"""Rails stand close about the lane, for the cantilever, and wider apart outside, for the cartridge. [mm]"""


def null_grid(centre: Point, *, tangent_deg: float, size_mm: float) -> list[Shape]:
    """Return a round field of rails along the groove tangent, open in the middle for the cantilever.

    Parameters
    ----------
    centre : Point
        The null point. [mm]
    tangent_deg : float
        Direction of the groove there, which the cantilever must take. [deg]
    size_mm : float
        Radius of the field. [mm]
    """
    shapes: list[Shape] = []
    for offset in RAIL_OFFSETS_MM:
        if offset > size_mm - 0.4:
            break
        half_length = math.sqrt(size_mm**2 - offset**2)
        for side in (offset, -offset):
            foot = point_at(centre, side, tangent_deg - 90)
            ends = point_at(foot, half_length, tangent_deg + 180), point_at(foot, half_length, tangent_deg)
            shapes.append(Line(*ends, GRIDS, HAIRLINE))
    # Two bearings in line with the lane, and two square to it that stop short: nothing is printed on the null itself.
    for bearing in (tangent_deg, tangent_deg + 180):
        shapes.append(
            Line(point_at(centre, size_mm + 0.8, bearing), point_at(centre, size_mm + 3.2, bearing), GRIDS, FINE)
        )
        across = bearing + 90
        shapes.append(
            Line(point_at(centre, LANE_HALF_WIDTH_MM, across), point_at(centre, size_mm + 1.6, across), GRIDS, FINE)
        )
    # The rim is open where the bearings pass.
    gap = math.degrees(2.2 / size_mm)
    for quarter in range(4):
        start = tangent_deg + quarter * 90
        shapes.append(Arc(centre, size_mm + 0.8, start + gap, start + 90 - gap, GRIDS, GHOST))
    return shapes


def null_tick(centre: Point, *, tangent_deg: float) -> list[Shape]:
    """Return two short lines along the groove tangent, open at the null point between them."""
    return [
        Line(point_at(centre, 0.3, bearing), point_at(centre, 1.1, bearing), ARCS, HAIRLINE)
        for bearing in (tangent_deg, tangent_deg + 180)
    ]


def null_name(foot: Point, radius_mm: float) -> list[Shape]:
    """Return the words under a null: that it is one, and its radius to a micrometre. [mm]"""
    return [
        Text((foot[0], foot[1] - 2.6), "null", 2.5, TEXT, LACQUER, "regular", "middle"),
        Text((foot[0], foot[1] - 5.6), f"{radius_mm:.3f}", 2.7, TEXT, INK, "semibold", "middle"),
    ]


def spindle_mark(hole_diameter_mm: float) -> list[Shape]:
    """Return the hole's edge, a centre to punch and four bearings around it, at the drawing's origin."""
    hole_mm = hole_diameter_mm / 2
    shapes: list[Shape] = [
        Circle((0.0, 0.0), hole_mm, HOLE, FINE),
        Circle((0.0, 0.0), 0.3, MARKS, HAIRLINE),
    ]
    for bearing in (0, 90, 180, 270):
        shapes.append(Line(point_at((0.0, 0.0), 0.3, bearing), point_at((0.0, 0.0), 2.2, bearing), MARKS, HAIRLINE))
    for bearing in (45, 135, 225, 315):
        shapes.append(
            Line(point_at((0.0, 0.0), hole_mm + 0.8, bearing), point_at((0.0, 0.0), 8.5, bearing), MARKS, FINE)
        )
        shapes.append(Arc((0.0, 0.0), 7.0, bearing - 32, bearing + 32, MARKS, GHOST))
    return shapes


def check_bar(start: Point, *, axis: str) -> list[Shape]:
    """Return a bar of 100 mm with fine end ticks, along x or up y from `start`, and its name."""
    bearing = 0.0 if axis == "x" else 90.0
    shapes: list[Shape] = [Line(start, point_at(start, CHECK_BAR_MM, bearing), MARKS, FINE)]
    for along_mm in range(0, int(CHECK_BAR_MM) + 1, 10):
        foot = point_at(start, along_mm, bearing)
        if along_mm in (0, CHECK_BAR_MM):
            ends = point_at(foot, 2.4, bearing + 90), point_at(foot, 2.4, bearing - 90)
        else:
            ends = point_at(foot, 1.6 if along_mm == CHECK_BAR_MM / 2 else 0.9, bearing + 90), foot
        shapes.append(Line(*ends, MARKS, HAIRLINE))
    label = point_at(point_at(start, CHECK_BAR_MM / 2, bearing), 3.2, bearing - 90)
    shapes.append(Text(label, f"{axis} bar {CHECK_BAR_MM:g} mm", 2.6, TEXT, INK, "semibold", "middle", bearing))
    return shapes


def frame(*, left_mm: float, bottom_mm: float, right_mm: float, top_mm: float, corner_mm: float = 6.0) -> list[Shape]:
    """Return the plate's edge: straight sides and round corners that meet exactly."""
    low_x, high_x = left_mm + corner_mm, right_mm - corner_mm
    low_y, high_y = bottom_mm + corner_mm, top_mm - corner_mm
    return [
        Line((low_x, bottom_mm), (high_x, bottom_mm), OUTLINE, FRAME),
        Arc((high_x, low_y), corner_mm, 270, 360, OUTLINE, FRAME),
        Line((right_mm, low_y), (right_mm, high_y), OUTLINE, FRAME),
        Arc((high_x, high_y), corner_mm, 0, 90, OUTLINE, FRAME),
        Line((high_x, top_mm), (low_x, top_mm), OUTLINE, FRAME),
        Arc((low_x, high_y), corner_mm, 90, 180, OUTLINE, FRAME),
        Line((left_mm, high_y), (left_mm, low_y), OUTLINE, FRAME),
        Arc((low_x, low_y), corner_mm, 180, 270, OUTLINE, FRAME),
    ]
