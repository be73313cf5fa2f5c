"""The arc plate: the stylus path of the design and of its neighbours, each in a lane of its own.

About the spindle, with the pivot straight up, a stylus at groove radius r stands at the bearing gamma from the
pivot, clockwise, because the record turns clockwise and drags the stylus away from the pivot:
cos gamma = (r^2 - (L^2 - D^2)) / (2 r D).  Drawn about one spindle and aimed along one line, the paths for
neighbouring D all meet at r = sqrt(L^2 - D^2) and part by about 0.1 mm per mm of D at the rim: nobody could tell
them apart. So each neighbour is turned about the spindle, aiming line and all, into a lane where it can be read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.plates import title_block
from groovewright.plates.ink import ARC, ARCS, FINE, GHOST, HAIRLINE, INK, LACQUER, MARKS, TEXT
from groovewright.plates.marks import check_bar, frame, null_grid, null_name, null_tick, spindle_mark
from groovewright.plates.request import PlateRequest
from groovewright.plates.scene import Arc, Line, Point, Polyline, Shape, Text, Weight, point_at

_LANE_PITCH_DEG = 2.6
_COLUMN_MM = 55.0
_EDGE_MM = 4.0
_FIELDS_MM = (9.5, 13.0)
_AIM_START_MM = 72.0
_STEPS = (
    "1  Put the spindle through the mark. Turn the plate until the line with your distance points at the pivot; "
    "hold it there.",
    "2  Slide the cartridge until the stylus keeps to the arc with the same number from end to end.",
    "3  At each null, turn the cartridge until the cantilever lies along the open lane. Repeat from 2.",
)


@dataclass(frozen=True)
class Lane:
    """One stylus path, turned about the spindle.

    Parameters
    ----------
    pivot_to_spindle_mm, effective_length_mm : float
        The arm that traces it. [mm]
    turn_deg : float
        Turn of path and aiming line about the spindle, counterclockwise. [deg]
    """

    pivot_to_spindle_mm: float
    effective_length_mm: float
    turn_deg: float

    @property
    def pivot(self) -> Point:
        """Where the pivot stands when this lane is aimed at it. [mm]"""
        return point_at((0.0, 0.0), self.pivot_to_spindle_mm, 90 + self.turn_deg)

    def bearing_deg(self, radius_mm: float) -> float:
        """Return the bearing of the stylus from the spindle, counterclockwise from +x; ValueError out of reach."""
        mounting, length = self.pivot_to_spindle_mm, self.effective_length_mm
        cosine = (radius_mm**2 - length**2 + mounting**2) / (2 * radius_mm * mounting)
        if not abs(cosine) < 1:
            raise ValueError(
                f"An arm of {length:.2f} mm at {mounting:.2f} mm from the spindle can't reach {radius_mm:.2f} mm."
            )
        return 90 + self.turn_deg - math.degrees(math.acos(cosine))

    def stylus(self, radius_mm: float) -> Point:
        """Return where the stylus stands at a groove radius. [mm]"""
        return point_at((0.0, 0.0), radius_mm, self.bearing_deg(radius_mm))

    def path_bearing_deg(self, radius_mm: float) -> float:
        """Return the bearing of the stylus from the pivot at a groove radius, between -180 and 180. [deg]"""
        stylus, pivot = self.stylus(radius_mm), self.pivot
        return math.degrees(math.atan2(stylus[1] - pivot[1], stylus[0] - pivot[0]))


def lanes(request: PlateRequest) -> list[Lane]:
    """Return the design's lane and its neighbours by pivot-to-spindle distance, shortest first.

    A neighbour keeps the null radii, hence L'^2 = D'^2 + (L^2 - D^2): the target of the same criterion, because the
    product of every closed form's nulls depends on the groove range alone. For an exact optimum it is the target
    within a micrometre over a fan of a few millimetres.
    """
    geometry = request.geometry
    product_mm2 = geometry.effective_length_mm**2 - geometry.pivot_to_spindle_mm**2
    fan = []
    for neighbour in range(-request.neighbours_a_side, request.neighbours_a_side + 1):
        mounting = geometry.pivot_to_spindle_mm + neighbour * request.fan_step_mm
        turn = 0.0
        if neighbour:
            beyond = _first_turn_deg(request) + (abs(neighbour) - 1) * _LANE_PITCH_DEG
            turn = -math.copysign(beyond, neighbour)
        fan.append(Lane(mounting, math.sqrt(mounting**2 + product_mm2), turn))
    return fan


def grid_sizes_mm(null_radii_mm: tuple[float, ...], *, most_mm: tuple[float, float]) -> tuple[float, ...]:
    """Return the radius of each null's field, small enough that two fields stay apart. [mm]"""
    if len(null_radii_mm) == 1:
        return (most_mm[1],)
    share_mm = 0.38 * (null_radii_mm[1] - null_radii_mm[0])
    return min(most_mm[0], share_mm), min(most_mm[1], share_mm)


def arc_plate_shapes(request: PlateRequest) -> list[Shape]:
    """Return everything on the plate, spindle at the origin, pivot of the design straight up. [mm]"""
    fan = lanes(request)
    inner_mm, outer_mm = request.radii_drawn_mm
    widest_deg = fan[0].turn_deg
    highest_mm = max(lane.stylus(outer_mm)[1] for lane in fan) + 8
    radii_mm = inner_mm, *request.geometry.null_radii_mm, outer_mm
    lowest_mm = min(lane.stylus(radius_mm)[1] for lane in fan for radius_mm in radii_mm)
    farthest_mm = max(lane.stylus(outer_mm)[0] for lane in fan)
    top_mm = max(104.0, highest_mm + _EDGE_MM)
    bottom_mm = min(lowest_mm - 26, -54.0)
    right_mm = farthest_mm + 11 + _name_gap_mm(request)
    column_right_mm = -max(top_mm * math.tan(math.radians(widest_deg)), 12.0) - 12
    left_mm = column_right_mm - _COLUMN_MM - _EDGE_MM

    shapes = frame(left_mm=left_mm, bottom_mm=bottom_mm, right_mm=right_mm, top_mm=top_mm)
    shapes += spindle_mark(request.hole_diameter_mm)
    for lane in fan:
        shapes += _lane_shapes(lane, request, top_mm=top_mm)
    shapes += _nulls(fan, request)
    shapes += _groove_limits(fan, request)
    shapes += check_bar((column_right_mm + 5, bottom_mm + 13), axis="y")
    shapes += check_bar((column_right_mm + 13, bottom_mm + 9), axis="x")
    shapes += _words(request, left_mm=left_mm + _EDGE_MM, top_mm=top_mm - _EDGE_MM)
    return shapes


def _first_turn_deg(request: PlateRequest) -> float:
    """Return the turn at which the first neighbour clears both null fields. [deg]"""
    nulls_mm = request.geometry.null_radii_mm
    # A path crosses the groove tangent at 90 degrees less the offset angle.
    crossing = math.cos(math.radians(request.geometry.offset_angle_deg))
    sizes_mm = grid_sizes_mm(nulls_mm, most_mm=_FIELDS_MM)
    return max(
        math.degrees(math.asin(min((size + 3.6) / (radius * crossing), 0.7)))
        for size, radius in zip(sizes_mm, nulls_mm, strict=True)
    )


def _name_gap_mm(request: PlateRequest) -> float:
    """Return how far beyond the end of the design's path its name starts, clear of a null field there. [mm]"""
    nulls_mm = request.geometry.null_radii_mm
    size_mm = grid_sizes_mm(nulls_mm, most_mm=_FIELDS_MM)[-1]
    return max(2.0, size_mm + 3.0 - (request.radii_drawn_mm[1] - nulls_mm[-1]))


def _lane_shapes(lane: Lane, request: PlateRequest, *, top_mm: float) -> list[Shape]:
    design = lane.turn_deg == 0
    inner_mm, outer_mm = request.radii_drawn_mm
    start, end = sorted((lane.path_bearing_deg(inner_mm), lane.path_bearing_deg(outer_mm)))
    shapes: list[Shape] = [
        Arc(lane.pivot, lane.effective_length_mm, start, end, ARCS, ARC if design else FINE),
    ]
    if not design:
        for radius_mm in request.geometry.null_radii_mm:
            shapes += null_tick(lane.stylus(radius_mm), tangent_deg=lane.bearing_deg(radius_mm) + 90)
    onward_deg = lane.path_bearing_deg(outer_mm) + 90
    gap_mm = _name_gap_mm(request) if design else 2.0
    name, size_mm = f"{lane.pivot_to_spindle_mm:.2f}", 3.4 if design else 2.5
    weight: Weight = "semibold" if design else "regular"
    label = point_at(point_at(lane.stylus(outer_mm), gap_mm, onward_deg), 0.33 * size_mm, onward_deg - 90)
    shapes.append(Text(label, name, size_mm, TEXT, INK, weight, "start", onward_deg))

    aim_deg = 90 + lane.turn_deg
    reach_mm = top_mm / math.cos(math.radians(lane.turn_deg))
    from_mm = 9.5 if design else _AIM_START_MM
    aim = point_at((0.0, 0.0), from_mm, aim_deg), point_at((0.0, 0.0), reach_mm, aim_deg)
    shapes.append(Line(*aim, MARKS, FINE if design else HAIRLINE))
    if design:
        words = point_at(point_at((0.0, 0.0), 16, aim_deg), 3.6, aim_deg - 90)
        shapes.append(Text(words, f"{name} mm to the pivot", 3.0, TEXT, INK, weight, "start", aim_deg))
        tip = point_at((0.0, 0.0), reach_mm - 1.5, aim_deg)
        wings = point_at(tip, 4.0, aim_deg + 160), tip, point_at(tip, 4.0, aim_deg - 160)
        shapes.append(Polyline(wings, MARKS, FINE))
    else:
        words = point_at(point_at((0.0, 0.0), _AIM_START_MM - 1.2, aim_deg), 0.33 * size_mm, aim_deg - 90)
        shapes.append(Text(words, name, size_mm, TEXT, INK, weight, "end", aim_deg))
    return shapes


def _nulls(fan: list[Lane], request: PlateRequest) -> list[Shape]:
    """Return the null fields of the design, and each null's radius below the fan. [mm]"""
    design = fan[len(fan) // 2]
    nulls_mm = request.geometry.null_radii_mm
    shapes: list[Shape] = []
    for radius_mm, size_mm in zip(nulls_mm, grid_sizes_mm(nulls_mm, most_mm=_FIELDS_MM), strict=True):
        shapes += null_grid(design.stylus(radius_mm), tangent_deg=design.bearing_deg(radius_mm) + 90, size_mm=size_mm)
        below_deg = min(
            design.bearing_deg(radius_mm) - math.degrees((size_mm + 4) / radius_mm),
            fan[-1].bearing_deg(radius_mm) - math.degrees(2.0 / radius_mm),
        )
        foot = point_at((0.0, 0.0), radius_mm, below_deg)
        shapes += null_name(foot, radius_mm)
    return shapes


def _groove_limits(fan: list[Lane], request: PlateRequest) -> list[Shape]:
    nulls_mm = request.geometry.null_radii_mm
    design = fan[len(fan) // 2]
    fields = list(zip(nulls_mm, grid_sizes_mm(nulls_mm, most_mm=_FIELDS_MM), strict=True))
    shapes: list[Shape] = []
    for radius_mm in (request.innermost_mm, request.outermost_mm):
        bearings = sorted(lane.bearing_deg(radius_mm) for lane in fan)
        end_deg = bearings[-1] + math.degrees(4.0 / radius_mm)
        for null_mm, size_mm in fields:
            # The name of a limit takes some 10 mm toward the spindle.
            if null_mm - size_mm - 4 < radius_mm < null_mm + size_mm + 13:
                clear_deg = math.degrees((size_mm + 5.0) / min(null_mm, radius_mm))
                end_deg = max(end_deg, design.bearing_deg(max(null_mm, radius_mm)) + clear_deg)
        shapes.append(Arc((0.0, 0.0), radius_mm, bearings[0], end_deg, MARKS, GHOST))
        head = point_at((0.0, 0.0), radius_mm - 1.2, end_deg)
        words = title_block.groove_radius(radius_mm)
        shapes.append(Text((head[0], head[1] - 0.6), words, 2.5, TEXT, LACQUER, "regular", "end"))
    return shapes


def _words(request: PlateRequest, *, left_mm: float, top_mm: float) -> list[Shape]:
    width_mm = _COLUMN_MM
    head = title_block.heading(request, left_mm=left_mm, top_mm=top_mm, width_mm=width_mm)
    rows = title_block.target_rows(request) + title_block.making_rows(request)
    body = title_block.table(rows, left_mm=left_mm, top_mm=head.bottom_mm - 1.5, width_mm=width_mm)
    order = title_block.paragraph(
        title_block.PRINT_ORDER, left_mm=left_mm, top_mm=body.bottom_mm - 1.5, width_mm=width_mm, bold=True
    )
    shapes = [*head.shapes, *body.shapes, *order.shapes]
    next_mm = order.bottom_mm - 1
    cautions = (title_block.CUTTING_CAUTION,) if request.kind == "cut" else ()
    for words in (*_STEPS, title_block.BARE_STYLUS, *cautions):
        block = title_block.paragraph(words, left_mm=left_mm, top_mm=next_mm, width_mm=width_mm, size_mm=2.4)
        shapes += block.shapes
        next_mm = block.bottom_mm
    return shapes
