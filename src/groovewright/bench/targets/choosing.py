"""The geometry a criterion asks for, under what the headshell allows, and why it is not the closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from groovewright.tonearm.criteria import CLOSED_FORMS, closed_form_geometry
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.optimum import Objective, evenly, optimum, over_radius
from groovewright.tonearm.tracking import groove_angle
from groovewright.tonearm.weighted_error import Weight

# Under limits each criterion minimises its own error, with the true angles.
SEARCHES: dict[str, tuple[Objective, Weight]] = {
    "minimax": ("peak", over_radius),
    "least-squares": ("rms", over_radius),
    "inner-null": ("peak", over_radius),
    "angle-minimax": ("peak", evenly),
    "exact-peak": ("peak", over_radius),
    "exact-rms": ("rms", over_radius),
}
ROUNDING = 1e-9
# A choice asks for the same distance again when it comes to the limits and to the uncertainties.
DISTANCES_REMEMBERED = 64
STRAIGHT = (0.0, 0.0)


@dataclass(frozen=True)
class Limits:
    """What the headshell allows: low and high, both equal where a dimension is held, None where it is free."""

    effective_length_mm: tuple[float, float] | None = None
    offset_angle_deg: tuple[float, float] | None = None

    def allow(self, geometry: Geometry) -> bool:
        """Whether a geometry lies within them, nothing being held: what is held bears on the rest wherever it is."""
        return not self._hold() and all(
            limit is None or limit[0] - ROUNDING <= at <= limit[1] + ROUNDING
            for limit, at in (
                (self.effective_length_mm, geometry.effective_length_mm),
                (self.offset_angle_deg, geometry.offset_angle_deg),
            )
        )

    def _hold(self) -> bool:
        return any(
            limit is not None and limit[0] == limit[1] for limit in (self.effective_length_mm, self.offset_angle_deg)
        )


@dataclass(frozen=True)
class Choice:
    """The geometry chosen, whether limits stood in its criterion's way, and what to know about it."""

    geometry: Geometry
    is_bound: bool
    notes: tuple[str, ...] = ()


@lru_cache(maxsize=DISTANCES_REMEMBERED)
def unhindered_geometry(
    criterion: str, *, pivot_to_spindle_mm: float, innermost_mm: float, outermost_mm: float
) -> Geometry:
    """Return the geometry that a criterion asks for where nothing is held or bounded.

    Parameters
    ----------
    criterion : str
        A key of `CRITERIA`.
    pivot_to_spindle_mm : float
        Pivot to spindle centre, horizontal. [mm]
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    """
    if criterion in CLOSED_FORMS:
        return closed_form_geometry(
            criterion,
            pivot_to_spindle_mm=pivot_to_spindle_mm,
            innermost_mm=innermost_mm,
            outermost_mm=outermost_mm,
        )
    objective, weight = SEARCHES[criterion]
    return optimum(
        objective,
        innermost_mm=innermost_mm,
        outermost_mm=outermost_mm,
        pivot_to_spindle_mm=pivot_to_spindle_mm,
        weight=weight,
    ).geometry


def choose_geometry(
    criterion: str, *, pivot_to_spindle_mm: float, innermost_mm: float, outermost_mm: float, limits: Limits
) -> Choice:
    """Return the geometry that a criterion asks for, or the best one within the limits where they are in its way.

    Parameters as in `bound_choice`, which also says what is refused.
    """
    free = unhindered_geometry(
        criterion, pivot_to_spindle_mm=pivot_to_spindle_mm, innermost_mm=innermost_mm, outermost_mm=outermost_mm
    )
    if limits.allow(free):
        return Choice(free, is_bound=False)
    return bound_choice(
        criterion,
        pivot_to_spindle_mm=pivot_to_spindle_mm,
        innermost_mm=innermost_mm,
        outermost_mm=outermost_mm,
        limits=limits,
    )


def bound_choice(
    criterion: str, *, pivot_to_spindle_mm: float, innermost_mm: float, outermost_mm: float, limits: Limits
) -> Choice:
    """Return the best geometry within limits, by the true angles, whether or not the limits are in the way.

    Parameters
    ----------
    criterion : str
        A key of `CRITERIA`.
    pivot_to_spindle_mm : float
        Pivot to spindle centre, horizontal. [mm]
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    limits : Limits
        What the headshell allows.

    Raises
    ------
    ValueError
        If no arm within the limits can play the groove range.
    """
    free = unhindered_geometry(
        criterion, pivot_to_spindle_mm=pivot_to_spindle_mm, innermost_mm=innermost_mm, outermost_mm=outermost_mm
    )
    if criterion == "inner-null":
        nearest = _inner_null_within(free, innermost_mm=innermost_mm, limits=limits)
        if nearest is not None:
            return Choice(nearest, is_bound=True, notes=_limit_notes(free, nearest, limits))
    objective, weight = SEARCHES[criterion]
    within = optimum(
        objective,
        innermost_mm=innermost_mm,
        outermost_mm=outermost_mm,
        pivot_to_spindle_mm=pivot_to_spindle_mm,
        effective_length_mm=limits.effective_length_mm,
        offset_angle_deg=limits.offset_angle_deg,
        weight=weight,
    ).geometry
    notes = _limit_notes(free, within, limits)
    if criterion == "inner-null":
        notes += (
            f"No null can be placed at the innermost groove ({innermost_mm:g} mm) with this headshell; the peak of "
            "tracking error over radius is made as small as it can be instead.",
        )
    return Choice(within, is_bound=True, notes=notes)


def _inner_null_within(free: Geometry, *, innermost_mm: float, limits: Limits) -> Geometry | None:
    """Return the geometry with a null at the innermost groove that lies nearest to the free one; None if none fits.

    On these geometries the offset angle is the groove angle at the innermost groove, which rises with the length.
    """
    mounting = free.pivot_to_spindle_mm

    def length_at(offset_deg: float) -> float:
        offset = math.radians(offset_deg)
        return innermost_mm * math.sin(offset) + math.sqrt(mounting**2 - (innermost_mm * math.cos(offset)) ** 2)

    lengths = limits.effective_length_mm or (mounting - innermost_mm, mounting + innermost_mm)
    low, high = max(lengths[0], mounting - innermost_mm), min(lengths[1], mounting + innermost_mm)
    if limits.offset_angle_deg is not None:
        low = max(low, length_at(limits.offset_angle_deg[0]))
        high = min(high, length_at(limits.offset_angle_deg[1]))
    if low > high + ROUNDING:
        return None
    length = min(max(free.effective_length_mm, low), high)
    offset = float(groove_angle(innermost_mm, effective_length_mm=length, pivot_to_spindle_mm=mounting))
    return Geometry(mounting, length, offset)


def _limit_notes(free: Geometry, within: Geometry, limits: Limits) -> tuple[str, ...]:
    notes = []
    for name, unit, limit, wanted, got in (
        ("effective length", "mm", limits.effective_length_mm, free.effective_length_mm, within.effective_length_mm),
        ("offset angle", "degrees", limits.offset_angle_deg, free.offset_angle_deg, within.offset_angle_deg),
    ):
        if limit is None or limit == STRAIGHT:
            continue
        if limit[0] == limit[1]:
            notes.append(f"The {name} stays at {got:.2f} {unit}; unhindered, the criterion asks for {wanted:.2f}.")
        elif not limit[0] + ROUNDING < got < limit[1] - ROUNDING:
            notes.append(
                f"The {name} is at the limit of the headshell, {got:.2f} {unit}; unhindered, the criterion asks for "
                f"{wanted:.2f}."
            )
    return tuple(notes)
