"""What bears on the tracking force at one stage of a job: readings, checks of the scale, heights, the maker's range."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from groovewright.gauges.scale_calibration import ScaleCheck
from groovewright.measurement.quantity import Quantity

Place = Literal["outer", "middle", "inner"]
Surface = Literal["platter", "record"]

ASSUMED_HEIGHT_HALF_WIDTH_MM = 0.5
"""A height typed without its uncertainty is taken as anywhere this near, all alike likely. [mm]"""


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

    def heights_without_uncertainty(self) -> bool:
        """Whether a height that bears on the force was typed without its uncertainty."""
        heights = [reading.platform_height for reading in self.readings if reading.platform_height is not None]
        if not heights:
            return False
        return any(height is not None and height.components is None for height in (*heights, self.record_height))

    def with_assumed_heights(self) -> ForceSession:
        """Return the session with the assumed uncertainty on each height that was typed without one.

        A height of no known uncertainty is not one without error: two that look equal may be a millimetre apart.
        """
        readings = tuple(
            replace(reading, platform_height=_assumed(reading.platform_height, "the platform"))
            for reading in self.readings
        )
        return replace(self, readings=readings, record_height=_assumed(self.record_height, "the record"))


def _assumed(height: Quantity | None, what: str) -> Quantity | None:
    if height is None or height.components is not None:
        return height
    return Quantity.measured(
        height.value,
        height.unit,
        standard_uncertainty=ASSUMED_HEIGHT_HALF_WIDTH_MM / math.sqrt(3),
        source=f"height of {what}, {height.value:g} mm typed without ±",
        how=height.how,
    )
