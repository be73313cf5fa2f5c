"""The slow part of a recording: what lies below a stated frequency, at a rate that is just enough for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import BLOCK_FRAMES, Recording, blocks

MOST_FRAMES = 1 << 22
"""More frames than these at the low rate would not stay within the memory that an analysis may take."""

# The resampler passes 0.91 of the new half rate; a rate of 2.4 times the top leaves a margin beside that.
_RATE_OVER_TOP = 2.4


@dataclass(frozen=True)
class LowRate:
    """Samples at a low rate.

    Attributes
    ----------
    samples : ndarray, shape (frames, channels)
        Full scale 1.0; unchanged in level and time from 0 Hz to the top that was asked for.
    rate_hz : float
        Frames a second. [Hz]
    """

    samples: NDArray[np.float64]
    rate_hz: float

    @property
    def duration_s(self) -> float:
        """How long they last. [s]"""
        return float(self.samples.shape[0] / self.rate_hz)


def frame_span(recording: Recording, *, start_s: float, duration_s: float) -> tuple[int, int]:
    """Return the first frame of a span of time and the one after its last.

    Raises
    ------
    ValueError
        If the span lies outside the recording.
    """
    rate_hz = recording.sample_rate_hz
    start, stop = round(start_s * rate_hz), round((start_s + duration_s) * rate_hz)
    if not (duration_s > 0 and start >= 0 and stop <= recording.frame_count):
        raise ValueError(
            f"the span from {start_s:g} s, {duration_s:g} s long, is not within the recording, which lasts "
            f"{recording.frame_count / rate_hz:g} s; correct the band's start or duration"
        )
    return start, stop


def read_low_rate(recording: Recording, *, start_s: float, duration_s: float, top_hz: float) -> LowRate:
    """Return a span of a recording at a rate that holds everything up to a stated frequency.

    Parameters
    ----------
    recording : Recording
        Read a block at a time, so that its length does not matter.
    start_s, duration_s : float
        The span. [s]
    top_hz : float
        Highest frequency to be kept unchanged. [Hz]

    Raises
    ------
    ValueError
        If the span lies outside the recording, the recording does not reach the top, or there is too much of it.
    """
    rate_hz = recording.sample_rate_hz
    start, stop = frame_span(recording, start_s=start_s, duration_s=duration_s)
    if top_hz > 0.45 * rate_hz:
        raise ValueError(
            f"a recording at {rate_hz:g} frames a second reaches {0.45 * rate_hz:g} Hz; {top_hz:g} Hz is asked for, "
            f"so record at a higher rate or lower the upper limit"
        )
    low_rate_hz = min(rate_hz, _RATE_OVER_TOP * top_hz)
    if (stop - start) / rate_hz * low_rate_hz > MOST_FRAMES:
        raise ValueError(
            f"{duration_s:g} s up to {top_hz:g} Hz is more than fits into memory; "
            f"{MOST_FRAMES / low_rate_hz:.0f} s can be taken at once, so give a shorter span"
        )
    if low_rate_hz == rate_hz:
        return LowRate(np.concatenate(list(blocks(recording, start, stop))), rate_hz)
    import soxr

    stream = soxr.ResampleStream(rate_hz, low_rate_hz, recording.channel_count, dtype="float64", quality="VHQ")
    parts = []
    for at in range(start, stop, BLOCK_FRAMES):
        count = min(BLOCK_FRAMES, stop - at)
        parts.append(stream.resample_chunk(recording.read(at, count), last=at + count == stop))
    samples = np.concatenate(parts)
    return LowRate(samples.reshape(samples.shape[0], recording.channel_count), low_rate_hz)
