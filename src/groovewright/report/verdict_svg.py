"""Verdicts as pictures: a shape for each answer, and the tolerance with its readings drawn to scale."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, Tolerance
from groovewright.report.curves_svg import round_ticks, spread, tick_texts
from groovewright.report.drawing import ACCENT, BAND, HAIRLINE, INK, PAPER, STEEL, Drawing

WIDTH_MM = 170.0
LEFT_MM, RIGHT_MM = 22.0, 8.0
ROW_MM = 7.0
TOP_MM, AXIS_MM = 5.5, 5.5
# A reading further out than this many tolerance widths is named at the edge, so that the band stays visible.
SHOWN_WIDTHS = 4.0


@dataclass(frozen=True)
class ScaleRow:
    """One reading on the scale: its stage, value, and half the length of its bar (None: not known)."""

    stage: str
    value: float
    half_bar: float | None


def verdict_shape(outcome: str) -> str:
    """Return the SVG of an answer's own shape, 9 by 4.5 mm, told apart without colour."""
    sheet = Drawing(9.0, 4.5)
    posts: tuple[float, ...]
    dot: float | None
    bar: tuple[float, float] | None
    if outcome == IN_TOLERANCE:
        posts, dot, bar = (1.6, 7.4), 4.5, None
    elif outcome == OUT_OF_TOLERANCE:
        posts, dot, bar = (0.8, 4.6), 7.4, None
    elif outcome == UNDECIDED:
        posts, dot, bar = (4.5,), None, (1.4, 7.6)
    else:
        raise ValueError(f"no shape for the verdict {outcome!r}; it is one of {IN_TOLERANCE!r}, "
                         f"{OUT_OF_TOLERANCE!r}, {UNDECIDED!r}")  # fmt: skip
    for post in posts:
        sheet.line([(post, 0.2), (post, 4.3)], width_mm=0.55)
    if dot is not None:
        sheet.disc(dot, 2.25, 1.15, fill=ACCENT if outcome == IN_TOLERANCE else INK)
    if bar is not None:
        sheet.rectangle(bar[0], 1.7, bar[1] - bar[0], 1.1, fill=INK)
    return sheet.as_svg()


def _window(rows: Sequence[ScaleRow], tolerance: Tolerance) -> tuple[float, float]:
    """Return the part of the axis to draw: the limits, and every bar that is not too far from them."""
    limits = [limit for limit in (tolerance.lower, tolerance.upper) if limit is not None]
    ends = [row.value + side * (row.half_bar or 0.0) for row in rows for side in (-1, 1)]
    middle = sum(limits) / len(limits)
    width = max(limits) - min(limits) or max((abs(end - middle) for end in ends), default=0.0) or 1.0
    low = max(min(limits + ends), middle - SHOWN_WIDTHS * width)
    high = min(max(limits + ends), middle + SHOWN_WIDTHS * width)
    low, high = min(low, *limits), max(high, *limits)
    margin = 0.12 * (high - low or width)
    return low - margin, high + margin


def verdict_scale(rows: Sequence[ScaleRow], tolerance: Tolerance) -> str:
    """Return the SVG of a tolerance between its posts with one row for each reading, to scale.

    Parameters
    ----------
    rows : sequence of ScaleRow
        At least one, in the order in which they were read; values in the unit of the tolerance.
    tolerance : Tolerance
        At least one of its limits is given.
    """
    low, high = _window(rows, tolerance)
    height = TOP_MM + ROW_MM * len(rows) + AXIS_MM
    bottom = height - AXIS_MM
    sheet = Drawing(WIDTH_MM, height)

    def x(value: float) -> float:
        return LEFT_MM + (value - low) / (high - low) * (WIDTH_MM - LEFT_MM - RIGHT_MM)

    band_from = low if tolerance.lower is None else tolerance.lower
    band_to = high if tolerance.upper is None else tolerance.upper
    sheet.rectangle(x(band_from), TOP_MM, x(band_to) - x(band_from), bottom - TOP_MM, fill=BAND)
    ticks = [t for t in round_ticks(low, high, about=8) if low <= t <= high]
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        sheet.line([(x(tick), bottom), (x(tick), bottom + 1.0)], stroke=STEEL, width_mm=0.2)
        sheet.text(x(tick), bottom + 4.2, words, anchor="middle", fill=STEEL)
    sheet.line([(x(low), bottom), (x(high), bottom)], stroke=STEEL, width_mm=0.2)
    sheet.text(0.0, bottom + 4.2, tolerance.unit, fill=STEEL)

    posts = [(v, name) for v, name in ((tolerance.lower, "lower limit"), (tolerance.upper, "upper limit"))
             if v is not None]  # fmt: skip
    for limit, _name in posts:
        sheet.line([(x(limit), TOP_MM - 1.0), (x(limit), bottom + 0.6)], width_mm=0.55)
    label_places = spread([x(v) for v, _ in posts], step=18.0, lowest=LEFT_MM, highest=WIDTH_MM - RIGHT_MM)
    for (_limit, name), place in zip(posts, label_places, strict=True):
        sheet.text(place, TOP_MM - 2.4, name, anchor="middle", fill=STEEL)

    for number, row in enumerate(rows):
        y = TOP_MM + ROW_MM * (number + 0.5)
        sheet.text(0.0, y + 1.1, row.stage, size_mm=3.2, bold=True)
        sheet.line([(x(low), y), (x(high), y)], stroke=HAIRLINE, width_mm=0.12)
        _draw_reading(sheet, row, y_mm=y, place=x, low=low, high=high)
    return sheet.as_svg()


def _draw_reading(
    sheet: Drawing, row: ScaleRow, *, y_mm: float, place: Callable[[float], float], low: float, high: float
) -> None:
    fill = PAPER if row.stage == "as found" else ACCENT
    if not low <= row.value <= high:
        edge, inward = (place(high), -1.0) if row.value > high else (place(low), 1.0)
        tip = edge + inward * -1.0
        sheet.polygon([(tip, y_mm), (tip + inward * 3.2, y_mm - 1.5), (tip + inward * 3.2, y_mm + 1.5)], fill=INK)
        sheet.text(tip + inward * 4.4, y_mm - 0.9, f"off this scale, at {row.value:.4g}".replace("-", "−"),
                   anchor="start" if inward > 0 else "end")  # fmt: skip
        return
    if row.half_bar:
        left, right = place(max(low, row.value - row.half_bar)), place(min(high, row.value + row.half_bar))
        sheet.rectangle(left, y_mm - 0.55, right - left, 1.1, fill=INK)
    sheet.disc(place(row.value), y_mm, 1.35, fill=fill, stroke=INK, width_mm=0.45)
