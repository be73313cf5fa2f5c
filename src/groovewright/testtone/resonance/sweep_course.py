"""When a sweep passes each frequency, as it was really played: found along the ridge of its spectrum."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording, duration_s
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Pace

LOOKS = 64
LOOK_CYCLES = 12
SEARCH = 1.3
"""The ridge is looked for between the expected frequency divided and multiplied by this."""

FARTHEST = 0.05
"""Looks that lie farther than this share beside the fitted course are no part of the ridge."""

LEAST_SHARE, FEWEST_LOOKS = 0.6, 3


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

    @classmethod
    def from_ends(cls, frequency_hz: tuple[float, float], pace: Pace, *, start_s: float, stop_s: float) -> SweepCourse:
        """Return the course of a sweep that runs from the one to the other frequency between these moments."""
        begin, end = _evenly(np.array(frequency_hz), pace)
        slope = float(end - begin) / (stop_s - start_s)
        return cls(pace, float(begin) - slope * start_s, slope, start_s, stop_s)

    def frequency_hz(self, time_s: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Return the frequency at moments of the recording. [Hz]"""
        course = self.at_start + self.slope * np.asarray(time_s, dtype=float)
        return np.asarray(np.exp(course) if self.pace == "octaves" else course)

    def time_s(self, frequency_hz: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Return the moments at which it passes frequencies. [s]"""
        return np.asarray((_evenly(np.asarray(frequency_hz, dtype=float), self.pace) - self.at_start) / self.slope)


def sweep_course(recording: Recording, located: LocatedBand) -> SweepCourse:
    """Return the course of a sweep: where the sheet has it to begin with, then where its ridge is found.

    A sweep that was found by ear of the program may lack its faint ends, so that its duration on the sheet lies over it
    in more than one way; the one whose ridge is seen best is taken.

    Raises
    ------
    ValueError
        If the band is no sweep, or its frequency doesn't run as the sheet says.
    """
    band = located.band
    if band.kind != "sweep":
        raise ValueError(f"band {band.name!r} is of kind {band.kind}; a response needs a sweep")
    best = max((_followed(recording, expected) for expected in _expected(located)), key=lambda found: found.share)
    if best.share < LEAST_SHARE:
        raise ValueError(
            f"band {band.name!r} holds no sweep from {band.frequency_hz[0]:g} to {band.frequency_hz[1]:g} Hz that runs "
            f"evenly in {band.evenly_in} a second; check its frequencies, where it starts and how long it lasts on its "
            f"sheet"
        )
    course = best.course
    if located.how == "from the sheet":
        return course
    first_s, last_s = sorted(course.time_s(np.array(band.frequency_hz)).tolist())
    return replace(course, start_s=max(first_s, 0.0), stop_s=min(last_s, duration_s(recording)))


def _expected(located: LocatedBand) -> list[SweepCourse]:
    """Return the courses that the sheet's duration may have over the stretch."""
    band = located.band
    from_hz, to_hz = band.frequency_hz
    lasts_s = located.duration_s
    if located.how == "found" and band.duration_s is not None:
        lasts_s = max(lasts_s, band.duration_s)
    slack_s = lasts_s - located.duration_s
    # Near enough to one another that the ridge of one that is right lies within the search.
    step_s = lasts_s / 24
    starts_s = located.start_s - np.arange(0.0, slack_s + step_s, step_s)
    return [
        SweepCourse.from_ends((from_hz, to_hz), band.evenly_in, start_s=start_s, stop_s=start_s + lasts_s)
        for start_s in starts_s.tolist()
    ]


@dataclass(frozen=True)
class _Followed:
    """A course drawn along the ridge, and the share of the looks that lie on it; 0 where there is none."""

    course: SweepCourse
    share: float


def _followed(recording: Recording, expected: SweepCourse) -> _Followed:
    looks = np.linspace(expected.start_s, expected.stop_s, LOOKS + 2)[1:-1]
    looks = looks[(looks > 0) & (expected.frequency_hz(looks) * SEARCH < recording.sample_rate_hz / 2)]
    ridge_hz = np.array([_ridge_hz(recording, float(at), expected) for at in looks])
    seen = np.isfinite(ridge_hz)
    course, near = expected, seen
    for _ in range(4):
        near = seen & (np.abs(ridge_hz / course.frequency_hz(looks) - 1) < (SEARCH if course is expected else FARTHEST))
        if near.sum() < FEWEST_LOOKS:
            return _Followed(expected, 0.0)
        slope, at_start = np.polyfit(looks[near], _evenly(ridge_hz[near], expected.pace), 1)
        course = replace(expected, at_start=float(at_start), slope=float(slope))
    runs_back = course.slope * expected.slope <= 0
    return _Followed(course, 0.0 if runs_back else float(near.sum() / looks.size))


def _evenly(frequency_hz: NDArray[np.float64], pace: Pace) -> NDArray[np.float64]:
    return np.asarray(np.log(frequency_hz) if pace == "octaves" else frequency_hz)


def _ridge_hz(recording: Recording, at_s: float, expected: SweepCourse) -> float:
    """Return the centre of the strongest part of the spectrum near the expected frequency; NaN where it has none."""
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
    inside = np.flatnonzero(power)
    peak = int(np.argmax(power))
    # The foot of a line beside the search is highest at its end, and no ridge.
    if inside.size == 0 or peak in (inside[0], inside[-1]):
        return float("nan")
    peak_hz = bins_hz[peak]
    beside = np.abs(bins_hz - peak_hz) < 2 * hz / LOOK_CYCLES
    return float((bins_hz * power)[beside].sum() / power[beside].sum())
