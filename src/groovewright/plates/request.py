"""What a plate is asked for, refused at once where it can't be drawn."""

from __future__ import annotations

import hashlib
import math
import re
from dataclasses import dataclass
from typing import Literal, get_args

from groovewright.plates.paper import PAPERS
from groovewright.plates.print_scale import LEAST_SCALE, MOST_SCALE
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range

Kind = Literal["arc", "two-null", "cut"]
RECORD_HOLE_MM = 7.24
"""Least diameter of a record's centre hole, IEC 98 (7.24 +0.09/-0): what a record passes, a plate passes. [mm]"""
MOST_NEIGHBOURS_A_SIDE = 6
LEAST_FAN_STEP_MM, MOST_FAN_HALF_WIDTH_MM = 0.01, 50.0
LEAST_NULL_RADIUS_MM, LEAST_NULL_SPACING_MM = 25.0, 10.0
LEAST_PIVOT_TO_SPINDLE_MM = 150.0


@dataclass(frozen=True)
class PlateRequest:
    """A plate to draw.

    Parameters
    ----------
    kind : "arc", "two-null" or "cut"
        For tracing and aligning on one deck; for aligning on any arm; the first for a laser, knife or drill.
    geometry : Geometry
        The target: pivot-to-spindle distance, effective length and offset angle.
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    criterion_label : str
        What the target minimises, as printed on the plate.
    paper : str
        A key of `PAPERS`.
    scale_x, scale_y : float
        What the printer makes of 1 mm, from `print_scale`; the drawing is divided by it. [1]
    number : str
        Number of the plate; empty for one made from what is drawn, so that a corrected plate gets a new one.
    fan_half_width_mm, fan_step_mm : float
        Neighbouring arcs reach so far below and above the design's pivot-to-spindle distance, in such steps. [mm]
    spindle_clearance_mm : float
        Added to the diameter of the record's centre hole. [mm]

    Raises
    ------
    ValueError
        If any of it can't be drawn; the message says what would do.
    """

    kind: Kind
    geometry: Geometry
    innermost_mm: float
    outermost_mm: float
    criterion_label: str
    paper: str = "A4"
    scale_x: float = 1.0
    scale_y: float = 1.0
    number: str = ""
    fan_half_width_mm: float = 2.0
    fan_step_mm: float = 0.5
    spindle_clearance_mm: float = 0.05

    def __post_init__(self) -> None:
        if self.kind not in get_args(Kind):
            raise ValueError(f"There is no plate of kind {self.kind!r}; choose {', '.join(get_args(Kind))}.")
        if self.paper not in PAPERS:
            raise ValueError(f"There is no paper called {self.paper!r} here; choose {', '.join(PAPERS)}.")
        check_groove_range(innermost_mm=self.innermost_mm, outermost_mm=self.outermost_mm)
        self._check_numbers()
        self._check_words()
        self._check_nulls()
        if self.kind != "two-null":
            self._check_fan()

    @property
    def hole_diameter_mm(self) -> float:
        """Diameter of the spindle hole. [mm]"""
        return RECORD_HOLE_MM + self.spindle_clearance_mm

    @property
    def is_corrected(self) -> bool:
        """Whether the drawing is corrected for a printer."""
        return (self.scale_x, self.scale_y) != (1.0, 1.0)

    @property
    def plate_number(self) -> str:
        """The number given, or one made from all that is drawn: equal plates share it, any change makes a new one."""
        if self.number:
            return self.number
        lengths = (
            self.geometry.pivot_to_spindle_mm,
            self.geometry.effective_length_mm,
            self.geometry.offset_angle_deg,
            self.innermost_mm,
            self.outermost_mm,
            self.scale_x,
            self.scale_y,
            self.fan_half_width_mm,
            self.fan_step_mm,
            self.spindle_clearance_mm,
        )
        drawn = "|".join([self.kind, self.paper, self.criterion_label, *(f"{length:.9g}" for length in lengths)])
        return hashlib.sha256(drawn.encode()).hexdigest()[:6].upper()

    @property
    def neighbours_a_side(self) -> int:
        """Number of neighbouring arcs below, and above, the design's pivot-to-spindle distance."""
        return math.floor(self.fan_half_width_mm / self.fan_step_mm + 1e-9)

    def _check_numbers(self) -> None:
        for name, scale in (("scale_x", self.scale_x), ("scale_y", self.scale_y)):
            if not LEAST_SCALE <= scale <= MOST_SCALE:
                raise ValueError(f"{name} must lie between {LEAST_SCALE:g} and {MOST_SCALE:g}, not {scale:g}")
        if not (math.isfinite(self.fan_step_mm) and self.fan_step_mm >= LEAST_FAN_STEP_MM):
            raise ValueError(
                f"fan_step_mm must be {LEAST_FAN_STEP_MM:g} mm or more, which is how finely a plate names its arcs, "
                f"not {self.fan_step_mm:g} mm"
            )
        if not 0 <= self.fan_half_width_mm <= MOST_FAN_HALF_WIDTH_MM:
            raise ValueError(
                f"fan_half_width_mm must lie between 0 and {MOST_FAN_HALF_WIDTH_MM:g} mm, "
                f"not {self.fan_half_width_mm:g} mm"
            )
        if not 0 <= self.spindle_clearance_mm <= 1:
            raise ValueError(f"spindle_clearance_mm must lie between 0 and 1 mm, not {self.spindle_clearance_mm:g} mm")

    def _check_words(self) -> None:
        if not re.fullmatch(r"[0-9A-Za-z ./_-]{0,20}", self.number):
            raise ValueError(
                f"A plate number holds up to 20 letters, digits, spaces and . / _ -, which {self.number!r} does not."
            )
        if not (self.criterion_label.isprintable() and len(self.criterion_label) <= 160):
            raise ValueError("A criterion's label must be one printable line of up to 160 characters.")

    def _check_nulls(self) -> None:
        nulls_mm = self.geometry.null_radii_mm
        if self.kind == "two-null" and len(nulls_mm) != 2:
            raise ValueError(
                f"A two-null plate needs two null radii; this geometry has {len(nulls_mm)}. Choose the arc plate."
            )
        if not nulls_mm:
            raise ValueError(
                f"An arm of {self.geometry.effective_length_mm:g} mm at {self.geometry.pivot_to_spindle_mm:g} mm with "
                f"{self.geometry.offset_angle_deg:g} deg offset has no null radius, so there is nothing to align to."
            )
        if nulls_mm[0] < LEAST_NULL_RADIUS_MM:
            raise ValueError(
                f"The null at {nulls_mm[0]:.2f} mm is under {LEAST_NULL_RADIUS_MM:g} mm, on the spindle mark."
            )
        if len(nulls_mm) == 2 and nulls_mm[1] - nulls_mm[0] < LEAST_NULL_SPACING_MM:
            raise ValueError(
                f"The nulls at {nulls_mm[0]:.2f} and {nulls_mm[1]:.2f} mm are too near each other for two grids; "
                f"a plate needs {LEAST_NULL_SPACING_MM:g} mm between them."
            )

    def _check_fan(self) -> None:
        if self.neighbours_a_side > MOST_NEIGHBOURS_A_SIDE:
            raise ValueError(
                f"A fan of {self.fan_half_width_mm:g} mm in steps of {self.fan_step_mm:g} mm has "
                f"{self.neighbours_a_side} arcs on each side; {MOST_NEIGHBOURS_A_SIDE} fit. "
                f"Take steps of {math.ceil(self.fan_half_width_mm / MOST_NEIGHBOURS_A_SIDE * 100) / 100:g} mm or more."
            )
        if self.geometry.pivot_to_spindle_mm < LEAST_PIVOT_TO_SPINDLE_MM:
            raise ValueError(
                f"A pivot {self.geometry.pivot_to_spindle_mm:g} mm from the spindle would stand on the plate; an arc "
                f"plate needs {LEAST_PIVOT_TO_SPINDLE_MM:g} mm. Choose the two-null plate."
            )
        least_mm = self.geometry.pivot_to_spindle_mm - self.fan_half_width_mm
        underhang_mm2 = self.geometry.pivot_to_spindle_mm**2 - self.geometry.effective_length_mm**2
        if least_mm <= math.sqrt(max(underhang_mm2, 0.0)):
            raise ValueError(f"The fan reaches down to {least_mm:g} mm from the spindle, where no arm can stand.")
        # Only the ends matter: the cosine of the bearing is monotonic or has its least magnitude between them.
        self.geometry.tracking_error_deg(self.radii_drawn_mm)

    @property
    def radii_drawn_mm(self) -> tuple[float, float]:
        """Radii between which arcs are drawn: the groove range, and any null outside it. [mm]"""
        nulls_mm = self.geometry.null_radii_mm
        return min(self.innermost_mm, *nulls_mm), max(self.outermost_mm, *nulls_mm)
