"""An arc trace and null readings joined with the distance as measured: what the arm does, and how it stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from groovewright.bench.estimate.groove import LENGTH, OFFSET, GrooveCourse, groove_course
from groovewright.bench.targets.targets import DISTANCE, TargetRequest, Targets, choose_targets
from groovewright.gauges.arc_trace import TraceFit, TraceReading, bearing_on_arc_deg, fit_trace
from groovewright.gauges.null_check import NullFit, NullReading, fit_nulls
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity, Source, covariance
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import groove_angle

LARGEST_SHARE = 0.1
"""Of the distance: where it is left open by more, nothing of use follows from it."""

SHARED = Source("what all readings beside the arc share")


@dataclass(frozen=True, slots=True)
class ArcReading:
    """Where the stylus stands beside a plate's arc.

    Parameters
    ----------
    radius_mm : float
        Groove radius of the place on the arc. [mm]
    deviation : Quantity
        From the arc to the stylus, square to the arc; positive: outside it, farther from the pivot. [mm]
    """

    radius_mm: float
    deviation: Quantity


@dataclass(frozen=True, eq=False)
class TraceResult:
    """What a trace says of an arm, the consequence first.

    Attributes
    ----------
    groove : GrooveCourse
        Tracking error and distortion at every radius, and their peaks.
    targets : Targets
        Chosen for the distance as it is known after the trace.
    effective_length, pivot_to_spindle, overhang : Quantity
        As joined; they share the sources of the readings. [mm]
    offset_angle : Quantity
        Read at the nulls; without null readings what it is if the cantilever was set along the groove at the nulls of
        the plate, or the angle that is held. [deg]
    offset_angle_is_read : bool
    effective_length_error, offset_angle_error : Quantity
        Less their targets for the distance. [mm], [deg]
    correlation : float
        Of effective length and distance as joined.
    trace : TraceFit
    nulls : NullFit or None
    cannot_tell : str
        One plain sentence of what the trace leaves open.
    notes : tuple of str
        What to mind, disagreement first.
    """

    groove: GrooveCourse
    targets: Targets
    effective_length: Quantity
    pivot_to_spindle: Quantity
    overhang: Quantity
    offset_angle: Quantity
    offset_angle_is_read: bool
    effective_length_error: Quantity
    offset_angle_error: Quantity
    correlation: float
    trace: TraceFit
    nulls: NullFit | None
    cannot_tell: str
    notes: tuple[str, ...]

    def describe(self) -> str:
        """Return the consequence as one sentence."""
        request = self.targets.request
        return self.groove.describe(f"From {request.innermost_mm:g} to {request.outermost_mm:g} mm")

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types, the consequence first."""
        nulls = self.nulls
        return {
            "summary": self.describe(),
            **self.groove.peaks_json(),
            "curves": self.groove.curves_json(),
            "cannot_tell": self.cannot_tell,
            "effective_length_error": self.effective_length_error.as_json(),
            "offset_angle_error": self.offset_angle_error.as_json() if self.offset_angle_is_read else None,
            "effective_length": self.effective_length.as_json(),
            "pivot_to_spindle": self.pivot_to_spindle.as_json(),
            "overhang": self.overhang.as_json(),
            "offset_angle": self.offset_angle.as_json() if self.offset_angle_is_read else None,
            "plate_turn": self.trace.plate_turn.as_json(),
            "correlation_of_length_with_distance": self.correlation,
            "chi_square": self.trace.chi_square,
            "degrees_of_freedom": self.trace.degrees_of_freedom,
            "residuals": [{"value": left, "unit": "mm"} for left in self.trace.residuals],
            "null_residuals": [] if nulls is None else [{"value": left, "unit": "deg"} for left in nulls.residuals],
            "notes": list(self.notes),
        }


def trace_result(
    request: TargetRequest,
    arc_readings: Sequence[ArcReading],
    null_readings: Sequence[NullReading] = (),
    *,
    arc_mm: float | None = None,
    shared_uncertainty_mm: float = 0.0,
) -> TraceResult:
    """Return what an arm does, and how it stands, from a trace on its arc plate.

    Parameters
    ----------
    request : TargetRequest
        What the plate was made for, with the distance as measured. A distance of unknown uncertainty is not joined with
        the trace.
    arc_readings : sequence of ArcReading
        At three places or more.
    null_readings : sequence of NullReading
        Of the cantilever; none, one or more, at the nulls or elsewhere.
    arc_mm : float, optional
        Distance that is printed at the arc that was traced, if it is not the one measured. [mm]
    shared_uncertainty_mm : float
        Standard uncertainty that all readings beside the arc share, such as that of the printed arc's radius; 0 if
        their own uncertainties are all there is. [mm]

    Raises
    ------
    ValueError
        If the arm has no pivot, a reading is impossible, or the trace leaves the distance open.
    """
    plate = traced_arc(request, arc_mm)
    bearings = bearing_on_arc_deg([reading.radius_mm for reading in arc_readings], plate)
    readings = [
        TraceReading(float(bearing), _with_shared(reading.deviation, shared_uncertainty_mm))
        for bearing, reading in zip(bearings, arc_readings, strict=True)
    ]
    measured = request.distance
    direct = None if measured.standard_uncertainty is None else measured
    trace = fit_trace(readings, plate, pivot_to_spindle=direct)
    _refuse_open_distance(trace)
    nulls = None
    length, distance = trace.effective_length, trace.pivot_to_spindle
    if null_readings:
        nulls = fit_nulls(null_readings, effective_length=length, pivot_to_spindle=distance)
        length, distance = nulls.effective_length, nulls.pivot_to_spindle
    targets = choose_targets(replace(request, pivot_to_spindle=distance))
    assert targets.effective_length is not None
    assert targets.offset_angle is not None
    offset = _offset_angle(request, nulls, plate, length, distance)
    return TraceResult(
        groove=groove_course(targets.request, length, distance, offset),
        targets=targets,
        effective_length=length,
        pivot_to_spindle=distance,
        overhang=_difference(length, distance, LENGTH, DISTANCE),
        offset_angle=offset,
        offset_angle_is_read=nulls is not None,
        effective_length_error=_difference(length, targets.effective_length, LENGTH, "target length"),
        offset_angle_error=_difference(offset, targets.offset_angle, OFFSET, "target angle"),
        correlation=_correlation(length, distance),
        trace=trace,
        nulls=nulls,
        cannot_tell=trace.cannot_tell,
        notes=_notes(request, trace, nulls),
    )


def traced_arc(request: TargetRequest, arc_mm: float | None = None) -> Geometry:
    """Return the geometry of an arc of the plate that a request asks for.

    Its neighbouring arcs keep the product of the null radii, so that each is the target for the distance printed on it.
    """
    geometry = choose_targets(request).geometry
    if geometry is None:
        raise ValueError("a tangential arm draws no arc; there is nothing to trace")
    if arc_mm is None:
        return geometry
    product_mm2 = geometry.effective_length_mm**2 - geometry.pivot_to_spindle_mm**2
    if not (arc_mm > 0 and arc_mm**2 + product_mm2 > geometry.linear_offset_mm**2):
        raise ValueError(f"no arc of this plate is for {arc_mm:g} mm; give the distance printed at the arc traced")
    length = math.sqrt(arc_mm**2 + product_mm2)
    return Geometry(arc_mm, length, math.degrees(math.asin(geometry.linear_offset_mm / length)))


def _with_shared(deviation: Quantity, shared_mm: float) -> Quantity:
    if not shared_mm or deviation.components is None:
        return deviation
    return Quantity(deviation.value, deviation.unit, {**deviation.components, SHARED: shared_mm}, how=deviation.how)


def _refuse_open_distance(trace: TraceFit) -> None:
    u = trace.distance_error.standard_uncertainty
    distance_mm = trace.pivot_to_spindle.value
    if u is None or u <= LARGEST_SHARE * distance_mm:
        return
    raise ValueError(
        f"this trace leaves the pivot-to-spindle distance open by ± {u:.0f} mm, so nothing follows from it; measure "
        "the distance directly and state its uncertainty, or read over more of the groove"
    )


def _offset_angle(
    request: TargetRequest, nulls: NullFit | None, plate: Geometry, length: Quantity, distance: Quantity
) -> Quantity:
    if nulls is not None:
        return nulls.offset_angle
    if request.hold_offset_angle is not None:
        return request.hold_offset_angle
    radii = np.array(plate.null_radii_mm)
    if not radii.size:
        return Quantity.exact(plate.offset_angle_deg, "deg", how="of the plate")

    def model(**at: float) -> float:
        angles = groove_angle(radii, effective_length_mm=at[LENGTH], pivot_to_spindle_mm=at[DISTANCE])
        return float(angles.mean())

    inputs = {LENGTH: length, DISTANCE: distance}
    return propagate(model, inputs, unit="deg", how="cantilever along the groove at the plate's nulls, not read")


def _difference(first: Quantity, second: Quantity, *names: str) -> Quantity:
    return propagate(
        lambda **at: at[names[0]] - at[names[1]], dict(zip(names, (first, second), strict=True)), unit=first.unit
    )


def _correlation(first: Quantity, second: Quantity) -> float:
    return covariance(first, second) / math.sqrt(covariance(first, first) * covariance(second, second))


def _notes(request: TargetRequest, trace: TraceFit, nulls: NullFit | None) -> tuple[str, ...]:
    notes = []
    if not trace.agree:
        worst = max(range(len(trace.residuals)), key=lambda k: abs(trace.residuals[k]))
        notes.append(
            f"The readings beside the arc scatter more than their uncertainties allow; reading {worst + 1} is farthest "
            f"off, by {trace.residuals[worst]:+.2f} mm. Read it again; until then the scatter is part of the "
            "uncertainty."
        )
    if not trace.agrees_with_direct:
        notes.append(
            f"The trace and the pivot-to-spindle distance as measured, {format_quantity(request.distance)}, contradict "
            "each other beyond their uncertainties. Measure the distance again, and check which arc was traced and how "
            "the plate was printed."
        )
    if nulls is not None and not nulls.agree:
        notes.append(
            "The readings of the cantilever contradict each other, or the trace, beyond their uncertainties. Read them "
            "again."
        )
    if request.distance.standard_uncertainty is None:
        notes.append(
            "The uncertainty of the pivot-to-spindle distance is not known, so the distance is not joined with the "
            "trace, and the coordinates rest on the trace alone. State it, such as 222 mm +- 0.3 mm."
        )
    if nulls is None and request.hold_offset_angle is None:
        notes.append(
            "Tracking error and distortion hold for a cantilever set exactly along the groove at the nulls of the "
            "plate. That was not read here, so how well it was done is not in the intervals."
        )
    return tuple(notes)
