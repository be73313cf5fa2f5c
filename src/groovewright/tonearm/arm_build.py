"""How a pivoted arm is built: what its couplings follow from, and typical values for what nobody measured."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Any, Literal, get_args

from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import USUAL_COMPENSATION_SHARE
from groovewright.tonearm.tracking_force import STANDARD_GRAVITY_M_S2

Axis = Literal["arm line", "cantilever axis"]
Bearing = Literal["gimbal", "unipivot"]
TurnAbout = Literal["stylus", "screw"]
RollBy = Literal["cartridge", "arm tube", "lateral weight"]

USUAL: dict[str, float | str] = {
    "pivot_height_mm": 18.0,
    "cartridge_mass_g": 7.0,
    "cartridge_centre_forward_mm": -6.0,
    "cartridge_centre_up_mm": 9.0,
    "counterweight_mass_g": 100.0,
    "counterweight_behind_mm": 45.0,
    "arm_mass_g": 60.0,
    "centre_height_mm": -3.0,
    "tracking_force_mn": 18.0,
    "friction_coefficient": 0.3,
    "azimuth_deg": 0.0,
    "stylus_rake_angle_deg": 92.0,
    "vertical_tracking_angle_deg": 22.0,
    "axis": "arm line",
    "bearing": "gimbal",
    "turn_about": "stylus",
    "screw_forward_mm": -9.5,
    "screw_outward_mm": 6.35,
    "roll_by": "cartridge",
    "roll_axis_height_mm": 15.0,
    "record_thickness_mm": 2.0,
}
"""Typical of arms of 9 to 12 inches, half-inch mounts and records of today: common practice, no source."""

USUAL_UNIPIVOT: dict[str, float | str] = {"centre_height_mm": -8.0, "roll_by": "lateral weight"}
"""What differs with a unipivot: common practice, no source."""

_CHOICES: dict[str, tuple[str, ...]] = {
    "axis": get_args(Axis),
    "bearing": get_args(Bearing),
    "turn_about": get_args(TurnAbout),
    "roll_by": get_args(RollBy),
}

_NUMBERS: dict[str, str] = {
    "pivot_height_mm": " mm",
    "cartridge_mass_g": " g",
    "cartridge_centre_forward_mm": " mm",
    "cartridge_centre_up_mm": " mm",
    "counterweight_mass_g": " g",
    "counterweight_behind_mm": " mm",
    "arm_mass_g": " g",
    "centre_height_mm": " mm",
    "tracking_force_mn": " mN",
    "compensation_mn": " mN",
    "friction_coefficient": "",
    "azimuth_deg": " deg",
    "stylus_rake_angle_deg": " deg",
    "vertical_tracking_angle_deg": " deg",
    "screw_forward_mm": " mm",
    "screw_outward_mm": " mm",
    "roll_axis_height_mm": " mm",
    "record_thickness_mm": " mm",
    "known_at_thickness_mm": " mm",
}

_ANY = (-1e4, 1e4)
_SMALLEST = 1e-6
_RANGES: dict[str, tuple[float, float]] = {
    "cartridge_mass_g": (0.0, 1e4),
    "counterweight_mass_g": (0.0, 1e4),
    "counterweight_behind_mm": (0.0, 1e4),
    "arm_mass_g": (_SMALLEST, 1e4),
    "tracking_force_mn": (_SMALLEST, 1e4),
    "friction_coefficient": (0.0, 10.0),
    "azimuth_deg": (-45.0, 45.0),
    "stylus_rake_angle_deg": (45.0, 135.0),
    "vertical_tracking_angle_deg": (-60.0, 60.0),
    "record_thickness_mm": (0.0, 50.0),
    "known_at_thickness_mm": (0.0, 50.0),
}
"""What no arm lies beyond; wider than any that was made, so that only slips are refused."""


@dataclass(frozen=True, slots=True)
class ArmBuild:
    """A rigid arm with its cartridge as it stands before any adjustment, stylus on the record.

    Heights are above the stylus or, where it says so, above the pivot: the point in which the arm's axes cross. Forward
    is from the pivot toward the stylus, or along the cantilever where it speaks of the cartridge. Outward is away from
    the spindle.

    Parameters
    ----------
    geometry : Geometry
        Pivot-to-spindle distance, effective length and offset angle.
    pivot_height_mm : float
        Pivot above the stylus, the record under it. [mm]
    cartridge_mass_g : float
        Cartridge with its screws: what slides and turns in the headshell. [g]
    cartridge_centre_forward_mm, cartridge_centre_up_mm : float
        Centre of that mass from the stylus, along the cantilever and up. [mm]
    counterweight_mass_g, counterweight_behind_mm : float
        What is moved along the arm line to set the force, and how far behind the pivot. [g], [mm]
    arm_mass_g : float
        Everything else that turns about the pivot. [g]
    centre_height_mm : float
        Centre of mass of all that turns, above the pivot; negative below. [mm]
    tracking_force_mn, compensation_mn, friction_coefficient : float
        As in `ArmState`. [mN], [mN], [1]
    azimuth_deg, stylus_rake_angle_deg, vertical_tracking_angle_deg : float
        As in `ArmState`. [deg]
    axis : {"arm line", "cantilever axis"}
        What the axis of vertical motion is square to, in the plan; a unipivot has no such axis.
    bearing : {"gimbal", "unipivot"}
        A gimbal holds the arm against rolling; a unipivot rolls until its centre of mass hangs below the line
        pivot-stylus.
    turn_about : {"stylus", "screw"}
        What stays where it is as the cartridge is turned in the headshell.
    screw_forward_mm, screw_outward_mm : float
        That screw from the stylus, along the cantilever and square to it. [mm]
    roll_by : {"cartridge", "arm tube", "lateral weight"}
        How azimuth is set: the cartridge rolled about an axis along the cantilever's plan, headshell and tube rolled
        about the arm line, or a unipivot's weight moved outward.
    roll_axis_height_mm : float
        That axis above the stylus. [mm]
    record_thickness_mm : float
        Of the record that is played. [mm]
    known_at_thickness_mm : float
        Of the record on which all the values above hold. [mm]

    Raises
    ------
    ValueError
        If no arm can be built so.
    """

    geometry: Geometry
    pivot_height_mm: float
    cartridge_mass_g: float
    cartridge_centre_forward_mm: float
    cartridge_centre_up_mm: float
    counterweight_mass_g: float
    counterweight_behind_mm: float
    arm_mass_g: float
    centre_height_mm: float
    tracking_force_mn: float
    compensation_mn: float
    friction_coefficient: float
    azimuth_deg: float
    stylus_rake_angle_deg: float
    vertical_tracking_angle_deg: float
    axis: Axis
    bearing: Bearing
    turn_about: TurnAbout
    screw_forward_mm: float
    screw_outward_mm: float
    roll_by: RollBy
    roll_axis_height_mm: float
    record_thickness_mm: float
    known_at_thickness_mm: float

    def __post_init__(self) -> None:
        for name, unit in _NUMBERS.items():
            number = getattr(self, name)
            lowest, highest = _RANGES.get(name, _ANY)
            if not lowest <= number <= highest:
                raise ValueError(f"{name} lies between {lowest:g} and {highest:g}{unit}, not at {number:g}{unit}")
        for name, words in _CHOICES.items():
            if getattr(self, name) not in words:
                raise ValueError(f"{name} must be {' or '.join(map(repr, words))}, not {getattr(self, name)!r}")
        if not abs(self.pivot_height_mm) < self.geometry.effective_length_mm:
            raise ValueError(
                f"pivot_height_mm {self.pivot_height_mm:g} mm is not below the effective length of "
                f"{self.geometry.effective_length_mm:g} mm; give the pivot's height above the stylus"
            )
        if self.bearing == "gimbal" and self.roll_by == "lateral weight":
            raise ValueError("a gimbal doesn't roll by a lateral weight; roll_by must be 'cartridge' or 'arm tube'")
        if self.bearing == "unipivot" and not self.hang_mm > 0:
            raise ValueError(
                f"centre_height_mm {self.centre_height_mm:g} mm is not below the line from pivot to stylus: a unipivot "
                f"balanced so falls on its side; give the height of the centre of mass, negative below the pivot"
            )

    @property
    def moving_mass_g(self) -> float:
        """All that turns about the pivot. [g]"""
        return self.arm_mass_g + self.cartridge_mass_g + self.counterweight_mass_g

    @property
    def centre_forward_mm(self) -> float:
        """Centre of mass in front of the pivot along the arm line, as the tracking force tells it. [mm]"""
        pull_mn = self.moving_mass_g * STANDARD_GRAVITY_M_S2
        return self.tracking_force_mn * self.geometry.effective_length_mm / pull_mn

    @property
    def hang_mm(self) -> float:
        """Centre of mass below the line pivot-stylus, square to it. [mm]"""
        length, drop = self.geometry.effective_length_mm, self.pivot_height_mm
        return -(self.centre_height_mm * length + self.centre_forward_mm * drop) / math.hypot(length, drop)


def usual_build(geometry: Geometry, **known: Any) -> ArmBuild:
    """Return a build with typical values for all that isn't known.

    Parameters
    ----------
    geometry : Geometry
        Of the arm.
    **known : float or str
        Fields of `ArmBuild` that are known; the rest is common practice without a source, in `USUAL`. Compensation
        follows the tracking force, and how azimuth is set and where the centre of mass hangs follow the bearing.

    Raises
    ------
    ValueError
        If a name is none of `ArmBuild`'s, or no arm can be built so.

    Examples
    --------
    >>> build = usual_build(Geometry(222, 239.296, 22.99), cartridge_mass_g=9.5)
    >>> build.cartridge_mass_g, build.pivot_height_mm, round(build.centre_forward_mm, 2)
    (9.5, 18.0, 2.59)
    """
    strange = sorted(set(known) - {field.name for field in fields(ArmBuild)})
    if strange:
        raise ValueError(f"{', '.join(strange)} is nothing that an arm's build holds; see ArmBuild")
    of_bearing = USUAL_UNIPIVOT if known.get("bearing") == "unipivot" else {}
    values: dict[str, Any] = USUAL | of_bearing | known
    values.setdefault("compensation_mn", USUAL_COMPENSATION_SHARE * values["tracking_force_mn"])
    values.setdefault("known_at_thickness_mm", values["record_thickness_mm"])
    return ArmBuild(geometry=geometry, **values)
