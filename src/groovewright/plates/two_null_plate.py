"""The two-null plate: a spindle mark and a null field at each radius, for any arm with the same groove range."""

from __future__ import annotations

from groovewright.plates import title_block
from groovewright.plates.arc_plate import grid_sizes_mm
from groovewright.plates.ink import MARKS, RULE
from groovewright.plates.marks import check_bar, frame, null_grid, null_name, spindle_mark
from groovewright.plates.request import PlateRequest
from groovewright.plates.scene import Line, Shape

_EDGE_MM = 4.0
_COLUMN_MM = 62.0
_STEP = (
    "At each null, turn the platter until the stylus meets the open centre, then turn and slide the cartridge "
    "until the cantilever lies along the lane at both."
)


def two_null_shapes(request: PlateRequest) -> list[Shape]:
    """Return everything on the plate, spindle at the origin, both nulls on +x. [mm]"""
    nulls_mm = request.geometry.null_radii_mm
    sizes_mm = grid_sizes_mm(nulls_mm, most_mm=(20.0, 20.0))
    strip_mm = max(*sizes_mm, 12.0) + 4
    left_mm = -16.0
    right_mm = max(nulls_mm[1] + sizes_mm[1] + 16, left_mm + 2 * _EDGE_MM + 2 * _COLUMN_MM + 20)
    top_mm, words_mm = strip_mm + _EDGE_MM, -strip_mm - 9

    shapes = spindle_mark(request.hole_diameter_mm)
    clear_mm = 10.0
    for radius_mm, size_mm in zip(nulls_mm, sizes_mm, strict=True):
        shapes += null_grid((radius_mm, 0.0), tangent_deg=90.0, size_mm=size_mm)
        shapes.append(Line((clear_mm, 0.0), (radius_mm - size_mm - 1.6, 0.0), MARKS, RULE))
        clear_mm = radius_mm + size_mm + 1.6
        shapes += null_name((radius_mm, -size_mm - 3.6), radius_mm)
    words, lowest_mm = _words(request, left_mm=left_mm + _EDGE_MM, top_mm=words_mm)
    bottom_mm = min(lowest_mm - 14, top_mm - 116)
    shapes += words
    shapes += check_bar((right_mm - 9, top_mm - 8 - 100), axis="y")
    shapes += check_bar((left_mm + _EDGE_MM + 2, bottom_mm + 8), axis="x")
    return frame(left_mm=left_mm, bottom_mm=bottom_mm, right_mm=right_mm, top_mm=top_mm) + shapes


def _words(request: PlateRequest, *, left_mm: float, top_mm: float) -> tuple[list[Shape], float]:
    width_mm = _COLUMN_MM
    head = title_block.heading(request, left_mm=left_mm, top_mm=top_mm, width_mm=width_mm)
    shapes, next_mm = list(head.shapes), head.bottom_mm - 1
    for words, bold in ((title_block.PRINT_ORDER, True), (_STEP, False), (title_block.BARE_STYLUS, False)):
        block = title_block.paragraph(
            words, left_mm=left_mm, top_mm=next_mm, width_mm=width_mm, bold=bold, size_mm=2.6 if bold else 2.4
        )
        shapes += block.shapes
        next_mm = block.bottom_mm
    second_mm = left_mm + width_mm + 10
    rows = title_block.target_rows(request) + title_block.making_rows(request)
    body = title_block.table(rows, left_mm=second_mm, top_mm=top_mm, width_mm=width_mm)
    return [*shapes, *body.shapes], min(next_mm, body.bottom_mm)
