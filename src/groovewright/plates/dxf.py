"""A scene as DXF R2010 in mm: true arcs and circles on named layers."""

from __future__ import annotations

import io
import math
from bisect import bisect_left
from typing import TYPE_CHECKING, Any

from groovewright.plates.scene import Arc, Circle, Line, Placement, Polyline, Scene, Shape, Text

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_CAPITALS_PER_EM = 0.66
"""Height of Source Sans capitals over the em; DXF gives the height of capitals."""
_LAYER_COLOURS = {"CUT": 1, "DRILL": 3}
"""Colour index red and green; every other layer is 7, black or white against the ground."""
_STYLES = {"regular": "SourceSansPro-Regular", "semibold": "SourceSansPro-Semibold"}
_WIDTHS_HUNDREDTHS_MM = (0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)


def scene_to_dxf(scene: Scene) -> bytes:
    """Return the scene as a DXF R2010 file in mm, the same bytes for the same scene.

    Arcs and circles are ARC and CIRCLE, or ELLIPSE where the scales of the two axes differ.
    """
    import ezdxf
    from ezdxf.filemanagement import new

    # For all its name the library's documented switch for files that carry no clock and no random number. Its module
    # does not say that it hands `options` on, so the types do not see it.
    ezdxf.options.write_fixed_meta_data_for_testing = True  # type: ignore[attr-defined]
    document = new("R2010", units=4)
    document.header["$MEASUREMENT"] = 1
    document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    document.header["$EXTMAX"] = (scene.width_mm, scene.height_mm, 0.0)
    for style in _STYLES.values():
        document.styles.add(style, font=f"{style}.ttf")
    for layer in scene.layers:
        document.layers.add(layer, color=_LAYER_COLOURS.get(layer, 7))
    document.set_modelspace_vport(height=scene.height_mm, center=(scene.width_mm / 2, scene.height_mm / 2))
    modelspace = document.modelspace()
    for shape in scene.shapes:
        _add(modelspace, shape, scene.placement)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")


def _add(modelspace: Modelspace, shape: Shape, placement: Placement) -> None:
    if isinstance(shape, Text):
        _add_text(modelspace, shape, placement)
        return
    hundredths = round(shape.stroke.width_mm * 100)
    attributes = {
        "layer": shape.layer,
        "lineweight": _WIDTHS_HUNDREDTHS_MM[min(bisect_left(_WIDTHS_HUNDREDTHS_MM, hundredths), 17)],
    }
    if isinstance(shape, Line):
        modelspace.add_line(placement.on_page(shape.start), placement.on_page(shape.end), attributes)
    elif isinstance(shape, Polyline):
        points = [placement.on_page(point) for point in shape.points]
        modelspace.add_lwpolyline(points, close=shape.closed, dxfattribs=attributes)
    elif placement.keeps_circles:
        _add_circular(modelspace, shape, placement, attributes)
    else:
        _add_elliptic(modelspace, shape, placement, attributes)


def _add_circular(
    modelspace: Modelspace, shape: Arc | Circle, placement: Placement, attributes: dict[str, Any]
) -> None:
    centre, radius = placement.on_page(shape.centre), shape.radius_mm / placement.scale_x
    if isinstance(shape, Circle):
        modelspace.add_circle(centre, radius, attributes)
    else:
        modelspace.add_arc(centre, radius, shape.start_deg, shape.end_deg, dxfattribs=attributes)


def _add_elliptic(
    modelspace: Modelspace, shape: Arc | Circle, placement: Placement, attributes: dict[str, Any]
) -> None:
    across, up = shape.radius_mm / placement.scale_x, shape.radius_mm / placement.scale_y
    start, end = (0.0, 360.0) if isinstance(shape, Circle) else (shape.start_deg, shape.end_deg)
    if across >= up:
        major_axis, ratio, turn = (across, 0.0), up / across, 0.0
    else:
        # The minor axis is a quarter turn ahead of the major one, so the parameter starts a quarter turn late.
        major_axis, ratio, turn = (0.0, up), across / up, 90.0
    whole = isinstance(shape, Circle)
    modelspace.add_ellipse(
        placement.on_page(shape.centre),
        major_axis,
        ratio,
        0.0 if whole else math.radians((start - turn) % 360),
        math.tau if whole else math.radians((end - turn) % 360),
        dxfattribs=attributes,
    )


def _add_text(modelspace: Modelspace, shape: Text, placement: Placement) -> None:
    from ezdxf.enums import TextEntityAlignment

    align = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }
    text = modelspace.add_text(
        shape.words,
        height=shape.size_mm * _CAPITALS_PER_EM,
        rotation=shape.turn_deg,
        dxfattribs={"layer": shape.layer, "style": _STYLES[shape.weight]},
    )
    text.set_placement(placement.on_page(shape.at), align=align[shape.anchor])
