"""Analyses a long recording and prints the most memory that took, in MB; a program of its own, run by a test.

python long_capture.py MINUTES RATE_HZ
"""

import resource
import sys
from pathlib import Path

import numpy as np

from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import Geometry

SILENCE_S, PAIR_S = 20.0, 5.0


class LongRecording:
    """A recording that is made as it is read, so that nothing of it is held."""

    channel_count = 2

    def __init__(self, minutes, sample_rate_hz):
        self.sample_rate_hz = sample_rate_hz
        self.frame_count = int(60 * minutes * sample_rate_hz)
        self.table = 0.3 * np.sin(2 * np.pi * np.arange(1 << 12) / (1 << 12))
        self.noise = 1e-4 * np.random.default_rng(1).standard_normal((1 << 17, 2))

    def read(self, start_frame, frame_count):
        assert 0 <= start_frame <= start_frame + frame_count <= self.frame_count
        time_s = (start_frame + np.arange(frame_count)) / self.sample_rate_hz
        turned = 3150 * time_s + 3150 * 0.002 / (2 * np.pi * 0.5556) * np.sin(2 * np.pi * 0.5556 * time_s)
        tone = self.table[(turned % 1.0 * (1 << 12)).astype(np.intp)]
        loud = tone * (time_s > SILENCE_S)
        samples = self.noise.take(np.arange(start_frame, start_frame + frame_count), axis=0, mode="wrap")
        samples[:, 0] += loud
        samples[:, 1] += loud
        return samples


CPU_LIMIT_S, ADDRESS_LIMIT_BYTES = 240, 4 << 30


def main(minutes, sample_rate_hz):
    # Whatever goes wrong ends here, and not with the machine.
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_LIMIT_S, CPU_LIMIT_S))
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_LIMIT_BYTES, ADDRESS_LIMIT_BYTES))
    recording = LongRecording(minutes, sample_rate_hz)
    length_s = recording.frame_count / sample_rate_hz
    bands = (
        Band("Silence", "silence", "lateral", (), None, (146.0, 145.0), 0.0, SILENCE_S),
        Band("Tone", "tone", "lateral", (3150.0,), 5.0, (144.0, 60.0), SILENCE_S + 1, length_s - SILENCE_S - 2),
    )
    geometry = Geometry(222.0, 239.296, 22.986)
    result = analyse_capture(
        recording, BandSheet(True, 100 / 3, bands), geometry=geometry, progress=lambda share, doing: None
    )
    assert "speed_error" in result.quantities
    assert "rumble_band_level" in result.quantities
    # The peak of this program alone; the one of `getrusage` begins with the size of the program that started it.
    status = Path("/proc/self/status").read_text(encoding="ascii")
    peak_kb = int(status.split("VmHWM:")[1].split()[0])
    sys.stdout.write(f"{peak_kb / 1024}\n")


if __name__ == "__main__":
    main(float(sys.argv[1]), float(sys.argv[2]))
