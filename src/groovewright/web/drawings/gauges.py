"""Drawings of the ready gauges: where each of their joints is."""

from __future__ import annotations

from groovewright.gauges.ready_chains import READY_CHAINS
from groovewright.tonearm.headshell import FORWARD, OUTWARD, UP
from groovewright.web.drawings.drawing import ARM, CARTRIDGE, HEADSHELL, Drawing, Panel, platter
from groovewright.web.drawings.marks import Marks, arc, joint, line
from groovewright.web.drawings.panels import TUBE
from groovewright.web.drawings.views import (
    ALONG,
    BUILD,
    FROM_ABOVE,
    PIVOT,
    STYLUS,
    Vector,
    View,
    spindle,
    turned,
)

INNER_NULL_MM, OUTER_NULL_MM = BUILD.geometry.null_radii_mm
AT_OUTER_NULL = spindle(OUTER_NULL_MM)
OVER_SPINDLE = spindle(BUILD.geometry.overhang_mm)
PLATE_VIEW = View(
    "gauge above", FROM_ABOVE, "from above", OUTWARD, -FORWARD, 128.0 * FORWARD - 66.0 * OUTWARD, 280.0, 132.0
)
BEAM_VIEW = View(
    "gauge above", FROM_ABOVE, "from above", OUTWARD, -FORWARD, OVER_SPINDLE / 2 + 8.0 * FORWARD, 240.0, 150.0
)

Places = dict[str, tuple[Vector, float, float]]
"""Joint to its place and to where its number stands beside it, right and down. [mm], [units]"""


def _radial(centre: Vector) -> Vector:
    away = (STYLUS - centre) * (1, 1, 0)
    unit: Vector = away / float((away @ away) ** 0.5)
    return unit


def _plate(view: View, centre: Vector, *, reach_mm: float, half_mm: float = 24.0, behind_mm: float = 16.0) -> Marks:
    along = _radial(centre)
    aside = turned(along, UP, 90.0)
    corners = [
        centre - behind_mm * along + half_mm * aside,
        centre + reach_mm * along + half_mm * aside,
        centre + reach_mm * along - half_mm * aside,
        centre - behind_mm * along - half_mm * aside,
    ]
    return line(view, *corners, corners[0], look="plate")


def _null_lines(view: View, mark: Vector, along: Vector) -> Marks:
    aside = turned(along, UP, 90.0)
    lines = Marks()
    for shift in (-7.0, 0.0, 7.0):
        lines += line(view, mark + shift * along - 18.0 * aside, mark + shift * along + 18.0 * aside)
    return lines + line(view, mark - 9.0 * along, mark + 9.0 * along)


def _numbered(view: View, key: str, places: Places) -> Marks:
    marks = Marks()
    for count, part in enumerate(READY_CHAINS[key].joints, start=1):
        point, dx, dy = places[part.name]
        marks += joint(view, point, count, dx=dx, dy=dy)
    return marks


def _drawing(
    key: str, centre: Vector, marks: Marks, places: Places, *, caption: str, view: View = PLATE_VIEW
) -> Drawing:
    # The gauge lies on the record, under the arm; marks go over all of it.
    shapes = (platter(centre), ARM, TUBE, HEADSHELL, CARTRIDGE)
    names = tuple(part.name for part in READY_CHAINS[key].joints)
    return Drawing(f"gauge {key}", (Panel(view, shapes, marks + _numbered(view, key, places)),), caption, names)


def _single_point() -> Drawing:
    view, centre, along = PLATE_VIEW, AT_OUTER_NULL, _radial(AT_OUTER_NULL)
    marks = (
        _plate(view, centre, reach_mm=OUTER_NULL_MM + 22.0)
        + _null_lines(view, STYLUS, along)
        + line(view, centre, PIVOT, look="aim")
    )
    places: Places = {
        "Hole on the spindle, outward": (centre, -10.0, 13.0),
        "Hole on the spindle, across": (centre, -16.0, 3.0),
        "Mark as printed": (STYLUS, -16.0, 12.0),
        "Pivot's distance, not proven": (PIVOT, 14.0, -4.0),
        "Aim at the pivot by sight": ((PIVOT + centre) / 2, -12.0, -3.0),
        "Stylus on the mark, outward": (STYLUS, 14.0, 3.0),
        "Stylus on the mark, across": (STYLUS, 4.0, 14.0),
        "Cantilever along the lines": (STYLUS - 16.0 * ALONG, 14.0, -6.0),
    }
    caption = "One mark at the outer null, held on the spindle and aimed at the pivot by sight (dashed)."
    return _drawing("single-point", centre, marks, places, caption=caption)


def _beam() -> Drawing:
    view, centre = BEAM_VIEW, OVER_SPINDLE
    half, end = 9.0 * OUTWARD, LENGTH_END
    block = [
        centre + 9.0 * FORWARD - 16.0 * OUTWARD,
        centre + 9.0 * FORWARD + 16.0 * OUTWARD,
        end + 16.0 * OUTWARD,
        end - 16.0 * OUTWARD,
    ]
    beam = [PIVOT - half, PIVOT + half, end + half, end - half]
    marks = line(view, *beam, beam[0], look="plate") + line(view, *block, block[0], look="plate")
    for shift in (-6.0, 0.0, 6.0):
        aside = shift * turned(ALONG, UP, 90.0)
        marks += line(view, STYLUS + aside - 9.0 * ALONG, STYLUS + aside + 9.0 * ALONG)
    for k in range(5):
        marks += line(view, (90.0 + 8.0 * k) * FORWARD - half, (90.0 + 8.0 * k) * FORWARD - half / 3)
    places: Places = {
        "Bush on the spindle, along": (centre, -24.0, -10.0),
        "Bush on the spindle, across": (centre, -26.0, 2.0),
        "Pointer on the pivot, along": (PIVOT, 18.0, -8.0),
        "Pointer on the pivot, across": (PIVOT, 18.0, 6.0),
        "Block on the beam, along": (centre + 9.0 * FORWARD + 12.0 * OUTWARD, 24.0, -12.0),
        "Block on the beam, turning": (centre + 9.0 * FORWARD + 12.0 * OUTWARD, 26.0, 1.0),
        "Graduation of the beam": (106.0 * FORWARD - half, -16.0, 0.0),
        "Stylus on the mark, along": (STYLUS, -20.0, 9.0),
        "Cantilever along the lines": (STYLUS + 6.0 * ALONG, 12.0, 9.0),
    }
    caption = "A beam from the spindle to the pivot, with a block that holds the stylus's mark beyond the spindle."
    return _drawing("beam", centre, marks, places, caption=caption, view=view)


LENGTH_END = STYLUS + 16.0 * FORWARD
"""End of the beam. [mm]"""


def _arc_trace() -> Drawing:
    view, centre = PLATE_VIEW, AT_OUTER_NULL
    marks = _plate(view, centre, reach_mm=OUTER_NULL_MM + 34.0, half_mm=38.0) + arc(
        view, PIVOT, UP, STYLUS, 7.0, look="bold"
    )
    marks += arc(view, PIVOT, UP, STYLUS, -17.0, look="bold")
    places: Places = {
        "Stylus beside the arc": (STYLUS, 12.0, 12.0),
        "Pivot's distance, measured": ((PIVOT + centre) / 2, -12.0, -2.0),
        "Print scale": (centre + 60.0 * _radial(centre) + 22.0 * FORWARD, -10.0, 12.0),
        "Hole on the spindle": (centre, -14.0, 8.0),
        "Cantilever along the lines": (STYLUS - 16.0 * ALONG, 14.0, -6.0),
    }
    caption = (
        "The stylus is led along a printed arc (bold) and read beside it; the pivot's distance (dashed) is measured."
    )
    return _drawing("arc-trace", centre, marks + line(view, centre, PIVOT, look="aim"), places, caption=caption)


def _two_null_plate() -> Drawing:
    view, centre, along = PLATE_VIEW, AT_OUTER_NULL, _radial(AT_OUTER_NULL)
    inner = centre + INNER_NULL_MM * along
    marks = _plate(view, centre, reach_mm=OUTER_NULL_MM + 22.0)
    marks += _null_lines(view, STYLUS, along) + _null_lines(view, inner, along)
    places: Places = {
        "Print scale, measured": (centre + 36.0 * along, -2.0, -16.0),
        "Hole on the spindle at the inner null": (centre, -10.0, 13.0),
        "Hole on the spindle at the outer null": (centre, -15.0, 2.0),
        "Pivot's distance, not proven": (PIVOT, 14.0, -4.0),
        "Stylus on the inner null": (inner, -2.0, 18.0),
        "Stylus on the outer null": (STYLUS, 13.0, 7.0),
        "Cantilever along the inner lines": (inner - 16.0 * ALONG, 4.0, -16.0),
        "Cantilever along the outer lines": (STYLUS - 16.0 * ALONG, 14.0, -6.0),
    }
    caption = "Two marks with lines, one at each null radius; the platter turns freely, so nothing is aimed."
    return _drawing("two-null-plate", centre, marks, places, caption=caption)


GAUGES: dict[str, Drawing] = {
    "single-point": _single_point(),
    "beam": _beam(),
    "arc-trace": _arc_trace(),
    "two-null-plate": _two_null_plate(),
}
