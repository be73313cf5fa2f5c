"""Tracking force of one stage of a job, from scale readings to a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from groovewright.gauges.scale_calibration import ScaleCheck
from groovewright.measurement.conformity import Verdict
from groovewright.measurement.quantity import Quantity

Place = Literal["outer", "middle", "inner"]
Surface = Literal["platter", "record"]


@dataclass(frozen=True, slots=True)
class ForceReading:
    """What the scale showed once with the stylus on it.

    Parameters
    ----------
    indication_mn : float
        As displayed, not corrected; a display in g is turned into mN by 9.80665 mN/g. [mN]
    place : str
        Where on the platter the scale stood: outer, middle or inner.
    platform_height : Quantity or None
        Where the stylus rested, above the plane from which the record height is counted too. None: at record
        height, so nothing is carried. [mm]
    surface : str
        What the scale stood on: platter or record.
    """

    indication_mn: float
    place: Place
    platform_height: Quantity | None = None
    surface: Surface = "platter"


@dataclass(frozen=True, slots=True)
class ForceSession:
    """All that bears on the tracking force at one stage.

    Parameters
    ----------
    readings : tuple of ForceReading
        Single readings in any order; those of one place and height are repeats.
    check_before, check_after : ScaleCheck or None
        Checks of the scale with known weights before and after the readings.
    record_height : Quantity or None
        The record's playing surface above the plane from which platform heights are counted: its thickness when
        that plane is the platter. [mm]
    height_slope : Quantity or None
        Known change of the force with stylus height; None: taken from readings at two heights. [mN/mm]
    maker_minimum, maker_maximum : Quantity or None
        The cartridge maker's range. [mN]
    mistracking_reported : bool
        Whether the complaint is mistracking.
    """

    readings: tuple[ForceReading, ...]
    check_before: ScaleCheck | None = None
    check_after: ScaleCheck | None = None
    record_height: Quantity | None = None
    height_slope: Quantity | None = None
    maker_minimum: Quantity | None = None
    maker_maximum: Quantity | None = None
    mistracking_reported: bool = False


@dataclass(frozen=True)
class ForceResult:
    """The tracking force at one stage and what it means.

    Attributes
    ----------
    scale_gain, scale_offset : Quantity or None
        Indication = offset + gain x force; None without a check. [1], [mN]
    tracking_force : Quantity
        At record height, over all places read. [mN]
    outer_inner_difference : Quantity or None
        Outer minus inner at record height; None unless both were read. [mN]
    difference_shown : bool
        Whether it exceeds the uncertainty of the readings: then it is a fault of the arm.
    aim : Quantity or None
        Middle of the maker's range. [mN]
    distance_from_aim : Quantity or None
        Tracking force minus aim. [mN]
    scale_drift : Quantity or None
        Change of the scale between both checks at this force; None unless both were made. [mN]
    verdict : Verdict or None
        Against the maker's range; None without a range.
    faults, notes : tuple of str
        What to report as a fault of the arm or the scale; what to mind at the bench.
    """

    scale_gain: Quantity | None
    scale_offset: Quantity | None
    tracking_force: Quantity
    outer_inner_difference: Quantity | None
    difference_shown: bool
    aim: Quantity | None
    distance_from_aim: Quantity | None
    scale_drift: Quantity | None
    verdict: Verdict | None
    faults: tuple[str, ...]
    notes: tuple[str, ...]
