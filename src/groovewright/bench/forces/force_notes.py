"""What to say about a tracking force: faults to report, and the practice that matters for it.

The practice is common in the trade and has no source; each note is given only where it matters.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from groovewright.bench.forces.force_session import ASSUMED_HEIGHT_HALF_WIDTH_MM
from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE
from groovewright.measurement.units import GRAM_FORCE_MN

if TYPE_CHECKING:
    from groovewright.bench.forces.force_result import ForceResult
    from groovewright.bench.forces.force_session import ForceSession
    from groovewright.gauges.scale_calibration import ScaleCalibration
    from groovewright.measurement.quantity import Quantity


def force_faults(
    result: ForceResult, calibration: ScaleCalibration | None, *, readings_scatter_more: bool
) -> tuple[str, ...]:
    """Return the faults that the readings show, to be reported and not adjusted away."""
    faults = []
    difference = result.outer_inner_difference
    if difference is not None and result.difference_shown:
        faults.append(_difference_fault(difference))
    if readings_scatter_more:
        faults.append(
            "The readings with the stylus scatter more than the scale does with weights. Look for friction in the "
            "arm's bearings, a draught, or a stylus that is not set down on one spot."
        )
    if result.scale_drift is not None and result.scale_drift.shown:
        faults.append(result.scale_drift.sentence)
    return (*faults, *(() if calibration is None else calibration.faults))


def force_notes(result: ForceResult, session: ForceSession, calibration: ScaleCalibration | None) -> tuple[str, ...]:
    """Return the notes for the bench, the most important first."""
    return (
        *_range_notes(result),
        *_mistracking_notes(result, session),
        *_place_notes(result, session),
        *_check_notes(result, session, calibration),
    )


def _range_notes(result: ForceResult) -> list[str]:
    notes = []
    verdict = result.verdict
    if verdict is None:
        notes.append("The maker's range of tracking force is not given, so there is no verdict.")
    elif verdict.outcome != IN_TOLERANCE:
        notes.append(f"Never leave the maker's range of {verdict.tolerance.describe()}, in either direction.")
    distance = result.distance_from_aim
    if result.aim is None or distance is None:
        return notes
    if exceeds_uncertainty(distance):
        side = "above" if distance.value > 0 else "below"
        notes.append(
            f"Aim for {result.aim.value / GRAM_FORCE_MN:.2f} g, the middle of the maker's range: the force is "
            f"{_grams(distance)} {side} it."
        )
    return notes


def _mistracking_notes(result: ForceResult, session: ForceSession) -> list[str]:
    verdict = result.verdict
    too_high = (
        verdict is not None
        and verdict.outcome == OUT_OF_TOLERANCE
        and verdict.tolerance.upper is not None
        and verdict.measured.value > verdict.tolerance.upper
    )
    if not (session.mistracking_reported or too_high):
        return []
    return [
        "More tracking force is no cure for mistracking, which is nearly always a fault of the side force: set the "
        "force by the maker's range and look at the side-force compensation."
    ]


def _place_notes(result: ForceResult, session: ForceSession) -> list[str]:
    notes = []
    if any(reading.surface == "record" for reading in session.readings):
        notes.append("Read on the platter, not on a record: a record is not flat, and the scale can mark it.")
    if session.heights_without_uncertainty():
        notes.append(
            f"A height was given without its ±, so it is taken as right to within {ASSUMED_HEIGHT_HALF_WIDTH_MM:g} mm "
            f"either way (an assumption). State its ±, or read at record height and leave it empty."
        )
    if result.outer_inner_difference is None:
        notes.append("Read at the outer and the inner platter: a difference between them would be a fault of the arm.")
    return notes


def _check_notes(result: ForceResult, session: ForceSession, calibration: ScaleCalibration | None) -> list[str]:
    if calibration is None:
        return [
            "Check the scale with known weights, one of 2 g, before it is used; without that the force has no known "
            "uncertainty and nothing can be shown."
        ]
    notes = list(calibration.notes)
    if session.check_before is None:
        notes.append(f"{calibration.scale} was checked after the readings only; a drift before that would not be seen.")
    if session.check_after is None:
        notes.append(f"Check {calibration.scale} again after the readings: only then would a drift be seen.")
    if result.scale_drift is not None and not result.scale_drift.shown:
        notes.append(result.scale_drift.sentence)
    return notes


def _difference_fault(difference: Quantity) -> str:
    side = "larger" if difference.value > 0 else "smaller"
    return (
        f"The tracking force is {_grams(difference)} {side} at the outer platter than at the inner, more than the "
        f"readings' uncertainty. That is a fault of the arm (a cable that pulls, a bearing, a base out of level): "
        f"report it, do not adjust it away."
    )


def _grams(force: Quantity) -> str:
    return f"{abs(force.value) / GRAM_FORCE_MN:.3f} g"
