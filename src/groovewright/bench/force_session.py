"""What bears on the tracking force at one stage of a job: readings, checks of the scale, heights, the maker's range."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from groovewright.gauges.scale_calibration import ScaleCheck
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
    stage : str
        What tells these readings from others on the same scale, such as ``"as left"``: their own errors are theirs.
    """

    readings: tuple[ForceReading, ...]
    check_before: ScaleCheck | None = None
    check_after: ScaleCheck | None = None
    record_height: Quantity | None = None
    height_slope: Quantity | None = None
    maker_minimum: Quantity | None = None
    maker_maximum: Quantity | None = None
    mistracking_reported: bool = False
    stage: str = "readings"
