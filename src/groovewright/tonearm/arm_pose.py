"""How an arm comes to rest on the record: on a gimbal's axis, or on a unipivot by its weight.

The ground's frame has its origin in the pivot, z up, and is level; how it is turned about z has no meaning, since an
arm turns freely about its vertical axis. See docs/design/arm-model.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.tonearm.arm_build import ArmBuild
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments
from groovewright.tonearm.headshell import FORWARD, OUTWARD, Placement, cartridge_axes, cross, rotation

HEIGHT = ADJUSTERS.index("arm_height_mm")


@dataclass(frozen=True, eq=False, slots=True)
class Pose:
    """How the arm's frame lies in the ground's.

    Attributes
    ----------
    turned : ndarray, shape (3, 3)
        Rotation from the arm's frame into the ground's.
    rates : ndarray, shape (3, 7)
        Rotation vector of the arm for each unit of an adjuster, columns as `ADJUSTERS`. [rad]
    lever : ndarray, shape (3,)
        Level direction along which weight and stylus balance about the pivot.
    """

    turned: NDArray[np.float64]
    rates: NDArray[np.float64]
    lever: NDArray[np.float64]


def pose(build: ArmBuild, placement: Placement, adjustments: Adjustments) -> Pose:
    """Return how the arm lies with the stylus on the record.

    Raises
    ------
    ValueError
        If the stylus does not reach down to the record, or the centre of mass of a unipivot isn't below the line
        pivot-stylus.
    """
    drop_mm = pivot_above_record(build, adjustments)
    if build.bearing == "unipivot":
        return _hanging(placement, drop_mm)
    return _on_axis(build, placement, drop_mm)


def pivot_above_record(build: ArmBuild, adjustments: Adjustments) -> float:
    """Return the height of the pivot above the record that is played. [mm]"""
    thicker_mm = build.record_thickness_mm - build.known_at_thickness_mm
    return build.pivot_height_mm + adjustments.arm_height_mm - thicker_mm


def axis_of_vertical_motion(build: ArmBuild) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a gimbal's level axis, outward, and the level direction square to it, forward; shape (3,) each."""
    if build.axis == "arm line":
        return OUTWARD, FORWARD
    along, outward = cartridge_axes(build.geometry.offset_angle_deg)
    return outward, along


def _on_axis(build: ArmBuild, placement: Placement, drop_mm: float) -> Pose:
    axis, lever = axis_of_vertical_motion(build)
    stylus = placement.stylus_mm
    forward_mm, up_mm = float(stylus @ lever), float(stylus[2])
    reach_mm = math.hypot(forward_mm, up_mm)
    _refuse_out_of_reach(drop_mm, reach_mm)
    # The stylus goes round the axis until it is as low as the record; a positive rotation lowers it.
    lowered_rad = math.asin(drop_mm / reach_mm) + math.atan2(up_mm, forward_mm)
    turned = rotation(axis, lowered_rad)
    stylus_rates = turned @ placement.stylus_rates
    falls = stylus_rates[2].copy()
    falls[HEIGHT] += 1.0
    return Pose(turned, np.outer(axis, falls / float(turned @ stylus @ lever)), lever)


def _hanging(placement: Placement, drop_mm: float) -> Pose:
    stylus, moment = placement.stylus_mm, placement.moment_g_mm
    reach_mm = float(np.linalg.norm(stylus))
    _refuse_out_of_reach(drop_mm, reach_mm)
    to_stylus = stylus / reach_mm
    # The part of the weight off the line pivot-stylus: it hangs below that line.
    hanging = moment - (moment @ to_stylus) * to_stylus
    if not hanging[2] < 0:
        raise ValueError(
            "the centre of mass no longer lies below the line from pivot to stylus, so the unipivot falls on its side; "
            "lower the counterweight, or check the height of the centre of mass"
        )
    below = hanging / np.linalg.norm(hanging)
    dip_rad = math.asin(drop_mm / reach_mm)
    cos, sin = math.cos(dip_rad), math.sin(dip_rad)
    in_arm = np.array([to_stylus, below, cross(to_stylus, below)])
    in_ground = np.array([[cos, 0.0, -sin], [-sin, 0.0, -cos], [0.0, 1.0, 0.0]])
    turned = in_ground.T @ in_arm

    length_mm = reach_mm * cos
    stylus_rates, moment_rates = turned @ placement.stylus_rates, turned @ placement.moment_rates
    weight = turned @ moment
    rates = np.zeros((3, len(ADJUSTERS)))
    rates[1] = stylus_rates[2] / length_mm
    rates[1, HEIGHT] += 1.0 / length_mm
    # The weight stays in the upright plane through pivot and stylus.
    share = weight[0] / length_mm
    rates[0] = (moment_rates[1] - share * stylus_rates[1]) / (weight[2] + share * drop_mm)
    return Pose(turned, rates, FORWARD)


def _refuse_out_of_reach(drop_mm: float, reach_mm: float) -> None:
    if abs(drop_mm) < reach_mm:
        return
    raise ValueError(
        f"the pivot is {drop_mm:g} mm above the record and the stylus {reach_mm:g} mm from it, so the stylus does not "
        f"come to lie on the record; check the pivot's height and the arm's"
    )
