"""Which one further reading would help a setting most, by the covariance it would leave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.bench.estimate.observations import KINDS_OF_READING, ObservationKind, predict
from groovewright.bench.estimate.setting_state import FurtherReading
from groovewright.bench.estimate.settings import SETTINGS, SettingKey, SettingTargets
from groovewright.measurement.formatting import format_uncertainty
from groovewright.tonearm.arm_state import ArmState

TYPICAL_UNCERTAINTY: dict[ObservationKind, float] = {
    "effective_length": 0.5,
    "overhang": 0.2,
    "pivot_to_spindle": 0.3,
    "effective_length_error": 0.15,
    "offset_angle": 0.5,
    "zenith_error": 0.25,
    "null_angle": 0.25,
    "tracking_force": 0.1,
    "compensation_force": 0.15,
    "side_force_rest": 0.2,
    "friction_coefficient": 0.03,
    "azimuth_rotation": 0.1,
    "stylus_rake_angle": 0.3,
    "vertical_tracking_angle": 0.5,
    "vertical_tracking_angle_error": 0.5,
}
"""Standard uncertainty of a careful reading, in the unit of its kind: common practice, no source."""

WORTH_WHILE = 0.05
"""A reading that takes less than this share off the uncertainty is not worth the work: our choice."""


@dataclass(frozen=True)
class _Candidate:
    kind: ObservationKind
    radius_mm: float | None
    slopes: NDArray[np.float64]


def further_readings(
    state: ArmState, covariance: NDArray[np.float64], slopes: NDArray[np.float64], targets: SettingTargets
) -> tuple[FurtherReading | None, ...]:
    """Return for each setting the further reading that would leave the smallest uncertainty.

    The reading is taken to be by a gauge that has no error in common with those before.

    Parameters
    ----------
    state : ArmState
        As it stands.
    covariance : ndarray, shape (9, 9)
        Of the state.
    slopes : ndarray, shape (7, 9)
        Of the settings against the state.
    targets : SettingTargets

    Returns
    -------
    tuple of FurtherReading or None, length 7
        None where none is worth while.
    """
    candidates = _candidates(state, targets)
    readings = np.array([candidate.slopes for candidate in candidates])
    own = np.array([TYPICAL_UNCERTAINTY[candidate.kind] for candidate in candidates]) ** 2
    spread = np.einsum("ci,ij,cj->c", readings, covariance, readings) + own
    before = np.einsum("si,ij,sj->s", slopes, covariance, slopes)
    taken = (slopes @ covariance @ readings.T) ** 2 / spread
    return tuple(_best(candidates, float(variance), gains) for variance, gains in zip(before, taken, strict=True))


def further_sentence(key: SettingKey, before: float, reading: FurtherReading) -> str:
    """Return what a further reading would do for a setting whose standard uncertainty is `before`."""
    unit = SETTINGS[key].unit
    where = "" if reading.radius_mm is None else f" at {reading.radius_mm:.1f} mm"
    return (
        f"A reading of the {KINDS_OF_READING[reading.kind].title}{where} by an independent gauge, "
        f"± {_amount(reading.typical_uncertainty, reading.unit)} as is typical, would bring the uncertainty here from "
        f"{_amount(before, unit)} to {_amount(reading.leaves, unit)}."
    )


def _candidates(state: ArmState, targets: SettingTargets) -> tuple[_Candidate, ...]:
    found = []
    for kind in TYPICAL_UNCERTAINTY:
        if kind == "vertical_tracking_angle_error" and "vertical_tracking_angle" not in targets.aims:
            continue
        for radius_mm in _radii(targets) if kind == "null_angle" else (None,):
            slopes = predict(kind, state, targets, radius_mm=radius_mm).slopes
            found.append(_Candidate(kind, radius_mm, slopes))
    return tuple(found)


def _radii(targets: SettingTargets) -> tuple[float, ...]:
    """Return where angles are usually checked: at the null radii within the groove range, else in its middle."""
    inside = [r for r in targets.geometry.null_radii_mm if targets.innermost_mm <= r <= targets.outermost_mm]
    return tuple(inside) or (targets.middle_mm,)


def _best(candidates: Sequence[_Candidate], before: float, taken: NDArray[np.float64]) -> FurtherReading | None:
    best = int(np.argmax(taken))
    leaves = math.sqrt(max(before - float(taken[best]), 0.0))
    if not leaves < (1 - WORTH_WHILE) * math.sqrt(before):
        return None
    kind, radius_mm = candidates[best].kind, candidates[best].radius_mm
    return FurtherReading(kind, TYPICAL_UNCERTAINTY[kind], KINDS_OF_READING[kind].unit, radius_mm, leaves)


def _amount(uncertainty: float, unit: str) -> str:
    if unit == "mN":
        return f"{format_uncertainty(uncertainty, unit, shown_unit='g')} ({format_uncertainty(uncertainty, unit)})"
    return format_uncertainty(uncertainty, unit)
