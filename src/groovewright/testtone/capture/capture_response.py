"""Response of both channels in a capture, from its sweeps over the range that is heard."""

from __future__ import annotations

import numpy as np

from groovewright.testtone.capture.capture_bands import response_sweeps
from groovewright.testtone.capture.capture_findings import Findings, joined
from groovewright.testtone.capture.capture_pictures import CapturePictures, LevelCurve
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.resonance.response import ResponseCurve, frequency_response

CHANNELS = ("left", "right")


def response_findings(task: CaptureTask) -> Findings:
    """Return the curves of every sweep."""
    found = []
    for at in response_sweeps(task.bands):
        try:
            curve = frequency_response(task.recording, at, equalised=task.sheet.equalised)
        except ValueError as refusal:
            found.append(Findings(notes=(str(refusal),)))
        else:
            found.append(_shown(curve))
    return joined(found)


def _shown(curve: ResponseCurve) -> Findings:
    reference = f"{curve.reference}, {curve.how}"
    traces = tuple(
        LevelCurve(curve.band.name, trace, curve.frequency_hz, np.where(hidden, np.nan, level), reference)
        for trace, level, hidden in zip(CHANNELS, curve.level_db, curve.is_bound, strict=True)
    )
    return Findings(
        notes=(f"response to {curve.band.name}: 0 dB is the {curve.reference}; {curve.how}",),
        pictures=CapturePictures(responses=traces),
    )
