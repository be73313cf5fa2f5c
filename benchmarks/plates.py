"""Time and truth of the plate writers, beside the obvious way of each library, in one run.

Run ``python benchmarks/plates.py``. Errors are the greatest distance of the drawn curve from the true circle of the
design's path, read back by pdfminer.six, svgelements and ezdxf at 200 points a segment. Times are the best of several
warm runs of one core; ratios are to our writer of the same format.
"""

from __future__ import annotations

import io
import math
import re
import statistics
import time
from collections.abc import Callable
from itertools import pairwise

import ezdxf
import numpy as np
from ezdxf.addons.drawing import Frontend, RenderContext, layout, svg
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTCurve
from reportlab.pdfgen.canvas import Canvas
from svgelements import Path

from groovewright.plates.arc_plate import lanes
from groovewright.plates.dxf import scene_to_dxf
from groovewright.plates.pdf import scene_to_pdf
from groovewright.plates.plate import PlateRequest, draw_plate
from groovewright.plates.scene import Arc, Circle, Line, Polyline, Scene, Text
from groovewright.plates.svg import scene_to_svg
from groovewright.tonearm.geometry import geometry_from_nulls

MM = 72 / 25.4
ALONG = np.linspace(0, 1, 201)


def best_ms(work: Callable[[], object], runs: int = 15) -> float:
    work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append((time.perf_counter() - start) * 1000)
    return min(times)


def reportlab_own_arcs(scene: Scene) -> bytes:
    """The same scene with the library's arc(), circle() and line() and its own Helvetica."""
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=(scene.width_mm * MM, scene.height_mm * MM))
    for shape in scene.shapes:
        if isinstance(shape, Text):
            canvas.setFont("Helvetica", shape.size_mm * MM)
            canvas.drawString(*(v * MM for v in scene.placement.on_page(shape.at)), shape.words)
            continue
        canvas.setLineWidth(shape.stroke.width_mm * MM)
        if isinstance(shape, Line):
            ends = (*scene.placement.on_page(shape.start), *scene.placement.on_page(shape.end))
            canvas.line(*(v * MM for v in ends))
        elif isinstance(shape, Polyline):
            points = [scene.placement.on_page(point) for point in shape.points]
            for start, end in pairwise(points):
                canvas.line(*(v * MM for v in (*start, *end)))
        else:
            x, y = scene.placement.on_page(shape.centre)
            r = shape.radius_mm
            if isinstance(shape, Circle):
                canvas.circle(x * MM, y * MM, r * MM)
            else:
                box = ((x - r) * MM, (y - r) * MM, (x + r) * MM, (y + r) * MM)
                canvas.arc(*box, shape.start_deg, shape.end_deg - shape.start_deg)
    canvas.save()
    return stream.getvalue()


def ezdxf_svg(scene: Scene) -> str:
    """Our DXF drawn to SVG by the library's drawing add-on, on a page of the same size."""
    document = ezdxf.read(io.StringIO(scene_to_dxf(scene).decode()))
    backend = svg.SVGBackend()
    Frontend(RenderContext(document), backend).draw_layout(document.modelspace())
    page = layout.Page(scene.width_mm, scene.height_mm, layout.Units.mm, margins=layout.Margins.all(0))
    return backend.get_string(page, settings=layout.Settings(scale=1, fit_page=False))


def ezdxf_polylines(scene: Scene) -> bytes:
    """The same curves as DXF polylines of 1 degree a piece, the obvious way without arcs."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for shape in scene.shapes:
        if isinstance(shape, Arc | Circle):
            first, last = (0.0, 360.0) if isinstance(shape, Circle) else (shape.start_deg, shape.end_deg)
            turns = np.radians(np.linspace(first, last, max(2, math.ceil(last - first) + 1)))
            x, y = scene.placement.on_page(shape.centre)
            r = shape.radius_mm
            space.add_lwpolyline([(x + r * math.cos(t), y + r * math.sin(t)) for t in turns])
        elif isinstance(shape, Line):
            space.add_line(scene.placement.on_page(shape.start), scene.placement.on_page(shape.end))
        elif isinstance(shape, Text):
            space.add_text(shape.words, height=shape.size_mm).set_placement(scene.placement.on_page(shape.at))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def pdf_curves(data: bytes) -> list[np.ndarray]:
    curves = []
    for item in next(iter(extract_pages(io.BytesIO(data), laparams=None))):
        if not isinstance(item, LTCurve):
            continue
        points, here = [], np.zeros(2)
        for operator, *operands in item.original_path:
            controls = [np.array(point) for point in operands]
            if operator == "c":
                t, s = ALONG[:, None], 1 - ALONG[:, None]
                a, b, c = controls
                points.append(s**3 * here + 3 * s * s * t * a + 3 * s * t * t * b + t**3 * c)
            elif operator == "l":
                points.append(here + ALONG[:, None] * (controls[-1] - here))
            if controls:
                here = controls[-1]
        if points:
            curves.append(np.concatenate(points) / MM)
    return curves


def svg_curves(text: str, height_mm: float) -> list[np.ndarray]:
    unit = height_mm / float(re.search(r'viewBox="[\d.]+ [\d.]+ [\d.]+ ([\d.]+)"', text)[1])
    curves = []
    for d in re.findall(r' d="([^"]+)"', text):
        for sub in Path(d).as_subpaths():
            segments = [segment for segment in Path(sub) if type(segment).__name__ not in ("Move", "Close")]
            points = [(p.x * unit, height_mm - p.y * unit) for segment in segments for p in map(segment.point, ALONG)]
            if points:
                curves.append(np.array(points))
    return curves


def dxf_curves(data: bytes) -> list[np.ndarray]:
    curves = []
    for entity in ezdxf.read(io.StringIO(data.decode())).modelspace():
        if entity.dxftype() == "ARC":
            first, last = entity.dxf.start_angle, entity.dxf.end_angle
            turns = first + ALONG * ((last - first) % 360)
            curves.append(np.array([(p.x, p.y) for p in entity.vertices(turns)]))
        elif entity.dxftype() == "LWPOLYLINE":
            corners = np.array(list(entity.get_points("xy")))
            legs = [a + ALONG[:, None] * (b - a) for a, b in pairwise(corners)]
            curves.append(np.concatenate(legs))
    return curves


def path_error_mm(curves: list[np.ndarray], request: PlateRequest, scene: Scene) -> float:
    """Greatest distance from the true circle of the curve that is the design's path."""
    lane = lanes(request)[request.neighbours_a_side]
    pivot = np.array(scene.placement.on_page(lane.pivot))
    middle = np.array(scene.placement.on_page(lane.stylus(90.0)))
    long = [curve for curve in curves if np.ptp(curve[:, 0]) > 60 and np.hypot(*(curve - middle).T).min() < 1]
    errors = [np.abs(np.hypot(*(curve - pivot).T) - lane.effective_length_mm).max() for curve in long]
    return min(errors)


def main() -> None:
    geometry = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))
    requests = {
        kind: PlateRequest(kind, geometry, 60.325, 146.05, "Least peak of error over radius")
        for kind in ("arc", "two-null", "cut")
    }
    print("One plate from request to file, warm [ms]; goal 100 ms")
    print(f"{'kind':10}{'draw':>8}{'pdf':>8}{'svg':>8}{'dxf':>8}")
    totals = []
    for kind, request in requests.items():
        scene = draw_plate(request)
        drawing = best_ms(lambda request=request: draw_plate(request))
        times = [best_ms(lambda w=write, s=scene: w(s)) for write in (scene_to_pdf, scene_to_svg, scene_to_dxf)]
        totals += [drawing + each for each in times]
        print(f"{kind:10}{drawing:8.2f}" + "".join(f"{each:8.2f}" for each in times))
    print(f"slowest {max(totals):.1f} ms, median {statistics.median(totals):.1f} ms\n")

    request = requests["arc"]
    scene = draw_plate(request)
    height = scene.height_mm
    print("The arc plate by our writers and by the obvious way: time and error of the path")
    print(f"{'way':44}{'ms':>8}{'ratio':>8}{'error mm':>12}{'ratio':>9}")
    rows = [
        ("pdf", "ours, 15 degrees a Bézier", scene_to_pdf, pdf_curves),
        ("pdf", "reportlab arc(), Helvetica not embedded", reportlab_own_arcs, pdf_curves),
        ("svg", "ours, true A arcs", scene_to_svg, lambda text: svg_curves(text, height)),
        ("svg", "ezdxf drawing add-on", ezdxf_svg, lambda text: svg_curves(text, height)),
        ("dxf", "ours, true ARC", scene_to_dxf, dxf_curves),
        ("dxf", "ezdxf polylines of 1 degree", ezdxf_polylines, dxf_curves),
    ]
    ours: dict[str, tuple[float, float]] = {}
    for form, way, write, curves in rows:
        milliseconds = best_ms(lambda w=write: w(scene))
        error = path_error_mm(curves(write(scene)), request, scene)
        base = ours.setdefault(form, (milliseconds, error))
        print(f"{form} {way:40}{milliseconds:8.2f}{milliseconds / base[0]:8.2f}{error:12.1e}{error / base[1]:9.1e}")


if __name__ == "__main__":
    main()
