"""A scene as PDF: arcs as fine Béziers of our own, fonts embedded, printers told not to scale."""

from __future__ import annotations

import io
import math
from functools import cache
from typing import Any

from groovewright.plates.scene import Arc, Circle, Line, Placement, Point, Polyline, Scene, Text, point_at

POINTS_PER_MM = 72 / 25.4
MOST_DEGREES_A_BEZIER = 15.0
"""A cubic over 15 degrees strays 4e-7 mm from a 240 mm arc; over 36 degrees it strays 3e-4 mm."""
_FONT_NAMES = {"regular": "SourceSansPro", "semibold": "SourceSansPro-Semibold"}


def scene_to_pdf(scene: Scene) -> bytes:
    """Return the scene as a one-page PDF, the same bytes for the same scene.

    The page asks the viewer to print without scaling. A viewer may ignore that, so a plate carries bars to measure.
    """
    from reportlab.lib.colors import HexColor
    from reportlab.pdfgen.canvas import Canvas

    _register_fonts()
    stream = io.BytesIO()
    canvas = Canvas(
        stream,
        pagesize=(scene.width_mm * POINTS_PER_MM, scene.height_mm * POINTS_PER_MM),
        invariant=1,
        initialFontName=_FONT_NAMES["regular"],
    )
    canvas.setTitle(scene.title)
    canvas.setAuthor("Groovewright")
    canvas.setCreator("Groovewright")
    canvas.setViewerPreference("PrintScaling", "None")
    for shape in scene.shapes:
        if isinstance(shape, Text):
            _draw_text(canvas, shape, scene.placement, HexColor(shape.colour))
            continue
        canvas.setStrokeColor(HexColor(shape.stroke.colour))
        canvas.setLineWidth(shape.stroke.width_mm * POINTS_PER_MM)
        canvas.drawPath(_path(canvas, shape, scene.placement), stroke=1, fill=0)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()


@cache
def _register_fonts() -> None:
    import font_source_sans_pro
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    files = font_source_sans_pro.font_files_ttf
    pdfmetrics.registerFont(TTFont(_FONT_NAMES["regular"], files["SourceSansPro"]))
    pdfmetrics.registerFont(TTFont(_FONT_NAMES["semibold"], files["SourceSansProSemibold"]))


def _draw_text(canvas: Any, shape: Text, placement: Placement, colour: object) -> None:
    x, y = _points(shape.at, placement)
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(shape.turn_deg)
    canvas.setFillColor(colour)
    canvas.setFont(_FONT_NAMES[shape.weight], shape.size_mm * POINTS_PER_MM)
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
    draw[shape.anchor](0, 0, shape.words)
    canvas.restoreState()


def _path(canvas: Any, shape: Line | Polyline | Arc | Circle, placement: Placement) -> Any:
    path = canvas.beginPath()
    if isinstance(shape, Line | Polyline):
        points = (shape.start, shape.end) if isinstance(shape, Line) else shape.points
        path.moveTo(*_points(points[0], placement))
        for point in points[1:]:
            path.lineTo(*_points(point, placement))
    else:
        start, end = (0.0, 360.0) if isinstance(shape, Circle) else (shape.start_deg, shape.end_deg)
        path.moveTo(*_points(point_at(shape.centre, shape.radius_mm, start), placement))
        for controls in _beziers(shape.centre, shape.radius_mm, start, end):
            path.curveTo(*(number for point in controls for number in _points(point, placement)))
    if isinstance(shape, Circle) or (isinstance(shape, Polyline) and shape.closed):
        path.close()
    return path


def _beziers(centre: Point, radius_mm: float, start_deg: float, end_deg: float) -> list[tuple[Point, Point, Point]]:
    """Return two control points and the end of each cubic along the arc; stretching them stretches the arc truly."""
    pieces = math.ceil((end_deg - start_deg) / MOST_DEGREES_A_BEZIER)
    step = (end_deg - start_deg) / pieces
    # The distance of a control point along the tangent that puts the middle of the cubic on the circle.
    reach = radius_mm * 4 / 3 * math.tan(math.radians(step) / 4)
    cubics = []
    for piece in range(pieces):
        first, last = start_deg + piece * step, start_deg + (piece + 1) * step
        begin, finish = point_at(centre, radius_mm, first), point_at(centre, radius_mm, last)
        cubics.append((point_at(begin, reach, first + 90), point_at(finish, reach, last - 90), finish))
    return cubics


def _points(point: Point, placement: Placement) -> tuple[float, float]:
    x, y = placement.on_page(point)
    return x * POINTS_PER_MM, y * POINTS_PER_MM
