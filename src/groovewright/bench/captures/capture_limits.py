"""Aims and limits of what a capture shows: the one table that page, command, JSON and report take them from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from groovewright.bench.estimate.limits import DEFAULT_TOLERANCES, VERTICAL_TRACKING_HALF_WIDTH_DEG
from groovewright.bench.estimate.settings import SettingKey
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.formatting import format_chosen
from groovewright.measurement.units import printed_unit
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES
from groovewright.tonearm.resonance import AIM_HZ

RULE_OF_THUMB = "rule of thumb"
SET_FOR_THE_JOB = "set for this job"
SET_BY_THE_WORKSHOP = "set by the workshop"

UNITS: Mapping[str, str] = MappingProxyType({known.name: known.unit for known in CAPTURE_NAMES})


@dataclass(frozen=True)
class CaptureLimit:
    """What one quantity of a capture should be.

    Attributes
    ----------
    aim : float or None
        What to aim for, in the unit of the tolerance.
    tolerance : Tolerance
        Its limits.
    source : str
        Where they come from: a publication, `RULE_OF_THUMB`, the job or the workshop.
    """

    aim: float | None
    tolerance: Tolerance
    source: str = RULE_OF_THUMB

    def describe_aim(self) -> str:
        """Return the aim with its unit; empty where there is none."""
        if self.aim is None:
            return ""
        return f"{format_chosen(self.aim, self.tolerance.unit)} {printed_unit(self.tolerance.unit)}"

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON types; a limit that there is not is null."""
        tolerance = self.tolerance
        return {
            "aim": self.aim,
            "tolerance": {"lower": tolerance.lower, "upper": tolerance.upper, "unit": tolerance.unit},
            "source": self.source,
        }


SETTING_OF: Mapping[str, SettingKey] = MappingProxyType(
    {
        "effective_length_error": "effective_length",
        "zenith_error": "zenith",
        "azimuth_rotation": "azimuth",
        "vertical_tracking_angle_error": "vertical_tracking_angle",
    }
)
"""Quantities that a setting of the bench is; their limits are the setting's, so they are set with the job."""


def _at_most(upper: float, unit: str, *, aim: float, source: str = RULE_OF_THUMB) -> CaptureLimit:
    return CaptureLimit(aim, Tolerance(None, upper, unit), source)


def _either_way(half: float, unit: str, *, source: str = RULE_OF_THUMB) -> CaptureLimit:
    return CaptureLimit(0.0, Tolerance(-half, half, unit), source)


USUAL_LIMITS: Mapping[str, CaptureLimit] = MappingProxyType(
    {
        # What record speeds are kept to by NAB; a restatement of it was read, not the document.
        "speed_error": _either_way(0.3, "%", source="NAB, as restated; the document was not read"),
        # Rules of thumb. Of the unweighted figure AES6 itself says that it has no limits.
        "wow_flutter_weighted_2sigma_without_eccentricity": _at_most(0.2, "%", aim=0.1),
        "wow_flutter_weighted_quasi_peak_without_eccentricity": _at_most(0.2, "%", aim=0.1),
        # Hole to groove. A comparison of these standards was read, not each of them.
        "eccentricity": _at_most(0.2, "mm", aim=0.0, source="IEC 98, 1958 to 1987, as restated: of the record"),
        # Rules of thumb.
        "crosstalk_left_into_right": _at_most(-20.0, "dB", aim=-30.0),
        "crosstalk_right_into_left": _at_most(-20.0, "dB", aim=-30.0),
        "crosstalk_at_best_azimuth": _at_most(-20.0, "dB", aim=-30.0),
        "channel_balance": _either_way(2.0, "dB"),
        "resonance_lateral": CaptureLimit(10.0, AIM_HZ),
        "resonance_vertical": CaptureLimit(10.0, AIM_HZ),
        # Rules of thumb. NAB's -35 dB is told through a filter of its own.
        "rumble_band_level": _at_most(-35.0, "dB", aim=-45.0),
        "hum": _at_most(-50.0, "dB", aim=-60.0),
        # Rules of thumb: 60 and 75 um of lateral amplitude at 315 Hz.
        "tracking_ability_left": CaptureLimit(15.0, Tolerance(12.0, None, "cm/s")),
        "tracking_ability_right": CaptureLimit(15.0, Tolerance(12.0, None, "cm/s")),
    }
)
"""Where neither the job nor the workshop has limits of its own.

Nothing else has any: distortion grows with the level and towards the centre of a perfect set-up too, a tracking error
is one of effective length and zenith, and Q, leak and noise that repeats explain other figures.
"""


def capture_limits(
    *,
    workshop: Mapping[str, CaptureLimit] | None = None,
    job: Mapping[SettingKey, CaptureLimit] | None = None,
) -> dict[str, CaptureLimit]:
    """Return the limits that hold for a capture, by name of quantity.

    Parameters
    ----------
    workshop : mapping of str to CaptureLimit, optional
        Those of the workshop, instead of the usual ones.
    job : mapping of setting to CaptureLimit, optional
        Those of a job's settings, as errors about their aim; those of the bench where they are left out.
    """
    settings: dict[SettingKey, CaptureLimit] = {
        key: CaptureLimit(0.0, DEFAULT_TOLERANCES[key]) for key in SETTING_OF.values() if key in DEFAULT_TOLERANCES
    }
    settings["vertical_tracking_angle"] = _either_way(VERTICAL_TRACKING_HALF_WIDTH_DEG, "deg")
    settings |= job or {}
    limits = {**USUAL_LIMITS, **{name: settings[key] for name, key in SETTING_OF.items()}, **(workshop or {})}
    return {name: limits[name] for name in UNITS if name in limits}
