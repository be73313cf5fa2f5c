"""Side force over the groove of one stage of a job: what is left over its compensation, and the verdict on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.forces.bearing_friction import BearingFriction, bearing_friction
from groovewright.bench.forces.friction_coefficient import (
    LADDER_ASSUMPTION,
    ReadAt,
    friction_coefficient_from_ladder,
    friction_coefficient_from_levels,
    friction_coefficient_from_rest,
    usual_friction_coefficient,
)
from groovewright.bench.forces.given_compensation import (
    GivenCompensation,
    GivenConstant,
    GivenTable,
    GivenThread,
    compensation_at,
)
from groovewright.bench.forces.groove_verdict import AtRadius, decide_over_groove
from groovewright.bench.forces.side_force_notes import side_force_notes
from groovewright.bench.forces.side_force_request import SideForceRequest
from groovewright.bench.forces.side_force_result import GroovePoint, SideForceResult
from groovewright.bench.forces.side_force_tolerance import groove_radii, side_force_tolerance_at_middle
from groovewright.measurement.conformity import DecisionRule, Tolerance
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import SIN_FORM, side_force_mn, wall_loads_mn
from groovewright.tonearm.tracking import groove_angle

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


POINTS = 24
"""Radii that carry uncertainties, besides those at which side force or table turn; a turn between two is missed by less
than 0.1 % of the drag mu N."""


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
        held = "" if request.bearing_friction is None else " with the bearings' friction"
        name = f"rest of the side force{held}"
        verdict, worst_mm = decide_over_groove(_bounds(groove), tolerance, rule, name=name)
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
    return groove_radii(
        geometry, request.innermost_mm, request.outermost_mm, (request.middle_mm, *kinks), points=POINTS
    )


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
        angles_deg = groove_angle(
            radii_mm,
            effective_length_mm=geometry.effective_length_mm,
            pivot_to_spindle_mm=geometry.pivot_to_spindle_mm,
        )
        walls = wall_loads_mn(rest, tracking_force_mn=force, groove_angle_deg=angles_deg)
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
