"""The seven settings: what each is, what it should be, and how it follows from how the arm stands."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.conformity import Tolerance
from groovewright.tonearm.arm_state import STATE, ArmState
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import groove_angle

SettingKey = Literal[
    "effective_length",
    "tracking_force",
    "side_force",
    "zenith",
    "azimuth",
    "stylus_rake_angle",
    "vertical_tracking_angle",
]
SETTING_KEYS: tuple[SettingKey, ...] = get_args(SettingKey)


@dataclass(frozen=True, slots=True)
class Setting:
    """One of the seven: its name on screen, its unit, and what its value is, in a few words."""

    key: SettingKey
    title: str
    unit: str
    meaning: str


SETTINGS: dict[SettingKey, Setting] = {
    "effective_length": Setting("effective_length", "Effective length", "mm", "effective length less its target"),
    "tracking_force": Setting("tracking_force", "Tracking force", "mN", "vertical, at record height"),
    "side_force": Setting(
        "side_force", "Side force", "mN", "side force less its compensation, in the middle of the groove range"
    ),
    "zenith": Setting("zenith", "Zenith", "deg", "offset angle less its target"),
    "azimuth": Setting("azimuth", "Azimuth", "deg", "generator turned about the cantilever axis"),
    "stylus_rake_angle": Setting(
        "stylus_rake_angle", "Stylus rake angle", "deg", "stylus against the groove, side view"
    ),
    "vertical_tracking_angle": Setting(
        "vertical_tracking_angle", "Vertical tracking angle", "deg", "cantilever against the record, side view"
    ),
}


@dataclass(frozen=True)
class SettingTargets:
    """What the seven settings should be.

    Attributes
    ----------
    geometry : Geometry
        Chosen for the pivot-to-spindle distance that was known then.
    length_slope : float
        How far the target of the effective length moves with the true distance. [mm/mm]
    offset_slope_deg_per_mm : float
        How far the target of the offset angle moves with it. [deg/mm]
    innermost_mm, outermost_mm : float
        Groove range. [mm]
    aims : mapping of setting to float
        What to set each to, in the setting's unit; 0 for errors.
    tolerances : mapping of setting to Tolerance
        Limits of each, in the setting's unit.
    inapplicable : mapping of setting to str
        Settings that this arm does not have, each with the reason in one sentence.
    not_counted : mapping of setting to str
        Settings that cannot be judged before targets are chosen, each with the reason in one sentence. Where there are
        any of these or of the former, the geometry is only a stand-in.
    """

    geometry: Geometry
    length_slope: float
    offset_slope_deg_per_mm: float
    innermost_mm: float
    outermost_mm: float
    aims: Mapping[SettingKey, float]
    tolerances: Mapping[SettingKey, Tolerance]
    inapplicable: Mapping[SettingKey, str] = field(default_factory=dict)
    not_counted: Mapping[SettingKey, str] = field(default_factory=dict)

    @property
    def middle_mm(self) -> float:
        """Middle of the groove range. [mm]"""
        return (self.innermost_mm + self.outermost_mm) / 2


def settings_of(state: ArmState, targets: SettingTargets) -> NDArray[np.float64]:
    """Return the seven settings in the order of `SETTING_KEYS`, each in its unit, shape (7,).

    Raises
    ------
    ValueError
        If the stylus cannot reach the middle of the groove range.
    """
    geometry = targets.geometry
    off_mm = state.pivot_to_spindle_mm - geometry.pivot_to_spindle_mm
    angle_deg = groove_angle(
        targets.middle_mm,
        effective_length_mm=state.effective_length_mm,
        pivot_to_spindle_mm=state.pivot_to_spindle_mm,
    )
    # The groove drags along its tangent; the part square to the line pivot-stylus pulls inward.
    side_force_mn = state.friction_coefficient * state.tracking_force_mn * math.sin(math.radians(float(angle_deg)))
    return np.array(
        [
            state.effective_length_mm - geometry.effective_length_mm - targets.length_slope * off_mm,
            state.tracking_force_mn,
            side_force_mn - state.compensation_mn,
            state.offset_angle_deg - geometry.offset_angle_deg - targets.offset_slope_deg_per_mm * off_mm,
            state.azimuth_deg,
            state.stylus_rake_angle_deg,
            state.vertical_tracking_angle_deg,
        ]
    )


STEPS = np.array([1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-4, 1e-3, 1e-3, 1e-3])
"""Of the central differences below, in the units of `STATE`; the settings are nearly linear over them."""


def settings_jacobian(state: ArmState, targets: SettingTargets) -> NDArray[np.float64]:
    """Return how the settings change with the state, shape (7, 9): rows as `SETTING_KEYS`, columns as `STATE`."""
    middle = state.as_array()
    columns = [
        (
            settings_of(ArmState.from_array(middle + step), targets)
            - settings_of(ArmState.from_array(middle - step), targets)
        )
        / (2 * step[k])
        for k, step in enumerate(np.diag(STEPS))
    ]
    assert len(columns) == len(STATE)
    return np.array(columns).T
