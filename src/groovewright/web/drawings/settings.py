"""Drawings of the seven settings: the headshell from above, front and side, with + in the views that show it."""

from __future__ import annotations

from groovewright.tonearm.headshell import FORWARD, UP
from groovewright.web.drawings.drawing import Drawing
from groovewright.web.drawings.marks import Marks, arrow
from groovewright.web.drawings.panels import arm_line, headshell_above, headshell_front, headshell_side, tip_side
from groovewright.web.drawings.readings import azimuth_marks, rake_marks, side_arrow, tracking_angle_marks, zenith_marks
from groovewright.web.drawings.views import (
    ACROSS,
    ALONG,
    HEADSHELL_ABOVE,
    HEADSHELL_FRONT,
    HEADSHELL_SIDE,
    STYLUS,
    View,
)

NOTHING = Marks()


def _drawing(
    key: str,
    caption: str,
    *,
    above: Marks = NOTHING,
    front: Marks = NOTHING,
    side: Marks = NOTHING,
    tip: Marks | None = None,
) -> Drawing:
    from_side = headshell_side(side) if tip is None else tip_side(tip)
    return Drawing(f"setting {key}", (headshell_above(above), headshell_front(front), from_side), caption)


def _down(view: View) -> Marks:
    if view is HEADSHELL_FRONT:
        return arrow(
            view, STYLUS + 19.0 * UP - 16.0 * ACROSS, -17.0 * UP, name="tracking_force", label="N", at_tail=True
        )
    return arrow(view, STYLUS + 19.0 * UP + 6.0 * ALONG, -17.0 * UP, name="tracking_force", label="N", at_tail=True)


def _inward() -> Marks:
    return arrow(HEADSHELL_FRONT, STYLUS - 4.0 * ACROSS + 3.0 * UP, -14.0 * ACROSS, name="side_force")


SETTINGS_DRAWN: dict[str, Drawing] = {
    "effective_length": _drawing(
        "effective_length",
        "Effective length less its target: + when the stylus is too far from the pivot.",
        above=arm_line(HEADSHELL_ABOVE) + arrow(HEADSHELL_ABOVE, STYLUS, 16.0 * FORWARD, name="effective_length"),
        side=arrow(HEADSHELL_SIDE, STYLUS - 5.0 * UP, 11.0 * ALONG, name="effective_length"),
    ),
    "tracking_force": _drawing(
        "tracking_force",
        "Tracking force N: how hard the stylus presses down on the record.",
        front=_down(HEADSHELL_FRONT),
        side=_down(HEADSHELL_SIDE),
    ),
    "side_force": _drawing(
        "side_force",
        "Side force left over: + inward, toward the spindle.",
        above=side_arrow("side_force", outward=False),
        front=_inward(),
    ),
    "zenith": _drawing(
        "zenith",
        "Zenith, offset angle less its target: + when the cantilever points too far inward.",
        above=zenith_marks(),
    ),
    "azimuth": _drawing(
        "azimuth",
        "Azimuth: + when the top leans outward, clockwise seen from the front.",
        front=azimuth_marks("azimuth"),
    ),
    "stylus_rake_angle": _drawing(
        "stylus_rake_angle",
        "Stylus rake angle: from the groove behind the stylus up to the shank; above 90° the top leans forward.",
        tip=rake_marks(),
    ),
    "vertical_tracking_angle": _drawing(
        "vertical_tracking_angle",
        "Vertical tracking angle: from the record up to the cantilever; + when the cantilever dips to the stylus.",
        tip=tracking_angle_marks("vertical_tracking_angle"),
    ),
}
