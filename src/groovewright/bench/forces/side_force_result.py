"""What the side force of an arm is over the groove, and what its compensation leaves over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from groovewright.bench.forces.side_force_request import SideForceRequest
from groovewright.measurement.conformity import Verdict
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.side_force import SIN_FORM


@dataclass(frozen=True)
class GroovePoint:
    """The forces at one radius, all at the stylus and square to the line pivot-stylus.

    Attributes
    ----------
    radius_mm : float
        [mm]
    side_force : Quantity
        With the stray force, if there is one; positive toward the spindle. [mN]
    compensation, rest : Quantity or None
        Positive outward, and what it leaves over, positive toward the spindle; None if no compensation is known. [mN]
    lowest, highest : Quantity or None
        The rest with the bearings' friction either way. [mN]
    inner_wall, outer_wall : Quantity or None
        Loads square to the walls under the rest; the inner carries the left channel, the outer the right one. [mN]
    """

    radius_mm: float
    side_force: Quantity
    compensation: Quantity | None = None
    rest: Quantity | None = None
    lowest: Quantity | None = None
    highest: Quantity | None = None
    inner_wall: Quantity | None = None
    outer_wall: Quantity | None = None

    @property
    def interval_mn(self) -> tuple[float, float] | None:
        """What the stylus feels with 95 % probability whichever way the arm moves; None if it is not known. [mN]"""
        if self.lowest is None or self.highest is None or self.lowest.components is None:
            return None
        if self.highest.components is None:
            return None
        return coverage_interval(self.lowest)[0], coverage_interval(self.highest)[1]

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        names = ("side_force", "compensation", "rest", "inner_wall", "outer_wall")
        interval = self.interval_mn
        return {
            "radius": Quantity.exact(self.radius_mm, "mm").as_json(),
            **{name: _json(getattr(self, name)) for name in names},
            "rest_interval_95": None if interval is None else {"low": interval[0], "high": interval[1], "unit": "mN"},
        }


@dataclass(frozen=True)
class SideForceResult:
    """Side force over the groove and what it means.

    Attributes
    ----------
    request : SideForceRequest
    groove : tuple of GroovePoint
        From the innermost to the outermost radius.
    middle : GroovePoint
        In the middle of the range.
    balancing_compensation : Quantity
        The constant compensation that would leave least over anywhere. [mN]
    share_of_tracking_force : Quantity
        That over the tracking force. [%]
    change : Quantity or None
        By how much more (negative: less) compensation at every radius least would be left over; None if no compensation
        is known. [mN]
    verdict : Verdict or None
        On the rest over the whole groove, bearings' friction either way included; None without a compensation.
    worst_radius_mm : float or None
        Where the verdict hangs on. [mm]
    notes : tuple of str
        What to do, and what never to do.
    """

    request: SideForceRequest
    groove: tuple[GroovePoint, ...]
    middle: GroovePoint
    balancing_compensation: Quantity
    share_of_tracking_force: Quantity
    change: Quantity | None
    verdict: Verdict | None
    worst_radius_mm: float | None
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what could not be found is null."""
        request, verdict = self.request, self.verdict
        return {
            "form": SIN_FORM,
            "pivot_to_spindle": request.pivot_to_spindle.as_json(),
            "effective_length": request.effective_length.as_json(),
            "tracking_force": request.tracking_force.as_json(),
            "friction_coefficient": request.friction_coefficient.as_json(),
            "stray_force": _json(request.stray_force),
            "bearing_friction": _json(request.bearing_friction),
            "side_force_at_middle": self.middle.side_force.as_json(),
            "compensation_at_middle": _json(self.middle.compensation),
            "rest_at_middle": _json(self.middle.rest),
            "balancing_compensation": self.balancing_compensation.as_json(),
            "share_of_tracking_force": self.share_of_tracking_force.as_json(),
            "change_of_compensation": _json(self.change),
            "limit": Quantity.exact(request.limit, "mN").as_json(),
            "worst_radius": None
            if self.worst_radius_mm is None
            else Quantity.exact(self.worst_radius_mm, "mm").as_json(),
            "verdict": None if verdict is None else verdict.outcome,
            "probability_of_conformity": None if verdict is None else verdict.probability_of_conformity,
            "reason": None if verdict is None else verdict.reason,
            "rule": None if verdict is None else verdict.rule.describe(),
            "groove": [point.as_json() for point in self.groove],
            "notes": list(self.notes),
        }


def _json(quantity: Quantity | None) -> dict[str, Any] | None:
    return None if quantity is None else quantity.as_json()
