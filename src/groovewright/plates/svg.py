"""A scene as SVG: width and height in mm, viewBox in mm, true arcs."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from groovewright.plates.scene import Arc, Circle, Line, Placement, Point, Polyline, Scene, Shape, Text, point_at

_FONTS = "'Source Sans Pro', 'Source Sans 3', 'Noto Sans', Arial, sans-serif"
_WEIGHTS = {"regular": "400", "semibold": "600"}


def scene_to_svg(scene: Scene) -> str:
    """Return the scene as one SVG document that needs nothing from outside.

    Each layer is a group whose id is the layer's name. A circle becomes an ellipse where the scales of the two
    axes differ. The page has no background: a cutter would take one for a shape.
    """
    layers = []
    for layer in scene.layers:
        shapes = "\n".join(_element(shape, scene) for shape in scene.shapes if shape.layer == layer)
        layers.append(f"<g id={quoteattr(layer)}>\n{shapes}\n</g>")
    width, height = _number(scene.width_mm), _number(scene.height_mm)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" fill="none" stroke-linecap="butt" font-family="{_FONTS}">\n'
        f"<title>{escape(scene.title)}</title>\n" + "\n".join(layers) + "\n</svg>\n"
    )


def _element(shape: Shape, scene: Scene) -> str:
    if isinstance(shape, Text):
        return _text(shape, scene)
    stroke = f'stroke="{shape.stroke.colour}" stroke-width="{_number(shape.stroke.width_mm)}"'
    if isinstance(shape, Circle):
        x, y = _svg_point(shape.centre, scene)
        rx, ry = _radii(shape.radius_mm, scene.placement)
        if rx == ry:
            return f'<circle cx="{x}" cy="{y}" r="{rx}" {stroke}/>'
        return f'<ellipse cx="{x}" cy="{y}" rx="{rx}" ry="{ry}" {stroke}/>'
    return f'<path d="{_path(shape, scene)}" {stroke}/>'


def _path(shape: Line | Polyline | Arc, scene: Scene) -> str:
    if isinstance(shape, Arc):
        start = " ".join(_svg_point(point_at(shape.centre, shape.radius_mm, shape.start_deg), scene))
        end = " ".join(_svg_point(point_at(shape.centre, shape.radius_mm, shape.end_deg), scene))
        rx, ry = _radii(shape.radius_mm, scene.placement)
        large = int(shape.end_deg - shape.start_deg > 180)
        # Counterclockwise with y up is the negative sweep with SVG's y down.
        return f"M{start}A{rx} {ry} 0 {large} 0 {end}"
    points = (shape.start, shape.end) if isinstance(shape, Line) else shape.points
    closing = "Z" if isinstance(shape, Polyline) and shape.closed else ""
    return "M" + "L".join(" ".join(_svg_point(point, scene)) for point in points) + closing


def _text(shape: Text, scene: Scene) -> str:
    x, y = _svg_point(shape.at, scene)
    turn = f' transform="rotate({_number(-shape.turn_deg)} {x} {y})"' if shape.turn_deg else ""
    return (
        f'<text x="{x}" y="{y}" font-size="{_number(shape.size_mm)}" font-weight="{_WEIGHTS[shape.weight]}" '
        f'text-anchor="{shape.anchor}" fill="{shape.colour}"{turn}>{escape(shape.words)}</text>'
    )


def _svg_point(point: Point, scene: Scene) -> tuple[str, str]:
    x, y = scene.placement.on_page(point)
    return _number(x), _number(scene.height_mm - y)


def _radii(radius_mm: float, placement: Placement) -> tuple[str, str]:
    return _number(radius_mm / placement.scale_x), _number(radius_mm / placement.scale_y)


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
