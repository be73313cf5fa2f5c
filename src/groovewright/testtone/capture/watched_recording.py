"""A recording that tells of every block that is read from it, so that long work on it can be followed and stopped."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from groovewright.testtone.capture.recording import Recording


class WatchedRecording:
    """The same recording; what was told last is told again whenever a block is read.

    Parameters
    ----------
    recording : Recording
        That is read.
    progress : callable
        Told the share that is done and what is being done. What it raises ends the reading.
    """

    def __init__(self, recording: Recording, progress: Callable[[float, str], None]) -> None:
        self.sample_rate_hz = recording.sample_rate_hz
        self.channel_count = recording.channel_count
        self.frame_count = recording.frame_count
        self._recording = recording
        self._progress = progress
        self._share, self._doing = 0.0, ""

    def tell(self, share: float, doing: str) -> None:
        """Tell how far the work is."""
        self._share, self._doing = share, doing
        self._progress(share, doing)

    def read(self, start_frame: int, frame_count: int) -> NDArray[np.float64]:
        """Return these frames; see `Recording.read`."""
        self._progress(self._share, self._doing)
        return self._recording.read(start_frame, frame_count)
