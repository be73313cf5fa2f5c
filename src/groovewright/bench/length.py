"""Effective length of one stage of a job, from readings to a verdict and to what the error costs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from groovewright.bench.estimate.joined_readings import JoinedReadings, join_readings
from groovewright.bench.targets.targets import DISTANCE, Targets
from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.measurement.conformity import IN_TOLERANCE, DecisionRule, Tolerance, Verdict, decide
from groovewright.measurement.propagation import propagate, propagate_all
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry

# Common practice in the trade, without a source; every job can set its own.
DEFAULT_LENGTH_TOLERANCE = Tolerance(-0.5, 0.5, "mm")

TARGET = "target length"

# Null radii nearer together than this have no slope to carry an uncertainty with.
_MERGING_NULLS_MM = 0.05


@dataclass(frozen=True, slots=True)
class LengthReading:
    """One reading of the effective length, direct or as overhang. [mm]"""

    kind: Literal["effective_length", "overhang"]
    quantity: Quantity


@dataclass(frozen=True)
class LengthResult:
    """The effective length at one stage and what it means; `bench.consequence` says what it costs.

    Attributes
    ----------
    effective_length, overhang : Quantity
        Joined from all readings. [mm]
    effective_length_error : Quantity
        Effective length minus its target for this pivot-to-spindle distance. [mm]
    verdict : Verdict
        On the error against the tolerance.
    null_radii : tuple of Quantity
        Where the tracking error is zero with this length, the offset angle being on target. [mm]
    notes : tuple of str
        What to mind, disagreement of readings first.
    """

    effective_length: Quantity
    overhang: Quantity
    effective_length_error: Quantity
    verdict: Verdict
    null_radii: tuple[Quantity, ...]
    notes: tuple[str, ...]


def length_result(
    targets: Targets, readings: Sequence[LengthReading], tolerance: Tolerance, rule: DecisionRule
) -> LengthResult:
    """Return the effective length against its target, with the verdict.

    Target and reading share the error of the pivot-to-spindle distance. A reading of the overhang hardly suffers from
    it, because a longer distance asks for nearly as much more length.

    Parameters
    ----------
    targets : Targets
        Of an arm with a pivot.
    readings : sequence of LengthReading
        At least one; several are joined by what they do not share.
    tolerance : Tolerance
        On effective length minus target. [mm]
    rule : DecisionRule

    Raises
    ------
    ValueError
        If there is no reading, the arm has no effective length, or the stylus cannot play the groove range with it.
    """
    if targets.effective_length is None or targets.offset_angle is None:
        raise ValueError("a tangential arm has no effective length; there is nothing to compare this reading with")
    target, mounting = targets.effective_length, targets.request.distance
    errors = [_error(reading, target, mounting) for reading in readings]
    joined = join_readings(errors, name="effective length less its target")
    error = joined.quantity
    length = propagate(
        lambda **at: at[TARGET] + at["effective length error"],
        {TARGET: target, "effective length error": error},
        unit="mm",
        how=error.how,
    )
    overhang = propagate(
        lambda **at: at["effective length"] - at[DISTANCE],
        {"effective length": length, DISTANCE: mounting},
        unit="mm",
        how=error.how,
    )
    state = {DISTANCE: mounting, "effective length": length, "offset angle": targets.offset_angle}
    # Refuses a length with which the stylus does not reach all grooves.
    _geometry({name: quantity.value for name, quantity in state.items()}).tracking_error_deg(
        np.array([targets.request.innermost_mm, targets.request.outermost_mm])
    )
    verdict = decide(error, tolerance, rule)
    return LengthResult(
        effective_length=length,
        overhang=overhang,
        effective_length_error=error,
        verdict=verdict,
        null_radii=_null_radii(state),
        notes=_notes(joined, verdict, targets.offset_angle),
    )


def _error(reading: LengthReading, target: Quantity, mounting: Quantity) -> Quantity:
    if reading.quantity.unit != "mm":
        raise ValueError(f"a length reading must be in mm, not in {reading.quantity.unit}")
    if reading.kind == "overhang":
        return propagate(
            lambda **at: at[DISTANCE] + at["overhang reading"] - at[TARGET],
            {"overhang reading": reading.quantity, DISTANCE: mounting, TARGET: target},
            unit="mm",
            how="read as overhang",
        )
    return propagate(
        lambda **at: at["length reading"] - at[TARGET],
        {"length reading": reading.quantity, TARGET: target},
        unit="mm",
        how="read as effective length",
    )


def _geometry(at: Mapping[str, float]) -> Geometry:
    return Geometry(at[DISTANCE], at["effective length"], at["offset angle"])


def _null_radii(state: dict[str, Quantity]) -> tuple[Quantity, ...]:
    nulls = _geometry({name: quantity.value for name, quantity in state.items()}).null_radii_mm
    apart = nulls[1] - nulls[0] if len(nulls) == 2 else math.inf
    if apart < _MERGING_NULLS_MM:
        why = "the two null radii are about to merge"
        return tuple(Quantity.unknown_uncertainty(radius, "mm", why=why) for radius in nulls)
    radii = propagate_all(
        lambda **at: {str(k): radius for k, radius in enumerate(_geometry(at).null_radii_mm)},
        state,
        units={str(k): "mm" for k in range(len(nulls))},
        how="effective length as read, offset angle on target",
    )
    return tuple(radii.values())


def _notes(joined: JoinedReadings, verdict: Verdict, offset_angle: Quantity) -> tuple[str, ...]:
    notes = [joined.note] if joined.note else []
    error = joined.quantity
    if verdict.outcome != IN_TOLERANCE and exceeds_uncertainty(error):
        # Along the cartridge's own axis, to first order.
        slide_mm = abs(error.value) / math.cos(math.radians(offset_angle.value))
        notes.append(
            f"Slide the cartridge {slide_mm:.2f} mm {'back' if error.value > 0 else 'forward'} along its own axis to "
            f"bring the effective length to its target; the tracking force changes with it, so read that again."
        )
    notes.append(
        "Null radii, tracking error and distortion hold for an offset angle on target, which is not read here."
    )
    return tuple(notes)
