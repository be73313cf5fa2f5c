"""Complex amplitudes of two tones and of the products between them, along the tones' own phases.

Wow moves the product of m times one tone and n times the other by m and n times as much, so each is measured along that
sum of the phases that both tones have in the recording; then nothing smears.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import BLOCK_FRAMES, Recording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.tones.demodulation import Baseband, demodulate

SPEED_MARGIN = 0.06
"""The tones are looked for within this share of their declared frequencies."""

FEWEST_PARTS, MOST_PARTS = 6, 40
_CYCLES_A_PART = 12.0
_WIDEST_TRACKING_HZ = 40.0

Product = tuple[int, int]
Course = Callable[[NDArray[np.float64]], NDArray[np.float64]]


@dataclass(frozen=True, eq=False)
class TwoToneFit:
    """Amplitudes of two tones and their products in several parts of a band.

    Attributes
    ----------
    frequency_hz : tuple of float
        Of both tones as played, the lower first. [Hz]
    products : tuple of pairs of int
        (m, n) stands for m times the lower plus n times the higher frequency; (1, 0) and (0, 1) are the tones.
    parts : ndarray, shape (parts, products, channels)
        Peak value times exp(i phase), the phase counted from the same sum of the tones' phases. [full scale]
    """

    frequency_hz: tuple[float, float]
    products: tuple[Product, ...]
    parts: NDArray[np.complex128]

    def of(self, product: Product, channel: int) -> NDArray[np.complex128]:
        """Return the amplitudes of one product in every part."""
        return self.parts[:, self.products.index(product), channel]


def fit_two_tones(recording: Recording, located: LocatedBand, products: Sequence[Product]) -> TwoToneFit:
    """Measure two tones and products of them, part by part, in each channel.

    Raises
    ------
    ValueError
        If the band is no pair of tones, is too short, or the sample rate cannot hold a product.
    """
    band = located.band
    if band.kind != "two-tone":
        raise ValueError(f"band {band.name!r} is of kind {band.kind}; intermodulation is that of a two-tone band")
    low_hz, high_hz = sorted(band.frequency_hz)
    every = ((1, 0), (0, 1), *(product for product in products if product not in ((1, 0), (0, 1))))
    reached_hz = (1 + SPEED_MARGIN) * max(abs(m * low_hz + n * high_hz) for m, n in every)
    if reached_hz > 0.45 * recording.sample_rate_hz:
        raise ValueError(
            f"band {band.name!r} has products up to {reached_hz:.0f} Hz; {recording.sample_rate_hz:g} frames a second "
            f"reach {0.45 * recording.sample_rate_hz:.0f} Hz, so record it at a higher rate"
        )
    nearest_hz = min(low_hz, high_hz - low_hz)
    count = int(min(MOST_PARTS, located.duration_s * nearest_hz / _CYCLES_A_PART))
    if count < FEWEST_PARTS:
        raise ValueError(
            f"band {band.name!r} is measured over {located.duration_s:.2f} s; products {nearest_hz:g} Hz apart need at "
            f"least {FEWEST_PARTS * _CYCLES_A_PART / nearest_hz:.2f} s"
        )
    ratio, louder = _speed_ratio(recording, located, low_hz, high_hz)
    width_hz = min(_WIDEST_TRACKING_HZ, nearest_hz / 4)
    tones = [_tone(recording, located, louder, ratio * hz, width_hz) for hz in (low_hz, high_hz)]
    begin_s = max(tone.times_s[0] for tone in tones)
    end_s = min(tone.times_s[-1] for tone in tones)
    edges = np.rint(np.linspace(begin_s, end_s, count + 1) * recording.sample_rate_hz).astype(int)
    phases = [_phase_course(tone) for tone in tones]
    parts = [_part(recording, (int(first), int(stop)), phases, every) for first, stop in pairwise(edges)]
    ends = [course(np.array([begin_s, end_s])) for course in phases]
    low_played_hz, high_played_hz = (float(np.diff(end)[0] / (2 * np.pi * (end_s - begin_s))) for end in ends)
    return TwoToneFit((low_played_hz, high_played_hz), every, np.stack(parts))


def _speed_ratio(recording: Recording, located: LocatedBand, low_hz: float, high_hz: float) -> tuple[float, int]:
    """Return frequency as played over frequency as declared, and the channel in which the higher tone is louder."""
    margin = min(SPEED_MARGIN, 0.4 * (high_hz - low_hz) / high_hz)
    peaks = []
    for channel in range(recording.channel_count):
        coarse = _tone(recording, located, channel, high_hz, margin * high_hz)
        spectrum = np.abs(np.fft.fft(coarse.samples * np.hanning(coarse.samples.size)))
        offset_hz = np.fft.fftfreq(coarse.samples.size, 1 / coarse.rate_hz)
        spectrum[np.abs(offset_hz) > margin * high_hz] = 0
        strongest = int(np.argmax(spectrum))
        peaks.append((float(spectrum[strongest]), 1 + float(offset_hz[strongest]) / high_hz, channel))
    height, ratio, channel = max(peaks)
    if height == 0:
        raise ValueError(f"band {located.band.name!r} is silent; check where it starts on its sheet")
    return ratio, channel


def _tone(
    recording: Recording, located: LocatedBand, channel: int, carrier_hz: float, half_width_hz: float
) -> Baseband:
    return demodulate(
        recording,
        start_s=located.start_s,
        duration_s=located.duration_s,
        mix=[float(channel == other) for other in range(recording.channel_count)],
        carrier_hz=carrier_hz,
        half_width_hz=half_width_hz,
    )


def _phase_course(tone: Baseband) -> Course:
    """Return the tone's whole phase as a smooth function of time. [rad]"""
    from scipy.interpolate import CubicSpline

    slow = CubicSpline(tone.times_s, np.unwrap(np.angle(tone.samples)))
    return lambda time_s: np.asarray(slow(time_s) + 2 * np.pi * tone.carrier_hz * time_s)


def _part(
    recording: Recording, span: tuple[int, int], phases: Sequence[Course], products: Sequence[Product]
) -> NDArray[np.complex128]:
    """Return the amplitudes of every product in one part by least squares, shape (products, channels)."""
    first, stop = span
    columns = 2 * len(products) + 1
    normal = np.zeros((columns, columns))
    right = np.zeros((columns, recording.channel_count))
    for begin in range(first, stop, BLOCK_FRAMES):
        end = min(begin + BLOCK_FRAMES, stop)
        time_s = np.arange(begin, end) / recording.sample_rate_hz
        lower, higher = (np.exp(1j * course(time_s)) for course in phases)
        lines = [_power(lower, m) * _power(higher, n) for m, n in products]
        system = np.stack([np.ones(end - begin), *(part for line in lines for part in (line.real, -line.imag))], axis=1)
        # A weight that falls to 0 at both ends of the part keeps everything that isn't a product out.
        weight = np.sin(np.pi * (np.arange(begin, end) - first + 0.5) / (stop - first)) ** 2
        weighted = system * weight[:, np.newaxis]
        normal += weighted.T @ system
        right += weighted.T @ recording.read(begin, end - begin)
    solved = np.linalg.solve(normal, right)[1:]
    return np.asarray(solved[0::2] + 1j * solved[1::2])


def _power(turning: NDArray[np.complex128], exponent: int) -> NDArray[np.complex128]:
    """Return a whole power of numbers of magnitude 1 by products, which is far faster than the general power."""
    factor = turning if exponent >= 0 else turning.conj()
    result = np.ones_like(turning)
    for _ in range(abs(exponent)):
        result = result * factor
    return result
