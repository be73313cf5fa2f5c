"""What each short frame of a recording holds of each band of a sheet: the evidence on which bands are found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import BLOCK_FRAMES, Recording
from groovewright.testtone.sheet.band_sheet import Band

Floats = NDArray[np.float64]

SHORTEST_FRAME_S = 0.05
MOST_CELLS = 1 << 21
"""Frames times tunings; a longer recording is looked at in longer frames, so that memory is bounded."""

SPEED_ALLOWANCE = 0.04
"""A platter 3 % off its speed, and wow besides."""

LOBE_BINS = 2
RUMBLE_HZ = 100.0
SMALLEST_POWER = 1e-30
MEDIAN_FRAMES = 5


@dataclass(frozen=True)
class Tuning:
    """What is looked for: one tone, two, or a tone anywhere in a range."""

    kind: str
    frequency_hz: tuple[float, ...]


@dataclass(frozen=True)
class Evidence:
    """What the frames hold of one tuning; every array has one entry a frame.

    Attributes
    ----------
    share : ndarray
        Part of the frame's power that lies where the band's tones would be, 0 to 1.
    level_db, balance_db : ndarray
        Power there in both channels together, and of the left above the right. [dB]
    likeness : ndarray
        1 where both channels move alike, -1 where opposed.
    line_hz : ndarray
        Frequency of the strongest line there. [Hz]
    """

    share: Floats
    level_db: Floats
    balance_db: Floats
    likeness: Floats
    line_hz: Floats


@dataclass(frozen=True)
class Features:
    """Evidence for every tuning by frames, each frame's level in all, and whether both channels are one. [s, dB]"""

    frame_s: float
    level_db: Floats
    evidence: dict[Tuning, Evidence]
    channels_alike: bool = False

    @property
    def frame_count(self) -> int:
        """Frames in all."""
        return len(self.level_db)


def tuning_of(band: Band) -> Tuning:
    """Return what is looked for to find a band; a silence has no frequency."""
    return Tuning(band.kind, band.frequency_hz)


def signal_features(
    recording: Recording, tunings: set[Tuning], *, progress: Callable[[float], None] | None = None
) -> Features:
    """Return the features of a whole recording, read in blocks; `progress` is told the part that was read, 0 to 1.

    A click fills one frame or two and is gone by a median over five.
    """
    rate_hz = recording.sample_rate_hz
    most_frames = MOST_CELLS // max(len(tunings), 1)
    length = max(round(SHORTEST_FRAME_S * rate_hz), -(-recording.frame_count // most_frames))
    frame_count = recording.frame_count // length
    ordered = sorted(tunings, key=lambda tuning: (tuning.kind, tuning.frequency_hz))
    table = np.zeros((len(ordered), 5, frame_count), dtype=np.float32)
    power = np.zeros(frame_count)
    window = np.hanning(length + 1)[:-1, np.newaxis]
    at_once = max(1, BLOCK_FRAMES // length)
    alike = recording.channel_count == 2
    for first in range(0, frame_count, at_once):
        count = min(at_once, frame_count - first)
        samples = recording.read(first * length, count * length)
        alike = alike and bool(np.array_equal(samples[:, 0], samples[:, -1]))
        samples = samples - samples.mean(axis=0)
        spectra = np.fft.rfft(samples.reshape(count, length, -1) * window, axis=1)
        frames = slice(first, first + count)
        spectrum = _Spectrum(spectra, rate_hz / length)
        power[frames] = spectrum.within(RUMBLE_HZ, rate_hz)
        for row, tuning in enumerate(ordered):
            table[row, :, frames] = _look(spectrum, tuning)
        if progress is not None:
            progress((first + count) / frame_count)
    evidence = {tuning: _evidence(table[row]) for row, tuning in enumerate(ordered)}
    return Features(length / rate_hz, _steady(_decibels(power)), evidence, alike)


class _Spectrum:
    """Power spectra of some frames, with sums over stretches of frequency."""

    def __init__(self, spectra: NDArray[np.complex128], bin_hz: float) -> None:
        self.bin_hz = bin_hz
        self.highest_hz = bin_hz * (spectra.shape[1] - 1)
        self.spectra = spectra
        self.power = (spectra.real**2 + spectra.imag**2).sum(axis=2)
        self._sums = np.concatenate([np.zeros((len(spectra), 1)), np.cumsum(self.power, axis=1)], axis=1)

    def stretch(self, lowest_hz: float, highest_hz: float) -> slice:
        """Bins between two frequencies; never the one at zero, and never none."""
        last = self.power.shape[1] - 1
        first = min(max(1, int(lowest_hz / self.bin_hz)), last)
        return slice(first, max(first, min(last, int(np.ceil(highest_hz / self.bin_hz)))) + 1)

    def around(self, frequency_hz: float) -> slice:
        """Bins that a tone of this frequency may fall in."""
        lobe_hz = LOBE_BINS * self.bin_hz
        return self.stretch(
            frequency_hz * (1 - SPEED_ALLOWANCE) - lobe_hz, frequency_hz * (1 + SPEED_ALLOWANCE) + lobe_hz
        )

    def within(self, lowest_hz: float, highest_hz: float) -> Floats:
        """Power between two frequencies."""
        return self.sum_of(self.stretch(lowest_hz, highest_hz))

    def sum_of(self, bins: slice) -> Floats:
        """Power in these bins."""
        summed: Floats = self._sums[:, bins.stop] - self._sums[:, bins.start]
        return summed

    def strongest(self, bins: slice) -> Floats:
        """Frequency of the strongest line in these bins, between bins by a parabola through three. [Hz]"""
        rows = np.arange(len(self.power))
        peak = bins.start + np.argmax(self.power[:, bins], axis=1)
        inner = np.clip(peak, 1, self.power.shape[1] - 2)
        below, at, above = (np.log(self.power[rows, inner + step] + SMALLEST_POWER) for step in (-1, 0, 1))
        bend = below - 2 * at + above
        shift = np.where(bend < 0, 0.5 * (below - above) / np.where(bend < 0, bend, -1.0), 0.0)
        hz: Floats = (inner + np.clip(shift, -1, 1)) * self.bin_hz
        return hz

    def channels(self, bins: slice) -> tuple[Floats, Floats, Floats]:
        """Power of the left and of the right channel in these bins, and what they share, signed."""
        chosen = self.spectra[:, bins]
        left, right = chosen[..., 0], chosen[..., -1]
        return (
            (left.real**2 + left.imag**2).sum(axis=1),
            (right.real**2 + right.imag**2).sum(axis=1),
            (left.real * right.real + left.imag * right.imag).sum(axis=1),
        )


def _look(spectrum: _Spectrum, tuning: Tuning) -> Floats:
    """Return share, left power, right power, shared power and strongest line: shape (5, frames)."""
    lowest_hz = min(tuning.frequency_hz)
    everything = spectrum.within(min(RUMBLE_HZ, lowest_hz / 3), spectrum.highest_hz) + SMALLEST_POWER
    if tuning.kind == "sweep":
        bins = spectrum.stretch(
            lowest_hz * (1 - SPEED_ALLOWANCE) - LOBE_BINS * spectrum.bin_hz,
            max(tuning.frequency_hz) * (1 + SPEED_ALLOWANCE) + LOBE_BINS * spectrum.bin_hz,
        )
        line_hz = spectrum.strongest(bins)
        concentrated = _around_line(spectrum, line_hz)
        return np.stack([concentrated / everything, *spectrum.channels(bins), line_hz])
    stretches = [spectrum.around(hz) for hz in tuning.frequency_hz]
    powers = [spectrum.sum_of(bins) for bins in stretches]
    share = np.minimum(sum(powers) / everything, 1.0)
    for hz, bins in zip(tuning.frequency_hz, stretches, strict=True) if len(stretches) > 1 else ():
        share = np.where(_stands_out(spectrum, hz, bins), share, 0.4 * share)
    strongest = stretches[int(np.argmax([power.sum() for power in powers]))]
    together = [sum(parts) for parts in zip(*(spectrum.channels(bins) for bins in stretches), strict=True)]
    return np.stack([share, *together, spectrum.strongest(strongest)])


def _around_line(spectrum: _Spectrum, line_hz: Floats) -> Floats:
    rows = np.arange(len(line_hz))
    centre = np.round(line_hz / spectrum.bin_hz).astype(int)
    reach = range(-LOBE_BINS - 1, LOBE_BINS + 2)
    places = [centre + step for step in reach]
    last = spectrum.power.shape[1] - 1
    summed: Floats = np.sum(
        [np.where((at >= 1) & (at <= last), spectrum.power[rows, np.clip(at, 0, last)], 0.0) for at in places], axis=0
    )
    return summed


def _stands_out(spectrum: _Spectrum, frequency_hz: float, bins: slice) -> NDArray[np.bool_]:
    lobe_hz = 2 * LOBE_BINS * spectrum.bin_hz
    below = spectrum.stretch(0.7 * frequency_hz - lobe_hz, 0.9 * frequency_hz - lobe_hz)
    above = spectrum.stretch(1.1 * frequency_hz + lobe_hz, 1.3 * frequency_hz + lobe_hz)
    beside = np.minimum(spectrum.power[:, below].mean(axis=1), spectrum.power[:, above].mean(axis=1))
    clear: NDArray[np.bool_] = spectrum.power[:, bins].max(axis=1) > 15 * beside
    return clear


def _evidence(table: NDArray[np.float32]) -> Evidence:
    share, left, right, shared, line_hz = (_steady(row.astype(float)) for row in table)
    geometric = np.sqrt(left * right) + SMALLEST_POWER
    return Evidence(
        share=share,
        level_db=_decibels(left + right),
        balance_db=_decibels(left) - _decibels(right),
        likeness=np.clip(shared / geometric, -1, 1),
        line_hz=line_hz,
    )


def _decibels(power: Floats) -> Floats:
    level: Floats = 10 * np.log10(power + SMALLEST_POWER)
    return level


def _steady(values: Floats) -> Floats:
    """Return the running median, which keeps steps and drops clicks."""
    if len(values) == 0:
        return values
    padded = np.pad(values, MEDIAN_FRAMES // 2, mode="edge")
    steady: Floats = np.median(np.lib.stride_tricks.sliding_window_view(padded, MEDIAN_FRAMES), axis=1)
    return steady
