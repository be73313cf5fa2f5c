"""Drawings of the adjusters: which way + goes, or the way that is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache

from groovewright.tonearm.arm_state import ADJUSTERS
from groovewright.tonearm.headshell import FORWARD, OUTWARD, UP
from groovewright.web.drawings.drawing import Drawing, Panel
from groovewright.web.drawings.marks import Marks, arrow, line, turn
from groovewright.web.drawings.panels import (
    MIDDLE_GROOVE_MM,
    arm_line,
    arm_side,
    deck_above,
    headshell_above,
    headshell_front,
)
from groovewright.web.drawings.views import (
    ACROSS,
    ALONG,
    ARM_SIDE,
    BUILD,
    DECK_ABOVE,
    HEADSHELL_ABOVE,
    HEADSHELL_FRONT,
    INWARD_TURN,
    PIVOT,
    ROLL_AXIS,
    STYLUS,
    Vector,
    spindle,
    turned,
)

PLUS, MINUS = "+", "\N{MINUS SIGN}"

_WORDS: dict[str, tuple[str, str]] = {
    "slide_mm": (
        "slides the cartridge forward along its own axis: the effective length grows.",
        "slides the cartridge back along its own axis: the effective length shrinks.",
    ),
    "turn_deg": (
        "turns the cartridge inward, clockwise from above: the offset angle grows.",
        "turns the cartridge outward, anticlockwise from above: the offset angle shrinks.",
    ),
    "base_position_mm": (
        "moves the arm base away from the spindle: the pivot-to-spindle distance grows.",
        "moves the arm base toward the spindle: the pivot-to-spindle distance shrinks.",
    ),
    "arm_height_mm": (
        "raises the arm base: stylus rake angle and vertical tracking angle grow.",
        "lowers the arm base: stylus rake angle and vertical tracking angle shrink.",
    ),
    "counterweight_mm": (
        "moves the counterweight toward the pivot: the tracking force grows.",
        "moves the counterweight away from the pivot: the tracking force shrinks.",
    ),
    "compensation_mn": (
        "is more side-force compensation: it pulls the stylus outward, away from the spindle.",
        "is less side-force compensation: the stylus is drawn less outward, so it goes inward, toward the spindle.",
    ),
    "roll_deg": (
        "rolls the top outward: clockwise seen from the front.",
        "rolls the top inward: anticlockwise seen from the front.",
    ),
}


@lru_cache(maxsize=256)
def drawing_of_moves(signs: tuple[tuple[str, int], ...]) -> Drawing:
    """Return the drawing of what is moved together: slide and turn in one view, anything else in its own.

    Raises
    ------
    KeyError
        If there is no such adjuster.
    """
    way = {adjuster: sign for adjuster, sign in signs if sign}
    panels: list[Panel] = []
    if "slide_mm" in way and "turn_deg" in way:
        panels.append(headshell_above(_slide(way["slide_mm"]) + _turn(way["turn_deg"])))
    else:
        panels += [_PANELS[key](way[key]) for key in ("slide_mm", "turn_deg") if key in way]
    panels += [_PANELS[key](sign) for key, sign in way.items() if key not in ("slide_mm", "turn_deg")]
    words = (f"{_sign(sign)} {_WORDS[key][sign < 0]}" for key, sign in way.items())
    subject = " ".join(f"{key} {_sign(sign)}" for key, sign in way.items())
    return Drawing(f"move {subject}", tuple(panels), " ".join(words))


def signs_of(amounts: Mapping[str, float]) -> tuple[tuple[str, int], ...]:
    """Return the way of every adjuster that is moved, in the order of `ADJUSTERS`."""
    unknown = set(amounts) - set(ADJUSTERS)
    if unknown:
        raise KeyError(f"the adjusters are {', '.join(ADJUSTERS)}; {sorted(unknown)[0]!r} is none of them")
    return tuple((key, 1 if amounts[key] > 0 else -1) for key in ADJUSTERS if amounts.get(key))


def way_of(sign: str | float) -> int:
    """Return 1 or -1 for "+", "-", a minus sign or an amount."""
    if isinstance(sign, str):
        return -1 if sign.startswith(("-", MINUS)) else 1
    return -1 if sign < 0 else 1


def _sign(sign: int) -> str:
    return PLUS if sign > 0 else MINUS


def _shift(view_marks: Callable[[Vector, Vector], Marks], tail: Vector, vector: Vector, sign: int) -> Marks:
    # Both ways the arrow covers the same ground.
    return view_marks(tail if sign > 0 else tail + vector, sign * vector)


def _slide(sign: int) -> Marks:
    def drawn(tail: Vector, vector: Vector) -> Marks:
        return arrow(HEADSHELL_ABOVE, tail, vector, name="slide_mm", sign=_sign(sign))

    return _shift(drawn, STYLUS - 23.0 * ALONG - 15.0 * ACROSS, 18.0 * ALONG, sign)


def _turn(sign: int) -> Marks:
    pointer = 15.0 * ALONG + 2.0 * ACROSS
    if sign < 0:
        pointer = 15.0 * ALONG - 2.0 * ACROSS
    return turn(
        HEADSHELL_ABOVE, STYLUS, INWARD_TURN, pointer, sign * 48.0, name="turn_deg", sign=_sign(sign)
    ) + arm_line(HEADSHELL_ABOVE)


def base_marks(sign: int, label: str | None = None) -> Marks:
    """Return the arrow of the arm base beside the pivot, and the line that it moves along."""
    centre = spindle(MIDDLE_GROOVE_MM)
    away = (PIVOT - centre) * (1, 1, 0)
    away = away / float((away @ away) ** 0.5)
    aside = 58.0 * turned(away, UP, 90.0)

    def drawn(tail: Vector, vector: Vector) -> Marks:
        return arrow(DECK_ABOVE, tail, vector, name="base_position_mm", sign=_sign(sign), label=label)

    aim = line(DECK_ABOVE, centre, PIVOT, look="aim")
    return aim + _shift(drawn, PIVOT + aside - 22.0 * away, 44.0 * away, sign)


def _base(sign: int) -> Panel:
    return deck_above(base_marks(sign))


def _height(sign: int) -> Panel:
    view = ARM_SIDE.moved(right_mm=6.0, up_mm=6.0, width_mm=366.0, height=48.0)

    def drawn(tail: Vector, vector: Vector) -> Marks:
        return arrow(view, tail, vector, name="arm_height_mm", sign=_sign(sign))

    return arm_side(_shift(drawn, PIVOT + 20.0 * FORWARD - 40.0 * UP, 60.0 * UP, sign), view)


def _counterweight(sign: int) -> Panel:
    view = ARM_SIDE.moved(right_mm=6.0, up_mm=6.0, width_mm=366.0, height=48.0)

    def drawn(tail: Vector, vector: Vector) -> Marks:
        return arrow(view, tail, vector, name="counterweight_mm", sign=_sign(sign))

    return arm_side(_shift(drawn, PIVOT - 56.0 * FORWARD + 24.0 * UP, 44.0 * FORWARD, sign), view)


def _compensation(sign: int) -> Panel:
    def drawn(tail: Vector, vector: Vector) -> Marks:
        return arrow(HEADSHELL_ABOVE, tail, vector, name="compensation_mn", sign=_sign(sign))

    side = 6.0 * FORWARD
    marks = arm_line(HEADSHELL_ABOVE)
    return headshell_above(marks + _shift(drawn, STYLUS + side - 11.0 * OUTWARD, 22.0 * OUTWARD, sign))


def _roll(sign: int) -> Panel:
    centre = STYLUS + BUILD.roll_axis_height_mm * UP
    start = 14.0 * UP - sign * 8.0 * ACROSS
    marks = turn(HEADSHELL_FRONT, centre, ROLL_AXIS, start, sign * 60.0, name="roll_deg", sign=_sign(sign))
    return headshell_front(marks + line(HEADSHELL_FRONT, STYLUS - 4.0 * UP, STYLUS + 26.0 * UP, look="axis"))


_PANELS: dict[str, Callable[[int], Panel]] = {
    "slide_mm": lambda sign: headshell_above(_slide(sign)),
    "turn_deg": lambda sign: headshell_above(_turn(sign)),
    "base_position_mm": _base,
    "arm_height_mm": _height,
    "counterweight_mm": _counterweight,
    "compensation_mn": _compensation,
    "roll_deg": _roll,
}
