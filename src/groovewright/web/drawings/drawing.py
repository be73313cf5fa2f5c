"""A drawing: views with shapes and marks, and what it says in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.template.loader import get_template
from django.utils.safestring import SafeString, mark_safe

from groovewright.tonearm.headshell import FORWARD, OUTWARD, UP
from groovewright.web.drawings.marks import Marks, number
from groovewright.web.drawings.views import ACROSS, ALONG, PIVOT, STYLUS, Vector, View


@dataclass(frozen=True, eq=False)
class Shape:
    """A shared shape and where it goes: its origin, and what its x and y (down) are in the arm's frame. [mm]"""

    name: str
    origin: Vector
    x: Vector
    y: Vector

    def placed(self, view: View) -> dict[str, str]:
        """Return template and transform of the shape in a view."""
        (a, b), (c, d), (e, f) = view.along(self.x), view.along(self.y), view.at(self.origin)
        numbers = (view.scale * a, -view.scale * b, view.scale * c, -view.scale * d, e, f)
        return {
            "template": f"drawings/shapes/{self.name}.html",
            "transform": f"matrix({' '.join(f'{n:.4f}' for n in numbers)})",
        }


HEADSHELL = Shape("headshell_above", STYLUS, ACROSS, ALONG)
CARTRIDGE = Shape("cartridge_above", STYLUS, ACROSS, ALONG)
HEADSHELL_FROM_FRONT = Shape("headshell_front", STYLUS, ACROSS, -UP)
CARTRIDGE_FROM_FRONT = Shape("cartridge_front", STYLUS, ACROSS, -UP)
HEADSHELL_FROM_SIDE = Shape("headshell_side", STYLUS, -ALONG, -UP)
CARTRIDGE_FROM_SIDE = Shape("cartridge_side", STYLUS, -ALONG, -UP)
RECORD_FROM_FRONT = Shape("record_edge", STYLUS, ACROSS, -UP)
RECORD_FROM_SIDE = Shape("record_edge", STYLUS, -ALONG, -UP)
TIP = Shape("tip_side", STYLUS, -ALONG, -UP)
ARM_FROM_SIDE = Shape("arm_side", PIVOT, -FORWARD, -UP)
ARM = Shape("arm_above", PIVOT, OUTWARD, FORWARD)


def platter(spindle: Vector) -> Shape:
    """Return the platter with its record about a spindle."""
    return Shape("platter_above", spindle, OUTWARD, FORWARD)


@dataclass(frozen=True, eq=False)
class Panel:
    """One view of a drawing."""

    view: View
    shapes: tuple[Shape, ...]
    marks: Marks


@dataclass(frozen=True, eq=False)
class Drawing:
    """A drawing as it is shown.

    Attributes
    ----------
    subject : str
        What is drawn: "reading overhang", "move slide_mm +".
    panels : tuple of Panel
    caption : str
        What its arrow or its letters mean, with the sign.
    numbered : tuple of str
        What its numbers mean, in their order.
    """

    subject: str
    panels: tuple[Panel, ...]
    caption: str
    numbered: tuple[str, ...] = ()

    def render(self) -> SafeString:
        """Draw it as HTML."""
        spoken = self.caption
        if self.numbered:
            spoken += " " + "; ".join(f"{k} {words}" for k, words in enumerate(self.numbered, start=1)) + "."
        context: dict[str, Any] = {
            "drawing": self,
            "spoken": spoken,
            "panels": [
                {
                    "view": panel.view,
                    "height": number(panel.view.height),
                    "is_wide": panel.view.name == "arm side",
                    "shapes": [shape.placed(panel.view) for shape in panel.shapes],
                    "marks": panel.marks,
                }
                for panel in self.panels
            ],
        }
        return mark_safe(get_template("drawings/drawing.html").render(context))
