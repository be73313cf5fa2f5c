"""Plates to read back, and the readers: each file format by a parser that is not ours, as curves in mm."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass

import ezdxf
import numpy as np
import pytest
from ezdxf.math import ConstructionArc
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTCurve
from svgelements import Path

from groovewright.plates.dxf import scene_to_dxf
from groovewright.plates.pdf import scene_to_pdf
from groovewright.plates.plate import PlateRequest
from groovewright.plates.scene import Scene
from groovewright.plates.svg import scene_to_svg
from groovewright.tonearm.geometry import geometry_from_nulls

SVG = "{http://www.w3.org/2000/svg}"
SAMPLES = np.linspace(0, 1, 41)


@dataclass(frozen=True)
class Curve:
    """One stroke as found in a file: points along it on the page, y up. [mm]"""

    points: np.ndarray


def read_pdf(scene: Scene) -> list[Curve]:
    curves = []
    for page in extract_pages(io.BytesIO(scene_to_pdf(scene)), laparams=None):
        for item in page:
            if isinstance(item, LTCurve):
                curves.append(Curve(np.array(_bezier_points(item.original_path)) * 25.4 / 72))
    return curves


def _bezier_points(path: list) -> list[tuple[float, float]]:
    points, here = [], None
    for operator, *operands in path:
        if operator in "ml":
            points.append(operands[0])
            here = np.array(operands[0])
        elif operator == "c":
            first, second, end = map(np.array, operands)
            for t in SAMPLES[1:]:
                s = 1 - t
                points.append(tuple(s**3 * here + 3 * s * s * t * first + 3 * s * t * t * second + t**3 * end))
            here = end
    return points


def read_svg(scene: Scene) -> list[Curve]:
    root = ET.fromstring(scene_to_svg(scene))
    height = float(root.get("viewBox").split()[3])
    curves = []
    for element in root.iter():
        if element.tag == f"{SVG}path":
            points = [
                (point.x, height - point.y)
                for segment in Path(element.get("d"))
                if type(segment).__name__ != "Move"
                for point in map(segment.point, SAMPLES)
            ]
        elif element.tag in (f"{SVG}circle", f"{SVG}ellipse"):
            rx = float(element.get("rx") or element.get("r"))
            ry = float(element.get("ry") or element.get("r"))
            turn = SAMPLES * 2 * np.pi
            x, y = float(element.get("cx")) + rx * np.cos(turn), height - float(element.get("cy")) + ry * np.sin(turn)
            points = list(zip(x, y, strict=True))
        else:
            continue
        curves.append(Curve(np.array(points)))
    return curves


def read_dxf(scene: Scene) -> list[Curve]:
    document = ezdxf.read(io.StringIO(scene_to_dxf(scene).decode()))
    curves = []
    for entity in document.modelspace():
        dxf = entity.dxf
        match entity.dxftype():
            case "LINE":
                points = [dxf.start, dxf.end]
            case "LWPOLYLINE":
                points = [(*point, 0) for point in entity.get_points("xy")]
            case "CIRCLE":
                arc = ConstructionArc(dxf.center, dxf.radius, 0, 360)
                points = list(arc.vertices(SAMPLES * 360))
            case "ARC":
                span = (dxf.end_angle - dxf.start_angle) % 360 or 360
                arc = ConstructionArc(dxf.center, dxf.radius, dxf.start_angle, dxf.end_angle)
                points = list(arc.vertices(dxf.start_angle + SAMPLES * span))
            case "ELLIPSE":
                span = (dxf.end_param - dxf.start_param) % (2 * np.pi) or 2 * np.pi
                points = list(entity.vertices(dxf.start_param + SAMPLES * span))
            case _:
                continue
        curves.append(Curve(np.array([(point[0], point[1]) for point in points])))
    return curves


@pytest.fixture(params=[read_pdf, read_svg, read_dxf], ids=["pdf", "svg", "dxf"])
def read(request) -> Callable[[Scene], list[Curve]]:
    return request.param


@pytest.fixture
def plate_for() -> Callable[..., PlateRequest]:
    def build(kind="arc", *, pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891), **changes):
        geometry = geometry_from_nulls(pivot_to_spindle_mm=pivot_to_spindle_mm, null_radii_mm=null_radii_mm)
        given = {"innermost_mm": 60.325, "outermost_mm": 146.05, "criterion_label": "Least peak of error over radius"}
        return PlateRequest(kind, geometry, **{**given, **changes})

    return build
