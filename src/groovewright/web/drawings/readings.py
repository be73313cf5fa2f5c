"""Drawings of the readings that are typed: what is measured, and which way + is."""

from __future__ import annotations

import numpy as np

from groovewright.tonearm.headshell import FORWARD, OUTWARD, UP
from groovewright.web.drawings.drawing import CARTRIDGE, HEADSHELL, Drawing, Panel, Shape, platter
from groovewright.web.drawings.marks import Marks, arc, arrow, dimension, letter, line, turn
from groovewright.web.drawings.panels import (
    MIDDLE_GROOVE_MM,
    SCALE,
    TUBE,
    arm_line,
    arm_side,
    deck_above,
    headshell_above,
    headshell_front,
    headshell_side,
    tip_side,
)
from groovewright.web.drawings.views import (
    ACROSS,
    ALONG,
    ARM_SIDE,
    BUILD,
    DECK_ABOVE,
    FROM_ABOVE,
    HEADSHELL_ABOVE,
    HEADSHELL_FRONT,
    HEADSHELL_SIDE,
    INWARD_TURN,
    PITCH_AXIS,
    PIVOT,
    ROLL_AXIS,
    STYLUS,
    TIP_SIDE,
    View,
    spindle,
    turned,
)

SPINDLE = spindle(MIDDLE_GROOVE_MM)
OVER_SPINDLE = spindle(BUILD.geometry.overhang_mm)
"""The spindle, with the arm swung over it so that the overhang can be read."""
SHOWN_ERROR_DEG = 20.0
"""True tracking and zenith errors are a degree or two and could not be seen."""
SHOWN_CUTTING_DEG = 13.0
"""How much steeper than its record the cantilever is drawn, so that it is seen."""

OVERHANG_VIEW = View(
    "overhang above",
    FROM_ABOVE,
    "from above",
    OUTWARD,
    -FORWARD,
    OVER_SPINDLE - 2.0 * FORWARD,
    width_mm=82.0,
    height=100.0,
)
FORCE_VIEW = ARM_SIDE.moved(right_mm=-150.0, up_mm=6.0, width_mm=100.0, height=64.0)


def over_spindle(marks: Marks) -> Panel:
    """Draw on headshell and spindle from above, the arm swung over the spindle."""
    return Panel(OVERHANG_VIEW, (platter(OVER_SPINDLE), TUBE, HEADSHELL, CARTRIDGE), marks)


def force_on_scale(marks: Marks) -> Panel:
    """Draw on the arm with its stylus on a scale."""
    panel = arm_side(marks, FORCE_VIEW)
    return Panel(panel.view, (SCALE, panel.shapes[1]), panel.marks)


def distance_marks(view: View = DECK_ABOVE) -> Marks:
    """Return pivot-to-spindle distance D."""
    away = (PIVOT - SPINDLE) * (1, 1, 0)
    aside = turned(away / np.linalg.norm(away), UP, 90.0)
    return dimension(view, SPINDLE, PIVOT, "D", off=10.0 * aside, dx=-8.0, dy=-3.0)


def length_marks(view: View = DECK_ABOVE) -> Marks:
    """Return effective length L."""
    return dimension(view, PIVOT, STYLUS, "L", off=26.0 * OUTWARD, dx=7.0)


def overhang_marks() -> Marks:
    """Return overhang, pivot line and both points."""
    view = OVERHANG_VIEW
    return (
        line(view, OVER_SPINDLE - 60.0 * FORWARD, STYLUS + 16.0 * FORWARD, look="axis")
        + dimension(view, OVER_SPINDLE, STYLUS, "", off=24.0 * OUTWARD)
        + letter(view, (OVER_SPINDLE + STYLUS) / 2 + 24.0 * OUTWARD, "+", dx=8.0, look="sign")
    )


def offset_marks(view: View = HEADSHELL_ABOVE) -> Marks:
    """Return the offset angle from the arm line inward to the cantilever."""
    return arm_line(view, ahead_mm=24.0) + turn(
        view, STYLUS, INWARD_TURN, 19.0 * FORWARD, BUILD.geometry.offset_angle_deg, name="offset_angle", label="β"
    )


def zenith_marks(view: View = HEADSHELL_ABOVE) -> Marks:
    """Return the zenith error: from the target's direction to the cantilever, inward."""
    target = turned(ALONG, INWARD_TURN, -SHOWN_ERROR_DEG)
    return line(view, STYLUS - 32.0 * target, STYLUS + 19.0 * target, look="aim") + turn(
        view, STYLUS, INWARD_TURN, 19.0 * target, SHOWN_ERROR_DEG, name="zenith_error"
    )


def null_angle_marks(view: View) -> Marks:
    """Return the tracking error: from the cantilever to the groove's tangent, inward."""
    tangent = turned(ALONG, INWARD_TURN, SHOWN_ERROR_DEG)
    across = turned(tangent, UP, 90.0)
    groove = MIDDLE_GROOVE_MM * across
    return (
        line(view, STYLUS - 30.0 * tangent, STYLUS + 20.0 * tangent, look="aim")
        + arc(view, STYLUS - groove, UP, groove, 14.0)
        + arc(view, STYLUS - groove, UP, groove, -14.0)
        + turn(view, STYLUS, INWARD_TURN, 19.0 * ALONG, SHOWN_ERROR_DEG, name="null_angle")
    )


def azimuth_marks(name: str, view: View = HEADSHELL_FRONT) -> Marks:
    """Return the azimuth: the top outward, clockwise from the front."""
    upright = 29.0 * UP
    return line(view, STYLUS - 3.0 * UP, STYLUS + upright, look="axis") + turn(
        view, STYLUS, ROLL_AXIS, upright - 5.0 * ACROSS, 32.0, name=name
    )


def rake_marks() -> Marks:
    """Return the stylus rake angle: from the groove backward up to the shank."""
    view, angle = TIP_SIDE, BUILD.stylus_rake_angle_deg
    shank = turned(-ALONG, PITCH_AXIS, angle)
    return line(view, STYLUS, STYLUS + 4.4 * shank, look="axis") + turn(
        view, STYLUS, PITCH_AXIS, -3.4 * ALONG, angle, name="stylus_rake_angle"
    )


def tracking_angle_marks(name: str) -> Marks:
    """Return the vertical tracking angle: from the record up to the cantilever."""
    view, angle = TIP_SIDE, BUILD.vertical_tracking_angle_deg
    cantilever = turned(-ALONG, PITCH_AXIS, angle)
    return (
        line(view, STYLUS, STYLUS + 7.4 * cantilever, look="axis")
        + turn(view, STYLUS, PITCH_AXIS, -6.0 * ALONG, angle, name=name, label="")
        + letter(view, STYLUS + 6.8 * turned(-ALONG, PITCH_AXIS, 0.4 * angle), "+", look="sign")
    )


def tracking_angle_error_marks() -> Marks:
    """Return the vertical tracking angle's error: from the angle that the record was cut at up to the cantilever."""
    view, angle = TIP_SIDE, BUILD.vertical_tracking_angle_deg
    cantilever = turned(-ALONG, PITCH_AXIS, angle)
    cut = turned(-ALONG, PITCH_AXIS, angle - SHOWN_CUTTING_DEG)
    return (
        line(view, STYLUS, STYLUS + 7.4 * cantilever, look="axis")
        + line(view, STYLUS, STYLUS + 7.4 * cut, look="aim")
        + turn(view, STYLUS, PITCH_AXIS, 6.4 * cut, SHOWN_CUTTING_DEG, name="vertical_tracking_angle_error", label="")
        + letter(view, STYLUS + 7.4 * turned(cut, PITCH_AXIS, 0.4 * SHOWN_CUTTING_DEG), "+", look="sign")
    )


def side_arrow(name: str, *, outward: bool, label: str | None = None) -> Marks:
    """Return a force at the stylus square to the arm line."""
    way = 1.0 if outward else -1.0
    tail = STYLUS + 7.0 * FORWARD - way * 3.0 * OUTWARD
    return arm_line(HEADSHELL_ABOVE) + arrow(HEADSHELL_ABOVE, tail, way * 18.0 * OUTWARD, name=name, label=label)


def force_marks(name: str) -> Marks:
    """Return the tracking force: the stylus down on what it stands on."""
    tail = STYLUS + 8.0 * FORWARD + 26.0 * UP
    return arrow(FORCE_VIEW, tail, -22.0 * UP, name=name, label="") + letter(
        FORCE_VIEW, tail, "+", dy=-6.0, look="sign"
    )


def _deck(marks: Marks) -> tuple[Panel, ...]:
    return (deck_above(marks),)


def _length_error() -> tuple[Panel, ...]:
    view = HEADSHELL_ABOVE
    target = STYLUS - 5.0 * FORWARD
    marks = (
        arm_line(view, ahead_mm=18.0)
        + arc(view, PIVOT, UP, target, 5.0, look="aim")
        + arc(view, PIVOT, UP, target, -5.0, look="aim")
        + arrow(view, target + 13.0 * OUTWARD, 14.0 * FORWARD, name="effective_length_error")
    )
    return (headshell_above(marks),)


def _arc_trace() -> tuple[Panel, ...]:
    view = HEADSHELL_ABOVE
    printed = STYLUS - 5.0 * FORWARD
    marks = (
        arc(view, PIVOT, UP, printed, 6.5, look="bold")
        + arc(view, PIVOT, UP, printed, -6.5, look="bold")
        + arrow(view, printed + 8.0 * OUTWARD, 15.0 * FORWARD, name="arc_trace")
    )
    return (headshell_above(marks),)


def _friction() -> tuple[Panel, ...]:
    view = HEADSHELL_SIDE.moved(right_mm=-6.0, up_mm=-1.0, width_mm=64.0, height=64.0)
    drag = arrow(view, STYLUS + 1.0 * ALONG - 5.5 * UP, 16.0 * ALONG, name="friction_coefficient", label="μN")
    down = arrow(view, STYLUS + 5.0 * ALONG + 20.0 * UP, -17.0 * UP, name="friction_force", label="")
    return (headshell_side(drag + down + letter(view, STYLUS + 5.0 * ALONG + 20.0 * UP, "N", dy=-6.0), view),)


SHEET = View("plate", "from above", "from above", OUTWARD, -FORWARD, np.zeros(3), 120.0, 76.0)
"""A plate with its own axes: across is right, along is up."""
PLATE = Shape("plate_bars", np.zeros(3), OUTWARD, FORWARD)


def _bar(name: str) -> tuple[Panel, ...]:
    low, left = 17.0 * FORWARD, -32.0 * OUTWARD
    start, end = (left + low, 40.0 * OUTWARD + low) if name == "print_bar_x" else (left + low, left - 26.0 * FORWARD)
    off = 8.0 * FORWARD if name == "print_bar_x" else -8.0 * OUTWARD
    text, dx, dy = ("x", 0.0, 6.0) if name == "print_bar_x" else ("y", -6.0, 0.0)
    marks = line(SHEET, start, end, look="bold") + dimension(SHEET, start, end, text, off=off, dx=dx, dy=dy)
    return (Panel(SHEET, (PLATE,), marks),)


READINGS: dict[str, Drawing] = {
    key: Drawing(f"reading {key}", panels, caption)
    for key, panels, caption in (
        (
            "pivot_to_spindle",
            _deck(distance_marks()),
            "Pivot-to-spindle distance D: level, from the spindle's centre to the arm's pivot.",
        ),
        ("effective_length", _deck(length_marks()), "Effective length L: level, from the pivot to the stylus."),
        (
            "overhang",
            (over_spindle(overhang_marks()),),
            "Overhang, L less D: + when the stylus reaches past the spindle, with pivot, spindle and stylus in line.",
        ),
        (
            "effective_length_error",
            _length_error(),
            "Effective length less its target (dashed): + when the stylus is too far from the pivot.",
        ),
        (
            "offset_angle",
            (headshell_above(offset_marks()),),
            "Offset angle β: from the line pivot to stylus inward to the cantilever.",
        ),
        (
            "zenith_error",
            (headshell_above(zenith_marks()),),
            "Offset angle less its target (dashed): + when the cantilever points too far inward, clockwise from above.",
        ),
        (
            "null_angle",
            (headshell_above(null_angle_marks(HEADSHELL_ABOVE)),),
            "Tracking error at a radius: + when the groove's tangent (dashed) points farther inward than the "
            "cantilever, so that the arm would need more offset here.",
        ),
        (
            "arc_trace",
            _arc_trace(),
            "Distance beside the arc (bold): + when the stylus is outside it, farther from the pivot.",
        ),
        (
            "tracking_force",
            (force_on_scale(force_marks("tracking_force")),),
            "Tracking force: how hard the stylus presses down, at record height.",
        ),
        (
            "compensation_force",
            (headshell_above(side_arrow("compensation_force", outward=True)),),
            "Side-force compensation at the stylus: + outward, away from the spindle.",
        ),
        (
            "side_force_rest",
            (headshell_above(side_arrow("side_force_rest", outward=False)),),
            "Side force left over, side force less its compensation: + inward, toward the spindle.",
        ),
        (
            "start_force_outward",
            (headshell_above(side_arrow("start_force_outward", outward=True)),),
            "Force at the stylus that just starts the arm outward, away from the spindle; always +.",
        ),
        (
            "start_force_inward",
            (headshell_above(side_arrow("start_force_inward", outward=False)),),
            "Force at the stylus that just starts the arm inward, toward the spindle; always +.",
        ),
        (
            "friction_coefficient",
            _friction(),
            "Friction coefficient μ: the groove's drag μN, which pulls the stylus forward, over the tracking force N.",
        ),
        (
            "azimuth_rotation",
            (headshell_front(azimuth_marks("azimuth_rotation")),),
            "Azimuth: + when the top leans outward, clockwise seen from the front.",
        ),
        (
            "stylus_rake_angle",
            (tip_side(rake_marks()),),
            "Stylus rake angle: from the groove behind the stylus up to the shank. Above 90° the top leans forward.",
        ),
        (
            "vertical_tracking_angle",
            (tip_side(tracking_angle_marks("vertical_tracking_angle")),),
            "Vertical tracking angle: from the record up to the cantilever; + when the cantilever dips to the stylus.",
        ),
        (
            "vertical_tracking_angle_error",
            (tip_side(tracking_angle_error_marks()),),
            "Vertical tracking angle less that of the cutter (dashed): + when the cantilever is too steep.",
        ),
        ("print_bar_x", _bar("print_bar_x"), "Check bar across the plate: 100 mm on a perfect print."),
        ("print_bar_y", _bar("print_bar_y"), "Check bar along the plate: 100 mm on a perfect print."),
    )
}
