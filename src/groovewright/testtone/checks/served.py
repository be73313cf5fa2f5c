"""Which quantities rest on which band of a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from groovewright.testtone.capture.capture_bands import (
    channel_pairs,
    ladders,
    off_the_ladders,
    resonance_sweeps,
    speed_bands,
)
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES
from groovewright.testtone.finding.band_finder import LocatedBand

EVERYTHING = tuple(known.name for known in CAPTURE_NAMES)
FLUTTER = tuple(name for name in EVERYTHING if name.startswith("wow_flutter"))
SPEED = ("speed_error", "eccentricity", *FLUTTER)
CHANNELS = tuple(name for name in EVERYTHING if name.startswith(("crosstalk", "azimuth", "channel_balance")))
TRACKING = ("tracking_error", "effective_length_error", "zenith_error")
VERTICAL = ("vertical_tracking_angle_error",)
RESONANCE = tuple(name for name in EVERYTHING if name.startswith("resonance"))
NOISE = (
    "rumble_band_level",
    "rumble_band_level_vertical",
    "rumble_band_level_without_hum",
    "turn_synchronous_noise",
    "weighted_noise_level",
    "hum",
)
DISTORTION = ("total_harmonic_distortion",)
LADDER = ("tracking_ability_left", "tracking_ability_right")
TWO_TONES = ("intermodulation", "intermodulation_of_amplitude")

LEVEL_FREE = SPEED
"""What the phase of a tone tells, whatever its level."""


def served_by(at: LocatedBand, bands: Sequence[LocatedBand]) -> tuple[str, ...]:
    """Return the names of the quantities that a band serves, among all bands of its sheet."""
    name = at.band.name
    served: list[str] = []
    groups = (
        (speed_bands(bands), SPEED),
        (tuple(one for pair in channel_pairs(bands) for one in (pair.left, pair.right)), CHANNELS),
        (off_the_ladders(bands, "lateral"), (*TRACKING, *DISTORTION)),
        (off_the_ladders(bands, "vertical"), VERTICAL),
        (tuple(step for steps in ladders(bands) for step in steps if step.band.cut == "lateral"), LADDER),
        (resonance_sweeps(bands, "lateral"), ("resonance_lateral", "resonance_lateral_q")),
        (resonance_sweeps(bands, "vertical"), ("resonance_vertical", "resonance_vertical_q")),
    )
    for members, names in groups:
        if any(member.band.name == name for member in members):
            served += names
    if at.band.kind == "silence":
        served += NOISE
    if at.band.kind == "two-tone":
        served += TWO_TONES
    return tuple(served)
