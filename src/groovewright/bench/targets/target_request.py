"""What targets are chosen from, refused at once where it is impossible or contradicts itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.criteria import CRITERIA
from groovewright.tonearm.groove_ranges import check_groove_range
from groovewright.tonearm.input_ranges import ARM_LENGTH

ArmKind = Literal["offset", "straight underhung", "tangential"]
ARM_KINDS: tuple[ArmKind, ...] = ("offset", "straight underhung", "tangential")

"""Well beyond any arm: a longer distance was typed in another unit. [mm]"""


@dataclass(frozen=True)
class TargetRequest:
    """What the targets are chosen from.

    Parameters
    ----------
    pivot_to_spindle : Quantity or None
        Pivot to spindle centre, as measured; None for a tangential arm, which has no pivot. [mm]
    criterion : str
        A key of `CRITERIA`.
    innermost_mm, outermost_mm : float
        Groove range to be played. [mm]
    effective_length_limits_mm : tuple of two float, optional
        Shortest and longest that the headshell allows; both equal for a length that cannot be changed. [mm]
    offset_angle_limits_deg : tuple of two float, optional
        Smallest and largest that the headshell allows; both equal for a fixed cartridge. [deg]
    hold_effective_length, hold_offset_angle : Quantity, optional
        A dimension that stays as it is, with its own uncertainty; instead of its limits, not beside them. [mm], [deg]
    peak_velocity_cm_s : float
        Recorded peak lateral velocity for the distortion. [cm/s]
    speed_rpm : float
        Platter speed. [rpm]
    arm_kind : str
        ``"offset"``, ``"straight underhung"`` (offset angle 0) or ``"tangential"``.

    Raises
    ------
    ValueError
        In one sentence, if a part is impossible or two parts contradict each other.
    """

    pivot_to_spindle: Quantity | None
    criterion: str
    innermost_mm: float
    outermost_mm: float
    effective_length_limits_mm: tuple[float, float] | None = None
    offset_angle_limits_deg: tuple[float, float] | None = None
    hold_effective_length: Quantity | None = None
    hold_offset_angle: Quantity | None = None
    peak_velocity_cm_s: float = 10.0
    speed_rpm: float = 100 / 3
    arm_kind: ArmKind = "offset"

    def __post_init__(self) -> None:
        if self.criterion not in CRITERIA:
            raise ValueError(f"{self.criterion!r} is not a criterion; choose one of {', '.join(CRITERIA)}")
        if self.arm_kind not in ARM_KINDS:
            raise ValueError(f"{self.arm_kind!r} is not a kind of arm; choose one of {', '.join(ARM_KINDS)}")
        check_groove_range(innermost_mm=self.innermost_mm, outermost_mm=self.outermost_mm)
        self._check_units()
        if self.arm_kind != "tangential" and not self.distance.value > self.outermost_mm:
            raise ValueError(
                f"the pivot-to-spindle distance of {self.distance.value:g} mm lies inside the outermost "
                f"groove ({self.outermost_mm:g} mm); measure from the centre of the spindle to the arm's pivot, in mm"
            )
        for name, hold, limits in (
            ("effective length", self.hold_effective_length, self.effective_length_limits_mm),
            ("offset angle", self.hold_offset_angle, self.offset_angle_limits_deg),
        ):
            if hold is not None and limits is not None:
                raise ValueError(f"the {name} is both held and bounded; give one of the two")
            if limits is not None and not (all(map(math.isfinite, limits)) and limits[0] <= limits[1]):
                raise ValueError(f"the limits of the {name} run from {limits[0]:g} to {limits[1]:g}; low comes first")
        offset_given = self.hold_offset_angle is not None or self.offset_angle_limits_deg is not None
        if self.arm_kind == "straight underhung" and offset_given:
            raise ValueError("a straight underhung arm has an offset angle of 0; hold or bound its length only")

    @property
    def distance(self) -> Quantity:
        """The pivot-to-spindle distance; ValueError where none was given. [mm]"""
        if self.pivot_to_spindle is None:
            raise ValueError("a pivoted arm needs its pivot-to-spindle distance; measure it first")
        return self.pivot_to_spindle

    def _check_units(self) -> None:
        for name, quantity, unit in (
            ("pivot-to-spindle distance", self.pivot_to_spindle, "mm"),
            ("held effective length", self.hold_effective_length, "mm"),
            ("held offset angle", self.hold_offset_angle, "deg"),
        ):
            if quantity is not None:
                require_unit(quantity, unit, name=name)
        for name, quantity in (
            ("pivot-to-spindle distance", self.pivot_to_spindle),
            ("held effective length", self.hold_effective_length),
        ):
            if quantity is not None and not quantity.value > 0:
                raise ValueError(f"the {name} must be above 0 mm, not {quantity.value:g} mm")
            if quantity is not None and quantity.value > ARM_LENGTH.highest:
                raise ValueError(
                    f"a {name} of {quantity.value:g} mm is more than any arm has "
                    f"({ARM_LENGTH.highest:g} mm at most here); check its unit"
                )
