"""Clipping: runs of equal samples at full scale, and flat tops below it, counted while a recording is read.

A stage before the recorder clips below full scale, and so does a recording that was turned down afterwards. Its tops
are flat too, all at one level; a peak that only looks flat falls off beside by a step or two of the samples' fineness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

SHORTEST_RUN = 3
"""Fewer equal samples at full scale are a peak that fits exactly, more are a peak that did not."""

FULL_SCALE = 1.0 - 2.0**-15
"""The highest 16-bit sample; what was clipped at 16 bits stays there when it is saved with more."""

FLAT_TOP_LEVEL = 0.5
"""Of a block's highest sample, from which on runs of equal samples are looked at."""

FLAT_TOP_STEPS = 8
"""Steps of the samples' fineness by which a flat top falls off beside; a round one of that length by one or two."""

FEWEST_FLAT_TOPS = 3
"""Of one level in a block: a stage that clips does so again and again."""

MOST_RUNS_KEPT = 200
TENTH_S, ROUNDING = 0.1, 1e-6


@dataclass(frozen=True)
class ClippedRun:
    """One run of equal samples at full scale. Channel 0 is the left one."""

    start_s: float
    channel: int
    frame_count: int


@dataclass(frozen=True)
class Clipping:
    """What was clipped in a recording.

    Attributes
    ----------
    run_count : int
        Runs of at least three equal samples at full scale, or on flat tops below it, in either channel.
    sample_count : int
        Samples in these runs.
    runs : tuple of ClippedRun
        The first 200 of them, as they were met in reading.
    tenths : frozenset of int
        Every tenth of a second that holds clipped samples, by its number from 0.
    """

    run_count: int
    sample_count: int
    runs: tuple[ClippedRun, ...]
    tenths: frozenset[int]

    def __bool__(self) -> bool:
        return self.run_count > 0

    def meets(self, start_s: float, stop_s: float) -> bool:
        """Return whether anything is clipped in this stretch, to a tenth of a second."""
        first, stop = math.floor(start_s / TENTH_S + ROUNDING), math.ceil(stop_s / TENTH_S - ROUNDING)
        return any(first <= number < stop for number in self.tenths)

    def describe(self) -> str:
        """Return one sentence for the user."""
        if not self:
            return "Nothing is clipped."
        first = min(self.runs, key=lambda run: run.start_s)
        side = ("left", "right")[first.channel]
        places = "1 place" if self.run_count == 1 else f"{self.run_count} places"
        return (
            f"Clipped in {places} ({self.sample_count} samples, first in the {side} channel at "
            f"{first.start_s:.3f} s); record again at a lower level before relying on what is measured there."
        )


@dataclass
class _OpenRun:
    """Equal samples that reach to the end of what has been read of one channel so far."""

    value: float = float("nan")
    start_frame: int = 0
    frame_count: int = 0


@dataclass
class ClippingCounter:
    """Counts clipped runs over blocks that follow one another; a run may reach from one into the next."""

    sample_rate_hz: float
    channel_count: int
    _frames_read: int = 0
    _run_count: int = 0
    _sample_count: int = 0
    _runs: list[ClippedRun] = field(default_factory=list)
    _tenths: set[int] = field(default_factory=set)
    _open: list[_OpenRun] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._open = [_OpenRun() for _ in range(self.channel_count)]

    def add(self, samples: NDArray[np.float64]) -> None:
        """Count the next block, shape (frames, channels)."""
        if len(samples) == 0:
            return
        at_full_scale = max(samples.max(), -samples.min()) >= FULL_SCALE
        for channel in range(self.channel_count):
            if at_full_scale:
                self._add_channel(channel, samples[:, channel])
            else:
                self._close(channel)
            self._add_flat_tops(channel, samples[:, channel])
        self._frames_read += len(samples)

    def result(self) -> Clipping:
        """Return what was counted, the runs that reach to the end with it."""
        for channel in range(self.channel_count):
            self._close(channel)
        return Clipping(self._run_count, self._sample_count, tuple(self._runs), frozenset(self._tenths))

    def _add_channel(self, channel: int, values: NDArray[np.float64]) -> None:
        full = np.abs(values) >= FULL_SCALE
        if not full.any():
            self._close(channel)
            return
        starts = np.flatnonzero(np.diff(values, prepend=np.nan) != 0)
        lengths = np.diff(starts, append=len(values))
        at_full = full[starts]
        open_run = self._open[channel]
        if at_full[0] and values[0] == open_run.value:
            open_run.frame_count += int(lengths[0])
            at_full[0] = False
            if lengths[0] == len(values):
                return
        self._close(channel)
        last = len(starts) - 1
        for index in np.flatnonzero(at_full & ((lengths >= SHORTEST_RUN) | (np.arange(len(starts)) == last))):
            start_frame, length = self._frames_read + int(starts[index]), int(lengths[index])
            if index == last:
                self._open[channel] = _OpenRun(float(values[starts[index]]), start_frame, length)
            else:
                self._count(channel, start_frame, length)

    def _add_flat_tops(self, channel: int, values: NDArray[np.float64]) -> None:
        """Count flat tops below full scale that lie within one block."""
        same = values[1:] == values[:-1]
        first = np.flatnonzero(same[1:] & same[:-1])
        if not first.size:
            return
        size = np.abs(values)
        first = first[(size[first] >= FLAT_TOP_LEVEL * size.max()) & (size[first] < FULL_SCALE)]
        # Only where a run begins, which is neither the block's first nor its last sample.
        first = first[(first > 0) & (values[first - 1] != values[first])]
        if first.size < FEWEST_FLAT_TOPS:
            return
        starts = np.flatnonzero(np.diff(values, prepend=np.nan) != 0)
        lengths = np.diff(starts, append=len(values))[np.searchsorted(starts, first)]
        inside = first + lengths < len(values)
        first, lengths = first[inside], lengths[inside]
        steps = np.abs(np.diff(values))
        fineness = float(np.min(steps[steps > 0]))
        before, after = size[first] - size[first - 1], size[first] - size[first + lengths]
        flat = np.minimum(before, after) > FLAT_TOP_STEPS * fineness
        for level in np.unique(values[first[flat]]):
            of_level = flat & (values[first] == level)
            if np.count_nonzero(of_level) >= FEWEST_FLAT_TOPS:
                for frame, length in zip(first[of_level].tolist(), lengths[of_level].tolist(), strict=True):
                    self._count(channel, self._frames_read + frame, length)

    def _close(self, channel: int) -> None:
        open_run = self._open[channel]
        if open_run.frame_count >= SHORTEST_RUN:
            self._count(channel, open_run.start_frame, open_run.frame_count)
        self._open[channel] = _OpenRun()

    def _count(self, channel: int, start_frame: int, frame_count: int) -> None:
        self._run_count += 1
        self._sample_count += frame_count
        tenth_frames = TENTH_S * self.sample_rate_hz
        last_frame = start_frame + frame_count - 1
        self._tenths.update(range(int(start_frame / tenth_frames), int(last_frame / tenth_frames) + 1))
        if len(self._runs) < MOST_RUNS_KEPT:
            self._runs.append(ClippedRun(start_frame / self.sample_rate_hz, channel, frame_count))
