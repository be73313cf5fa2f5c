"""A small vector drawing in mm for the report's pictures, written as SVG."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from types import MappingProxyType
from xml.etree import ElementTree

from groovewright.report.fonts import FONT_FAMILY

INK = "#13211e"
STEEL = "#4d5c58"
HAIRLINE = "#b9c4c0"
BAND = "#dde6e2"
ACCENT = "#0a5f5a"
LOOK_HERE = "#b26a00"
PAPER = "#ffffff"

PALETTE = MappingProxyType(
    {
        "ink": INK,
        "steel": STEEL,
        "hairline": HAIRLINE,
        "band": BAND,
        "accent": ACCENT,
        "look_here": LOOK_HERE,
        "paper": PAPER,
    }
)

# Widest digit of the typeface in ems, used to keep labels apart; most letters are narrower.
LETTER_WIDTH_EM = 0.5


class Drawing:
    """Shapes on a sheet whose origin is the top left corner, y down, all lengths in mm.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the sheet. [mm]
    """

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.width_mm = width_mm
        self.height_mm = height_mm
        self._root = ElementTree.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "width": f"{width_mm:g}mm",
                "height": f"{height_mm:g}mm",
                "viewBox": f"0 0 {width_mm:g} {height_mm:g}",
            },
        )

    def line(
        self,
        points: Iterable[Sequence[float]],
        *,
        stroke: str = INK,
        width_mm: float = 0.3,
        dash_mm: Sequence[float] = (),
    ) -> None:
        """Draw a polyline through the points."""
        attributes = {
            "points": " ".join(f"{x:.3f},{y:.3f}" for x, y in points),
            "fill": "none",
            "stroke": stroke,
            "stroke-width": f"{width_mm:g}",
            "stroke-linejoin": "round",
        }
        if dash_mm:
            attributes["stroke-dasharray"] = " ".join(f"{d:g}" for d in dash_mm)
        ElementTree.SubElement(self._root, "polyline", attributes)

    def rectangle(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float, *, fill: str) -> None:
        """Fill a rectangle whose top left corner is given."""
        ElementTree.SubElement(
            self._root,
            "rect",
            {
                "x": f"{x_mm:.3f}",
                "y": f"{y_mm:.3f}",
                "width": f"{width_mm:.3f}",
                "height": f"{height_mm:.3f}",
                "fill": fill,
            },
        )

    def polygon(self, points: Iterable[Sequence[float]], *, fill: str, opacity: float = 1.0) -> None:
        """Fill a closed outline."""
        attributes = {"points": " ".join(f"{x:.3f},{y:.3f}" for x, y in points), "fill": fill}
        if opacity < 1:
            attributes["fill-opacity"] = f"{opacity:g}"
        ElementTree.SubElement(self._root, "polygon", attributes)

    def disc(
        self, x_mm: float, y_mm: float, radius_mm: float, *, fill: str, stroke: str = INK, width_mm: float = 0.0
    ) -> None:
        """Draw a filled circle, with an edge if its width is above 0."""
        attributes = {"cx": f"{x_mm:.3f}", "cy": f"{y_mm:.3f}", "r": f"{radius_mm:g}", "fill": fill}
        if width_mm:
            attributes |= {"stroke": stroke, "stroke-width": f"{width_mm:g}"}
        ElementTree.SubElement(self._root, "circle", attributes)

    def text(
        self,
        x_mm: float,
        y_mm: float,
        words: str,
        *,
        size_mm: float = 3.0,
        anchor: str = "start",
        fill: str = INK,
        bold: bool = False,
    ) -> None:
        """Write one line whose baseline starts, has its middle or ends at the point."""
        attributes = {
            "x": f"{x_mm:.3f}",
            "y": f"{y_mm:.3f}",
            "font-family": FONT_FAMILY,
            "font-size": f"{size_mm:g}",
            "fill": fill,
            "text-anchor": anchor,
        }
        if bold:
            attributes["font-weight"] = "600"
        ElementTree.SubElement(self._root, "text", attributes).text = words

    def as_svg(self) -> str:
        """Return the drawing as SVG text."""
        return ElementTree.tostring(self._root, encoding="unicode")
