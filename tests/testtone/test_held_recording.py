"""A recording that is read again is not read from its file again, and gives the very same."""

import numpy as np
import pytest

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.tones import held_recording
from groovewright.testtone.tones.demodulation import demodulate
from groovewright.testtone.tones.held_recording import HeldRecording


class Counted(ArrayRecording):
    """A recording that counts how often it is read."""

    reads: list

    def read(self, start_frame, frame_count):
        self.reads.append(start_frame)
        return super().read(start_frame, frame_count)


@pytest.fixture
def counted():
    samples = np.random.default_rng(1).standard_normal((96_000, 2))
    recording = Counted(samples, 48_000)
    object.__setattr__(recording, "reads", [])
    return recording


def looked_at(recording):
    return [
        demodulate(recording, start_s=0.1, duration_s=1.5, mix=mix, carrier_hz=hz, half_width_hz=100.0)
        for hz in (400.0, 800.0, 1000.0)
        for mix in ((1.0, 0.0), (0.0, 1.0))
    ]


def test_what_is_looked_at_again_is_the_very_same_and_read_once(counted):
    plain = looked_at(counted)
    often = len(counted.reads)
    counted.reads.clear()
    held = looked_at(HeldRecording(counted))
    assert len(counted.reads) == often / 6
    for one, other in zip(plain, held, strict=True):
        assert np.array_equal(one.samples, other.samples)


def test_memory_stays_bounded(counted, monkeypatch):
    monkeypatch.setattr(held_recording, "MAX_HELD_BYTES", 1000)
    often = len(looked_at(HeldRecording(counted)))
    assert len(counted.reads) == often
