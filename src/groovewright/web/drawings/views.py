"""The views that things are drawn in: planes of the arm's frame, and the arm that the drawings show.

The arm's frame has its origin in the pivot: x over the stylus, y outward, z up. A view looks at it along one direction;
a drawing is 100 units wide and its y goes down, as in SVG.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.headshell import FORWARD, OUTWARD, UP, cartridge_axes

Vector = NDArray[np.float64]

BUILD = usual_build(Geometry(222.0, 239.3, 22.99))
"""The arm that is drawn: nine inches, in the geometry of docs/design/arm-model.md."""

LENGTH_MM = BUILD.geometry.effective_length_mm
DISTANCE_MM = BUILD.geometry.pivot_to_spindle_mm
PIVOT: Vector = np.zeros(3)
STYLUS: Vector = np.array([LENGTH_MM, 0.0, -BUILD.pivot_height_mm])
ALONG, ACROSS = cartridge_axes(BUILD.geometry.offset_angle_deg)
"""Forward along the cantilever, and square to it outward."""

WIDTH = 100.0
"""Units across a drawing."""


@dataclass(frozen=True, eq=False)
class View:
    """A plane that is looked at.

    Attributes
    ----------
    name, words, short : str
        For tests and styles; for the eye; and for the eye where several views stand side by side.
    right, up : ndarray, shape (3,)
        Unit vectors of the arm's frame that go right and up in the drawing.
    middle : ndarray, shape (3,)
        Point in the middle of the drawing. [mm]
    width_mm : float
        What the width of the drawing shows. [mm]
    height : float
        Of the drawing. [units]
    """

    name: str
    words: str
    short: str
    right: Vector
    up: Vector
    middle: Vector
    width_mm: float
    height: float

    @property
    def scale(self) -> float:
        """Units for a millimetre."""
        return WIDTH / self.width_mm

    def at(self, point: Vector) -> tuple[float, float]:
        """Return where a point of the arm's frame is drawn. [units]"""
        right, up = self.along(point - self.middle)
        return WIDTH / 2 + self.scale * right, self.height / 2 - self.scale * up

    def along(self, vector: Vector) -> tuple[float, float]:
        """Return how far a vector goes right and up in this view. [mm]"""
        return float(vector @ self.right), float(vector @ self.up)

    def moved(self, *, right_mm: float = 0.0, up_mm: float = 0.0, width_mm: float, height: float) -> View:
        """Return the same view of another part."""
        middle = self.middle + right_mm * self.right + up_mm * self.up
        return replace(self, middle=middle, width_mm=width_mm, height=height)


FROM_ABOVE = "from above, spindle on the left, front at the bottom"
HEADSHELL_ABOVE = View(
    "headshell above", FROM_ABOVE, "from above", OUTWARD, -FORWARD, STYLUS - 11.0 * ALONG, width_mm=64.0, height=104.0
)
HEADSHELL_FRONT = View(
    "headshell front",
    "from the front, spindle on the left",
    "from the front",
    ACROSS,
    UP,
    STYLUS + 14.0 * UP,
    width_mm=56.0,
    height=80.0,
)
HEADSHELL_SIDE = View(
    "headshell side",
    "from the outer side, front on the left",
    "from the side",
    -ALONG,
    UP,
    STYLUS - 8.0 * ALONG + 9.0 * UP,
    width_mm=58.0,
    height=64.0,
)
TIP_SIDE = View(
    "tip side",
    "from the outer side, close to the stylus, front on the left",
    "from the side, close",
    -ALONG,
    UP,
    STYLUS - 2.2 * ALONG + 1.5 * UP,
    width_mm=12.0,
    height=64.0,
)
ARM_SIDE = View(
    "arm side",
    "from the outer side, front on the left",
    "from the side",
    -FORWARD,
    UP,
    np.array([90.0, 0.0, -10.0]),
    width_mm=344.0,
    height=44.0,
)
DECK_ABOVE = View("deck above", FROM_ABOVE, "from above", OUTWARD, -FORWARD, np.array([86.0, -62.0, 0.0]), 300.0, 112.0)


def spindle(groove_radius_mm: float) -> Vector:
    """Return where the spindle lies when the stylus is at a groove radius, at record height. [mm]"""
    forward = (DISTANCE_MM**2 + LENGTH_MM**2 - groove_radius_mm**2) / (2 * LENGTH_MM)
    inward = math.sqrt(max(DISTANCE_MM**2 - forward**2, 0.0))
    return np.array([forward, -inward, STYLUS[2]])


def turned(vector: Vector, axis: Vector, angle_deg: float) -> Vector:
    """Return a vector turned about a unit axis, right-handed."""
    angle = math.radians(angle_deg)
    along = axis * (axis @ vector)
    result: Vector = along + math.cos(angle) * (vector - along) + math.sin(angle) * np.cross(axis, vector)
    return result


INWARD_TURN = -UP
"""Axis of a turn inward: clockwise from above."""

ROLL_AXIS = -ALONG
"""Axis of a roll in the sense of the azimuth: clockwise from the front."""

PITCH_AXIS = np.cross(UP, ALONG)
"""Axis of a pitch that makes stylus rake and vertical tracking angle grow: the front goes down."""
