"""Resonance of the arm in a capture: from slow sweeps, or else from what warps stir up in silence or beside a tone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Literal

import numpy as np

from groovewright.testtone.capture.capture_bands import middle_of, of_kind, resonance_sweeps, speed_bands
from groovewright.testtone.capture.capture_findings import Findings, joined, none_of
from groovewright.testtone.capture.capture_speed import channel_mix
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.resonance.arm_noise import SHORTEST_S, resonance_from_carrier, resonance_from_noise
from groovewright.testtone.resonance.arm_resonance import ArmResonance
from groovewright.testtone.resonance.arm_sweep import SWEEP_METHOD, resonance_from_sweep
from groovewright.testtone.resonance.sweep_course import SweepCourse
from groovewright.testtone.tones.demodulation import demodulate
from groovewright.testtone.tones.equalisation import SubsonicFilter

DIRECTIONS = ("lateral", "vertical")

EDGE_S = 0.1
"""Left off a silent band, a tone or a sweep that was found at either end. [s]"""

LONGEST_S = 120.0
"""Of a longer silence or tone the middle is measured. [s]"""

CARRIER_HALF_WIDTH_HZ = 60.0
TONE_METHOD = "sidebands of a tone"

FROM_A_TONE = (
    "The resonance was read from the speed of a tone, which shows the lateral and the vertical one alike; it is taken "
    "for the lateral. A slow sweep of either direction tells them apart."
)

Way = Callable[[], ArmResonance]


def resonance_findings(task: CaptureTask) -> tuple[Findings, SubsonicFilter | Literal["not known"] | None]:
    """Return frequency and Q of the resonance in each direction, and the subsonic filter of the playback chain.

    Each by the best way that the sheet has a band for. Only a sweep tells of a filter.
    """
    parts, filters = [], []
    for direction in DIRECTIONS:
        part, found = _of_direction(task, direction)
        parts.append(part)
        if found is not None and found.method.endswith(SWEEP_METHOD):
            filters.append(found.subsonic)
    if not filters:
        return joined(parts), "not known"
    return joined(parts), next((one for one in filters if one is not None), None)


def _of_direction(task: CaptureTask, direction: str) -> tuple[Findings, ArmResonance | None]:
    reasons = []
    for way in _ways(task, direction):
        try:
            found = way()
        except ValueError as refusal:
            reasons.append(str(refusal))
        else:
            return _shown(direction, found), found
    return none_of(_names(direction), reasons[0]) if reasons else Findings(), None


def _ways(task: CaptureTask, direction: str) -> Iterator[Way]:
    """Yield the ways to a resonance, the surest first."""
    sweeps = resonance_sweeps(task.bands, direction)
    for sweep in sweeps:
        yield partial(_from_sweep, task, sweep, direction)
    if sweeps:
        # Noise would show something where the sweep that was cut for it could not; it is not compared with it.
        return
    silences = _long_enough(of_kind(task.bands, "silence"))
    for silence in silences:
        yield partial(_from_silence, task, silence, direction)
    if direction == "lateral" and not silences:
        for tone in _long_enough(speed_bands(task.bands)):
            yield partial(_from_tone, task, tone)


def _long_enough(longest_first: Sequence[LocatedBand]) -> list[LocatedBand]:
    """Return the middle of the first band, or none where it is too short for noise to tell a resonance."""
    return [middle_of(at, LONGEST_S) for at in longest_first[:1] if at.duration_s >= SHORTEST_S + 2 * EDGE_S]


def _from_sweep(task: CaptureTask, at: LocatedBand, direction: str) -> ArmResonance:
    from_hz, to_hz = at.band.frequency_hz
    if task.clipping.meets(at.start_s, at.start_s + at.duration_s):
        raise ValueError(
            f"{at.band.name} is clipped, which flattens the peak of a resonance; record it again at a lower level"
        )
    first_s, last_s = _inside(at)
    course = SweepCourse.from_ends(
        (from_hz, to_hz), at.band.evenly_in, start_s=at.start_s, stop_s=at.start_s + at.duration_s
    )
    first_hz, last_hz = course.frequency_hz(np.array([first_s, last_s])).tolist()
    return resonance_from_sweep(
        task.recording,
        start_s=first_s,
        duration_s=last_s - first_s,
        from_hz=first_hz,
        to_hz=last_hz,
        direction=direction,
        equalised=task.sheet.equalised,
        evenly_in=at.band.evenly_in,
        cut_with_equalisation=at.band.cut_with_equalisation,
        name=at.band.name,
        allowances=task.sheet.allowances,
        record_name=task.record_name,
        turn_hz=task.sheet.speed_rpm / 60,
    )


def _inside(at: LocatedBand) -> tuple[float, float]:
    """Return where a sweep surely plays: one that was found may have taken some of the pauses beside it in. [s]"""
    stop_s = at.start_s + at.duration_s
    if at.how == "from the sheet":
        return at.start_s, stop_s
    excess_s = max(0.0, at.duration_s - (at.band.duration_s or at.duration_s))
    left_off_s = min(excess_s + EDGE_S, at.duration_s / 8)
    return at.start_s + left_off_s, stop_s - left_off_s


def _from_silence(task: CaptureTask, at: LocatedBand, direction: str) -> ArmResonance:
    return resonance_from_noise(
        task.recording,
        start_s=at.start_s + EDGE_S,
        duration_s=at.duration_s - 2 * EDGE_S,
        direction=direction,
        equalised=task.sheet.equalised,
        name=at.band.name,
    )


def _from_tone(task: CaptureTask, at: LocatedBand) -> ArmResonance:
    baseband = demodulate(
        task.recording,
        start_s=at.start_s + EDGE_S,
        duration_s=at.duration_s - 2 * EDGE_S,
        mix=channel_mix(task, at),
        carrier_hz=at.band.frequency_hz[0],
        half_width_hz=CARRIER_HALF_WIDTH_HZ,
    )
    return resonance_from_carrier(baseband, direction="lateral", name=at.band.name)


def _names(direction: str) -> tuple[str, str]:
    return f"resonance_{direction}", f"resonance_{direction}_q"


def _shown(direction: str, found: ArmResonance) -> Findings:
    frequency, quality = _names(direction)
    about = f"the {direction} resonance is from the {found.method}"
    doubt = (FROM_A_TONE,) if found.method == TONE_METHOD else ()
    return Findings(quantities={frequency: found.frequency, quality: found.q}, notes=(about, *doubt, *found.notes))
