"""Side force over the groove of one stage of a job: what is left over its compensation, and the verdict on it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.bearing_friction import BearingFriction, bearing_friction
from groovewright.bench.friction_coefficient import (
    LADDER_ASSUMPTION,
    ReadAt,
    friction_coefficient_from_ladder,
    friction_coefficient_from_levels,
    friction_coefficient_from_rest,
    usual_friction_coefficient,
)
from groovewright.bench.given_compensation import (
    GivenCompensation,
    GivenConstant,
    GivenTable,
    GivenThread,
    compensation_at,
)
from groovewright.bench.groove_verdict import AtRadius, decide_over_groove
from groovewright.bench.side_force_notes import side_force_notes
from groovewright.measurement.conformity import DecisionRule, Tolerance, Verdict
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.compensation import Compensation, TableCompensation
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range
from groovewright.tonearm.side_force import SIN_FORM, least_side_force_radius, side_force_mn, wall_loads_mn

__all__ = [
    "LADDER_ASSUMPTION",
    "BearingFriction",
    "GivenCompensation",
    "GivenConstant",
    "GivenTable",
    "GivenThread",
    "GroovePoint",
    "ReadAt",
    "SideForceRequest",
    "SideForceResult",
    "bearing_friction",
    "compensation_at",
    "friction_coefficient_from_ladder",
    "friction_coefficient_from_levels",
    "friction_coefficient_from_rest",
    "side_force_result",
    "side_force_tolerance_at_middle",
    "usual_friction_coefficient",
]

LIMIT_SHARE = 0.05
"""Side force that may be left over, as a share of the tracking force: common practice, no source."""

POINTS = 24
"""Radii looked at besides those at which side force or table turn; a thread's turn between two is missed by under 0.2 %
of what the rest varies."""


@dataclass(frozen=True)
class SideForceRequest:
    """What the side force is worked out from.

    Parameters
    ----------
    pivot_to_spindle, effective_length : Quantity
        Of the arm as it stands. [mm]
    tracking_force : Quantity
        At record height. [mN]
    friction_coefficient : Quantity
        Of stylus and groove. [1]
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    compensation : GivenConstant, GivenTable or GivenThread, optional
        None if it is not known: then there is a side force and no verdict.
    stray_force : Quantity, optional
        That draws the arm by itself with the compensation off, positive toward the spindle. [mN]
    bearing_friction : Quantity, optional
        Static, either way, as a force at the stylus. [mN]
    limit_mn : float, optional
        Side force that may be left over anywhere, either way; 5 % of the tracking force if not given. [mN]

    Raises
    ------
    ValueError
        In one sentence, if a part is impossible.
    """

    pivot_to_spindle: Quantity
    effective_length: Quantity
    tracking_force: Quantity
    friction_coefficient: Quantity
    innermost_mm: float
    outermost_mm: float
    compensation: GivenCompensation | None = None
    stray_force: Quantity | None = None
    bearing_friction: Quantity | None = None
    limit_mn: float | None = None

    def __post_init__(self) -> None:
        check_groove_range(innermost_mm=self.innermost_mm, outermost_mm=self.outermost_mm)
        for name, quantity, unit in (
            ("pivot-to-spindle distance", self.pivot_to_spindle, "mm"),
            ("effective length", self.effective_length, "mm"),
            ("tracking force", self.tracking_force, "mN"),
            ("friction coefficient", self.friction_coefficient, "1"),
        ):
            require_unit(quantity, unit, name=name)
            if not quantity.value > 0:
                raise ValueError(
                    f"the {name} must be above 0, not {quantity.value:g}{'' if unit == '1' else ' ' + unit}"
                )
        for name, force in (("stray force", self.stray_force), ("bearings' friction", self.bearing_friction)):
            if force is not None:
                require_unit(force, "mN", name=name)
        if self.friction_coefficient.value > 1:
            raise ValueError(
                f"a friction coefficient of {self.friction_coefficient.value:g} is more than a stylus has in any "
                f"groove; it lies near 0.3"
            )
        if self.bearing_friction is not None and self.bearing_friction.value < 0:
            raise ValueError(f"bearings' friction must be 0 mN or more, not {self.bearing_friction.value:g} mN")
        if self.limit_mn is not None and not (math.isfinite(self.limit_mn) and self.limit_mn > 0):
            raise ValueError(f"a limit of the side force left over must be above 0 mN, not {self.limit_mn:g} mN")

    @property
    def limit(self) -> float:
        """Side force that may be left over anywhere, either way. [mN]"""
        # To two digits, as a limit is chosen and not found.
        usual = float(f"{LIMIT_SHARE * self.tracking_force.value:.2g}")
        return usual if self.limit_mn is None else self.limit_mn

    @property
    def middle_mm(self) -> float:
        """Middle of the groove range. [mm]"""
        return (self.innermost_mm + self.outermost_mm) / 2


@dataclass(frozen=True)
class GroovePoint:
    """The forces at one radius, all at the stylus and square to the line pivot-stylus.

    Attributes
    ----------
    radius_mm : float
        [mm]
    side_force : Quantity
        With the stray force, if there is one; positive toward the spindle. [mN]
    compensation, rest : Quantity or None
        Positive outward, and what it leaves over, positive toward the spindle; None if no compensation is known. [mN]
    lowest, highest : Quantity or None
        The rest with the bearings' friction either way. [mN]
    inner_wall, outer_wall : Quantity or None
        Loads square to the walls under the rest; the inner carries the left channel, the outer the right one. [mN]
    """

    radius_mm: float
    side_force: Quantity
    compensation: Quantity | None = None
    rest: Quantity | None = None
    lowest: Quantity | None = None
    highest: Quantity | None = None
    inner_wall: Quantity | None = None
    outer_wall: Quantity | None = None

    @property
    def interval_mn(self) -> tuple[float, float] | None:
        """What the stylus feels with 95 % probability whichever way the arm moves; None if it is not known. [mN]"""
        if self.lowest is None or self.highest is None or self.lowest.components is None:
            return None
        if self.highest.components is None:
            return None
        return coverage_interval(self.lowest)[0], coverage_interval(self.highest)[1]

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        names = ("side_force", "compensation", "rest", "inner_wall", "outer_wall")
        interval = self.interval_mn
        return {
            "radius": Quantity.exact(self.radius_mm, "mm").as_json(),
            **{name: _json(getattr(self, name)) for name in names},
            "rest_interval_95": None if interval is None else {"low": interval[0], "high": interval[1], "unit": "mN"},
        }


@dataclass(frozen=True)
class SideForceResult:
    """Side force over the groove and what it means.

    Attributes
    ----------
    request : SideForceRequest
    groove : tuple of GroovePoint
        From the innermost to the outermost radius.
    middle : GroovePoint
        In the middle of the range.
    balancing_compensation : Quantity
        The constant compensation that would leave least over anywhere. [mN]
    share_of_tracking_force : Quantity
        That over the tracking force. [%]
    change : Quantity or None
        By how much more (negative: less) compensation at every radius least would be left over; None if no compensation
        is known. [mN]
    verdict : Verdict or None
        On the rest over the whole groove, bearings' friction either way included; None without a compensation.
    worst_radius_mm : float or None
        Where the verdict hangs on. [mm]
    notes : tuple of str
        What to do, and what never to do.
    """

    request: SideForceRequest
    groove: tuple[GroovePoint, ...]
    middle: GroovePoint
    balancing_compensation: Quantity
    share_of_tracking_force: Quantity
    change: Quantity | None
    verdict: Verdict | None
    worst_radius_mm: float | None
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what could not be found is null."""
        request, verdict = self.request, self.verdict
        return {
            "form": SIN_FORM,
            "pivot_to_spindle": request.pivot_to_spindle.as_json(),
            "effective_length": request.effective_length.as_json(),
            "tracking_force": request.tracking_force.as_json(),
            "friction_coefficient": request.friction_coefficient.as_json(),
            "stray_force": _json(request.stray_force),
            "bearing_friction": _json(request.bearing_friction),
            "side_force_at_middle": self.middle.side_force.as_json(),
            "compensation_at_middle": _json(self.middle.compensation),
            "rest_at_middle": _json(self.middle.rest),
            "balancing_compensation": self.balancing_compensation.as_json(),
            "share_of_tracking_force": self.share_of_tracking_force.as_json(),
            "change_of_compensation": _json(self.change),
            "limit": Quantity.exact(request.limit, "mN").as_json(),
            "worst_radius": None
            if self.worst_radius_mm is None
            else Quantity.exact(self.worst_radius_mm, "mm").as_json(),
            "verdict": None if verdict is None else verdict.outcome,
            "probability_of_conformity": None if verdict is None else verdict.probability_of_conformity,
            "reason": None if verdict is None else verdict.reason,
            "rule": None if verdict is None else verdict.rule.describe(),
            "groove": [point.as_json() for point in self.groove],
            "notes": list(self.notes),
        }


def side_force_result(request: SideForceRequest, rule: DecisionRule) -> SideForceResult:
    """Return the side force over the groove against its compensation, with one verdict for the whole of it.

    Parameters
    ----------
    request : SideForceRequest
    rule : DecisionRule

    Returns
    -------
    SideForceResult
        Every force with its uncertainty, correlated with all that it came from.

    Raises
    ------
    ValueError
        If the stylus cannot reach the groove range, the compensation does not cover it, or a wall would be left.
    """
    radii_mm = _radii(request)
    found = propagate_all(
        lambda **at: _forces(request, radii_mm, at), _inputs(request), units=_units(request, radii_mm), how=SIN_FORM
    )
    groove = tuple(_point(found, k, radius) for k, radius in enumerate(radii_mm))
    verdict, worst_mm = None, None
    if request.compensation is not None:
        tolerance = Tolerance(-request.limit, request.limit, "mN")
        verdict, worst_mm = decide_over_groove(_bounds(groove), tolerance, rule, name="rest of the side force")
    result = SideForceResult(
        request=request,
        groove=groove,
        middle=next(point for point in groove if point.radius_mm == request.middle_mm),
        balancing_compensation=found["balancing"],
        share_of_tracking_force=found["share"],
        change=found.get("change"),
        verdict=verdict,
        worst_radius_mm=worst_mm,
    )
    return replace(result, notes=side_force_notes(result))


def side_force_tolerance_at_middle(
    *,
    geometry: Geometry,
    tracking_force_mn: float,
    friction_coefficient: float,
    innermost_mm: float,
    outermost_mm: float,
    limit_mn: float,
    compensation: Compensation | None = None,
    bearing_friction_mn: float = 0.0,
) -> Tolerance:
    """Return the limits in the middle of the groove that keep the whole groove within its own.

    Side force and compensation run over the groove as they do, and only their distance is set. So the limits in the
    middle are those of the groove less what the rest rises and falls from there, and less the bearings' friction.

    Parameters
    ----------
    geometry : Geometry
    tracking_force_mn, friction_coefficient : float
        [mN], [1]
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    limit_mn : float
        Side force that may be left over anywhere, either way. [mN]
    compensation : Compensation, optional
        Its course over the groove; constant if not given.
    bearing_friction_mn : float
        Static, either way. [mN]

    Raises
    ------
    ValueError
        If the rest varies so much over the groove that no setting keeps the limits.
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    middle_mm = (innermost_mm + outermost_mm) / 2
    kinks = compensation.radii_mm if isinstance(compensation, TableCompensation) else ()
    radii_mm = np.append(_radii_of(geometry, innermost_mm, outermost_mm, kinks), middle_mm)
    rest = side_force_mn(
        radii_mm, geometry=geometry, tracking_force_mn=tracking_force_mn, friction_coefficient=friction_coefficient
    )
    if compensation is not None:
        rest = rest - compensation.force_mn(radii_mm)
    course = rest - rest[-1]
    lower = -limit_mn + bearing_friction_mn - float(course.min())
    upper = limit_mn - bearing_friction_mn - float(course.max())
    if not lower < upper:
        held = f" and the bearings hold {bearing_friction_mn:.2g} mN either way" if bearing_friction_mn else ""
        raise ValueError(
            f"over the groove the side force left over varies by {float(np.ptp(course)):.2g} mN{held}, so no setting "
            f"keeps it within {limit_mn:.2g} mN either way; allow more, or mend the compensation's course or the "
            "bearings first"
        )
    return Tolerance(lower, upper, "mN")


def _inputs(request: SideForceRequest) -> dict[str, Quantity]:
    inputs = {
        "pivot-to-spindle distance": request.pivot_to_spindle,
        "effective length": request.effective_length,
        "tracking force": request.tracking_force,
        "friction coefficient": request.friction_coefficient,
    }
    if request.stray_force is not None:
        inputs["stray force"] = request.stray_force
    if request.bearing_friction is not None:
        inputs["bearings' friction"] = request.bearing_friction
    return inputs | ({} if request.compensation is None else request.compensation.parts())


def _radii(request: SideForceRequest) -> NDArray[np.float64]:
    """Return where the forces are worked out: evenly, in the middle, and wherever a curve turns. [mm]"""
    geometry = Geometry(request.pivot_to_spindle.value, request.effective_length.value, 0.0)
    kinks = request.compensation.radii_mm if isinstance(request.compensation, GivenTable) else ()
    return _radii_of(geometry, request.innermost_mm, request.outermost_mm, (request.middle_mm, *kinks))


def _radii_of(
    geometry: Geometry, innermost_mm: float, outermost_mm: float, besides_mm: Sequence[float]
) -> NDArray[np.float64]:
    least = least_side_force_radius(geometry)
    extra = [radius for radius in (*besides_mm, least) if radius is not None and innermost_mm < radius < outermost_mm]
    return np.unique(np.concatenate([np.linspace(innermost_mm, outermost_mm, POINTS), extra]))


def _forces(request: SideForceRequest, radii_mm: NDArray[np.float64], at: Mapping[str, float]) -> dict[str, float]:
    geometry = Geometry(at["pivot-to-spindle distance"], at["effective length"], 0.0)
    force = at["tracking force"]
    drawn = at.get("stray force", 0.0) + side_force_mn(
        radii_mm, geometry=geometry, tracking_force_mn=force, friction_coefficient=at["friction coefficient"]
    )
    balancing = (float(drawn.min()) + float(drawn.max())) / 2
    found = {"balancing": balancing, "share": 100 * balancing / force}
    curves = {"side_force": drawn}
    if request.compensation is not None:
        compensation = request.compensation.at(at, geometry).force_mn(radii_mm)
        rest = drawn - compensation
        friction = at.get("bearings' friction", 0.0)
        walls = wall_loads_mn(rest, tracking_force_mn=force)
        curves |= {
            "compensation": compensation,
            "rest": rest,
            "lowest": rest - friction,
            "highest": rest + friction,
            "inner_wall": walls.inner_mn,
            "outer_wall": walls.outer_mn,
        }
        found["change"] = (float(rest.min()) + float(rest.max())) / 2
    return found | {f"{name} {k}": float(value) for name, curve in curves.items() for k, value in enumerate(curve)}


CURVES_WITHOUT = ("side_force",)
CURVES_WITH = ("side_force", "compensation", "rest", "lowest", "highest", "inner_wall", "outer_wall")


def _curves(request: SideForceRequest) -> tuple[str, ...]:
    return CURVES_WITHOUT if request.compensation is None else CURVES_WITH


def _units(request: SideForceRequest, radii_mm: NDArray[np.float64]) -> dict[str, str]:
    units = {"balancing": "mN", "share": "%"} | ({} if request.compensation is None else {"change": "mN"})
    return units | {f"{name} {k}": "mN" for name in _curves(request) for k in range(radii_mm.size)}


def _point(found: Mapping[str, Quantity], k: int, radius_mm: float) -> GroovePoint:
    return GroovePoint(
        float(radius_mm), **{name: found[f"{name} {k}"] for name in CURVES_WITH if f"{name} {k}" in found}
    )


def _bounds(groove: Sequence[GroovePoint]) -> list[AtRadius]:
    bounds = []
    for point in groove:
        for quantity in dict.fromkeys((point.lowest, point.highest)):
            if quantity is not None:
                bounds.append(AtRadius(point.radius_mm, quantity))
    return bounds


def _json(quantity: Quantity | None) -> dict[str, Any] | None:
    return None if quantity is None else quantity.as_json()
