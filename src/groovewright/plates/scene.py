"""The drawing every writer starts from: a few shapes in mm, y up, origin at the bottom left of the page."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Weight = Literal["regular", "semibold"]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn.

    Parameters
    ----------
    width_mm : float
        Full width of the line. [mm]
    colour : str
        ``"#rrggbb"``.
    """

    width_mm: float
    colour: str = "#000000"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.width_mm) and self.width_mm > 0):
            raise ValueError(f"a line needs a width above 0 mm, not {self.width_mm:g} mm")


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line from `start` to `end`. [mm]"""

    start: Point
    end: Point
    layer: str
    stroke: Stroke


@dataclass(frozen=True, slots=True)
class Polyline:
    """Straight lines through `points`, back to the first one if `closed`. [mm]"""

    points: tuple[Point, ...]
    layer: str
    stroke: Stroke
    closed: bool = False

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise ValueError(f"a polyline needs two points or more, not {len(self.points)}")


@dataclass(frozen=True, slots=True)
class Arc:
    """A part of a circle, counterclockwise from `start_deg` to `end_deg`.

    Parameters
    ----------
    centre : Point
        May lie off the page. [mm]
    radius_mm : float
        Radius. [mm]
    start_deg, end_deg : float
        Bearings seen from the centre, counterclockwise from +x; `end_deg` is the larger by less than 360. [deg]
    """

    centre: Point
    radius_mm: float
    start_deg: float
    end_deg: float
    layer: str
    stroke: Stroke

    def __post_init__(self) -> None:
        if not self.radius_mm > 0:
            raise ValueError(f"an arc needs a radius above 0 mm, not {self.radius_mm:g} mm")
        if not 0 < self.end_deg - self.start_deg < 360:
            raise ValueError(
                f"an arc runs counterclockwise by less than a turn; {self.start_deg:g} to {self.end_deg:g} deg does not"
            )


@dataclass(frozen=True, slots=True)
class Circle:
    """A whole circle. [mm]"""

    centre: Point
    radius_mm: float
    layer: str
    stroke: Stroke

    def __post_init__(self) -> None:
        if not self.radius_mm > 0:
            raise ValueError(f"a circle needs a radius above 0 mm, not {self.radius_mm:g} mm")


@dataclass(frozen=True, slots=True)
class Text:
    """One line of words.

    Parameters
    ----------
    at : Point
        Start, middle or end of the baseline, as `anchor` says. [mm]
    size_mm : float
        Size of the type (the em). [mm]
    turn_deg : float
        Direction of the baseline, counterclockwise from +x. [deg]
    """

    at: Point
    words: str
    size_mm: float
    layer: str
    colour: str = "#000000"
    weight: Weight = "regular"
    anchor: Anchor = "start"
    turn_deg: float = 0.0

    def __post_init__(self) -> None:
        if not self.words.isprintable():
            raise ValueError(f"text on a drawing must be one printable line, not {self.words!r}")


Shape = Line | Polyline | Arc | Circle | Text


@dataclass(frozen=True, slots=True)
class Placement:
    """Where the drawing's own origin lies on the page, and what its printer does to lengths.

    Parameters
    ----------
    origin : Point
        Place on the page of the shapes' (0, 0). [mm]
    scale_x, scale_y : float
        Length that the printer makes of 1 mm, across and up. The page holds true length / scale. [1]
    """

    origin: Point = (0.0, 0.0)
    scale_x: float = 1.0
    scale_y: float = 1.0

    def __post_init__(self) -> None:
        for name, scale in (("scale_x", self.scale_x), ("scale_y", self.scale_y)):
            if not (math.isfinite(scale) and scale > 0):
                raise ValueError(f"{name} must be above 0, not {scale:g}")

    @property
    def keeps_circles(self) -> bool:
        """Whether a circle stays a circle on the page."""
        return self.scale_x == self.scale_y

    def on_page(self, point: Point) -> Point:
        """Return where a point of the drawing lies on the page. [mm]"""
        return self.origin[0] + point[0] / self.scale_x, self.origin[1] + point[1] / self.scale_y


@dataclass(frozen=True, slots=True)
class Scene:
    """A page and the shapes on it.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the page, never corrected by any scale. [mm]
    shapes : tuple of Shape
        In true mm, in the drawing's own frame; `placement` puts them on the page.
    title : str
        Name of the drawing, for a file's properties.
    """

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]
    title: str
    placement: Placement = Placement()

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers in the order in which they first appear."""
        return tuple(dict.fromkeys(shape.layer for shape in self.shapes))


def point_at(centre: Point, radius_mm: float, bearing_deg: float) -> Point:
    """Return the point at a distance and bearing (counterclockwise from +x) from a centre. [mm]"""
    bearing = math.radians(bearing_deg)
    return centre[0] + radius_mm * math.cos(bearing), centre[1] + radius_mm * math.sin(bearing)
