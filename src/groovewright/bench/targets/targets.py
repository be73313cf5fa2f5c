"""Targets for one arm: the geometry to aim for under what the headshell allows, with the distance's uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from groovewright.bench.targets.choosing import (
    STRAIGHT,
    Choice,
    Limits,
    bound_choice,
    choose_geometry,
    unhindered_geometry,
)
from groovewright.bench.targets.doubtful_limit import over_likely_distances
from groovewright.bench.targets.target_request import TargetRequest
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity, unknown_through
from groovewright.tonearm.criteria import CLOSED_FORM_NULL_RADII, CRITERIA
from groovewright.tonearm.distortion import peak_tracking_error, second_harmonic_over_range
from groovewright.tonearm.geometry import Geometry

__all__ = ["DISTANCE", "TargetRequest", "Targets", "choose_targets"]

DISTANCE = "pivot-to-spindle distance"
REQUESTS_REMEMBERED = 512
"""A job asks for its targets on every page, and for those of all criteria on one; so many jobs are open at once."""

HELD_LENGTH, HELD_OFFSET = "held effective length", "held offset angle"

_LIMIT_IN_DOUBT = (
    "Within the uncertainty of the pivot-to-spindle distance a limit of the headshell may bind or not; the "
    "uncertainties of these targets hold both. Measure the distance better."
)


@dataclass(frozen=True)
class Targets:
    """What to set the arm to, and what it will then do.

    A tangential arm has no pivot: its `geometry`, lengths and angle are None, and it has no null radii because its
    error is zero everywhere.

    Attributes
    ----------
    request : TargetRequest
        What they were chosen from.
    geometry : Geometry or None
        The same targets as plain numbers.
    effective_length, overhang, offset_angle, linear_offset : Quantity or None
        To set. Their uncertainty is how far the target would move with the pivot-to-spindle distance and with
        anything held. [mm], [mm], [deg], [mm]
    null_radii : tuple of Quantity
        Where the tracking error is zero, the smaller first. [mm]
    peak_tracking_error : Quantity
        Largest magnitude over the groove range. [deg]
    peak_distortion, rms_distortion : Quantity
        Second harmonic over the groove range; the rms counts every millimetre of radius alike. [%]
    notes : tuple of str
        What to know about them, in plain sentences.
    """

    request: TargetRequest
    geometry: Geometry | None
    effective_length: Quantity | None
    overhang: Quantity | None
    offset_angle: Quantity | None
    linear_offset: Quantity | None
    null_radii: tuple[Quantity, ...]
    peak_tracking_error: Quantity
    peak_distortion: Quantity
    rms_distortion: Quantity
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; a dimension that the arm does not have is null."""
        single = {
            name: None if (quantity := getattr(self, name)) is None else quantity.as_json()
            for name in ("effective_length", "overhang", "offset_angle", "linear_offset")
        }
        costs = {
            name: getattr(self, name).as_json() for name in ("peak_tracking_error", "peak_distortion", "rms_distortion")
        }
        return {
            "criterion": self.request.criterion,
            "pivot_to_spindle": None if (distance := self.request.pivot_to_spindle) is None else distance.as_json(),
            **single,
            "null_radii": [radius.as_json() for radius in self.null_radii],
            **costs,
            "notes": list(self.notes),
        }


@lru_cache(maxsize=REQUESTS_REMEMBERED)
def choose_targets(request: TargetRequest) -> Targets:
    """Return the targets that a request asks for; equal requests share one answer.

    Where nothing binds, a criterion's closed form is used. Where a limit or a held dimension stands in its way, the
    same error is minimised within the limits with the true angles.

    Raises
    ------
    ValueError
        If no arm within the limits can play the groove range, in one sentence with the values.
    """
    if request.arm_kind == "tangential":
        return _tangential_targets(request)
    choice = _choice(request)
    inputs = {DISTANCE: request.distance}
    if request.hold_effective_length is not None:
        inputs[HELD_LENGTH] = request.hold_effective_length
    if request.hold_offset_angle is not None:
        inputs[HELD_OFFSET] = request.hold_offset_angle
    null_count = len(choice.geometry.null_radii_mm)
    units = {
        "effective_length": "mm",
        "overhang": "mm",
        "offset_angle": "deg",
        "linear_offset": "mm",
        "peak_tracking_error": "deg",
        "peak_distortion": "%",
        "rms_distortion": "%",
    }
    in_doubt = _limit_in_reach(request, choice)
    nulls_are_fixed = not choice.is_bound and not in_doubt and request.criterion in CLOSED_FORM_NULL_RADII
    if not nulls_are_fixed:
        units |= {f"null_radius_{k}": "mm" for k in range(null_count)}
    if in_doubt:
        inputs[DISTANCE] = Quantity.exact(request.distance.value, "mm", how="nominal distance")
    results = propagate_all(
        lambda **at: _figures(request, _nearby_geometry(request, at, is_bound=choice.is_bound), null_count),
        inputs,
        units=units,
        how=CRITERIA[request.criterion].label,
    )
    if in_doubt:
        results = over_likely_distances(
            lambda distance_mm: _figures(request, _choice(request, distance_mm).geometry, null_count),
            request.distance,
            results,
        )
    for name, limits in (
        ("effective_length", request.effective_length_limits_mm),
        ("offset_angle", request.offset_angle_limits_deg),
    ):
        results[name] = _unless_limit_in_doubt(results[name], limits, request.distance)
    if nulls_are_fixed:
        null_radii = tuple(
            Quantity.exact(radius, "mm", how="follows from the groove range alone")
            for radius in choice.geometry.null_radii_mm
        )
        results["linear_offset"] = Quantity.exact(
            choice.geometry.linear_offset_mm, "mm", how="follows from the groove range alone"
        )
    else:
        null_radii = tuple(results[f"null_radius_{k}"] for k in range(null_count))
    return Targets(
        request=request,
        geometry=choice.geometry,
        effective_length=request.hold_effective_length or results["effective_length"],
        overhang=results["overhang"],
        offset_angle=request.hold_offset_angle or results["offset_angle"],
        linear_offset=results["linear_offset"],
        null_radii=null_radii,
        peak_tracking_error=results["peak_tracking_error"],
        peak_distortion=results["peak_distortion"],
        rms_distortion=results["rms_distortion"],
        notes=_notes(request, choice) + ((_LIMIT_IN_DOUBT,) if in_doubt else ()),
    )


def _unless_limit_in_doubt(target: Quantity, limits: tuple[float, float] | None, distance: Quantity) -> Quantity:
    """Return the target; of unknown uncertainty where it stands at a limit by a distance of unknown uncertainty.

    Nobody can say then that the limit binds at all, and the limit itself would make the target look exact.
    """
    if limits is None or limits[0] == limits[1] or distance.components is not None or target.components is None:
        return target
    why = unknown_through(DISTANCE, distance)
    return Quantity.unknown_uncertainty(target.value, target.unit, why=why, how=target.how)


def _limit_in_reach(request: TargetRequest, choice: Choice) -> bool:
    """Return whether a limit binds for some distances that are likely and not for others."""
    if request.effective_length_limits_mm is None and request.offset_angle_limits_deg is None:
        return False
    reach_mm = 2 * (request.distance.standard_uncertainty or 0.0)
    likely = (request.distance.value - reach_mm, request.distance.value + reach_mm)
    return not all(_is_bound_at(request, distance_mm) == choice.is_bound for distance_mm in likely)


def _is_bound_at(request: TargetRequest, pivot_to_spindle_mm: float) -> bool | None:
    """Return whether a limit binds at another distance; None if no arm can play there."""
    try:
        return _choice(request, pivot_to_spindle_mm).is_bound
    except ValueError:
        return None


def _choice(request: TargetRequest, pivot_to_spindle_mm: float | None = None) -> Choice:
    length, offset = request.hold_effective_length, request.hold_offset_angle
    return choose_geometry(
        request.criterion,
        pivot_to_spindle_mm=request.distance.value if pivot_to_spindle_mm is None else pivot_to_spindle_mm,
        innermost_mm=request.innermost_mm,
        outermost_mm=request.outermost_mm,
        limits=_limits(request, None if length is None else length.value, None if offset is None else offset.value),
    )


def _nearby_geometry(request: TargetRequest, at: Mapping[str, float], *, is_bound: bool) -> Geometry:
    """Return the target for other values of what was measured, by the same way as the target itself.

    Formula and search within limits differ a little; going from one to the other between two steps of a slope would
    make that difference into a huge slope.
    """
    if not is_bound:
        return unhindered_geometry(
            request.criterion,
            pivot_to_spindle_mm=at[DISTANCE],
            innermost_mm=request.innermost_mm,
            outermost_mm=request.outermost_mm,
        )
    return bound_choice(
        request.criterion,
        pivot_to_spindle_mm=at[DISTANCE],
        innermost_mm=request.innermost_mm,
        outermost_mm=request.outermost_mm,
        limits=_limits(request, at.get(HELD_LENGTH), at.get(HELD_OFFSET)),
    ).geometry


def _limits(request: TargetRequest, length_mm: float | None, offset_deg: float | None) -> Limits:
    length, offset = request.effective_length_limits_mm, request.offset_angle_limits_deg
    if length_mm is not None:
        length = (length_mm, length_mm)
    if offset_deg is not None:
        offset = (offset_deg, offset_deg)
    if request.arm_kind == "straight underhung":
        offset = STRAIGHT
    return Limits(effective_length_mm=length, offset_angle_deg=offset)


def _figures(request: TargetRequest, geometry: Geometry, null_count: int) -> dict[str, float]:
    nulls = geometry.null_radii_mm
    if len(nulls) != null_count:
        raise ValueError(
            f"at a pivot-to-spindle distance of {geometry.pivot_to_spindle_mm:g} mm the null radii are just about to "
            "appear or vanish, so no uncertainty can be given for them; move the held dimension a little"
        )
    _, worst_error = peak_tracking_error(geometry, innermost_mm=request.innermost_mm, outermost_mm=request.outermost_mm)
    harmonic = second_harmonic_over_range(
        geometry,
        innermost_mm=request.innermost_mm,
        outermost_mm=request.outermost_mm,
        peak_velocity_cm_s=request.peak_velocity_cm_s,
        speed_rpm=request.speed_rpm,
    )
    return {
        "effective_length": geometry.effective_length_mm,
        "overhang": geometry.overhang_mm,
        "offset_angle": geometry.offset_angle_deg,
        "linear_offset": geometry.linear_offset_mm,
        "peak_tracking_error": worst_error,
        "peak_distortion": harmonic.peak_percent,
        "rms_distortion": harmonic.rms_percent,
        **{f"null_radius_{k}": radius for k, radius in enumerate(nulls)},
    }


def _notes(request: TargetRequest, choice: Choice) -> tuple[str, ...]:
    notes = list(choice.notes)
    if request.arm_kind == "straight underhung":
        notes.append(
            "A straight underhung arm has no offset angle: its error is zero at one radius and grows away from it."
        )
    nulls = choice.geometry.null_radii_mm
    outside = [r for r in nulls if not request.innermost_mm - 1e-6 <= r <= request.outermost_mm + 1e-6]
    if not nulls:
        notes.append("The tracking error is zero at no radius.")
    elif len(nulls) == 1 and request.arm_kind == "offset":
        notes.append(f"The tracking error is zero at one radius only, {nulls[0]:.2f} mm.")
    for radius in outside:
        notes.append(
            f"The null radius at {radius:.2f} mm lies outside the groove range of {request.innermost_mm:g} to "
            f"{request.outermost_mm:g} mm."
        )
    if request.distance.components is None:
        notes.append(
            "The uncertainty of the pivot-to-spindle distance is not known, so none can be given for the targets "
            "that follow from it."
        )
    return tuple(notes)


def _tangential_targets(request: TargetRequest) -> Targets:
    def none(unit: str) -> Quantity:
        return Quantity.exact(0.0, unit, how="cartridge square to its travel, and the travel through the spindle")

    return Targets(
        request=request,
        geometry=None,
        effective_length=None,
        overhang=None,
        offset_angle=None,
        linear_offset=None,
        null_radii=(),
        peak_tracking_error=none("deg"),
        peak_distortion=none("%"),
        rms_distortion=none("%"),
        notes=(
            "A tangential arm has no overhang or offset angle to choose: the stylus must travel through the centre of "
            "the spindle, with the cantilever square to its travel.",
        ),
    )
