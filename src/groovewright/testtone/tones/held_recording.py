"""A recording that keeps what was read of it, and at a lower rate, while one band is looked at many times."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording

MAX_HELD_BYTES = 48_000_000
"""Of samples as read, and as much again of those at lower rates: half a minute of 96 kHz in two channels. What is
beyond is read anew, so that memory stays bounded."""

Blocks = list[NDArray[np.float64]]


class HeldRecording:
    """The same recording; a stretch that is read again is not read from the file again.

    Parameters
    ----------
    recording : Recording
        That is read.
    """

    def __init__(self, recording: Recording) -> None:
        self.sample_rate_hz = recording.sample_rate_hz
        self.channel_count = recording.channel_count
        self.frame_count = recording.frame_count
        self._recording = recording
        self._read: dict[tuple[int, int], NDArray[np.float64]] = {}
        self._lower: dict[tuple[object, ...], Blocks] = {}
        self._read_bytes = self._lower_bytes = 0

    def read(self, start_frame: int, frame_count: int) -> NDArray[np.float64]:
        """Return these frames; see `Recording.read`. They are not to be changed."""
        held = self._read.get((start_frame, frame_count))
        if held is not None:
            return held
        samples = self._recording.read(start_frame, frame_count)
        if self._read_bytes + samples.nbytes <= MAX_HELD_BYTES:
            self._read[start_frame, frame_count] = samples
            self._read_bytes += samples.nbytes
        return samples

    def lowered(self, key: tuple[object, ...], make: Callable[[], Iterator[NDArray[np.float64]]]) -> Blocks:
        """Return the blocks that `make` gives, or those that it gave for the same key."""
        held = self._lower.get(key)
        if held is not None:
            return held
        blocks = list(make())
        size = sum(block.nbytes for block in blocks)
        if self._lower_bytes + size <= MAX_HELD_BYTES:
            self._lower[key] = blocks
            self._lower_bytes += size
        return blocks
