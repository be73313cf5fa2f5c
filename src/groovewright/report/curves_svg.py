"""Curves over the groove, drawn so that they read in grey: dash styles and a label at each line's end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from groovewright.report.drawing import ACCENT, HAIRLINE, INK, PAPER, STEEL, Drawing

WIDTH_MM, HEIGHT_MM = 170.0, 52.0
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 13.0, 30.0, 6.0, 10.0
LABEL_STEP_MM = 3.9
"""Between the labels of two curves: a line of their type with some space."""
MIN_SPAN = 0.1
"""Of an axis: a tangential arm has no error at all, and its line still needs one."""

BAND_OPACITY = 0.14
"""Two bands that overlap, and the lines in them, can still be told apart in grey."""


@dataclass(frozen=True)
class LineStyle:
    """How one curve is told from the others without colour."""

    stroke: str
    width_mm: float
    dash_mm: tuple[float, ...] = ()


LINE_STYLES = {
    "as found": LineStyle(INK, 0.45, (2.2, 1.2)),
    "as left": LineStyle(ACCENT, 0.75),
    "target": LineStyle(STEEL, 0.45, (0.5, 1.0)),
}


@dataclass(frozen=True)
class Curve:
    """One line of a plot: its label, which is a key of `LINE_STYLES`, its points, and its 95 % band if it has one."""

    label: str
    radius_mm: tuple[float, ...]
    height: tuple[float, ...]
    band: tuple[tuple[float, ...], tuple[float, ...]] | None = None


@dataclass(frozen=True)
class Point:
    """A reading on a plot, with the ends of its 95 % interval if they are known."""

    label: str
    radius_mm: float
    height: float
    ends: tuple[float, float] | None = None


def round_ticks(lowest: float, highest: float, *, about: int) -> list[float]:
    """Return round numbers, about as many as asked for, that enclose the range.

    Examples
    --------
    >>> round_ticks(0.0, 0.93, about=4)
    [0.0, 0.25, 0.5, 0.75, 1.0]
    """
    span = max(highest - lowest, 1e-9)
    power = 10.0 ** math.floor(math.log10(span / about))
    step = min((s * power for s in (1, 2, 2.5, 5, 10)), key=lambda s: abs(math.log(span / about / s)))
    first, last = math.floor(lowest / step + 1e-9), math.ceil(highest / step - 1e-9)
    return [k * step for k in range(first, last + 1)]


def tick_texts(ticks: Sequence[float]) -> list[str]:
    """Return the ticks with as many decimals as the finest needs, and a true minus sign.

    Examples
    --------
    >>> tick_texts([-0.5, 0.0, 0.5])
    ['−0.5', '0.0', '0.5']
    """
    decimals = next(n for n in range(12) if n == 11 or all(abs(round(t, n) - t) < 1e-9 for t in ticks))
    return [f"{t + 0.0:.{decimals}f}".replace("-", "−") for t in ticks]


def spread(wanted: Sequence[float], *, step: float, lowest: float, highest: float) -> list[float]:
    """Return positions near those wanted, in the same order, at least a step apart where the room allows it.

    Examples
    --------
    >>> spread([10.0, 10.0], step=4.0, lowest=0.0, highest=50.0)
    [8.0, 12.0]
    """
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    groups: list[tuple[list[int], float]] = []
    for k in order:
        members, middle = [k], wanted[k]
        while groups and groups[-1][1] + len(groups[-1][0]) * step / 2 > middle - len(members) * step / 2:
            members = groups.pop()[0] + members
            middle = sum(wanted[m] for m in members) / len(members)
        half = (len(members) - 1) * step / 2
        middle = max(lowest + half, min(middle, highest - half))
        groups.append((members, middle))
    places = [0.0] * len(wanted)
    for members, middle in groups:
        for position, k in enumerate(members):
            places[k] = middle + (position - (len(members) - 1) / 2) * step
    return places


def groove_plot(
    curves: Sequence[Curve], *, title: str, zero_based: bool = False, readings: Sequence[Point] = ()
) -> str:
    """Return the SVG of curves over the groove radius.

    Parameters
    ----------
    curves : sequence of Curve
        At least one; all over the same range of radius.
    title : str
        What the height means, with its unit; written above the axis.
    zero_based : bool
        Whether the axis starts at 0, for what is never negative.
    readings : sequence of Point
        Open as found and filled as left.
    """
    radii = [r for c in curves for r in c.radius_mm]
    heights = [h for c in curves for side in (c.height, *(c.band or ())) for h in side]
    heights += [h for p in readings for h in (p.height, *(p.ends or ()))]
    inner, outer = min(radii), max(radii)
    lowest, highest = 0.0 if zero_based else min(0.0, *heights), max(0.0, *heights)
    ticks = round_ticks(lowest, max(highest, lowest + MIN_SPAN), about=4)
    low, high = ticks[0], ticks[-1]

    def x(radius_mm: float) -> float:
        return LEFT_MM + (radius_mm - inner) / (outer - inner) * (WIDTH_MM - LEFT_MM - RIGHT_MM)

    def y(height: float) -> float:
        return HEIGHT_MM - BOTTOM_MM - (height - low) / (high - low) * (HEIGHT_MM - TOP_MM - BOTTOM_MM)

    sheet = Drawing(WIDTH_MM, HEIGHT_MM)
    sheet.text(0.0, 3.2, title, size_mm=3.2, bold=True)
    for curve in curves:
        if curve.band is not None:
            low_edge, high_edge = (
                [(x(r), y(h)) for r, h in zip(curve.radius_mm, edge, strict=True)] for edge in curve.band
            )
            style = LINE_STYLES[curve.label]
            sheet.polygon([*low_edge, *reversed(high_edge)], fill=style.stroke, opacity=BAND_OPACITY)
    for tick, words in zip(ticks, tick_texts(ticks), strict=True):
        on_zero = abs(tick) < 1e-12
        sheet.line([(LEFT_MM, y(tick)), (WIDTH_MM - RIGHT_MM, y(tick))], stroke=INK if on_zero else HAIRLINE,
                   width_mm=0.25 if on_zero else 0.15)  # fmt: skip
        sheet.text(LEFT_MM - 1.5, y(tick) + 1.0, words, anchor="end", fill=STEEL)
    across = [t for t in round_ticks(inner, outer, about=8) if inner <= t <= outer]
    for tick, words in zip(across, tick_texts(across), strict=True):
        sheet.line([(x(tick), y(low)), (x(tick), y(low) + 1.2)], stroke=STEEL, width_mm=0.2)
        sheet.text(x(tick), y(low) + 4.4, words, anchor="middle", fill=STEEL)
    sheet.text(x(inner), HEIGHT_MM - 1.4, "inner groove", fill=STEEL)
    sheet.text(x((inner + outer) / 2), HEIGHT_MM - 1.4, "groove radius, mm", anchor="middle", fill=STEEL)
    sheet.text(x(outer), HEIGHT_MM - 1.4, "outer groove", anchor="end", fill=STEEL)

    ends = [y(c.height[-1]) for c in curves]
    labels = spread(ends, step=LABEL_STEP_MM, lowest=TOP_MM, highest=HEIGHT_MM - BOTTOM_MM)
    for curve, end, label in zip(curves, ends, labels, strict=True):
        style = LINE_STYLES[curve.label]
        points = [(x(r), y(h)) for r, h in zip(curve.radius_mm, curve.height, strict=True)]
        sheet.line(points, stroke=style.stroke, width_mm=style.width_mm, dash_mm=style.dash_mm)
        sheet.line([(x(outer) + 0.6, end), (x(outer) + 4.0, label)], stroke=style.stroke, width_mm=0.2)
        sheet.line([(x(outer) + 4.0, label), (x(outer) + 11.0, label)], stroke=style.stroke,
                   width_mm=style.width_mm, dash_mm=style.dash_mm)  # fmt: skip
        sheet.text(x(outer) + 12.0, label + 1.0, curve.label, fill=style.stroke, bold=True)
    for point in readings:
        if point.ends is not None:
            sheet.line([(x(point.radius_mm), y(end)) for end in point.ends], width_mm=0.35)
        fill = PAPER if point.label == "as found" else ACCENT
        sheet.disc(x(point.radius_mm), y(point.height), 0.95, fill=fill, stroke=INK, width_mm=0.35)
    return sheet.as_svg()
