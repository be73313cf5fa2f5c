"""Readings that bear on how the arm stands: what each kind reads, and how it changes with the state."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.settings import SettingKey, SettingTargets
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.arm_state import STATE, ArmState
from groovewright.tonearm.tracking import groove_angle

ObservationKind = Literal[
    "effective_length",
    "overhang",
    "pivot_to_spindle",
    "effective_length_error",
    "offset_angle",
    "zenith_error",
    "null_angle",
    "tracking_force",
    "compensation_force",
    "side_force_rest",
    "friction_coefficient",
    "azimuth_rotation",
    "stylus_rake_angle",
    "vertical_tracking_angle",
    "vertical_tracking_angle_error",
]
OBSERVATION_KINDS: tuple[ObservationKind, ...] = get_args(ObservationKind)


@dataclass(frozen=True, slots=True)
class KindOfReading:
    """What one kind of reading is.

    Attributes
    ----------
    title : str
        In a sentence, lower case.
    unit : str
    reads : tuple of str
        Of `STATE`: what such a reading tells anew after a move, for all settings that follow from it.
    settles : tuple of str
        Of `SETTING_KEYS`: what it reads as a whole, whatever moved before it.
    """

    title: str
    unit: str
    reads: tuple[str, ...]
    settles: tuple[SettingKey, ...] = ()


KINDS_OF_READING: dict[ObservationKind, KindOfReading] = {
    "effective_length": KindOfReading("effective length", "mm", ("effective_length_mm",)),
    "overhang": KindOfReading("overhang", "mm", ("effective_length_mm", "pivot_to_spindle_mm"), ("effective_length",)),
    "pivot_to_spindle": KindOfReading("pivot-to-spindle distance", "mm", ("pivot_to_spindle_mm",)),
    "effective_length_error": KindOfReading(
        "effective length error", "mm", ("effective_length_mm", "pivot_to_spindle_mm"), ("effective_length",)
    ),
    "offset_angle": KindOfReading("offset angle", "deg", ("offset_angle_deg",)),
    "zenith_error": KindOfReading("zenith error", "deg", ("offset_angle_deg",), ("zenith",)),
    "null_angle": KindOfReading("angle of the cantilever to the groove", "deg", ("offset_angle_deg",)),
    "tracking_force": KindOfReading("tracking force", "mN", ("tracking_force_mn",), ("tracking_force",)),
    "compensation_force": KindOfReading("side-force compensation", "mN", ("compensation_mn",)),
    # It tells the sum of force, friction and compensation, and none of them by itself.
    "side_force_rest": KindOfReading("side force left over", "mN", (), ("side_force",)),
    "friction_coefficient": KindOfReading("friction coefficient", "1", ("friction_coefficient",)),
    "azimuth_rotation": KindOfReading("azimuth", "deg", ("azimuth_deg",), ("azimuth",)),
    "stylus_rake_angle": KindOfReading("stylus rake angle", "deg", ("stylus_rake_angle_deg",), ("stylus_rake_angle",)),
    "vertical_tracking_angle": KindOfReading(
        "vertical tracking angle", "deg", ("vertical_tracking_angle_deg",), ("vertical_tracking_angle",)
    ),
    "vertical_tracking_angle_error": KindOfReading(
        "vertical tracking angle error", "deg", ("vertical_tracking_angle_deg",), ("vertical_tracking_angle",)
    ),
}

_NEEDS_RADIUS = ("null_angle",)
_MAY_HAVE_RADIUS = ("null_angle", "compensation_force", "side_force_rest")


@dataclass(frozen=True)
class Observation:
    """One reading that bears on how the arm stands.

    Parameters
    ----------
    kind : str
        One of `OBSERVATION_KINDS`. A `null_angle` is the groove angle less the offset angle at a radius, which is the
        tracking error there; a `vertical_tracking_angle_error` counts from the aim of that angle.
    quantity : Quantity
        As read, in the unit of its kind. Readings that name the same source share its error.
    order : int
        When; readings and moves share one count that grows with time.
    label : str
        Tells it from the other readings, for example ``"overhang, beam gauge"``.
    radius_mm : float, optional
        Where a null angle, a compensation or a side force was read; the middle of the groove range if not given,
        except for a null angle, which needs it. [mm]

    Raises
    ------
    ValueError
        In one sentence, if a part is impossible.
    """

    kind: ObservationKind
    quantity: Quantity
    order: int
    label: str
    radius_mm: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS_OF_READING:
            raise ValueError(f"{self.kind!r} is no kind of reading; use one of {', '.join(OBSERVATION_KINDS)}")
        if not self.label.strip():
            raise ValueError("a reading needs a label that tells it from the others")
        known = KINDS_OF_READING[self.kind]
        require_unit(self.quantity, known.unit, name=known.title)
        if self.radius_mm is None:
            if self.kind in _NEEDS_RADIUS:
                raise ValueError(f"{self.label}: the {known.title} needs the radius at which it was read")
            return
        if self.kind not in _MAY_HAVE_RADIUS:
            raise ValueError(f"{self.label}: the {known.title} is not read at a radius; leave the radius out")
        if not (math.isfinite(self.radius_mm) and self.radius_mm > 0):
            raise ValueError(f"{self.label}: a radius must be above 0 mm and finite, not {self.radius_mm:g} mm")


@dataclass(frozen=True, eq=False)
class Prediction:
    """What a reading would show for a state, and its slopes against `STATE`, shape (9,)."""

    value: float
    slopes: NDArray[np.float64]


_PLACE = {name: k for k, name in enumerate(STATE)}
_READ_AS_IS: dict[ObservationKind, str] = {
    "effective_length": "effective_length_mm",
    "pivot_to_spindle": "pivot_to_spindle_mm",
    "offset_angle": "offset_angle_deg",
    "tracking_force": "tracking_force_mn",
    # The state has the compensation of the middle; elsewhere it is taken to be the same.
    "compensation_force": "compensation_mn",
    "friction_coefficient": "friction_coefficient",
    "azimuth_rotation": "azimuth_deg",
    "stylus_rake_angle": "stylus_rake_angle_deg",
    "vertical_tracking_angle": "vertical_tracking_angle_deg",
    "vertical_tracking_angle_error": "vertical_tracking_angle_deg",
}


def predict(
    kind: ObservationKind, state: ArmState, targets: SettingTargets, *, radius_mm: float | None = None
) -> Prediction:
    """Return what a perfect gauge would read, in the unit of the kind.

    Parameters
    ----------
    kind : str
        One of `OBSERVATION_KINDS`.
    state : ArmState
        How the arm stands.
    targets : SettingTargets
        From which errors are counted.
    radius_mm : float, optional
        Where; the middle of the groove range if not given. [mm]

    Raises
    ------
    ValueError
        If the stylus cannot reach the radius, or an error is read and its aim is not known.
    """
    slopes = np.zeros(len(STATE))
    off_mm = state.pivot_to_spindle_mm - targets.geometry.pivot_to_spindle_mm
    if kind in _READ_AS_IS:
        name = _READ_AS_IS[kind]
        slopes[_PLACE[name]] = 1.0
        value = float(getattr(state, name))
        return Prediction(value - _counted_from(kind, targets), slopes)
    if kind == "overhang":
        slopes[_PLACE["effective_length_mm"]], slopes[_PLACE["pivot_to_spindle_mm"]] = 1.0, -1.0
        return Prediction(state.effective_length_mm - state.pivot_to_spindle_mm, slopes)
    if kind == "effective_length_error":
        slopes[_PLACE["effective_length_mm"]], slopes[_PLACE["pivot_to_spindle_mm"]] = 1.0, -targets.length_slope
        target_mm = targets.geometry.effective_length_mm + targets.length_slope * off_mm
        return Prediction(state.effective_length_mm - target_mm, slopes)
    if kind == "zenith_error":
        slopes[_PLACE["offset_angle_deg"]] = 1.0
        slopes[_PLACE["pivot_to_spindle_mm"]] = -targets.offset_slope_deg_per_mm
        target_deg = targets.geometry.offset_angle_deg + targets.offset_slope_deg_per_mm * off_mm
        return Prediction(state.offset_angle_deg - target_deg, slopes)
    angle_deg, angle_slopes = _groove_angle(state, targets.middle_mm if radius_mm is None else radius_mm)
    if kind == "null_angle":
        slopes += angle_slopes
        slopes[_PLACE["offset_angle_deg"]] = -1.0
        return Prediction(angle_deg - state.offset_angle_deg, slopes)
    sine, cosine = math.sin(math.radians(angle_deg)), math.cos(math.radians(angle_deg))
    drag_mn = state.friction_coefficient * state.tracking_force_mn
    slopes += drag_mn * cosine * math.pi / 180 * angle_slopes
    slopes[_PLACE["friction_coefficient"]] = state.tracking_force_mn * sine
    slopes[_PLACE["tracking_force_mn"]] = state.friction_coefficient * sine
    slopes[_PLACE["compensation_mn"]] = -1.0
    return Prediction(drag_mn * sine - state.compensation_mn, slopes)


def _counted_from(kind: ObservationKind, targets: SettingTargets) -> float:
    if kind != "vertical_tracking_angle_error":
        return 0.0
    if "vertical_tracking_angle" not in targets.aims:
        raise ValueError("an error of the vertical tracking angle counts from its aim, which is not given")
    return targets.aims["vertical_tracking_angle"]


def _groove_angle(state: ArmState, radius_mm: float) -> tuple[float, NDArray[np.float64]]:
    """Return the groove angle in degrees and its slopes against the state."""
    length, mounting = state.effective_length_mm, state.pivot_to_spindle_mm
    angle_deg = float(groove_angle(radius_mm, effective_length_mm=length, pivot_to_spindle_mm=mounting))
    sine = math.sin(math.radians(angle_deg))
    # The sine changes by this; the angle by that over its cosine.
    steepness = math.degrees(1.0) / max(math.cos(math.radians(angle_deg)), 1e-6)
    slopes = np.zeros(len(STATE))
    slopes[_PLACE["effective_length_mm"]] = steepness * (1 / radius_mm - sine / length)
    slopes[_PLACE["pivot_to_spindle_mm"]] = -steepness * mounting / (radius_mm * length)
    return angle_deg, slopes
