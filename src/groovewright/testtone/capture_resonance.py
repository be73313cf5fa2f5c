"""Resonance of the arm in a capture, from slow sweeps of either direction."""

from __future__ import annotations

from groovewright.testtone.arm_resonance import ArmResonance
from groovewright.testtone.arm_sweep import resonance_from_sweep
from groovewright.testtone.capture_bands import resonance_sweeps
from groovewright.testtone.capture_findings import Findings, joined, none_of
from groovewright.testtone.capture_task import CaptureTask

DIRECTIONS = ("lateral", "vertical")


def resonance_findings(task: CaptureTask) -> Findings:
    """Return frequency and Q of the resonance in each direction that the sheet has a slow sweep for."""
    return joined(_of_direction(task, direction) for direction in DIRECTIONS)


def _of_direction(task: CaptureTask, direction: str) -> Findings:
    reasons = []
    for at in resonance_sweeps(task.bands, direction):
        from_hz, to_hz = at.band.frequency_hz
        try:
            found = resonance_from_sweep(
                task.recording,
                start_s=at.start_s,
                duration_s=at.duration_s,
                from_hz=from_hz,
                to_hz=to_hz,
                direction=direction,
                equalised=task.sheet.equalised,
                name=at.band.name,
            )
        except ValueError as refusal:
            reasons.append(str(refusal))
            continue
        return _shown(direction, found)
    return none_of(_names(direction), reasons[0]) if reasons else Findings()


def _names(direction: str) -> tuple[str, str]:
    return f"resonance_{direction}", f"resonance_{direction}_q"


def _shown(direction: str, found: ArmResonance) -> Findings:
    frequency, quality = _names(direction)
    return Findings(quantities={frequency: found.frequency, quality: found.q}, notes=found.notes)
