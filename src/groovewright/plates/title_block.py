"""The words of a plate: what it is, for what target, how to print and use it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from groovewright.plates.ink import INK, LACQUER, RULE, TEXT
from groovewright.plates.request import PlateRequest
from groovewright.plates.scene import Line, Shape, Text

TITLES = {"arc": "Arc plate", "two-null": "Two-null plate", "cut": "Arc plate for cutting"}
PRINT_ORDER = "Print at 100 %, never fit to page; check both bars."
BARE_STYLUS = "Mute the amplifier first. Lower the stylus gently and guard it near screws."
CUTTING_CAUTION = (
    "Blades cut and laser light blinds: keep hands clear, wear goggles made for your laser, "
    "never leave it running alone, and cut no PVC: its fumes are poison."
)
_EM_MM = 2.6
_EM_A_CHARACTER = 0.47
"""Mean width of Source Sans in ems, rounded up, so that a wrapped line stays inside its column."""


@dataclass(frozen=True)
class TitleBlock:
    """Words set in one or more columns; the drawing decides where.

    Parameters
    ----------
    shapes : tuple of Shape
        The words and rules. [mm]
    bottom_mm : float
        Where the next thing below may start. [mm]
    """

    shapes: tuple[Shape, ...]
    bottom_mm: float


def heading(request: PlateRequest, *, left_mm: float, top_mm: float, width_mm: float) -> TitleBlock:
    """Return the plate's name, number and criterion."""
    shapes: list[Shape] = [
        Text((left_mm, top_mm - 2.6), "GROOVEWRIGHT", 2.6, TEXT, LACQUER, "semibold"),
        Text((left_mm, top_mm - 9.6), TITLES[request.kind], 6.4, TEXT, INK, "semibold"),
        Text((left_mm, top_mm - 15.0), f"Plate {request.plate_number}", 4.0, TEXT, INK, "semibold"),
    ]
    words = paragraph(request.criterion_label, left_mm=left_mm, top_mm=top_mm - 17.4, width_mm=width_mm)
    return TitleBlock((*shapes, *words.shapes), words.bottom_mm)


def paragraph(
    words: str, *, left_mm: float, top_mm: float, width_mm: float, bold: bool = False, size_mm: float = _EM_MM
) -> TitleBlock:
    """Return words broken into lines of a column."""
    lines = _even_lines(words, most_characters=int(width_mm / (size_mm * _EM_A_CHARACTER)))
    shapes: list[Shape] = []
    baseline_mm = top_mm
    for line in lines:
        baseline_mm -= size_mm * 1.3
        shapes.append(Text((left_mm, baseline_mm), line, size_mm, TEXT, INK, "semibold" if bold else "regular"))
    return TitleBlock(tuple(shapes), baseline_mm - size_mm * 0.4)


def _even_lines(words: str, *, most_characters: int) -> list[str]:
    """Return as few lines as fit the column, then as short as those can be, so that no word is left alone."""
    lines = textwrap.wrap(words, most_characters)
    for characters in range(most_characters, 0, -1):
        shorter = textwrap.wrap(words, characters)
        if len(shorter) > len(lines):
            break
        lines = shorter
    return lines


def table(
    rows: Sequence[tuple[str, str]], *, left_mm: float, top_mm: float, width_mm: float, pitch_mm: float = 4.5
) -> TitleBlock:
    """Return names at the left and values at the right of a column, ruled between the rows."""
    shapes: list[Shape] = [Line((left_mm, top_mm), (left_mm + width_mm, top_mm), TEXT, RULE)]
    for row, (name, value) in enumerate(rows, start=1):
        line_mm = top_mm - row * pitch_mm
        shapes.append(Text((left_mm, line_mm + 1.3), name, _EM_MM, TEXT, INK))
        shapes.append(Text((left_mm + width_mm, line_mm + 1.3), value, 2.9, TEXT, INK, "semibold", "end"))
        shapes.append(Line((left_mm, line_mm), (left_mm + width_mm, line_mm), TEXT, RULE))
    return TitleBlock(tuple(shapes), top_mm - len(rows) * pitch_mm)


def target_rows(request: PlateRequest) -> list[tuple[str, str]]:
    """Return what the plate is drawn for; a two-null plate serves any arm, so it names only what all of them share."""
    geometry = request.geometry
    rows = [
        ("groove range", f"{groove_radius(request.innermost_mm)} to {groove_radius(request.outermost_mm)} mm"),
        ("null radii", " and ".join(map(groove_radius, geometry.null_radii_mm)) + " mm"),
        ("linear offset", f"{geometry.linear_offset_mm:.2f} mm"),
    ]
    if request.kind == "two-null":
        return [*rows, ("pivot to spindle", "any")]
    return [
        ("pivot to spindle", f"{geometry.pivot_to_spindle_mm:.2f} mm"),
        ("effective length", f"{geometry.effective_length_mm:.2f} mm"),
        ("overhang", f"{geometry.overhang_mm:.2f} mm"),
        ("offset angle", f"{geometry.offset_angle_deg:.2f}°"),
        *rows,
    ]


def making_rows(request: PlateRequest) -> list[tuple[str, str]]:
    """Return how the plate is made: hole and correction of both axes."""
    correction = "corrected" if request.is_corrected else "not corrected"
    return [
        ("spindle hole", f"{request.hole_diameter_mm:.2f} mm"),
        ("scale x, y", f"{request.scale_x:.4f}, {request.scale_y:.4f}"),
        ("print", correction),
    ]


def groove_radius(radius_mm: float) -> str:
    """Return a groove radius as the standards print it, to a micrometre where it needs one."""
    return f"{radius_mm:.3f}".removesuffix("0")
