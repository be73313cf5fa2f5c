"""A plate on its page, from what was asked for."""

from __future__ import annotations

from dataclasses import replace

from groovewright.plates.arc_plate import arc_plate_shapes
from groovewright.plates.ink import CUT, CUTTING, DRILL, DRILLING, ETCH, HOLE, OUTLINE
from groovewright.plates.paper import page_for
from groovewright.plates.request import PlateRequest
from groovewright.plates.scene import Arc, Circle, Line, Placement, Scene, Shape, point_at
from groovewright.plates.title_block import TITLES
from groovewright.plates.two_null_plate import two_null_shapes


def draw_plate(request: PlateRequest) -> Scene:
    """Return the plate in the middle of the page it fits, upright or on its side.

    Parameters
    ----------
    request : PlateRequest
        What to draw. Its scales divide the drawing, never the paper.

    Raises
    ------
    ValueError
        If the plate does not fit the paper, with the paper that would do, or an arm can't reach part of the range.

    Examples
    --------
    >>> from groovewright.tonearm.geometry import geometry_from_nulls
    >>> arm = geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(65.998, 120.891))
    >>> scene = draw_plate(PlateRequest("arc", arm, 60.325, 146.05, "Least peak of error over radius"))
    >>> scene.width_mm, scene.height_mm
    (297.0, 210.0)
    """
    shapes = two_null_shapes(request) if request.kind == "two-null" else arc_plate_shapes(request)
    edges = [point for shape in shapes if shape.layer == OUTLINE for point in _ends(shape)]
    if request.kind == "cut":
        shapes = [_for_cutting(shape) for shape in shapes]
    left, right = min(x for x, _ in edges), max(x for x, _ in edges)
    bottom, top = min(y for _, y in edges), max(y for _, y in edges)
    width_mm, height_mm = (right - left) / request.scale_x, (top - bottom) / request.scale_y
    page = page_for(request.paper, width_mm=width_mm, height_mm=height_mm)
    origin = (
        (page.width_mm - width_mm) / 2 - left / request.scale_x,
        (page.height_mm - height_mm) / 2 - bottom / request.scale_y,
    )
    return Scene(
        page.width_mm,
        page.height_mm,
        tuple(shapes),
        f"{TITLES[request.kind]} {request.plate_number}",
        Placement(origin, request.scale_x, request.scale_y),
    )


def _ends(shape: Shape) -> tuple[tuple[float, float], ...]:
    if isinstance(shape, Line):
        return shape.start, shape.end
    if isinstance(shape, Arc):
        return tuple(point_at(shape.centre, shape.radius_mm, deg) for deg in (shape.start_deg, shape.end_deg))
    return ()


def _for_cutting(shape: Shape) -> Shape:
    """Return the shape on the layer for the machine: the edge is cut, the spindle hole drilled, all else etched."""
    if shape.layer == HOLE and isinstance(shape, Circle):
        return replace(shape, layer=DRILL, stroke=DRILLING)
    if shape.layer == OUTLINE and isinstance(shape, Line | Arc):
        return replace(shape, layer=CUT, stroke=CUTTING)
    return replace(shape, layer=ETCH)


__all__ = ["PlateRequest", "draw_plate"]
