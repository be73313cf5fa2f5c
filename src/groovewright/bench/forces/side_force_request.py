"""What the side force is worked out from, refused at once where it is impossible."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.bench.forces.given_compensation import GivenCompensation
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.groove_ranges import check_groove_range

LIMIT_SHARE = 0.05
"""Side force that may be left over, as a share of the tracking force: common practice, no source."""


@dataclass(frozen=True)
class SideForceRequest:
    """What the side force is worked out from.

    Parameters
    ----------
    pivot_to_spindle, effective_length : Quantity
        Of the arm as it stands. [mm]
    tracking_force : Quantity
        At record height. [mN]
    friction_coefficient : Quantity
        Of stylus and groove. [1]
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    compensation : GivenConstant, GivenTable or GivenThread, optional
        None if it is not known: then there is a side force and no verdict.
    stray_force : Quantity, optional
        That draws the arm by itself with the compensation off, positive toward the spindle. [mN]
    bearing_friction : Quantity, optional
        Static, either way, as a force at the stylus. [mN]
    limit_mn : float, optional
        Side force that may be left over anywhere, either way; 5 % of the tracking force if not given. [mN]

    Raises
    ------
    ValueError
        In one sentence, if a part is impossible.
    """

    pivot_to_spindle: Quantity
    effective_length: Quantity
    tracking_force: Quantity
    friction_coefficient: Quantity
    innermost_mm: float
    outermost_mm: float
    compensation: GivenCompensation | None = None
    stray_force: Quantity | None = None
    bearing_friction: Quantity | None = None
    limit_mn: float | None = None

    def __post_init__(self) -> None:
        check_groove_range(innermost_mm=self.innermost_mm, outermost_mm=self.outermost_mm)
        for name, quantity, unit in (
            ("pivot-to-spindle distance", self.pivot_to_spindle, "mm"),
            ("effective length", self.effective_length, "mm"),
            ("tracking force", self.tracking_force, "mN"),
            ("friction coefficient", self.friction_coefficient, "1"),
        ):
            require_unit(quantity, unit, name=name)
            if not quantity.value > 0:
                raise ValueError(
                    f"the {name} must be above 0, not {quantity.value:g}{'' if unit == '1' else ' ' + unit}"
                )
        for name, force in (("stray force", self.stray_force), ("bearings' friction", self.bearing_friction)):
            if force is not None:
                require_unit(force, "mN", name=name)
        if self.friction_coefficient.value > 1:
            raise ValueError(
                f"a friction coefficient of {self.friction_coefficient.value:g} is more than a stylus has in any "
                f"groove; it lies near 0.3"
            )
        if self.bearing_friction is not None and self.bearing_friction.value < 0:
            raise ValueError(f"bearings' friction must be 0 mN or more, not {self.bearing_friction.value:g} mN")
        if self.limit_mn is not None and not (math.isfinite(self.limit_mn) and self.limit_mn > 0):
            raise ValueError(f"a limit of the side force left over must be above 0 mN, not {self.limit_mn:g} mN")

    @property
    def limit(self) -> float:
        """Side force that may be left over anywhere, either way. [mN]"""
        # To two digits, as a limit is chosen and not found.
        usual = float(f"{LIMIT_SHARE * self.tracking_force.value:.2g}")
        return usual if self.limit_mn is None else self.limit_mn

    @property
    def middle_mm(self) -> float:
        """Middle of the groove range. [mm]"""
        return (self.innermost_mm + self.outermost_mm) / 2
