"""When a sweep passes each frequency, as it was really played: found along the ridge of its spectrum."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.band_finder import LocatedBand
from groovewright.testtone.recording import Recording

Pace = Literal["octaves", "hertz"]
"""What a sweep covers evenly in time: octaves (logarithmic) or hertz (linear)."""

LOOKS = 64
LOOK_CYCLES = 12
SEARCH = 1.3
"""The ridge is looked for between the expected frequency divided and multiplied by this."""

FARTHEST = 0.05
"""Looks that lie farther than this share beside the fitted course are no part of the ridge."""

LEAST_SHARE = 0.6


@dataclass(frozen=True)
class SweepCourse:
    """Straight course of a sweep's frequency, or of its logarithm, against time.

    Attributes
    ----------
    pace : {"octaves", "hertz"}
        What it covers evenly.
    at_start, slope : float
        Logarithm of the frequency in Hz, or the frequency, at 0 s of the recording, and its change a second.
    start_s, stop_s : float
        Where the band begins and ends. [s]
    """

    pace: Pace
    at_start: float
    slope: float
    start_s: float
    stop_s: float

    def frequency_hz(self, time_s: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Return the frequency at moments of the recording. [Hz]"""
        course = self.at_start + self.slope * np.asarray(time_s, dtype=float)
        return np.asarray(np.exp(course) if self.pace == "octaves" else course)

    def time_s(self, frequency_hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Return the moments at which it passes frequencies. [s]"""
        return np.asarray((_evenly(np.asarray(frequency_hz, dtype=float), self.pace) - self.at_start) / self.slope)


def sweep_course(recording: Recording, located: LocatedBand, pace: Pace) -> SweepCourse:
    """Return the course of a sweep: where the sheet has it to begin with, then where its ridge is found.

    Raises
    ------
    ValueError
        If the band is no sweep, or its frequency doesn't run as the sheet says.
    """
    band = located.band
    if band.kind != "sweep":
        raise ValueError(f"band {band.name!r} is of kind {band.kind}; a response needs a sweep")
    start_s, stop_s = located.start_s, located.start_s + located.duration_s
    begin, end = _evenly(np.array(band.frequency_hz), pace)
    slope = float(end - begin) / located.duration_s
    expected = SweepCourse(pace, float(begin) - slope * start_s, slope, start_s, stop_s)
    looks = np.linspace(start_s, stop_s, LOOKS + 2)[1:-1]
    looks = looks[expected.frequency_hz(looks) * SEARCH < recording.sample_rate_hz / 2]
    ridge_hz = np.array([_ridge_hz(recording, float(at), expected) for at in looks])
    seen = np.isfinite(ridge_hz)
    course, near = expected, seen
    for _ in range(4):
        near = seen & (np.abs(ridge_hz / course.frequency_hz(looks) - 1) < (SEARCH if course is expected else FARTHEST))
        if near.sum() < 3:
            break
        found_slope, at_start = np.polyfit(looks[near], _evenly(ridge_hz[near], pace), 1)
        course = SweepCourse(pace, float(at_start), float(found_slope), start_s, stop_s)
    if near.sum() < LEAST_SHARE * seen.sum() or near.sum() < 3 or course.slope * slope <= 0:
        evenly = "octaves" if pace == "octaves" else "hertz"
        raise ValueError(
            f"band {band.name!r} holds no sweep from {band.frequency_hz[0]:g} to {band.frequency_hz[1]:g} Hz that runs "
            f"evenly in {evenly} a second; check its frequencies, where it starts and how long it lasts on its sheet"
        )
    return course


def _evenly(frequency_hz: NDArray[np.float64], pace: Pace) -> NDArray[np.float64]:
    return np.asarray(np.log(frequency_hz) if pace == "octaves" else frequency_hz)


def _ridge_hz(recording: Recording, at_s: float, expected: SweepCourse) -> float:
    """Return the centre of the strongest part of the spectrum near the expected frequency; NaN past the band."""
    hz = float(expected.frequency_hz(at_s))
    half = round(LOOK_CYCLES / hz * recording.sample_rate_hz / 2)
    middle = round(at_s * recording.sample_rate_hz)
    first, stop = middle - half, middle + half
    if first < 0 or stop > recording.frame_count:
        return float("nan")
    samples = recording.read(first, stop - first) * np.hanning(stop - first)[:, np.newaxis]
    # Zeros behind the samples make the bins fine enough for a centre.
    count = 4 * (stop - first)
    power = (np.abs(np.fft.rfft(samples, count, axis=0)) ** 2).sum(axis=1)
    bins_hz = np.fft.rfftfreq(count, 1 / recording.sample_rate_hz)
    power[(bins_hz < hz / SEARCH) | (bins_hz > hz * SEARCH)] = 0
    if not power.any():
        return float("nan")
    peak_hz = bins_hz[int(np.argmax(power))]
    beside = np.abs(bins_hz - peak_hz) < 2 * hz / LOOK_CYCLES
    return float((bins_hz * power)[beside].sum() / power[beside].sum())
