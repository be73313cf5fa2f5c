"""Aims and limits of the seven settings where a job has none of its own."""

from __future__ import annotations

from groovewright.bench.estimate.settings import SettingKey
from groovewright.measurement.conformity import Tolerance

DEFAULT_LENGTH_TOLERANCE = Tolerance(-0.5, 0.5, "mm")
"""Of effective length less its target: rule of thumb; every job can set its own."""

CUTTING_ANGLE_DEG = 22.0
"""Vertical angle at which records were cut: rule of thumb; it lies between 15 and 25 degrees."""

STYLUS_RAKE_ANGLE_DEG = 92.0
"""Rule of thumb."""

DEFAULT_TOLERANCES: dict[SettingKey, Tolerance] = {
    "effective_length": DEFAULT_LENGTH_TOLERANCE,
    "zenith": Tolerance(-0.5, 0.5, "deg"),
    "azimuth": Tolerance(-0.5, 0.5, "deg"),
    "stylus_rake_angle": Tolerance(STYLUS_RAKE_ANGLE_DEG - 1, STYLUS_RAKE_ANGLE_DEG + 1, "deg"),
}
"""Rule of thumb; every job can set its own."""

VERTICAL_TRACKING_HALF_WIDTH_DEG = 2.0
"""Rule of thumb. One height of the arm serves this angle and the rake, which is set the closer."""
