"""Views with their shapes, ready for marks, and the marks that several drawings share."""

from __future__ import annotations

from groovewright.tonearm.headshell import FORWARD, OUTWARD, UP
from groovewright.web.drawings.drawing import (
    ARM,
    ARM_FROM_SIDE,
    CARTRIDGE,
    CARTRIDGE_FROM_FRONT,
    CARTRIDGE_FROM_SIDE,
    HEADSHELL,
    HEADSHELL_FROM_FRONT,
    HEADSHELL_FROM_SIDE,
    RECORD_FROM_FRONT,
    RECORD_FROM_SIDE,
    TIP,
    Panel,
    Shape,
    platter,
)
from groovewright.web.drawings.marks import Marks, line
from groovewright.web.drawings.views import (
    ALONG,
    ARM_SIDE,
    BUILD,
    DECK_ABOVE,
    HEADSHELL_ABOVE,
    HEADSHELL_FRONT,
    HEADSHELL_SIDE,
    PIVOT,
    STYLUS,
    TIP_SIDE,
    Vector,
    View,
    spindle,
    turned,
)

NECK = STYLUS - 42.0 * ALONG
"""Where the headshell meets the tube. [mm]"""
MIDDLE_GROOVE_MM = 100.0
"""Near the middle of the grooves of a 12-inch record."""

_TUBE_MM = 6.0
TUBE = Shape("tube_above", PIVOT - _TUBE_MM / 2 * OUTWARD, _TUBE_MM * OUTWARD, NECK - PIVOT)
PLATTER_FROM_SIDE = Shape("platter_side", STYLUS, -FORWARD, -UP)
SCALE = Shape("scale_side", STYLUS, -FORWARD, -UP)


def headshell_above(marks: Marks, view: View = HEADSHELL_ABOVE) -> Panel:
    """Draw on headshell and cartridge from above."""
    return Panel(view, (TUBE, HEADSHELL, CARTRIDGE), cantilever_line(view) + marks)


def headshell_front(marks: Marks, view: View = HEADSHELL_FRONT) -> Panel:
    """Draw on headshell and cartridge from the front."""
    return Panel(view, (RECORD_FROM_FRONT, HEADSHELL_FROM_FRONT, CARTRIDGE_FROM_FRONT), marks)


def headshell_side(marks: Marks, view: View = HEADSHELL_SIDE) -> Panel:
    """Draw on headshell and cartridge from the side."""
    return Panel(view, (RECORD_FROM_SIDE, HEADSHELL_FROM_SIDE, CARTRIDGE_FROM_SIDE), marks)


def tip_side(marks: Marks) -> Panel:
    """Draw on cantilever and stylus from the side."""
    return Panel(TIP_SIDE, (TIP,), marks)


def arm_side(marks: Marks, view: View = ARM_SIDE) -> Panel:
    """Draw on the arm from the side."""
    return Panel(view, (PLATTER_FROM_SIDE, ARM_FROM_SIDE), marks)


def deck_above(marks: Marks, view: View = DECK_ABOVE, *, groove_mm: float = MIDDLE_GROOVE_MM) -> Panel:
    """Draw on platter and arm from above, the stylus at a groove radius."""
    return Panel(view, (platter(spindle(groove_mm)), ARM, TUBE, HEADSHELL, CARTRIDGE), marks)


def cantilever_line(view: View, *, ahead_mm: float = 14.0, behind_mm: float = 30.0) -> Marks:
    """Return the cantilever's axis as a dash-dot line."""
    return line(view, STYLUS - behind_mm * ALONG, STYLUS + ahead_mm * ALONG, look="axis")


def arm_line(view: View, *, ahead_mm: float = 16.0, behind_mm: float = 60.0) -> Marks:
    """Return the line from pivot to stylus as a dash-dot line."""
    return line(view, STYLUS - behind_mm * FORWARD, STYLUS + ahead_mm * FORWARD, look="axis")


def rolled(angle_deg: float, point: Vector) -> Vector:
    """Return a point of the cartridge rolled in the sense of the azimuth about the roll's axis. [mm]"""
    axis_point = STYLUS + BUILD.roll_axis_height_mm * UP
    return axis_point + turned(point - axis_point, -ALONG, angle_deg)
