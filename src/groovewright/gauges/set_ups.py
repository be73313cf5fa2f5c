"""The set-ups that a gauge gives: its joints' errors through the true geometry to length, distance and angle."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from groovewright.gauges.arc_trace import bearing_on_arc_deg
from groovewright.gauges.gauge_chain import BearsOn, GaugeChain, Joint
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.groove_ranges import check_groove_range

Array: TypeAlias = NDArray[np.float64]

NEWTON_STEPS = 4
"""For two nulls; the error is squared with each, and the first guess is within a few millimetres."""
LEAST_UNCERTAINTY_MM = 1e-9
"""Of a reading that is said to be perfect, so that its weight stays finite. [mm]"""


@dataclass(frozen=True)
class GaugeAim:
    """What the gauge is to set: the arm's aim, and the grooves that it will play.

    Parameters
    ----------
    geometry : Geometry
        The aim for the pivot-to-spindle distance that the gauge is set to.
    innermost_mm, outermost_mm : float
        Groove range. [mm]

    Raises
    ------
    ValueError
        If the range is none or the aim does not reach all of it.
    """

    geometry: Geometry
    innermost_mm: float
    outermost_mm: float

    def __post_init__(self) -> None:
        check_groove_range(innermost_mm=self.innermost_mm, outermost_mm=self.outermost_mm)
        self.geometry.tracking_error_deg([self.innermost_mm, self.outermost_mm])


@dataclass(frozen=True, eq=False)
class SetUps:
    """Arms as a gauge sets them, one for each draw.

    Attributes
    ----------
    aim : GaugeAim
    effective_length_mm, pivot_to_spindle_mm, offset_angle_deg : ndarray, shape (n,)
        As they truly are. [mm], [mm], [deg]
    """

    aim: GaugeAim
    effective_length_mm: Array
    pivot_to_spindle_mm: Array
    offset_angle_deg: Array

    @property
    def overhang_mm(self) -> Array:
        """Effective length less pivot-to-spindle distance. [mm]"""
        return self.effective_length_mm - self.pivot_to_spindle_mm

    @property
    def effective_length_error_mm(self) -> Array:
        """Effective length less its target for the true distance, which keeps the aim's null radii. [mm]"""
        return self.effective_length_mm - self._target_length_mm()

    @property
    def zenith_error_deg(self) -> Array:
        """Offset angle less its target for the true distance. [deg]"""
        sine = self.aim.geometry.linear_offset_mm / self._target_length_mm()
        return self.offset_angle_deg - np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))

    def _target_length_mm(self) -> Array:
        aim = self.aim.geometry
        product = (aim.effective_length_mm - aim.pivot_to_spindle_mm) * (
            aim.effective_length_mm + aim.pivot_to_spindle_mm
        )
        # Null radii near to an underhung arm's own reach leave nothing under the root; such a distance is no arm's.
        return np.asarray(np.sqrt(np.maximum(self.pivot_to_spindle_mm**2 + product, 1.0)))


def set_ups(chain: GaugeChain, aim: GaugeAim, errors: Mapping[BearsOn, Array], draws: int) -> SetUps:
    """Return the arms that a gauge sets with given errors.

    Parameters
    ----------
    chain : GaugeChain
    aim : GaugeAim
    errors : mapping of dimension to ndarray, shape (draws,)
        In the unit of each dimension; of ``"trace_reading"`` of shape (places, draws). What is missing is 0.
    draws : int
        How many arms.

    Raises
    ------
    ValueError
        If the aim lacks what the gauge sets by, such as a second null.
    """
    if chain.sets_by == "mark":
        return _by_mark(chain, aim, errors, draws)
    if chain.sets_by == "trace":
        return _by_trace(chain, aim, errors, draws)
    return _by_two_nulls(aim, errors, draws)


def mark_radius_mm(chain: GaugeChain, aim: GaugeAim) -> float:
    """Return the distance of a gauge's mark from the spindle; ValueError if the aim has no such mark. [mm]"""
    if chain.mark == "overhang":
        return abs(aim.geometry.overhang_mm)
    if isinstance(chain.mark, str):
        inner_mm, outer_mm = _two_nulls_mm(aim, f"{chain.name}: its mark")
        return inner_mm if chain.mark == "inner null" else outer_mm
    return float(chain.mark)


def _two_nulls_mm(aim: GaugeAim, what: str) -> tuple[float, float]:
    nulls_mm = aim.geometry.null_radii_mm
    if len(nulls_mm) != 2:
        raise ValueError(
            f"{what} needs an aim with two null radii, and this one has {len(nulls_mm)}; take another gauge or aim"
        )
    return nulls_mm[0], nulls_mm[1]


def _by_mark(chain: GaugeChain, aim: GaugeAim, errors: Mapping[BearsOn, Array], draws: int) -> SetUps:
    geometry = aim.geometry
    distance_mm, length_mm = geometry.pivot_to_spindle_mm, geometry.effective_length_mm
    radius_mm = mark_radius_mm(chain, aim)
    if chain.mark == "overhang":
        # Beyond the spindle for an overhung arm, short of it for an underhung one.
        bearing = math.pi if length_mm > distance_mm else 0.0
    else:
        toward_pivot = (distance_mm**2 + radius_mm**2 - length_mm**2) / (2 * distance_mm * radius_mm)
        if not abs(toward_pivot) <= 1:
            raise ValueError(f"{chain.name}: the arm's arc does not pass its mark at {radius_mm:g} mm")
        bearing = math.acos(toward_pivot)
    to_pivot = math.atan2(-radius_mm * math.sin(bearing), distance_mm - radius_mm * math.cos(bearing))
    lines = to_pivot + math.radians(geometry.offset_angle_deg)

    true_distance_mm = np.full(draws, distance_mm) + errors.get("pivot_to_spindle", 0.0)
    turn = np.radians(errors.get("bearing", np.zeros(1)))
    if "pivot_across" in errors:
        turn = turn + np.arctan2(-errors["pivot_across"], distance_mm)
    out_mm = radius_mm * (1 + errors.get("print_scale", 0.0) / 100) + errors.get("stylus_radius", 0.0)
    across_mm = errors.get("stylus_across", 0.0)
    cosine, sine = np.cos(bearing + turn), np.sin(bearing + turn)
    x_mm = true_distance_mm - (out_mm * cosine - across_mm * sine)
    y_mm = -(out_mm * sine + across_mm * cosine)
    true_length_mm = np.sqrt(x_mm * x_mm + y_mm * y_mm) + errors.get("effective_length", 0.0)
    angle_deg = np.degrees(lines + turn - np.arctan2(y_mm, x_mm)) + errors.get("offset_angle", 0.0)
    return SetUps(aim, true_length_mm, true_distance_mm, angle_deg)


def _by_two_nulls(aim: GaugeAim, errors: Mapping[BearsOn, Array], draws: int) -> SetUps:
    inner_mm, outer_mm = _two_nulls_mm(aim, "setting by two nulls")
    scale = 1 + errors.get("print_scale", np.zeros(1)) / 100
    distance_mm = np.full(draws, aim.geometry.pivot_to_spindle_mm) + errors.get("pivot_to_spindle", 0.0)
    inner = inner_mm * scale + errors.get("inner_null_radius", 0.0)
    outer = outer_mm * scale + errors.get("outer_null_radius", 0.0)
    # Where the cantilever stands off the lines by a little at each, the groove angles differ by as much less.
    inner_off = np.radians(errors.get("inner_null_angle", np.zeros(1)))
    outer_off = np.radians(errors.get("outer_null_angle", np.zeros(1)))
    length_mm = np.sqrt(distance_mm * distance_mm + inner * outer)
    for _ in range(NEWTON_STEPS if np.any(inner_off != outer_off) else 0):
        inner_angle, inner_slope = _groove_angle(inner, length_mm, distance_mm)
        outer_angle, outer_slope = _groove_angle(outer, length_mm, distance_mm)
        length_mm = length_mm - (inner_angle - outer_angle + inner_off - outer_off) / (inner_slope - outer_slope)
    angle, _ = _groove_angle(inner, length_mm, distance_mm)
    return SetUps(aim, length_mm, distance_mm, np.degrees(angle + inner_off))


def _groove_angle(radius_mm: Array, length_mm: Array, distance_mm: Array) -> tuple[Array, Array]:
    """Return the groove angle and its slope against the length; stretched straight beyond reach. [rad], [rad/mm]"""
    sine = (radius_mm * radius_mm + (length_mm - distance_mm) * (length_mm + distance_mm)) / (2 * radius_mm * length_mm)
    sine = np.clip(sine, -0.999, 0.999)
    return np.arcsin(sine), (1 / radius_mm - sine / length_mm) / np.sqrt(1 - sine * sine)


def _by_trace(chain: GaugeChain, aim: GaugeAim, errors: Mapping[BearsOn, Array], draws: int) -> SetUps:
    geometry = aim.geometry
    fit, places = _trace_fit(chain, aim)
    read_mm = errors.get("trace_reading", np.zeros((chain.places, 1)))
    scale = errors.get("print_scale", np.zeros(1)) / 100
    # An arc drawn larger lies farther out, and its centre farther from the spindle.
    drawn_mm = geometry.effective_length_mm - geometry.pivot_to_spindle_mm * np.cos(places)
    read_mm = read_mm - np.multiply.outer(drawn_mm, scale)
    direct_mm = errors.get("pivot_to_spindle", np.zeros(1))
    # The arm is moved until trace and direct measurement together say that nothing is off.
    length_off, distance_off = -(fit[:, :-1] @ read_mm) - np.multiply.outer(fit[:, -1], direct_mm)
    length_mm = np.full(draws, geometry.effective_length_mm) + length_off + errors.get("effective_length", 0.0)
    distance_mm = np.full(draws, geometry.pivot_to_spindle_mm) + distance_off
    radius_mm = mark_radius_mm(chain, aim) * (1 + scale)
    angle, _ = _groove_angle(radius_mm, length_mm, distance_mm)
    start_deg = float(geometry.tracking_error_deg(mark_radius_mm(chain, aim)))
    # At a radius that is no null the gauge's lines stand where the aim has its tracking error.
    return SetUps(aim, length_mm, distance_mm, np.degrees(angle) - start_deg + errors.get("offset_angle", np.zeros(1)))


def _trace_fit(chain: GaugeChain, aim: GaugeAim) -> tuple[Array, Array]:
    """Return the weighted least squares fit of length and distance to a trace and a direct measurement.

    Returns
    -------
    tuple of ndarray
        What an error of each reading, and lastly of the direct distance, moves length and distance by, shape
        (2, places + 1) [mm/mm]; and the bearings of the places [rad]. Without a joint that bears on the distance nobody
        measured it, and the trace alone decides.
    """
    radii_mm = np.linspace(aim.innermost_mm, aim.outermost_mm, chain.places)
    places = np.radians(bearing_on_arc_deg(radii_mm, aim.geometry))
    eye_mm = _uncertainty(chain, "trace_reading") or LEAST_UNCERTAINTY_MM
    design = np.column_stack([np.ones(places.size), -np.cos(places), np.sin(places)])
    weights = np.full(places.size + 1, 1 / eye_mm)
    measured = any(joint.bears_on == "pivot_to_spindle" for joint in chain.joints)
    weights[-1] = 1 / max(_uncertainty(chain, "pivot_to_spindle"), LEAST_UNCERTAINTY_MM) if measured else 0.0
    design = np.vstack([design, [0.0, 1.0, 0.0]])
    return (np.linalg.pinv(design * weights[:, None]) * weights)[:2], places


def _uncertainty(chain: GaugeChain, bears_on: BearsOn) -> float:
    joints = [joint for joint in chain.joints if joint.bears_on == bears_on]
    return math.hypot(*(joint.slope * joint.standard_uncertainty for joint in joints))


def draw_errors(chain: GaugeChain, draws: int, generator: np.random.Generator) -> dict[BearsOn, Array]:
    """Return drawn errors of every dimension that the joints bear on, as `set_ups` takes them."""
    errors: dict[BearsOn, Array] = {}
    for joint in chain.joints:
        shape = (chain.places, draws) if joint.bears_on == "trace_reading" else (draws,)
        drawn = _drawn(joint, shape, generator)
        errors[joint.bears_on] = errors[joint.bears_on] + drawn if joint.bears_on in errors else drawn
    return errors


def _drawn(joint: Joint, shape: tuple[int, ...], generator: np.random.Generator) -> Array:
    spread = joint.spread
    if spread is None:
        return np.full(shape, joint.slope * joint.nominal)
    drawn = spread.draw(generator, math.prod(shape)).reshape(shape)
    drawn *= joint.slope
    drawn += joint.slope * joint.nominal
    return drawn


def parts_of(chain: GaugeChain) -> list[tuple[Joint, int]]:
    """Return the errors that are independent of each other: each joint once, a trace reading once for each place."""
    return [
        (joint, place)
        for joint in chain.joints
        for place in range(chain.places if joint.bears_on == "trace_reading" else 1)
    ]


def errors_at(chain: GaugeChain, amounts: Array) -> dict[BearsOn, Array]:
    """Return the errors of dimensions for given errors of the parts, the known ones not counted.

    Parameters
    ----------
    chain : GaugeChain
    amounts : ndarray, shape (parts, n)
        In the order of `parts_of`. [unit of each joint]
    """
    errors: dict[BearsOn, Array] = {}
    for (joint, place), amount in zip(parts_of(chain), amounts, strict=True):
        is_reading = joint.bears_on == "trace_reading"
        shape = (chain.places, amounts.shape[1]) if is_reading else (amounts.shape[1],)
        held = errors.setdefault(joint.bears_on, np.zeros(shape))
        if is_reading:
            held[place] += joint.slope * amount
        else:
            held += joint.slope * amount
    return errors
