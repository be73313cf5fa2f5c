"""The settings drawn to scale: one track each, all tolerances equally wide, and the shapes of the verdicts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from groovewright.bench.estimate.setting_state import SettingState
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, Tolerance
from groovewright.measurement.coverage import coverage_interval
from groovewright.report.drawing import ACCENT, BAND, HAIRLINE, INK, PAPER, Drawing

TRACK_MM, ROW_MM = 66.0, 11.0
LANE_MM = 26.0
"""Width of every tolerance; what is farther out than the edge of the track is shown by an arrow there."""

EDGE_MM = 1.8
"""Kept free at both ends for dots and arrows."""


@dataclass(frozen=True)
class Mark:
    """One value on a track: in tolerance widths from the middle of the tolerance, with its 95 % interval."""

    place: float
    low: float | None
    high: float | None


def marks_of(found: SettingState, left: SettingState | None) -> tuple[Mark | None, Mark | None]:
    """Return where a setting was found and left on the track of its tolerance; None where it was not read.

    A tolerance with one limit reaches as far beyond the aim as the limit is from it.
    """
    reach = _reach(left or found)
    if reach is None:
        return None, None
    return _mark(found, *reach), None if left is None else _mark(left, *reach)


def _reach(setting: SettingState) -> tuple[float, float] | None:
    tolerance = setting.tolerance
    if tolerance is None:
        return None
    lower, upper = tolerance.lower, tolerance.upper
    limit = upper if lower is None else lower
    aim = setting.aim
    if lower is None or upper is None:
        if limit is None:
            return None
        half = abs(limit - (0.0 if aim is None else aim)) or abs(limit) or 1.0
        return (limit - 2 * half, limit) if lower is None else (limit, limit + 2 * half)
    return lower, upper


def _mark(setting: SettingState, lower: float, upper: float) -> Mark | None:
    quantity = setting.quantity
    if quantity is None:
        return None
    middle, width = (lower + upper) / 2, upper - lower
    if not quantity.standard_uncertainty:
        return Mark((quantity.value - middle) / width, None, None)
    low, high = coverage_interval(quantity)
    return Mark(*((end - middle) / width for end in (quantity.value, low, high)))


def setting_track(tolerance: Tolerance | None, found: Mark | None, left: Mark | None, *, is_last: bool) -> str:
    """Return the SVG of one setting's track: found above, left below, each a dot with a bar, joined where both are.

    Parameters
    ----------
    tolerance : Tolerance or None
        Its sides that have no limit get no post.
    is_last : bool
        Whether no track follows below, so that the posts end.
    """
    sheet = Drawing(TRACK_MM, ROW_MM)
    centre = TRACK_MM / 2
    if tolerance is None:
        sheet.line([(EDGE_MM, ROW_MM / 2), (TRACK_MM - EDGE_MM, ROW_MM / 2)], stroke=HAIRLINE, width_mm=0.2)
        return sheet.as_svg()
    left_post, right_post = centre - LANE_MM / 2, centre + LANE_MM / 2
    lane_from = 0.0 if tolerance.lower is None else left_post
    lane_to = TRACK_MM if tolerance.upper is None else right_post
    end = ROW_MM - 0.8 if is_last else ROW_MM
    sheet.rectangle(lane_from, 0.0, lane_to - lane_from, end, fill=BAND)
    for limit, post in ((tolerance.lower, left_post), (tolerance.upper, right_post)):
        if limit is not None:
            sheet.line([(post, 0.0), (post, end)], width_mm=0.45)
    sheet.line([(centre, 1.0), (centre, end - 1.0)], stroke=HAIRLINE, width_mm=0.2, dash_mm=(0.8, 0.8))

    def x(place: float) -> float:
        return centre + place * LANE_MM

    rows = [(mark, y, is_left) for mark, y, is_left in ((found, 3.5, False), (left, 7.5, True)) if mark is not None]
    if len(rows) == 1:
        rows = [(rows[0][0], ROW_MM / 2, rows[0][2])]
    points = [(min(max(x(mark.place), EDGE_MM), TRACK_MM - EDGE_MM), y) for mark, y, _ in rows]
    if len(points) > 1:
        sheet.line(points, width_mm=0.2, dash_mm=(0.6, 0.6))
    for mark, y, is_left in rows:
        _draw_mark(sheet, mark, y, x, is_left=is_left)
    return sheet.as_svg()


def _draw_mark(sheet: Drawing, mark: Mark, y_mm: float, x: Callable[[float], float], *, is_left: bool) -> None:
    lowest, highest = EDGE_MM, TRACK_MM - EDGE_MM
    place = x(mark.place)
    fill = ACCENT if is_left else PAPER
    if mark.low is not None and mark.high is not None:
        low, high = (min(max(x(end), lowest), highest) for end in (mark.low, mark.high))
        sheet.rectangle(low, y_mm - 0.4, high - low, 0.8, fill=ACCENT if is_left else INK)
    if lowest <= place <= highest:
        sheet.disc(place, y_mm, 1.2, fill=fill, stroke=INK, width_mm=0.4)
        return
    tip, inward = (highest + 1.2, -1.0) if place > highest else (lowest - 1.2, 1.0)
    outline = [(tip, y_mm), (tip + inward * 2.8, y_mm - 1.4), (tip + inward * 2.8, y_mm + 1.4), (tip, y_mm)]
    sheet.polygon(outline, fill=fill)
    sheet.line(outline, width_mm=0.35)


def legend_dot(*, is_left: bool) -> str:
    """Return the SVG of a dot with its bar, as in the tracks, for the heads of the table. 9 by 3 mm."""
    sheet = Drawing(9.0, 3.0)
    _draw_mark(sheet, Mark(0.0, -1.0, 1.0), 1.5, lambda place: 4.5 + 4.0 * place, is_left=is_left)
    return sheet.as_svg()


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
