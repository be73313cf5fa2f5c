"""What is drawn on a view: arrows, turns, angles, dimensions and numbers, as paths in the units of the drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.web.drawings.views import Vector, View, turned

HEAD_LENGTH, HEAD_HALF_WIDTH = 7.0, 3.2
"""Of an arrowhead: 10 by 10 px in a drawing of 150 px. [units]"""
LABEL_GAP = 6.5
"""From an arrow's tip to the middle of its sign: half a letter of small text at 150 px, and some air. [units]"""
OUTSIDE = 12.0
"""Length of a dimension's arrows that come from outside. [units]"""
STEPS = 16
"""Straight pieces of a drawn arc: off the circle by less than a tenth of a unit."""


@dataclass(frozen=True)
class Label:
    """Text in a drawing: a sign, a letter of a formula, or the number of a joint."""

    text: str
    x: float
    y: float
    look: str = "letter"


@dataclass(frozen=True)
class Stroke:
    """A line of a drawing."""

    path: str
    look: str


@dataclass(frozen=True)
class Arrow:
    """An arrow with its head, and for the tests where it starts in the arm's frame and how it sets out in its view."""

    shaft: str
    head: str
    sign: str
    name: str
    view: str
    at: str
    right: float
    up: float


@dataclass(frozen=True)
class Marks:
    """What is drawn over the shapes of one view."""

    strokes: tuple[Stroke, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    labels: tuple[Label, ...] = ()

    def __add__(self, other: Marks) -> Marks:
        return Marks(self.strokes + other.strokes, self.arrows + other.arrows, self.labels + other.labels)


def number(value: float) -> str:
    """Write a coordinate for SVG."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def path(points: list[tuple[float, float]]) -> str:
    """Write straight pieces through points."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def line(view: View, *points: Vector, look: str = "thin") -> Marks:
    """Return a line through points; looks are "thin", "axis" (dash-dot), "aim" (dashed) and "bold"."""
    return Marks(strokes=(Stroke(path([view.at(point) for point in points]), look),))


def letter(view: View, point: Vector, text: str, *, dx: float = 0.0, dy: float = 0.0, look: str = "letter") -> Marks:
    """Return a letter beside a point; `dx` goes right and `dy` down. [units]"""
    x, y = view.at(point)
    return Marks(labels=(Label(text, round(x + dx, 2), round(y + dy, 2), look),))


def arrow(
    view: View,
    tail: Vector,
    vector: Vector,
    *,
    name: str,
    sign: str = "+",
    label: str | None = None,
    at_tail: bool = False,
) -> Marks:
    """Return an arrow of something that moves along a vector, its sign beyond the tip or before the tail. [mm]"""
    return _arrow(view, [tail, tail + vector], vector, name=name, sign=sign, label=label, at_tail=at_tail)


def turn(
    view: View,
    centre: Vector,
    axis: Vector,
    start: Vector,
    angle_deg: float,
    *,
    name: str,
    sign: str = "+",
    label: str | None = None,
) -> Marks:
    """Return an arrow of a turn about an axis, from `centre + start` on, right-handed. [mm], [deg]"""
    points = arc_points(centre, axis, start, angle_deg)
    return _arrow(view, points, np.cross(axis, start) * math.copysign(1, angle_deg), name=name, sign=sign, label=label)


def arc(view: View, centre: Vector, axis: Vector, start: Vector, angle_deg: float, *, look: str = "thin") -> Marks:
    """Return an arc without a head. [mm], [deg]"""
    return line(view, *arc_points(centre, axis, start, angle_deg), look=look)


def arc_points(centre: Vector, axis: Vector, start: Vector, angle_deg: float) -> list[Vector]:
    """Return points of an arc about an axis. [mm], [deg]"""
    return [centre + turned(start, axis, angle_deg * k / STEPS) for k in range(STEPS + 1)]


def dimension(
    view: View, start: Vector, end: Vector, text: str, *, off: Vector | None = None, dx: float = 0.0, dy: float = 0.0
) -> Marks:
    """Return a dimension from one point to another, its line shifted by `off`, its letter in the middle. [mm]"""
    shift = np.zeros(3) if off is None else off
    first, last = view.at(start + shift), view.at(end + shift)
    strokes = [Stroke(path([first, last]), "dimension")]
    if off is not None:
        strokes += [
            Stroke(path([view.at(point), view.at(point + 1.15 * shift)]), "extension") for point in (start, end)
        ]
    if math.dist(first, last) < 2.5 * HEAD_LENGTH:
        # No room between: the arrows come from outside.
        span = math.dist(first, last)
        ahead = ((last[0] - first[0]) / span, (last[1] - first[1]) / span)
        before = (first[0] - OUTSIDE * ahead[0], first[1] - OUTSIDE * ahead[1])
        beyond = (last[0] + OUTSIDE * ahead[0], last[1] + OUTSIDE * ahead[1])
        strokes += [Stroke(path([before, first]), "dimension"), Stroke(path([last, beyond]), "dimension")]
        ends = ((first, before), (last, beyond))
    else:
        ends = ((first, last), (last, first))
    heads = [Stroke(_head(tip, shaft), "dimension-head") for tip, shaft in ends]
    x, y = (first[0] + last[0]) / 2 + dx, (first[1] + last[1]) / 2 + dy
    labels = (Label(text, round(x, 2), round(y, 2)),) if text else ()
    return Marks(strokes=(*strokes, *heads), labels=labels)


def joint(view: View, point: Vector, count: int, *, dx: float, dy: float) -> Marks:
    """Return the number of a joint beside its place, with a leader to it."""
    x, y = view.at(point)
    leader = Stroke(path([(x, y), (x + dx, y + dy)]), "leader")
    return Marks(
        strokes=(leader,),
        labels=(
            Label("", round(x, 2), round(y, 2), "spot"),
            Label(str(count), round(x + dx, 2), round(y + dy, 2), "joint"),
        ),
    )


def _arrow(
    view: View,
    points: list[Vector],
    direction: Vector,
    *,
    name: str,
    sign: str,
    label: str | None,
    at_tail: bool = False,
) -> Marks:
    drawn = [view.at(point) for point in points]
    right, up = view.along(direction)
    length = math.hypot(right, up)
    tip = drawn[-1]
    # A curved arrow's head follows the last stretch that is as long as the head.
    before = next((p for p in reversed(drawn) if math.dist(p, tip) >= HEAD_LENGTH * 0.9), drawn[0])
    ahead_x, ahead_y = (tip[0] - before[0]) / math.dist(tip, before), (tip[1] - before[1]) / math.dist(tip, before)
    neck = (tip[0] - 0.8 * HEAD_LENGTH * ahead_x, tip[1] - 0.8 * HEAD_LENGTH * ahead_y)
    shaft = [p for p in drawn[:-1] if math.dist(p, tip) > HEAD_LENGTH] or [drawn[0]]
    made = Arrow(
        shaft=path([*shaft, neck]),
        head=_head(tip, before),
        sign=sign,
        name=name,
        view=view.name,
        at=" ".join(number(float(x)) for x in points[0]),
        right=round(right / length, 4),
        up=round(up / length, 4),
    )
    text = sign if label is None else label
    (x, y), gap = (drawn[0], -LABEL_GAP) if at_tail else (tip, LABEL_GAP)
    place = Label(text, round(x + gap * ahead_x, 2), round(y + gap * ahead_y, 2), "sign")
    return Marks(arrows=(made,), labels=(place,) if text else ())


def _head(tip: tuple[float, float], before: tuple[float, float]) -> str:
    away = math.dist(tip, before)
    x, y = (tip[0] - before[0]) / away, (tip[1] - before[1]) / away
    back_x, back_y = tip[0] - HEAD_LENGTH * x, tip[1] - HEAD_LENGTH * y
    left = (back_x + HEAD_HALF_WIDTH * y, back_y - HEAD_HALF_WIDTH * x)
    right = (back_x - HEAD_HALF_WIDTH * y, back_y + HEAD_HALF_WIDTH * x)
    return path([tip, left, right]) + "z"
