"""Where the adjusters put stylus, cartridge and weight, in the arm's own frame.

The frame has its origin in the pivot and turns with the arm: x from the pivot over the stylus as it stood before any
adjustment, y outward, z up. Before any adjustment it is level. See docs/design/arm-model.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.tonearm.arm_build import ArmBuild
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

FORWARD, OUTWARD, UP = np.eye(3)
SLIDE, TURN, COUNTERWEIGHT, ROLL = map(ADJUSTERS.index, ("slide_mm", "turn_deg", "counterweight_mm", "roll_deg"))


@dataclass(frozen=True, eq=False, slots=True)
class Placement:
    """Stylus, cartridge and weight in the arm's frame, and how fast each adjuster moves them.

    Attributes
    ----------
    stylus_mm : ndarray, shape (3,)
        [mm]
    moment_g_mm : ndarray, shape (3,)
        Mass of all that turns, times its centre. [g mm]
    turned : ndarray, shape (3, 3)
        Rotation of the cartridge from where it was before any adjustment.
    stylus_rates, moment_rates : ndarray, shape (3, 7)
        Change of both for each unit of an adjuster, columns as `ADJUSTERS`.
    turn_rates : ndarray, shape (3, 7)
        Rotation vector of the cartridge for each unit of an adjuster. [rad]
    """

    stylus_mm: NDArray[np.float64]
    moment_g_mm: NDArray[np.float64]
    turned: NDArray[np.float64]
    stylus_rates: NDArray[np.float64]
    moment_rates: NDArray[np.float64]
    turn_rates: NDArray[np.float64]


def cartridge_axes(offset_angle_deg: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the plan direction of the cantilever, forward, and the one square to it, outward; shape (3,) each."""
    offset = math.radians(offset_angle_deg)
    cos, sin = math.cos(offset), math.sin(offset)
    return np.array([cos, -sin, 0.0]), np.array([sin, cos, 0.0])


def place(build: ArmBuild, adjustments: Adjustments) -> Placement:
    """Return where the adjusters put things: the cartridge slid in its slots, turned about its point, then rolled.

    Raises
    ------
    ValueError
        If the counterweight would pass the pivot, or a lateral weight would have to lay the arm on its side.
    """
    if not adjustments.counterweight_mm < max(build.counterweight_behind_mm, _REST):
        raise ValueError(
            f"the counterweight is {build.counterweight_behind_mm:g} mm behind the pivot and cannot be moved "
            f"{adjustments.counterweight_mm:g} mm toward it"
        )
    if not abs(adjustments.roll_deg) < STEEPEST_ROLL_DEG:
        raise ValueError(
            f"roll_deg {adjustments.roll_deg:g} deg is more than azimuth is ever set by; keep it below "
            f"{STEEPEST_ROLL_DEG:g} deg"
        )
    along, outward = cartridge_axes(build.geometry.offset_angle_deg)
    stylus = np.array([build.geometry.effective_length_mm, 0.0, -build.pivot_height_mm])
    centre = stylus + build.cartridge_centre_forward_mm * along + build.cartridge_centre_up_mm * UP
    turn_point = stylus.copy()
    if build.turn_about == "screw":
        turn_point += build.screw_forward_mm * along + build.screw_outward_mm * outward
    roll_point = stylus + build.roll_axis_height_mm * UP
    roll_axis = FORWARD if build.roll_by == "arm tube" else along
    by_weight = build.roll_by == "lateral weight"

    # Inward is clockwise from above, and the azimuth's sense clockwise from the front: both negative rotations.
    turn = rotation(-UP, math.radians(adjustments.turn_deg))
    roll = rotation(-roll_axis, 0.0 if by_weight else math.radians(adjustments.roll_deg))

    def moved(point: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        in_headshell = turn_point + turn @ (point + adjustments.slide_mm * along - turn_point)
        rolled = roll_point + roll @ (in_headshell - roll_point)
        rates = np.zeros((3, len(ADJUSTERS)))
        rates[:, SLIDE] = roll @ turn @ along
        rates[:, TURN] = roll @ cross(-UP, in_headshell - turn_point) * RAD
        if not by_weight:
            rates[:, ROLL] = cross(-roll_axis, rolled - roll_point) * RAD
        return rolled, rates

    stylus_now, stylus_rates = moved(stylus)
    centre_now, centre_rates = moved(centre)
    turn_rates = np.zeros((3, len(ADJUSTERS)))
    turn_rates[:, TURN] = -RAD * (roll @ UP)
    if not by_weight:
        turn_rates[:, ROLL] = -RAD * roll_axis

    moment = build.moving_mass_g * (build.centre_forward_mm * FORWARD + build.centre_height_mm * UP)
    moment = moment + build.cartridge_mass_g * (centre_now - centre)
    moment = moment + build.counterweight_mass_g * adjustments.counterweight_mm * FORWARD
    moment_rates = build.cartridge_mass_g * centre_rates
    moment_rates[:, COUNTERWEIGHT] += build.counterweight_mass_g * FORWARD
    if by_weight:
        # So much weight moved outward that by itself it rolls the arm by that angle.
        hanging, angle = build.moving_mass_g * build.hang_mm, math.radians(adjustments.roll_deg)
        moment = moment + hanging * math.tan(angle) * OUTWARD
        moment_rates[:, ROLL] += hanging / math.cos(angle) ** 2 * RAD * OUTWARD
    return Placement(stylus_now, moment, roll @ turn, stylus_rates, moment_rates, turn_rates)


RAD = math.pi / 180
STEEPEST_ROLL_DEG = 45.0
_REST = 1e-9
"""A build without a counterweight's place still takes the adjuster at rest. [mm]"""


def cross(left: NDArray[np.float64], right: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return left x right, for shape (3,) or columns of shape (3, n); a tenth of the time of the general function."""
    return np.array(
        [
            left[1] * right[2] - left[2] * right[1],
            left[2] * right[0] - left[0] * right[2],
            left[0] * right[1] - left[1] * right[0],
        ]
    )


def rotation(axis: NDArray[np.float64], angle_rad: float) -> NDArray[np.float64]:
    """Return the rotation about a unit vector, right-handed, shape (3, 3)."""
    x, y, z = axis
    spin = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turned: NDArray[np.float64] = np.eye(3) + math.sin(angle_rad) * spin + (1 - math.cos(angle_rad)) * (spin @ spin)
    return turned
