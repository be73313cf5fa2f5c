"""A tone's slow amplitude and phase: a recording in blocks, brought down to a low rate around one carrier."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording, blocks
from groovewright.testtone.tones.held_recording import HeldRecording

REACH_OF_RESAMPLER = 112
"""Low-rate samples to each side beyond which the resampler's impulse response is under a millionth of its peak."""

EXACT_DECIMATIONS = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48)
"""Ratios at which the resampler keeps the level to 2e-9; by 5, 7 or 9 it droops by up to 1e-3 near the end."""

FLAT_SHARE = 0.9
"""Share of half the low rate up to which the resampler's level is exact."""

LOWEST_MIDDLE_RATE_HZ = 8000.0
"""The first step goes no lower than this, so that it costs no more than 14 ms at each end of a band."""

REJECTION_DB = 120.0


@dataclass(frozen=True, eq=False)
class Baseband:
    """Complex amplitude of a recording around one carrier, against time.

    Attributes
    ----------
    rate_hz : float
        Samples a second. [Hz]
    samples : ndarray of complex, shape (n,)
        A tone ``A cos(2 pi f t + p)`` with t from the recording's first frame gives ``A exp(i p)`` where f is the
        carrier. [full scale, peak]
    start_s : float
        Time of the first sample, from the recording's first frame; no delay is left in it. [s]
    carrier_hz, half_width_hz : float
        What was mixed to 0 Hz, and the distance from it up to which the level is exact. What lies more than three
        half widths away is rejected; between the two it fades. [Hz]
    trimmed_s : tuple of float
        What was cut from the start and the end of the stretch, since filters reach over the edge there. [s]
    """

    rate_hz: float
    samples: NDArray[np.complex128]
    start_s: float
    carrier_hz: float
    half_width_hz: float
    trimmed_s: tuple[float, float]

    @property
    def times_s(self) -> NDArray[np.float64]:
        """Time of each sample, from the recording's first frame. [s]"""
        return self.start_s + np.arange(self.samples.size) / self.rate_hz


def demodulate(
    recording: Recording,
    *,
    start_s: float,
    duration_s: float,
    mix: Sequence[float],
    carrier_hz: float,
    half_width_hz: float,
) -> Baseband:
    """Return the slow complex amplitude of a stretch of a recording around a carrier.

    Blocks are decimated as real samples, mixed to 0 Hz at the lower rate and low-passed there, so that memory
    follows the result and not the recording. Both filters have linear phase, and their delay is taken out.

    Parameters
    ----------
    start_s, duration_s : float
        The stretch, from the recording's first frame. [s]
    mix : sequence of float, one for each channel
        Weight of each channel in what is demodulated, left first: (0.5, 0.5) is the lateral part.
    carrier_hz : float
        Mixed to 0 Hz. [Hz]
    half_width_hz : float
        How far from the carrier the level is kept exact; it must be below the carrier. [Hz]

    Returns
    -------
    Baseband
        Rate at least four half widths. Shorter than the stretch by `Baseband.trimmed_s`, so that no sample rests
        on what lies outside the stretch.

    Raises
    ------
    ValueError
        If the stretch is outside the recording or too short, or the carrier is out of what the sample rate carries.
    """
    rate_in = recording.sample_rate_hz
    first, stop = _frames(recording, start_s, duration_s)
    _refuse_mix_or_carrier(recording, mix, carrier_hz, half_width_hz)
    lowest_middle_rate = max(2 * (carrier_hz + half_width_hz) / FLAT_SHARE, LOWEST_MIDDLE_RATE_HZ)
    decimation = max((n for n in EXACT_DECIMATIONS if rate_in / n >= lowest_middle_rate), default=1)
    reach = REACH_OF_RESAMPLER if decimation > 1 else 0
    middle_rate = rate_in / decimation
    taps = _low_pass(carrier_hz, half_width_hz, middle_rate)
    step = max(1, int(middle_rate // (4 * half_width_hz)))
    middle_count = (stop - first - 1) // decimation + 1
    usable = middle_count - 2 * reach
    count = (usable - taps.size) // step + 1
    if count < 2:
        shortest_s = (2 * reach + taps.size + step) / middle_rate
        raise ValueError(
            f"the stretch of {duration_s:g} s is too short for {half_width_hz:g} Hz around {carrier_hz:g} Hz; "
            f"give at least {shortest_s:.3g} s, or look at a wider range"
        )
    weights = np.asarray(mix, dtype=np.float64)

    def lower() -> Iterator[NDArray[np.float64]]:
        return _decimated((block @ weights for block in blocks(recording, first, stop)), decimation)

    real = lower()
    if isinstance(recording, HeldRecording):
        real = iter(recording.lowered((first, stop, tuple(mix), decimation), lower))
    samples = _mixed_low_pass(real, carrier_hz / middle_rate, taps, step=step, skip=reach, count=count)
    before_s = (reach + (taps.size - 1) / 2) / middle_rate
    # The mixer started its phase at the stretch; the phase is told from the recording's first frame.
    samples *= np.exp(-2j * np.pi * (carrier_hz * (first / rate_in) % 1.0))
    covered_s = (count - 1) * step / middle_rate
    return Baseband(
        rate_hz=middle_rate / step,
        samples=samples,
        start_s=first / rate_in + before_s,
        carrier_hz=carrier_hz,
        half_width_hz=half_width_hz,
        trimmed_s=(before_s, (stop - first) / rate_in - before_s - covered_s),
    )


def _frames(recording: Recording, start_s: float, duration_s: float) -> tuple[int, int]:
    first = round(start_s * recording.sample_rate_hz)
    stop = round((start_s + duration_s) * recording.sample_rate_hz)
    if first < 0 or stop > recording.frame_count or stop <= first:
        held_s = recording.frame_count / recording.sample_rate_hz
        raise ValueError(
            f"the stretch from {start_s:g} s over {duration_s:g} s is not within the recording of {held_s:g} s; "
            f"correct its start or its duration"
        )
    return first, stop


def _refuse_mix_or_carrier(recording: Recording, mix: Sequence[float], carrier_hz: float, half_width_hz: float) -> None:
    if len(mix) != recording.channel_count:
        raise ValueError(f"{len(mix)} weights for {recording.channel_count} channels; give one for each channel")
    highest_hz = FLAT_SHARE * recording.sample_rate_hz / 2
    if not (0 < half_width_hz < carrier_hz and carrier_hz + half_width_hz <= highest_hz):
        raise ValueError(
            f"{half_width_hz:g} Hz around {carrier_hz:g} Hz cannot be taken from {recording.sample_rate_hz:g} frames "
            f"a second; the range must lie above 0 Hz and below {highest_hz:g} Hz"
        )


def _low_pass(carrier_hz: float, half_width_hz: float, rate_hz: float) -> NDArray[np.float64]:
    """Return an odd Kaiser low pass, flat to the half width, that also stops the carrier's image."""
    nearest_image_hz = min(2 * carrier_hz, rate_hz - 2 * carrier_hz)
    stop_hz = min(3 * half_width_hz, nearest_image_hz - half_width_hz)
    fade = (stop_hz - half_width_hz) / rate_hz
    half = int(np.ceil((REJECTION_DB - 7.95) / (2.285 * 2 * np.pi * fade) / 2))
    n = np.arange(-half, half + 1)
    cutoff = (half_width_hz + stop_hz) / rate_hz
    taps: NDArray[np.float64] = np.sinc(cutoff * n) * np.kaiser(n.size, 0.1102 * (REJECTION_DB - 8.7))
    taps /= taps.sum()
    return taps


def _decimated(mono_blocks: Iterator[NDArray[np.float64]], decimation: int) -> Iterator[NDArray[np.float64]]:
    """Yield the blocks at the lower rate; sample k of the whole lies on sample k times `decimation`."""
    if decimation == 1:
        yield from mono_blocks
        return
    import soxr

    resampler = soxr.ResampleStream(float(decimation), 1.0, 1, dtype="float64", quality="VHQ")
    for block in mono_blocks:
        yield resampler.resample_chunk(np.ascontiguousarray(block))
    yield resampler.resample_chunk(np.zeros(0), last=True)


def _mixed_low_pass(
    real_blocks: Iterator[NDArray[np.float64]],
    cycles_a_sample: float,
    taps: NDArray[np.float64],
    *,
    step: int,
    skip: int,
    count: int,
) -> NDArray[np.complex128]:
    """Return `count` samples of the low-passed product with the carrier, the first once `skip` samples have passed."""
    # Twice, because half of a real tone lies at the negative frequency that is rejected.
    weights = (2 * taps).astype(np.complex128)
    samples = np.empty(count, dtype=np.complex128)
    turning = np.empty(0, dtype=np.complex128)
    waiting = np.empty(0, dtype=np.complex128)
    seen, done = 0, 0
    to_skip = skip
    for block in real_blocks:
        if turning.size < block.size:
            turning = np.exp(-2j * np.pi * (cycles_a_sample * np.arange(block.size) % 1.0))
        mixed = block * turning[: block.size] * np.exp(-2j * np.pi * (cycles_a_sample * seen % 1.0))
        seen += block.size
        dropped = min(to_skip, mixed.size)
        to_skip -= dropped
        waiting = np.concatenate([waiting, mixed[dropped:]])
        ready = min((waiting.size - taps.size) // step + 1, count - done)
        if ready <= 0:
            continue
        windows = np.lib.stride_tricks.sliding_window_view(waiting, taps.size)[: ready * step : step]
        samples[done : done + ready] = windows @ weights
        done += ready
        waiting = waiting[ready * step :]
    return samples
