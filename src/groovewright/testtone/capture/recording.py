"""A recording as the analysis sees it: blocks of samples, whatever they come from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

BLOCK_FRAMES = 1 << 17


class Recording(Protocol):
    """Samples that are read a block at a time; one frame holds one sample of each channel, left first."""

    @property
    def sample_rate_hz(self) -> float:
        """Frames a second. [Hz]"""

    @property
    def channel_count(self) -> int:
        """Channels in a frame: 1, or 2 with the left one first."""

    @property
    def frame_count(self) -> int:
        """Frames in all."""

    def read(self, start_frame: int, frame_count: int) -> NDArray[np.float64]:
        """Return `frame_count` frames from `start_frame` on, shape (frames, channels), full scale 1.0.

        Raises
        ------
        ValueError
            If any of these frames lies outside the recording.
        """


@dataclass(frozen=True)
class ArrayRecording:
    """A recording whose samples are all in memory, such as a simulated one.

    Parameters
    ----------
    samples : array_like, shape (frames, channels) or (frames,)
        Full scale 1.0.
    sample_rate_hz : float
        Frames a second. [Hz]
    """

    samples: NDArray[np.float64]
    sample_rate_hz: float

    def __init__(self, samples: ArrayLike, sample_rate_hz: float) -> None:
        held = np.asarray(samples, dtype=np.float64)
        if held.ndim == 1:
            held = held[:, np.newaxis]
        if held.ndim != 2 or held.shape[1] not in (1, 2):
            raise ValueError(f"samples have shape {held.shape}; a recording is (frames, 1) or (frames, 2)")
        if not sample_rate_hz > 0:
            raise ValueError(f"sample_rate_hz is {sample_rate_hz!r}; it must be above 0")
        object.__setattr__(self, "samples", held)
        object.__setattr__(self, "sample_rate_hz", float(sample_rate_hz))

    @property
    def channel_count(self) -> int:
        """Channels in a frame."""
        return int(self.samples.shape[1])

    @property
    def frame_count(self) -> int:
        """Frames in all."""
        return int(self.samples.shape[0])

    def read(self, start_frame: int, frame_count: int) -> NDArray[np.float64]:
        """Return these frames; see `Recording.read`."""
        refuse_outside(self, start_frame, frame_count)
        return self.samples[start_frame : start_frame + frame_count].copy()


def refuse_outside(recording: Recording, start_frame: int, frame_count: int) -> None:
    """Refuse to read frames that the recording does not hold."""
    if start_frame < 0 or frame_count < 0 or start_frame + frame_count > recording.frame_count:
        raise ValueError(
            f"frames {start_frame} to {start_frame + frame_count} were asked for; "
            f"the recording holds 0 to {recording.frame_count}"
        )


def blocks(
    recording: Recording, start_frame: int, stop_frame: int, size: int = BLOCK_FRAMES
) -> Iterator[NDArray[np.float64]]:
    """Yield the frames from `start_frame` up to, not including, `stop_frame`, at most `size` at a time."""
    for start in range(start_frame, stop_frame, size):
        yield recording.read(start, min(size, stop_frame - start))


def duration_s(recording: Recording) -> float:
    """Return how long the recording plays. [s]"""
    return recording.frame_count / recording.sample_rate_hz
