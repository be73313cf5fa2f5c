"""How a pivoted arm and its cartridge stand, and the adjusters that change it: the words that the bench speaks in."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class ArmState:
    """How an arm stands, stylus on the record.

    Attributes
    ----------
    effective_length_mm, pivot_to_spindle_mm : float
        Both horizontal. [mm]
    offset_angle_deg : float
        Cantilever axis from the line pivot-stylus, seen from above. [deg]
    tracking_force_mn : float
        Down on the record. [mN]
    compensation_mn : float
        Side-force compensation as a force at the stylus square to the line pivot-stylus, positive outward, in the
        middle of the groove range. [mN]
    friction_coefficient : float
        Of stylus and groove. [1]
    azimuth_deg : float
        Generator turned about the cantilever axis; positive as in the channel matrix. [deg]
    stylus_rake_angle_deg, vertical_tracking_angle_deg : float
        Both grow as the arm's base is raised. [deg]
    """

    effective_length_mm: float
    pivot_to_spindle_mm: float
    offset_angle_deg: float
    tracking_force_mn: float
    compensation_mn: float
    friction_coefficient: float
    azimuth_deg: float
    stylus_rake_angle_deg: float
    vertical_tracking_angle_deg: float

    def as_array(self) -> NDArray[np.float64]:
        """Return the values in the order of `STATE`, shape (9,)."""
        return np.array(astuple(self), dtype=float)

    @classmethod
    def from_array(cls, values: NDArray[np.float64]) -> ArmState:
        """Return the state of values in the order of `STATE`, shape (9,)."""
        return cls(*map(float, values))


@dataclass(frozen=True, slots=True)
class Adjustments:
    """How far each adjuster has been moved.

    Attributes
    ----------
    slide_mm : float
        Cartridge forward along its own axis. [mm]
    turn_deg : float
        Cartridge turned inward, which enlarges the offset angle. [deg]
    base_position_mm : float
        Arm base away from the spindle. [mm]
    arm_height_mm : float
        Arm base up. [mm]
    counterweight_mm : float
        Counterweight toward the pivot, which raises the tracking force. [mm]
    compensation_mn : float
        More side-force compensation. [mN]
    roll_deg : float
        Cartridge or arm tube rolled in the sense of the azimuth. [deg]
    """

    slide_mm: float = 0.0
    turn_deg: float = 0.0
    base_position_mm: float = 0.0
    arm_height_mm: float = 0.0
    counterweight_mm: float = 0.0
    compensation_mn: float = 0.0
    roll_deg: float = 0.0

    def as_array(self) -> NDArray[np.float64]:
        """Return the values in the order of `ADJUSTERS`, shape (7,)."""
        return np.array(astuple(self), dtype=float)

    @classmethod
    def from_array(cls, values: NDArray[np.float64]) -> Adjustments:
        """Return the adjustments of values in the order of `ADJUSTERS`, shape (7,)."""
        return cls(*map(float, values))


STATE: tuple[str, ...] = tuple(field.name for field in fields(ArmState))
ADJUSTERS: tuple[str, ...] = tuple(field.name for field in fields(Adjustments))
