"""What the scale readings of one occasion say of the tracking force."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from groovewright.gauges.scale_drift import ScaleDrift
from groovewright.measurement.conformity import Verdict
from groovewright.measurement.quantity import Quantity


@dataclass(frozen=True)
class ForceResult:
    """The tracking force at one stage and what it means.

    Attributes
    ----------
    scale_gain, scale_offset : Quantity or None
        Indication = offset + gain x force, midway between both checks; None without a check. [1], [mN]
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
    height_slope : Quantity or None
        Change of the force with stylus height, given or found from two heights. [mN/mm]
    scale_drift : ScaleDrift or None
        Change of the scale between both checks at this force; None unless both were made.
    verdict : Verdict or None
        Against the maker's range, in g as the maker gives it; None without a range.
    faults, notes : tuple of str
        What to report as a fault of the arm or the scale; notes for the bench.
    """

    scale_gain: Quantity | None
    scale_offset: Quantity | None
    tracking_force: Quantity
    outer_inner_difference: Quantity | None
    difference_shown: bool
    aim: Quantity | None
    distance_from_aim: Quantity | None
    height_slope: Quantity | None
    scale_drift: ScaleDrift | None
    verdict: Verdict | None
    faults: tuple[str, ...]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what could not be found is null."""
        quantities = {
            "scale_gain": self.scale_gain,
            "scale_offset": self.scale_offset,
            "tracking_force": self.tracking_force,
            "outer_inner_difference": self.outer_inner_difference,
            "height_slope": self.height_slope,
            "scale_drift": None if self.scale_drift is None else self.scale_drift.change,
            "aim": self.aim,
            "distance_from_aim": self.distance_from_aim,
        }
        verdict = self.verdict
        return {
            **{name: None if quantity is None else quantity.as_json() for name, quantity in quantities.items()},
            "outer_inner_difference_shown": self.difference_shown,
            "verdict": None if verdict is None else verdict.outcome,
            "probability_of_conformity": None if verdict is None else verdict.probability_of_conformity,
            "reason": None if verdict is None else verdict.reason,
            "faults": list(self.faults),
            "notes": list(self.notes),
        }
