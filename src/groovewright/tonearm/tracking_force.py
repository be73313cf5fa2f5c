"""Tracking force of a rigid arm at any stylus height, and carrying a reading from one height to another."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit

STANDARD_GRAVITY_M_S2 = 9.80665
STEEPEST_DEG = 45.0

# Heights given as equal.
_SAME_HEIGHT_MM = 1e-6

_NEAR_RECORD_HEIGHT_MM = 0.5
"""How far a reading of unknown height slope may be from record height, with 95 % probability, and count as taken there.

The rigid-body formula gives common arms about 0.1 mN/mm, so it is worth half the last step of a scale of 0.01 g. [mm]
"""

SURELY_APART = 4.0
"""Two heights nearer than this many standard uncertainties of their difference give no slope worth dividing by."""


@dataclass(frozen=True, slots=True)
class ArmBalance:
    """Where the weight of an arm on a horizontal axis lies, with arm and stylus level.

    Parameters
    ----------
    mass_g : float
        Everything that turns about the axis. [g]
    centre_forward_mm : float
        Centre of mass in front of the axis, toward the stylus. [mm]
    centre_up_mm : float
        Centre of mass above the axis; negative below. [mm]
    stylus_forward_mm : float
        Stylus in front of the axis: the effective length. [mm]
    stylus_down_mm : float
        Stylus below the axis. [mm]
    """

    mass_g: float
    centre_forward_mm: float
    centre_up_mm: float
    stylus_forward_mm: float
    stylus_down_mm: float

    def __post_init__(self) -> None:
        for name in ("mass_g", "centre_forward_mm", "stylus_forward_mm"):
            number = getattr(self, name)
            if not (math.isfinite(number) and number > 0):
                raise ValueError(f"{name} must be above 0, not {number:g}: else the stylus does not press down")
        for name in ("centre_up_mm", "stylus_down_mm"):
            if not math.isfinite(getattr(self, name)):
                raise ValueError(f"{name} must be finite, not {getattr(self, name):g}")


def tracking_force(raised_deg: ArrayLike, balance: ArmBalance) -> NDArray[np.float64]:
    """Return the vertical force of the stylus with the arm raised by an angle.

    Parameters
    ----------
    raised_deg : array_like, any shape
        Arm turned up about its axis; 0 is level. [deg]
    balance : ArmBalance

    Returns
    -------
    ndarray, shape of `raised_deg`
        Force on whatever holds the stylus up. [mN]

    Raises
    ------
    ValueError
        If the arm is raised or lowered by 45 degrees or more, where no stylus rests on anything.

    Examples
    --------
    >>> round(float(tracking_force(0.0, ArmBalance(200, 2, -3, 229, 10))), 4)
    17.1295
    """
    raised = _radians(raised_deg)
    cos, sin = np.cos(raised), np.sin(raised)
    # Moments about the axis; 1 g x 1 m/s^2 is 1 mN.
    moment = balance.mass_g * STANDARD_GRAVITY_M_S2 * (balance.centre_forward_mm * cos - balance.centre_up_mm * sin)
    lever_mm = balance.stylus_forward_mm * cos + balance.stylus_down_mm * sin
    return np.asarray(moment / lever_mm)


def stylus_rise(raised_deg: ArrayLike, balance: ArmBalance) -> NDArray[np.float64]:
    """Return how far the stylus rises when the arm is raised by an angle from level. [mm]"""
    raised = _radians(raised_deg)
    return np.asarray(balance.stylus_forward_mm * np.sin(raised) + balance.stylus_down_mm * (1 - np.cos(raised)))


def force_height_slope(balance: ArmBalance, *, raised_deg: float = 0.0) -> float:
    """Return the change of tracking force with stylus height, by the derivative of the rigid-body formula.

    Positive with the centre of mass well below the axis: such an arm weighs more on a higher platform.

    Returns
    -------
    float
        dN/dH. [mN/mm]
    """
    raised = float(_radians(raised_deg))
    cos, sin = math.cos(raised), math.sin(raised)
    forward, up = balance.centre_forward_mm, balance.centre_up_mm
    length, down = balance.stylus_forward_mm, balance.stylus_down_mm
    moment, moment_change = forward * cos - up * sin, -forward * sin - up * cos
    lever, lever_change = length * cos + down * sin, -length * sin + down * cos
    force_change = (moment_change * lever - moment * lever_change) / lever**2
    # The stylus rises by the lever for each radian.
    return balance.mass_g * STANDARD_GRAVITY_M_S2 * force_change / lever


def _radians(raised_deg: ArrayLike) -> NDArray[np.float64]:
    raised = np.asarray(raised_deg, dtype=float)
    beyond = ~(np.abs(raised) < STEEPEST_DEG)
    if beyond.any():
        raise ValueError(
            f"an arm raised by {raised[beyond].flat[0]:g} deg rests on nothing; give an angle between "
            f"{-STEEPEST_DEG:g} and {STEEPEST_DEG:g} deg"
        )
    return np.asarray(np.radians(raised))


def slope_between_heights(*, low: Quantity, high: Quantity, rise: Quantity) -> Quantity:
    """Return the change of tracking force with height from forces at two heights.

    Parameters
    ----------
    low, high : Quantity
        Force at the lower and the higher platform; what they share, such as the scale's offset, cancels. [mN]
    rise : Quantity
        From the lower to the higher. [mm]

    Returns
    -------
    Quantity
        Slope; its uncertainty is unknown where the heights are hardly told apart. [mN/mm]
    """
    for name, force in (("lower reading", low), ("upper reading", high)):
        require_unit(force, "mN", name=name)
    require_unit(rise, "mm", name="height difference")
    if not rise.value > 0:
        raise ValueError(f"two heights {rise.value:g} mm apart give no slope; the second must be above the first")
    slope = propagate(
        lambda **at: (at["upper reading"] - at["lower reading"]) / at["height difference"],
        {"lower reading": low, "upper reading": high, "height difference": rise},
        unit="mN/mm",
        how="forces at two heights",
    )
    if rise.value > SURELY_APART * (rise.standard_uncertainty or 0.0):
        return slope
    why = f"the two heights are {rise.value:.3g} mm apart, which is known to {rise.standard_uncertainty:.2g} mm only"
    return Quantity.unknown_uncertainty(slope.value, slope.unit, why=why, how=slope.how)


def force_at_height(force: Quantity, *, climb: Quantity, slope: Quantity | None) -> Quantity:
    """Return a force carried from where it was read to another height.

    Parameters
    ----------
    force : Quantity
        As read. [mN]
    climb : Quantity
        From where it was read up to where it is wanted; negative down. [mm]
    slope : Quantity or None
        Change of the force with height; None if nobody knows it. [mN/mm]

    Returns
    -------
    Quantity
        Force at the other height, correlated with everything it came from. Without a slope the value stays and its
        uncertainty is unknown, unless both heights are one as far as can be told and that is within half a millimetre.
        [mN]
    """
    require_unit(force, "mN", name="force")
    require_unit(climb, "mm", name="height difference")
    if slope is not None:
        require_unit(slope, "mN/mm", name="slope")
    spread = 2 * (climb.standard_uncertainty or 0.0)
    if slope is None and abs(climb.value) <= max(_SAME_HEIGHT_MM, spread) and spread <= _NEAR_RECORD_HEIGHT_MM:
        return force
    if slope is None:
        way = "below" if climb.value > 0 else "above"
        where = f"{abs(climb.value):.3g} mm {way}" if abs(climb.value) > spread else f"within {spread:.2g} mm of"
        why = (
            f"it was read {where} record height and its change with height is not known; read at two heights, or at "
            f"record height"
        )
        return Quantity.unknown_uncertainty(force.value, "mN", why=why, how=force.how)
    return propagate(
        lambda **at: at["reading"] + at["slope"] * at["height difference"],
        {"reading": force, "slope": slope, "height difference": climb},
        unit="mN",
        how=f"{force.how}; carried {climb.value:+.3g} mm to record height",
    )
