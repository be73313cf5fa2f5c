"""Level against frequency from a sweep, in every channel, as velocity relative to what was cut."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.resonance.sweep_course import SweepCourse, sweep_course
from groovewright.testtone.sheet.band_sheet import Band
from groovewright.testtone.tones.equalisation import REFERENCE_HZ, equalisation_response, recording_response

POINTS_PER_OCTAVE = 6
"""Points of the curve, and the width over which each is averaged unless few cycles make it wider."""

FEWEST_CYCLES = 12
"""Cycles that a point is measured over at least, so that its line stands apart from the noise beside it."""

HIGHEST_SHARE = 0.46
"""Of the sample rate; above it the recorder's own filter falls."""

WIDEST_OCTAVES = 0.75
"""A point that would have to be averaged over more than this is left out."""

HANN_WIDTH = 18 / 35
"""Equivalent width of the power weight of a Hann window: the mean square of its square over the mean of its fourth."""

LOBE_BINS = 2.5
NOISE_BELOW, NOISE_ABOVE = 0.55, 1.75
"""Noise is taken from between these multiples of the frequency, below the second harmonic, the line left out."""

SHOWN_SIGMAS = 4.0
DB_PER_NEPER = 20 / math.log(10)


@dataclass(frozen=True, eq=False)
class ResponseCurve:
    """Response of every channel to a sweep.

    Attributes
    ----------
    band : Band
        The sweep.
    frequency_hz : ndarray, shape (points,)
        As played. [Hz]
    level_db : ndarray, shape (channels, points)
        Relative to the reference. Where `is_bound`, the level it hardly exceeds. [dB]
    standard_uncertainty_db : ndarray, shape (channels, points)
        From the noise of the recording, that of the reference included; NaN where `is_bound`. [dB]
    is_bound : ndarray of bool, shape (channels, points)
        Where the noise hides the channel.
    smoothing_octaves : ndarray, shape (points,)
        Width over which each point is averaged.
    reference : str
        What 0 dB is, with its frequency.
    how : str
        What was done about the equalisation.
    """

    band: Band
    frequency_hz: NDArray[np.float64]
    level_db: NDArray[np.float64]
    standard_uncertainty_db: NDArray[np.float64]
    is_bound: NDArray[np.bool_]
    smoothing_octaves: NDArray[np.float64]
    reference: str
    how: str


@dataclass(frozen=True, eq=False)
class _Point:
    """Power of the line at one frequency in every channel, its standard uncertainty, and the width in octaves."""

    power: NDArray[np.float64]
    uncertainty: NDArray[np.float64]
    octaves: float


def frequency_response(
    recording: Recording,
    located: LocatedBand,
    *,
    equalised: bool,
) -> ResponseCurve:
    """Return the response to a sweep: the velocity that is read over the velocity that was cut, 0 dB at 1 kHz.

    Parameters
    ----------
    recording : Recording
        Read a stretch at a time.
    located : LocatedBand
        A band of kind "sweep" and where it stands. Where it was cut with the recording equalisation, the rise of that
        is undone too.
    equalised : bool
        True where the recording went through a playback equalisation, which is then undone.

    Returns
    -------
    ResponseCurve
        0 dB is the louder channel at 1 kHz, so that balance and crosstalk are seen.

    Raises
    ------
    ValueError
        If the band is no such sweep, or no point of it stands out of the noise.

    Notes
    -----
    Each point is the power of the line over the stretch in which the sweep passes it, within a Hann window; noise is
    measured on both sides of the line and its power taken off. Harmonics of the sweep lie outside and don't enter.
    """
    cut_with_equalisation = located.band.cut_with_equalisation
    course = sweep_course(recording, located)
    frequencies = _frequencies(course, recording.sample_rate_hz)
    measured = [
        (hz, _point(recording, course, hz, equalised=equalised, cut_with_equalisation=cut_with_equalisation))
        for hz in frequencies
    ]
    kept = [(hz, point) for hz, point in measured if point is not None]
    if not kept:
        raise ValueError(
            f"band {located.band.name!r} passes every frequency too fast to measure it; use a slower sweep"
        )
    frequency_hz = np.array([hz for hz, _ in kept])
    power = np.stack([point.power for _, point in kept], axis=1)
    uncertainty = np.stack([point.uncertainty for _, point in kept], axis=1)
    is_bound = power <= SHOWN_SIGMAS * uncertainty
    at = int(np.argmin(np.abs(np.log(frequency_hz / REFERENCE_HZ))))
    channel = int(np.argmax(power[:, at]))
    if is_bound[channel, at]:
        raise ValueError(
            f"band {located.band.name!r} doesn't stand out of the noise at {frequency_hz[at]:.0f} Hz, where its level "
            "is to be 0 dB; check where it starts on its sheet"
        )
    shown = np.where(is_bound, np.maximum(power, 0) + 2 * uncertainty, power)
    relative = uncertainty / np.where(is_bound, np.nan, power)
    # Half, because a level is that of an amplitude; the reference itself is 0 dB whatever its noise was.
    reference = np.full_like(relative, relative[channel, at])
    reference[channel, at], relative[channel, at] = 0.0, 0.0
    return ResponseCurve(
        band=located.band,
        frequency_hz=frequency_hz,
        level_db=10 * np.log10(shown / power[channel, at]),
        standard_uncertainty_db=DB_PER_NEPER / 2 * np.hypot(relative, reference),
        is_bound=is_bound,
        smoothing_octaves=np.array([point.octaves for _, point in kept]),
        reference=f"{_channel_name(channel, recording.channel_count)} at {frequency_hz[at]:.0f} Hz",
        how=_how(equalised=equalised, cut_with_equalisation=cut_with_equalisation),
    )


def _frequencies(course: SweepCourse, sample_rate_hz: float) -> list[float]:
    """Return frequencies on a grid through 1 kHz that lie within the sweep and the recording."""
    lowest, highest = sorted(course.frequency_hz(np.array([course.start_s, course.stop_s])).tolist())
    highest = min(highest, HIGHEST_SHARE * sample_rate_hz)
    first = math.ceil(POINTS_PER_OCTAVE * math.log2(max(lowest, 1.0) / REFERENCE_HZ))
    last = math.floor(POINTS_PER_OCTAVE * math.log2(highest / REFERENCE_HZ))
    return [float(REFERENCE_HZ * 2 ** (k / POINTS_PER_OCTAVE)) for k in range(first, last + 1)]


def _point(
    recording: Recording, course: SweepCourse, hz: float, *, equalised: bool, cut_with_equalisation: bool
) -> _Point | None:
    """Return the power around one frequency; None where the sweep is too near its end or too fast."""
    rate_hz = recording.sample_rate_hz
    half_step = 2 ** (0.5 / POINTS_PER_OCTAVE)
    passing_s = abs(float(course.time_s(hz * half_step) - course.time_s(hz / half_step))) / HANN_WIDTH
    half_s = max(passing_s, FEWEST_CYCLES / hz) / 2
    middle_s = float(course.time_s(hz))
    if middle_s - half_s < course.start_s or middle_s + half_s > course.stop_s:
        return None
    ends_hz = np.sort(course.frequency_hz(np.array([middle_s - half_s, middle_s + half_s])))
    if ends_hz[0] <= 0:
        return None
    octaves = HANN_WIDTH * math.log2(ends_hz[1] / ends_hz[0])
    if octaves > WIDEST_OCTAVES:
        return None
    first, count = round((middle_s - half_s) * rate_hz), round(2 * half_s * rate_hz)
    if first < 0 or first + count > recording.frame_count:
        return None
    window = np.hanning(count)
    spectrum = np.fft.rfft(recording.read(first, count) * window[:, np.newaxis], axis=0)
    bins_hz = np.fft.rfftfreq(count, 1 / rate_hz)
    lobe_hz = LOBE_BINS * rate_hz / count
    line = (bins_hz >= max(ends_hz[0] - lobe_hz, 0.5 * lobe_hz)) & (bins_hz <= ends_hz[1] + lobe_hz)
    beside = ~line & (bins_hz > NOISE_BELOW * hz) & (bins_hz < NOISE_ABOVE * hz)
    if np.count_nonzero(beside) < 4:
        return None
    gain = _gain(bins_hz[line], equalised=equalised, cut_with_equalisation=cut_with_equalisation)[:, np.newaxis]
    # Median of an exponential distribution: a line of hum beside the sweep moves it little.
    noise = np.median(np.abs(spectrum[beside]) ** 2, axis=0) / math.log(2)
    # Relative to a line of amplitude 1: both halves of its spectrum, and the sum of the squared window.
    square, fourth = float((window**2).sum()), float((window**4).sum())
    scale = 4 / (count * square)
    at_gain = float(_gain(np.array([hz]), equalised=equalised, cut_with_equalisation=cut_with_equalisation)[0])
    power = scale * ((np.abs(spectrum[line]) ** 2 - noise) / gain).sum(axis=0)
    variance = noise / square
    crossed = 8 * variance * np.maximum(power, 0) * fourth / square**2 / at_gain
    alone = (scale * noise / at_gain) ** 2 * np.count_nonzero(line) * count * fourth / square**2
    return _Point(power, np.sqrt(crossed + alone), octaves)


def _gain(frequency_hz: NDArray[np.float64], *, equalised: bool, cut_with_equalisation: bool) -> NDArray[np.float64]:
    """Return what the power of a constant velocity was multiplied by on its way into the recording."""
    gain = np.ones_like(frequency_hz)
    if equalised:
        gain = gain * np.abs(equalisation_response(frequency_hz)) ** 2
    if cut_with_equalisation:
        gain = gain * np.abs(recording_response(frequency_hz)) ** 2
    return gain


def _channel_name(channel: int, count: int) -> str:
    return "the only channel" if count == 1 else ("left channel", "right channel")[channel]


def _how(*, equalised: bool, cut_with_equalisation: bool) -> str:
    played = "playback equalisation of the recording undone" if equalised else "recording without equalisation"
    cut = "cut with the recording equalisation, undone" if cut_with_equalisation else "cut at constant velocity"
    return f"{played}; sweep {cut}"
