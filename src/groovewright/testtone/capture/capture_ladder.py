"""Tracking ability in a capture, from its ladder of tones of rising level."""

from __future__ import annotations

import math

import numpy as np

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_bands import ladders, middle_of
from groovewright.testtone.capture.capture_findings import Findings, joined, none_of
from groovewright.testtone.capture.capture_pictures import CapturePictures, LadderCurve
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.tracking.tracking_ability import CHANNEL_NAMES, TrackingAbility, tracking_ability_of

LONGEST_S = 20.0
"""Of a longer step the middle is measured. [s]"""

NAMES = {channel: f"tracking_ability_{channel}" for channel in CHANNEL_NAMES}


def ladder_findings(task: CaptureTask) -> Findings:
    """Return the level at which each channel breaks down on the longest lateral ladder, and what that says."""
    lateral = sorted((steps for steps in ladders(task.bands) if steps[0].band.cut == "lateral"), key=len)
    if not lateral:
        return Findings()
    try:
        found = tracking_ability_of(task.recording, [middle_of(step, LONGEST_S) for step in lateral[-1]])
    except ValueError as refusal:
        return none_of(NAMES.values(), str(refusal))
    return _shown(found)


def channel_velocity(lateral: Quantity) -> Quantity:
    """Return the peak velocity that a lateral one gives each channel, whose walls stand at 45 degrees.

    >>> round(channel_velocity(Quantity.exact(5.0, "cm/s")).value, 4)
    3.5355
    """
    return propagate(lambda lateral: lateral / math.sqrt(2), {"lateral": lateral}, unit=lateral.unit)


def _shown(found: TrackingAbility) -> Findings:
    refused = (none_of([NAMES[channel]], why) for channel, why in found.not_shown.items())
    about = f"what the ladder says: {found.finding}"
    return joined(
        [
            Findings(
                quantities={NAMES[channel]: level for channel, level in found.breakdown.items()},
                notes=(about, *found.notes),
                pictures=CapturePictures(ladders=tuple(_curve(found, channel) for channel in CHANNEL_NAMES)),
            ),
            *refused,
        ]
    )


def _curve(found: TrackingAbility, channel: str) -> LadderCurve:
    held = [rung for rung in found.rungs if channel in rung.residual]
    breaks_at: Quantity | None = found.breakdown.get(channel)
    return LadderCurve(
        channel,
        np.array([rung.peak_velocity_cm_s for rung in held]),
        np.array([rung.residual[channel].value for rung in held]),
        None if breaks_at is None else breaks_at.value,
    )
