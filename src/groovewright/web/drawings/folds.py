"""Drawings of what the numbers in the folds of the take-in mean."""

from __future__ import annotations

import numpy as np

from groovewright.tonearm.headshell import FORWARD, OUTWARD, UP
from groovewright.web.drawings.drawing import Drawing, Panel, Shape
from groovewright.web.drawings.marks import arrow, dimension, joint, line, turn
from groovewright.web.drawings.moves import base_marks
from groovewright.web.drawings.panels import (
    arm_side,
    deck_above,
    headshell_above,
    headshell_front,
    headshell_side,
)
from groovewright.web.drawings.readings import distance_marks, length_marks, offset_marks, over_spindle, overhang_marks
from groovewright.web.drawings.views import (
    ACROSS,
    ALONG,
    ARM_SIDE,
    BUILD,
    DECK_ABOVE,
    HEADSHELL_ABOVE,
    HEADSHELL_FRONT,
    HEADSHELL_SIDE,
    INWARD_TURN,
    PIVOT,
    ROLL_AXIS,
    STYLUS,
    View,
    spindle,
)

INNERMOST_MM, OUTERMOST_MM = 60.3, 146.0
"""Of a 12-inch record."""
ARM_VIEW = ARM_SIDE.moved(right_mm=2.0, up_mm=8.0, width_mm=374.0, height=56.0)
CENTRE_OF_MASS = BUILD.centre_forward_mm * FORWARD + BUILD.centre_height_mm * UP
COUNTERWEIGHT = -47.5 * FORWARD


def _headshell_limits() -> Drawing:
    view = HEADSHELL_ABOVE
    slot = STYLUS - 15.0 * ALONG - 15.5 * ACROSS
    marks = (
        arrow(view, slot, 13.0 * ALONG, name="slide_mm")
        + arrow(view, slot, -13.0 * ALONG, name="slide_back", sign="\N{MINUS SIGN}")
        + turn(view, STYLUS, INWARD_TURN, 15.0 * ALONG, 30.0, name="turn_deg")
        + turn(view, STYLUS, INWARD_TURN, 15.0 * ALONG, -30.0, name="turn_back", sign="\N{MINUS SIGN}")
        + joint(view, slot, 1, dx=-9.0, dy=-6.0)
        + joint(view, STYLUS + 15.0 * ALONG, 2, dx=2.0, dy=-10.0)
    )
    return Drawing(
        "fold headshell_limits",
        (headshell_above(marks),),
        "How far the cartridge can go in its headshell. + is forward and inward.",
        (
            "effective length: its limits are those of the slots",
            "offset angle: its limits are how far the cartridge turns; 0 to 0 if the headshell holds it fixed",
        ),
    )


def _arm_build() -> Drawing:
    side, above, front = ARM_VIEW, DECK_ABOVE, HEADSHELL_FRONT
    level = STYLUS * (1, 1, 0)
    on_side = (
        line(side, PIVOT, level + 14.0 * FORWARD, look="axis")
        + dimension(side, STYLUS + 14.0 * FORWARD, level + 14.0 * FORWARD, "")
        + joint(side, STYLUS + 14.0 * FORWARD + 9.0 * UP, 1, dx=7.0, dy=-16.0)
        + joint(side, STYLUS - 14.0 * ALONG + 9.0 * UP, 2, dx=12.0, dy=-18.0)
        + joint(side, STYLUS, 9, dx=14.0, dy=10.0)
        + joint(side, COUNTERWEIGHT, 3, dx=5.0, dy=-18.0)
        + joint(side, 120.0 * FORWARD, 4, dx=0.0, dy=-15.0)
        + joint(side, CENTRE_OF_MASS, 5, dx=-10.0, dy=-17.0)
        + dimension(side, COUNTERWEIGHT + 24.0 * UP, PIVOT + 24.0 * UP, "")
    )
    across_arm, across_cantilever = 40.0 * OUTWARD, 40.0 * ACROSS
    on_above = (
        line(above, PIVOT - across_arm, PIVOT + across_arm, look="axis")
        + line(above, PIVOT - across_cantilever, PIVOT + across_cantilever, look="aim")
        + joint(above, PIVOT - 0.9 * across_arm, 6, dx=-6.0, dy=-9.0)
        + joint(above, PIVOT - 0.9 * across_cantilever, 7, dx=-6.0, dy=14.0)
    )
    roll = STYLUS + BUILD.roll_axis_height_mm * UP
    on_front = (
        dimension(front, STYLUS - 15.0 * ACROSS, roll - 15.0 * ACROSS, "")
        + line(front, roll - 18.0 * ACROSS, roll, look="extension")
        + turn(front, roll, ROLL_AXIS, 14.0 * UP - 6.0 * ACROSS, 48.0, name="roll_deg")
        + joint(front, STYLUS - 15.0 * ACROSS + 7.0 * UP, 8, dx=-9.0, dy=0.0)
    )
    return Drawing(
        "fold arm_build",
        (arm_side(on_side, side), deck_above(on_above), headshell_front(on_front)),
        "What the arm's build is made of.",
        (
            "pivot height: pivot above the stylus, on the record",
            "cartridge mass and its centre: forward and up from the stylus",
            "counterweight mass, and how far behind the pivot it is",
            "arm mass: all else that turns about the pivot",
            "centre of mass of all that turns, above the pivot; minus below",
            "level bearing axis square to the arm line",
            "or square to the cantilever",
            "roll axis above the stylus, for azimuth",
            "effective mass: a mass at the stylus that would be as slow to move as the whole arm without cartridge",
        ),
    )


def _adjuster_reach() -> Drawing:
    above, side, front = HEADSHELL_ABOVE, ARM_VIEW, HEADSHELL_FRONT
    on_above = arrow(above, STYLUS - 22.0 * ALONG - 15.5 * ACROSS, 16.0 * ALONG, name="slide_mm", label="1+") + turn(
        above, STYLUS, INWARD_TURN, 15.0 * ALONG, 46.0, name="turn_deg", label="2+"
    )
    on_deck = base_marks(1, "3+")
    on_side = arrow(
        side, 34.0 * FORWARD - 66.0 * UP, 52.0 * UP, name="arm_height_mm", label="4+", at_tail=True
    ) + arrow(side, -58.0 * FORWARD + 26.0 * UP, 44.0 * FORWARD, name="counterweight_mm", label="5+")
    roll = STYLUS + BUILD.roll_axis_height_mm * UP
    on_front = turn(front, roll, ROLL_AXIS, 14.0 * UP - 8.0 * ACROSS, 56.0, name="roll_deg", label="6+")
    return Drawing(
        "fold adjuster_reach",
        (headshell_above(on_above), deck_above(on_deck), arm_side(on_side, side), headshell_front(on_front)),
        "How far each adjuster goes from where it is now, backward and forward. + is:",
        (
            "slide: forward",
            "turn: inward",
            "arm base: away from the spindle",
            "arm height: up",
            "counterweight: toward the pivot",
            "roll: top outward, clockwise from the front",
        ),
    )


def _cartridge() -> Drawing:
    view = HEADSHELL_SIDE.moved(right_mm=-3.0, up_mm=0.0, width_mm=66.0, height=66.0)
    force = STYLUS + 9.0 * ALONG + 18.0 * UP
    marks = (
        arrow(view, force, -16.0 * UP, name="tracking_force", label="")
        + joint(view, STYLUS - 13.0 * ALONG + 12.0 * UP, 1, dx=24.0, dy=8.0)
        + joint(view, STYLUS - 9.5 * ALONG + 19.0 * UP, 2, dx=14.0, dy=-12.0)
        + joint(view, force, 3, dx=-1.0, dy=-9.0)
        + joint(view, STYLUS - 8.0 * ALONG + 3.2 * UP, 4, dx=9.0, dy=16.0)
    )
    return Drawing(
        "fold cartridge",
        (headshell_side(marks, view),),
        "What the cartridge's maker states.",
        (
            "cartridge mass",
            "mass of screws and nuts",
            "tracking force, from and to",
            "compliance: how far the cantilever gives for each mN, and at which frequency",
        ),
    )


def _records() -> Drawing:
    centre = spindle(OUTERMOST_MM)
    view = View("record above", DECK_ABOVE.words, DECK_ABOVE.short, OUTWARD, -FORWARD, centre, 340.0, 92.0)
    above = dimension(view, centre, centre + OUTERMOST_MM * OUTWARD, "r₂", dx=12.0, dy=-8.0) + dimension(
        view, centre, centre - INNERMOST_MM * OUTWARD, "r₁", dy=-8.0
    )
    side = HEADSHELL_SIDE.moved(right_mm=-6.0, up_mm=-8.0, width_mm=44.0, height=52.0)
    thickness = dimension(side, STYLUS + 8.0 * ALONG, STYLUS + 8.0 * ALONG - 2.0 * UP, "") + joint(
        side, STYLUS + 8.0 * ALONG - UP, 3, dx=-12.0, dy=0.0
    )
    return Drawing(
        "fold records",
        (deck_above(above, view, groove_mm=OUTERMOST_MM), headshell_side(thickness, side)),
        "The records that will be played.",
        (
            "innermost groove radius r₁: spindle to the last groove",
            "outermost groove radius r₂: spindle to the first groove",
            "record thickness: it lifts the stylus, and so changes the angles and the force",
        ),
    )


FLAT = View("limits", "on a scale", "on a scale", OUTWARD, -FORWARD, np.zeros(3), 100.0, 62.0)
"""Not a place but a scale: a value grows to the right."""


def _limits() -> Drawing:
    band = Shape("limits", np.zeros(3), OUTWARD, FORWARD)
    marks = (
        joint(FLAT, -25.0 * OUTWARD - 22.0 * FORWARD, 1, dx=-12.0, dy=0.0)
        + joint(FLAT, -22.0 * FORWARD, 2, dx=12.0, dy=0.0)
        + joint(FLAT, -8.0 * FORWARD - 6.0 * OUTWARD, 3, dx=-32.0, dy=0.0)
        + joint(FLAT, 10.0 * OUTWARD + 6.0 * FORWARD, 4, dx=-48.0, dy=0.0)
        + joint(FLAT, 33.0 * OUTWARD + 20.0 * FORWARD, 5, dx=-71.0, dy=0.0)
    )
    return Drawing(
        "fold limits",
        (Panel(FLAT, (band,), marks),),
        "Aim and limits of a setting, and readings with their uncertainty.",
        (
            "lower limit; the upper one is on the right",
            "aim",
            "in tolerance: well inside the limits",
            "undecided: the uncertainty reaches over a limit",
            "out of tolerance",
        ),
    )


FOLDS: dict[str, Drawing] = {
    "arm_drawing": Drawing(
        "fold arm_drawing",
        (
            deck_above(distance_marks() + length_marks()),
            headshell_above(offset_marks()),
            over_spindle(overhang_marks()),
        ),
        "D: pivot to spindle. L: pivot to stylus (effective length). β: offset angle, from the line pivot to stylus "
        "inward to the cantilever. Overhang is L less D: + when the stylus reaches past the spindle.",
    ),
    "headshell_limits": _headshell_limits(),
    "arm_build": _arm_build(),
    "adjuster_reach": _adjuster_reach(),
    "cartridge": _cartridge(),
    "records": _records(),
    "limits": _limits(),
}
