"""Complex amplitudes of a tone and its harmonics in each channel, measured along the tone's own phase."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band
from groovewright.testtone.tones.demodulation import FLAT_SHARE, demodulate
from groovewright.testtone.tones.held_recording import HeldRecording
from groovewright.testtone.tones.line_noise import LineNoise, noise_beside_line
from groovewright.testtone.tones.tone_phase import FollowedPhase, Line, followed_phase, taper, without_clicks

SPEED_MARGIN = 0.1
"""The tone is looked for within this share of its declared frequency."""

LOOK_S = 4.0
"""Length in the middle of the band in which the tone is looked for. [s]"""

WIDEST_TRACKING_HZ = 25.0
"""Wow and flutter up to about here are followed. What is twice as fast, such as hum 50 Hz beside a tone, is not."""

TRACKING_SHARE = 32
"""The phase is followed up to this fraction of the tone, so that its harmonics stay apart."""

NOISE_FROM, NOISE_TO, HALF_WIDTH = 2, 8, 10
"""Distances from each harmonic, in tracking widths, between which its noise is taken, and what is kept around it."""

LEAST_POWER_RATIO = 100.0
"""Tone to noise within the tracking width below which the phase that is followed is the noise's."""

EDGE_S, EDGE_SHARE = 0.05, 0.05
"""Left off at either end of a band, where the cut swells or the band's place is uncertain: the shorter of the two."""

COURSE_POINTS = 48
SHORTEST_COURSE_STEP_S = 0.1


@dataclass(frozen=True, eq=False)
class ToneFit:
    """What one band of a tone holds: amplitudes with one common phase, their covariance, and their course in time.

    The phase of harmonic n is counted from n times the phase of the fundamental in `reference_channel`, which is
    therefore real and positive. A product such as V2 conj(V1)^2 doesn't depend on that choice.

    Attributes
    ----------
    band : Band
        What was cut.
    start_s, duration_s : float
        The stretch that was measured, a little inside the band. [s]
    frequency_hz : float
        Mean frequency of the fundamental in that stretch. [Hz]
    harmonics : tuple of int
        Those that were measured; one that the sample rate cannot hold is not among them.
    amplitudes : ndarray, shape (channels, harmonics)
        Peak value times exp(i phase): the signal is the real part of V exp(i n phase of the tone). [full scale]
    covariance : ndarray, shape (harmonics, channels, channels)
        Of the errors of `amplitudes`, E[error conj(error)]; real and imaginary parts have half of it each. Different
        harmonics have independent errors. It is that of phases counted from a perfect reference, so the error of
        the reference is the imaginary error of the fundamental in the reference channel. [full scale squared]
    noise_density : ndarray, shape (harmonics, channels)
        One-sided power density of the noise beside each harmonic. [full scale squared per Hz]
    degrees_of_freedom : ndarray, shape (harmonics,)
        Of the noise beside each harmonic.
    reference_channel : int
        0 left, 1 right: the louder one.
    course_s : ndarray, shape (points,)
        Centres of the steps of `course`, from the start of the recording. [s]
    course : ndarray, shape (points, channels, harmonics)
        Amplitudes in equal steps of the stretch, for their trend with the radius. [full scale]
    course_covariance : ndarray, shape (harmonics, channels, channels)
        Of one step of `course`.
    excluded_share : float
        Share of the stretch left out because of clicks.
    """

    band: Band
    start_s: float
    duration_s: float
    frequency_hz: float
    harmonics: tuple[int, ...]
    amplitudes: NDArray[np.complex128]
    covariance: NDArray[np.complex128]
    noise_density: NDArray[np.float64]
    degrees_of_freedom: NDArray[np.float64]
    reference_channel: int
    course_s: NDArray[np.float64]
    course: NDArray[np.complex128]
    course_covariance: NDArray[np.complex128]
    excluded_share: float

    def index(self, harmonic: int) -> int:
        """Return where a harmonic stands in the arrays; ValueError if it was not measured."""
        if harmonic not in self.harmonics:
            raise ValueError(
                f"harmonic {harmonic} of band {self.band.name!r} was not measured; {self.frequency_hz:.0f} Hz gave "
                f"harmonics {', '.join(map(str, self.harmonics))} at this sample rate"
            )
        return self.harmonics.index(harmonic)

    def amplitude(self, channel: int, harmonic: int = 1) -> complex:
        """Return one amplitude. [full scale]"""
        return complex(self.amplitudes[channel, self.index(harmonic)])

    def standard_uncertainty(self, channel: int, harmonic: int = 1) -> float:
        """Return the standard uncertainty of the real part, and likewise of the imaginary part. [full scale]"""
        return math.sqrt(self.covariance[self.index(harmonic), channel, channel].real / 2)

    def real_covariance(self, harmonic: int = 1) -> NDArray[np.float64]:
        """Return the covariance of (real of each channel, then imaginary of each channel), shape (2C, 2C)."""
        return real_covariance(self.covariance[self.index(harmonic)])


def real_covariance(covariance: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Return the covariance of (real parts, imaginary parts) of complex values whose errors have no preferred phase.

    >>> real_covariance(np.array([[2.0 + 0j]])) + 0.0
    array([[1., 0.],
           [0., 1.]])
    """
    real, imaginary = covariance.real / 2, covariance.imag / 2
    return np.block([[real, -imaginary], [imaginary, real]])


def fit_tone(recording: Recording, located: LocatedBand, harmonics: Sequence[int] = (1, 2, 3)) -> ToneFit:
    """Measure a tone and its harmonics in each channel of a band.

    Harmonics are measured along the phase that the tone itself has, so wow and an off-centre hole, which move
    harmonic n by n times as much, don't smear them. The noise is taken from beside each harmonic, hum lines left out;
    stretches with clicks have no weight.

    Parameters
    ----------
    recording : Recording
        Read in blocks; what is kept is a few hundred samples a second.
    located : LocatedBand
        A band of kind "tone" and where it stands.
    harmonics : sequence of int
        The fundamental (1) and those wanted beside it.

    Returns
    -------
    ToneFit

    Raises
    ------
    ValueError
        If the band is too short, or holds no tone near its declared frequency.
    """
    band = located.band
    if band.kind != "tone":
        raise ValueError(f"band {band.name!r} is of kind {band.kind}; amplitudes of harmonics are those of a tone")
    edge_s = min(EDGE_S, EDGE_SHARE * located.duration_s)
    stretch = (located.start_s + edge_s, located.duration_s - 2 * edge_s)
    try:
        return _fitted(HeldRecording(recording), band, stretch, harmonics)
    except ValueError as refusal:
        raise ValueError(f"band {band.name!r}: {refusal}") from refusal


def _fitted(recording: Recording, band: Band, stretch: tuple[float, float], harmonics: Sequence[int]) -> ToneFit:
    nominal_hz = band.frequency_hz[0]
    carrier_hz, reference = _carrier(recording, stretch, nominal_hz)
    tracking_hz = min(WIDEST_TRACKING_HZ, nominal_hz / TRACKING_SHARE)
    highest_hz = recording.sample_rate_hz * FLAT_SHARE / 2 - HALF_WIDTH * tracking_hz
    wanted = tuple(n for n in sorted({1, *harmonics}) if n == 1 or n * carrier_hz < highest_hz)
    lines = [_line(recording, stretch, n * carrier_hz, HALF_WIDTH * tracking_hz) for n in wanted]
    _refuse_too_short(lines[0], tracking_hz)
    followed = followed_phase(lines[0], reference, tracking_hz)
    points = int(np.clip(stretch[1] / SHORTEST_COURSE_STEP_S, 1, COURSE_POINTS))
    edges_s = np.linspace(lines[0].times_s[0], lines[0].times_s[-1], points + 1)
    measured = [_measured(line, n, followed, edges_s, tracking_hz) for n, line in zip(wanted, lines, strict=True)]
    _refuse_without_tone(measured[0], reference, tracking_hz, nominal_hz)
    density = np.stack([one.noise.density for one in measured])
    kept = float(followed.keep.mean())
    return ToneFit(
        band=band,
        start_s=stretch[0],
        duration_s=stretch[1],
        frequency_hz=carrier_hz + followed.slope_hz,
        harmonics=wanted,
        amplitudes=np.stack([one.amplitudes for one in measured], axis=1),
        covariance=density / np.array([one.effective_s for one in measured])[:, np.newaxis, np.newaxis],
        noise_density=np.einsum("hcc->hc", density).real / 2,
        degrees_of_freedom=np.array([one.noise.degrees_of_freedom for one in measured]),
        reference_channel=reference,
        course_s=(edges_s[:-1] + edges_s[1:]) / 2,
        course=np.stack([one.course for one in measured], axis=2),
        course_covariance=density / (float(edges_s[1] - edges_s[0]) * kept),
        excluded_share=1 - kept,
    )


@dataclass(frozen=True, eq=False)
class _Measured:
    """One harmonic in every channel; its covariance is the noise over the effective time."""

    amplitudes: NDArray[np.complex128]
    noise: LineNoise
    effective_s: float
    course: NDArray[np.complex128]


def _carrier(recording: Recording, stretch: tuple[float, float], nominal_hz: float) -> tuple[float, int]:
    """Return where the tone really is, to the nearest line of its spectrum, and the louder channel."""
    peaks = []
    for channel in range(recording.channel_count):
        length_s = min(stretch[1], LOOK_S)
        coarse = demodulate(
            recording,
            start_s=stretch[0] + (stretch[1] - length_s) / 2,
            duration_s=length_s,
            mix=np.eye(recording.channel_count)[channel].tolist(),
            carrier_hz=nominal_hz,
            half_width_hz=SPEED_MARGIN * nominal_hz,
        )
        # Zeros behind the samples make the lines fine enough to hit the tone's.
        count = 8 * coarse.samples.size
        spectrum = np.abs(np.fft.fft(coarse.samples * np.hanning(coarse.samples.size), count))
        offset_hz = np.fft.fftfreq(count, 1 / coarse.rate_hz)
        spectrum[np.abs(offset_hz) > SPEED_MARGIN * nominal_hz] = 0
        strongest = int(np.argmax(spectrum))
        peaks.append((float(spectrum[strongest]), nominal_hz + float(offset_hz[strongest]), channel))
    height, carrier_hz, channel = max(peaks)
    if height == 0:
        raise ValueError(f"silence from {stretch[0]:.2f} s on; check on the sheet where the band starts")
    return carrier_hz, channel


def _line(recording: Recording, stretch: tuple[float, float], carrier_hz: float, half_width_hz: float) -> Line:
    basebands = [
        demodulate(
            recording,
            start_s=stretch[0],
            duration_s=stretch[1],
            mix=mix,
            carrier_hz=carrier_hz,
            half_width_hz=half_width_hz,
        )
        for mix in np.eye(recording.channel_count).tolist()
    ]
    samples = np.stack([baseband.samples for baseband in basebands], axis=1)
    return Line(samples, basebands[0].times_s, basebands[0].rate_hz)


def _measured(
    line: Line, harmonic: int, followed: FollowedPhase, edges_s: NDArray[np.float64], tracking_hz: float
) -> _Measured:
    """Return the amplitude of a harmonic along the phase of the fundamental, which may have another sample rate."""
    phase = np.interp(line.times_s, followed.times_s, followed.phase)
    straight = line.samples * np.exp(-1j * harmonic * phase)[:, np.newaxis]
    keep = np.where(np.interp(line.times_s, followed.times_s, followed.keep) > 0.99, 1.0, 0.0)
    keep = without_clicks(straight, keep, line.rate_hz, tracking_hz)
    weight = keep * taper(keep.size)
    amplitudes = weight @ straight / weight.sum()
    noise = noise_beside_line(
        (straight - amplitudes) * keep[:, np.newaxis],
        line.rate_hz,
        nearest_hz=NOISE_FROM * tracking_hz,
        farthest_hz=NOISE_TO * tracking_hz,
    )
    return _Measured(
        amplitudes,
        LineNoise(noise.density / float(keep.mean()), noise.degrees_of_freedom),
        float(weight.sum()) ** 2 / float(weight @ weight) / line.rate_hz,
        _course(straight, keep, line.times_s, edges_s),
    )


def _refuse_too_short(fundamental: Line, tracking_hz: float) -> None:
    length_s = float(fundamental.times_s[-1] - fundamental.times_s[0])
    if length_s < 1 / tracking_hz:
        raise ValueError(f"its {length_s:.3g} s, ends left off, are too short; this tone takes {1 / tracking_hz:.2g} s")


def _refuse_without_tone(fundamental: _Measured, reference: int, tracking_hz: float, nominal_hz: float) -> None:
    beside = fundamental.noise.density[reference, reference].real * 2 * tracking_hz
    if abs(fundamental.amplitudes[reference]) ** 2 < LEAST_POWER_RATIO * beside:
        raise ValueError(
            f"no tone near {nominal_hz:g} Hz stands out of the noise; check the frequency and the start on the sheet"
        )


def _course(
    straight: NDArray[np.complex128],
    keep: NDArray[np.float64],
    times_s: NDArray[np.float64],
    edges_s: NDArray[np.float64],
) -> NDArray[np.complex128]:
    """Return the amplitude in each step; one that clicks fill has the mean of all its samples."""
    first = np.searchsorted(times_s[:-1], edges_s[:-1])
    weight = np.add.reduceat(keep, first)[:, np.newaxis]
    whole = np.add.reduceat(straight, first, axis=0) / np.diff(np.append(first, keep.size))[:, np.newaxis]
    kept = np.add.reduceat(straight * keep[:, np.newaxis], first, axis=0)
    return np.where(weight > 0, kept / np.maximum(weight, 1), whole)
