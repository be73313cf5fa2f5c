"""A rigid pivoted arm in three dimensions: how it stands after any adjustment, and what each adjuster moves.

Derivation, frames and signs are in docs/design/arm-model.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.tonearm.arm_build import ArmBuild
from groovewright.tonearm.arm_pose import Pose, pivot_above_record, pose
from groovewright.tonearm.arm_state import ADJUSTERS, STATE, Adjustments, ArmState
from groovewright.tonearm.headshell import UP, Placement, cartridge_axes, cross, place
from groovewright.tonearm.tracking_force import STANDARD_GRAVITY_M_S2, ArmBalance

AT_REST = Adjustments()


def arm_state(build: ArmBuild, adjustments: Adjustments = AT_REST) -> ArmState:
    """Return how an arm stands after adjustments, all of them at once and none of them need be small.

    Parameters
    ----------
    build : ArmBuild
        Before any adjustment.
    adjustments : Adjustments
        From there.

    Returns
    -------
    ArmState
        The values of the build where nothing was moved and the record is as thick as they were known at.

    Raises
    ------
    ValueError
        If the arm cannot stand so: the stylus out of reach of the record, the counterweight past the pivot, no weight
        left on the stylus, or a unipivot that falls over.

    Examples
    --------
    >>> from groovewright.tonearm.arm_build import usual_build
    >>> from groovewright.tonearm.geometry import Geometry
    >>> build = usual_build(Geometry(212, 229, 0), pivot_height_mm=0)
    >>> raised = arm_state(build, Adjustments(arm_height_mm=4))
    >>> round(raised.stylus_rake_angle_deg - build.stylus_rake_angle_deg, 2)
    1.0
    """
    seated = _seat(build, adjustments)
    x, y, _ = seated.stylus
    across, upright = seated.across, seated.upright
    cantilever, shank = seated.cantilever, seated.shank
    heading = cantilever[:2] / math.hypot(cantilever[0], cantilever[1])
    return ArmState(
        effective_length_mm=math.hypot(x, y),
        pivot_to_spindle_mm=build.geometry.pivot_to_spindle_mm + adjustments.base_position_mm,
        # Inward of the line pivot-stylus: clockwise from above.
        offset_angle_deg=math.degrees(
            math.atan2(y * cantilever[0] - x * cantilever[1], x * cantilever[0] + y * cantilever[1])
        ),
        tracking_force_mn=_force_mn(seated),
        compensation_mn=build.compensation_mn + adjustments.compensation_mn,
        friction_coefficient=build.friction_coefficient,
        azimuth_deg=math.degrees(math.atan2(-across[2], upright[2])),
        stylus_rake_angle_deg=math.degrees(math.atan2(shank[2], -(shank[:2] @ heading))),
        vertical_tracking_angle_deg=math.degrees(math.asin(-cantilever[2])),
    )


def couplings(build: ArmBuild, adjustments: Adjustments = AT_REST) -> NDArray[np.float64]:
    """Return how each quantity of the state moves with each adjuster, by differentiating the model exactly.

    Parameters
    ----------
    build : ArmBuild
    adjustments : Adjustments
        Where the derivatives are taken.

    Returns
    -------
    ndarray, shape (9, 7)
        Rows as `STATE`, columns as `ADJUSTERS`, each in the row's unit for one unit of the column's.

    Raises
    ------
    ValueError
        As `arm_state`.
    """
    seated = _seat(build, adjustments)
    turned, placement, lever = seated.pose.turned, seated.placement, seated.pose.lever
    stylus, moment = seated.stylus, seated.moment
    cantilever, shank, across, upright = seated.cantilever, seated.shank, seated.across, seated.upright

    arm_turns = seated.pose.rates
    cartridge_turns = arm_turns + turned @ placement.turn_rates
    stylus_moves = turned @ placement.stylus_rates + cross(arm_turns, stylus)
    moment_moves = turned @ placement.moment_rates + cross(arm_turns, moment)
    cantilever_moves = cross(cartridge_turns, cantilever)
    shank_moves = cross(cartridge_turns, shank)
    across_moves, upright_moves = cross(cartridge_turns, across), cross(cartridge_turns, upright)

    length_mm, plan = math.hypot(stylus[0], stylus[1]), math.hypot(cantilever[0], cantilever[1])
    arm_heading = (stylus[0] * stylus_moves[1] - stylus[1] * stylus_moves[0]) / length_mm**2
    heading_turns = (cantilever[0] * cantilever_moves[1] - cantilever[1] * cantilever_moves[0]) / plan**2
    heading = np.array([cantilever[0], cantilever[1], 0.0]) / plan
    # Side view: the shank's part along the heading, which itself turns.
    ahead = float(shank @ heading)
    ahead_moves = heading @ shank_moves + heading_turns * float(shank @ cross(UP, heading))
    force_mn, lever_mm = _force_mn(seated), float(stylus @ lever)
    # A unipivot's lever turns with its stylus, but weight and stylus are both above it, so that doesn't count.
    lever_moves, moment_forward = lever @ stylus_moves, lever @ moment_moves

    rows = np.zeros((len(STATE), len(ADJUSTERS)))
    rows[_ROW["effective_length_mm"]] = stylus[:2] @ stylus_moves[:2] / length_mm
    rows[_ROW["pivot_to_spindle_mm"], ADJUSTERS.index("base_position_mm")] = 1.0
    rows[_ROW["offset_angle_deg"]] = np.degrees(arm_heading - heading_turns)
    rows[_ROW["tracking_force_mn"]] = (STANDARD_GRAVITY_M_S2 * moment_forward - force_mn * lever_moves) / lever_mm
    rows[_ROW["compensation_mn"], ADJUSTERS.index("compensation_mn")] = 1.0
    rows[_ROW["azimuth_deg"]] = np.degrees(
        (across[2] * upright_moves[2] - upright[2] * across_moves[2]) / (across[2] ** 2 + upright[2] ** 2)
    )
    rows[_ROW["stylus_rake_angle_deg"]] = np.degrees(
        (shank[2] * ahead_moves - ahead * shank_moves[2]) / (shank[2] ** 2 + ahead**2)
    )
    rows[_ROW["vertical_tracking_angle_deg"]] = np.degrees(-cantilever_moves[2] / plan)
    return rows


def arm_balance(build: ArmBuild, adjustments: Adjustments = AT_REST) -> ArmBalance:
    """Return the arm's weight about its axis of vertical motion, as `tracking_force` and `force_height_slope` take it.

    Lengths are along the level direction square to that axis, with the stylus on the record: an arm whose axis is
    square to the cantilever has a lever of effective length times cos(offset angle).

    Raises
    ------
    ValueError
        As `arm_state`.
    """
    seated = _seat(build, adjustments)
    mass_g = build.moving_mass_g
    return ArmBalance(
        mass_g=mass_g,
        centre_forward_mm=float(seated.moment @ seated.pose.lever) / mass_g,
        centre_up_mm=float(seated.moment[2]) / mass_g,
        stylus_forward_mm=float(seated.stylus @ seated.pose.lever),
        stylus_down_mm=pivot_above_record(build, adjustments),
    )


_ROW = {name: row for row, name in enumerate(STATE)}


@dataclass(frozen=True, eq=False, slots=True)
class _Seated:
    """Arm and cartridge with the stylus on the record, as vectors in the ground's frame."""

    placement: Placement
    pose: Pose
    stylus: NDArray[np.float64]
    moment: NDArray[np.float64]
    cantilever: NDArray[np.float64]
    shank: NDArray[np.float64]
    across: NDArray[np.float64]
    upright: NDArray[np.float64]


def _seat(build: ArmBuild, adjustments: Adjustments) -> _Seated:
    placement = place(build, adjustments)
    seat = pose(build, placement, adjustments)
    cartridge = seat.turned @ placement.turned
    along, outward = cartridge_axes(build.geometry.offset_angle_deg)
    dip, rake, roll = (
        math.radians(angle)
        for angle in (build.vertical_tracking_angle_deg, build.stylus_rake_angle_deg, build.azimuth_deg)
    )
    seated = _Seated(
        placement,
        seat,
        stylus=seat.turned @ placement.stylus_mm,
        moment=seat.turned @ placement.moment_g_mm,
        cantilever=cartridge @ (math.cos(dip) * along - math.sin(dip) * UP),
        # More than 90 degrees of rake lean the upper end forward.
        shank=cartridge @ (math.sin(rake) * UP - math.cos(rake) * along),
        across=cartridge @ (math.cos(roll) * outward - math.sin(roll) * UP),
        upright=cartridge @ (math.cos(roll) * UP + math.sin(roll) * outward),
    )
    if not seated.moment @ seat.lever > 0:
        raise ValueError(
            "no weight is left on the stylus: the arm floats or falls back; move the counterweight toward the pivot"
        )
    return seated


def _force_mn(seated: _Seated) -> float:
    """Return the force that balances the arm's weight about its axis of vertical motion."""
    lever = seated.pose.lever
    return STANDARD_GRAVITY_M_S2 * float(seated.moment @ lever) / float(seated.stylus @ lever)
