"""Speed, wow and flutter of a long capture: our chain beside the textbook's analytic signal of the whole band.

Run ``python benchmarks/captures.py [minutes]`` (10 by default). A 3150 Hz tone on 96 kHz stereo, of known speed, wow
and eccentricity, with noise, is written to a temporary file. Each way runs in a process of its own on one core with
one thread, ours once more from a block in memory so that reading can be told from computing. Speed is told by the
clock and by the processor's time, which other work on the machine does not lengthen. Memory is the peak of the whole
process; what interpreter and libraries take is told beside it.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import hilbert

from groovewright.testtone.speed.flutter_weighting import unweighted_gain, weighting_gain
from groovewright.testtone.speed.speed import speed_baseband, speed_of
from groovewright.testtone.speed.turn_raster import turn_raster
from groovewright.testtone.speed.wow_flutter import FlutterFilters, two_sigma_without_noise, wow_flutter

RATE_HZ = 96_000
NOMINAL_HZ, RPM, RADIUS_MM = 3150.0, 100 / 3, 100.0
SPEED_ERROR, ECCENTRICITY_MM = 0.00123, 0.2
FLUTTER = ((4.0, 0.0006), (9.3, 0.0002), (1.7, 0.0003))
NOISE = 3e-4
BLOCK = 1 << 17


def samples(first: int, count: int, rng: np.random.Generator) -> np.ndarray:
    """Frames of the capture; the platter's angle is known in closed form, so nothing is added up block by block."""
    t = (first + np.arange(count)) / RATE_HZ
    travelled = (1 + SPEED_ERROR) * t
    for hz, peak in FLUTTER:
        travelled += peak / (2 * np.pi * hz) * np.sin(2 * np.pi * hz * t)
    angle = 2 * np.pi * RPM / 60 * travelled
    phase = NOMINAL_HZ * 60 / RPM * (angle + ECCENTRICITY_MM / RADIUS_MM * np.sin(angle))
    tone = 0.3 * np.cos(phase)
    return tone[:, None] + NOISE * rng.standard_normal((count, 2))


def write(path: Path, seconds: float) -> None:
    rng = np.random.default_rng(1)
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24", format="WAV") as file:
        for first in range(0, round(seconds * RATE_HZ), BLOCK):
            file.write(samples(first, min(BLOCK, round(seconds * RATE_HZ) - first), rng))


class FileRecording:
    """A recording read from a file in blocks."""

    def __init__(self, path: str) -> None:
        self.file = soundfile.SoundFile(path)
        self.sample_rate_hz, self.channel_count = float(self.file.samplerate), self.file.channels
        self.frame_count = len(self.file)

    def read(self, start_frame: int, frame_count: int) -> np.ndarray:
        if self.file.tell() != start_frame:
            self.file.seek(start_frame)
        return self.file.read(frame_count, dtype="float64", always_2d=True)


class TurningRecording:
    """One turn of the record over and over: it costs nothing to read, so what is left is computing."""

    def __init__(self, path: str) -> None:
        whole = FileRecording(path)
        self.sample_rate_hz, self.channel_count = whole.sample_rate_hz, whole.channel_count
        self.frame_count = whole.frame_count
        self.frames_a_turn = round(RATE_HZ * 60 / RPM)
        angle = 2 * np.pi * np.arange(self.frames_a_turn + BLOCK) / self.frames_a_turn
        tone = 0.3 * np.cos(NOMINAL_HZ * 60 / RPM * (angle + ECCENTRICITY_MM / RADIUS_MM * np.sin(angle)))
        self.turn = tone[:, None] + NOISE * np.random.default_rng(1).standard_normal((tone.size, 2))

    def read(self, start_frame: int, frame_count: int) -> np.ndarray:
        first = start_frame % self.frames_a_turn
        if first + frame_count <= len(self.turn):
            return self.turn[first : first + frame_count]
        return self.turn[np.arange(start_frame, start_frame + frame_count) % self.frames_a_turn]


def ours(recording) -> dict[str, float]:
    seconds = recording.frame_count / recording.sample_rate_hz
    baseband = speed_baseband(recording, start_s=0, duration_s=seconds, mix=(0.5, 0.5), nominal_hz=NOMINAL_HZ)
    speed = speed_of(baseband, NOMINAL_HZ, RPM, radius_mm=(RADIUS_MM, RADIUS_MM))
    flutter = wow_flutter(speed)
    turn_raster(speed)
    return {
        "speed": speed.speed_error.value,
        "eccentricity": speed.eccentricity.value,
        "weighted": flutter.weighted_2sigma.value,
        "unweighted": flutter.unweighted_2sigma.value,
    }


def the_same(recording) -> dict[str, float]:
    """Only what the textbook way reads as well: no quasi-peak, no reading with the eccentricity, no raster."""
    seconds = recording.frame_count / recording.sample_rate_hz
    baseband = speed_baseband(recording, start_s=0, duration_s=seconds, mix=(0.5, 0.5), nominal_hz=NOMINAL_HZ)
    speed = speed_of(baseband, NOMINAL_HZ, RPM, radius_mm=(RADIUS_MM, RADIUS_MM))
    filters, rng = FlutterFilters(speed), np.random.default_rng(1)
    weighted, unweighted = (
        two_sigma_without_noise(filters, gain, rng, source="noise")[0].value
        for gain in (weighting_gain, unweighted_gain)
    )
    return {
        "speed": speed.speed_error.value,
        "eccentricity": speed.eccentricity.value,
        "weighted": weighted,
        "unweighted": unweighted,
    }


def textbook(recording) -> dict[str, float]:
    """Analytic signal of the whole recording, phase unwrapped, its slope the speed."""
    mono = recording.read(0, recording.frame_count).mean(axis=1)
    phase = np.unwrap(np.angle(hilbert(mono)))
    frequency = np.gradient(phase) * RATE_HZ / (2 * np.pi)
    mean_hz = frequency.mean()
    # From here as generous as can be: the deviation is thinned by means, then weighted with our own curves.
    thin = RATE_HZ // 1000
    kept = frequency.size // thin * thin
    deviation = 100 * (frequency[:kept].reshape(-1, thin).mean(axis=1) / mean_hz - 1)
    spectrum = np.fft.rfft(deviation)
    at_hz = np.fft.rfftfreq(deviation.size, 0.001)
    reading = {
        name: float(np.quantile(np.abs(np.fft.irfft(spectrum * gain(at_hz), n=deviation.size)), 0.95))
        for name, gain in (("weighted", weighting_gain), ("unweighted", unweighted_gain))
    }
    t = np.arange(deviation.size) * 0.001
    turned = np.exp(-2j * np.pi * RPM / 60 * (mean_hz / NOMINAL_HZ) * t)
    return {
        "speed": 100 * (mean_hz / NOMINAL_HZ - 1),
        "eccentricity": float(2 * abs(np.mean(deviation * turned)) / 100 * RADIUS_MM),
        **reading,
    }


def truth(seconds: float) -> dict[str, float]:
    """What the capture holds, from the speed in closed form at 1 kHz and without noise."""
    t = np.arange(round(seconds * 1000)) / 1000
    travelled = (1 + SPEED_ERROR) * t
    for hz, peak in FLUTTER:
        travelled += peak / (2 * np.pi * hz) * np.sin(2 * np.pi * hz * t)
    # Wow and flutter is a share of the mean speed.
    of_mean = [(hz, peak / (1 + SPEED_ERROR)) for hz, peak in FLUTTER]
    parts = [(RPM / 60 * (1 + SPEED_ERROR), ECCENTRICITY_MM / RADIUS_MM), *of_mean]
    angles = [2 * np.pi * RPM / 60 * travelled] + [2 * np.pi * hz * t for hz, _ in FLUTTER]
    readings = {}
    for name, gain in (("weighted", weighting_gain), ("unweighted", unweighted_gain)):
        deviation = sum(100 * peak * float(gain(hz)) * np.cos(a) for (hz, peak), a in zip(parts, angles, strict=True))
        readings[name] = float(np.quantile(np.abs(deviation), 0.95))
    return {"speed": 100 * SPEED_ERROR, "eccentricity": ECCENTRICITY_MM, **readings}


WAYS = {"ours": ours, "ours, same results": the_same, "textbook": textbook}


def child(way: str, source: str, path: str) -> None:
    recording = FileRecording(path) if source == "file" else TurningRecording(path)
    bare_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start, started = time.perf_counter(), time.process_time()
    found = WAYS[way](recording)
    times = {"seconds": time.perf_counter() - start, "processor_s": time.process_time() - started}
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({**times, "peak_mb": peak_mb, "bare_mb": bare_mb, **found}))


def run(way: str, source: str, path: Path) -> dict[str, float]:
    command = [sys.executable, __file__, "child", way, source, str(path)]
    one_thread = {f"{library}_NUM_THREADS": "1" for library in ("OMP", "OPENBLAS", "MKL")}
    core = {min(os.sched_getaffinity(0))}
    done = subprocess.run(
        command,
        check=True,
        capture_output=True,
        text=True,
        env=os.environ | one_thread,
        preexec_fn=lambda: os.sched_setaffinity(0, core),
    )
    return json.loads(done.stdout)


def main() -> None:
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    seconds = 60 * minutes
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "capture.wav"
        write(path, seconds)
        rows = [
            (f"{way}, {words}", run(way, source, path))
            for source, words in (("file", "from the file"), ("memory", "without reading"))
            for way in WAYS
        ]
    known = truth(seconds)
    print(f"{minutes:g} minutes of {RATE_HZ / 1000:g} kHz stereo, one core; goals: 200 times real time, under 300 MB")
    print(f"{'way':38}{'seconds':>9}{'x real':>8}{'processor s':>13}{'x real':>8}{'peak MB':>9}{'bare MB':>9}")
    for name, row in rows:
        clock, processor = row["seconds"], row["processor_s"]
        print(f"{name:38}{clock:9.2f}{seconds / clock:8.0f}{processor:13.2f}{seconds / processor:8.0f}", end="")
        print(f"{row['peak_mb']:9.0f}{row['bare_mb']:9.0f}")
    for slow, fast in ((2, 0), (2, 1), (5, 3), (5, 4)):
        ratios = [rows[slow][1][key] / rows[fast][1][key] for key in ("seconds", "processor_s")]
        print(f"{rows[slow][0]} takes {ratios[0]:.1f} times as long as {rows[fast][0]}", end="")
        print(f", {ratios[1]:.1f} times by processor time (goal 10)")
    print()
    print(f"{'error of':14}{'truth':>12}{'ours':>14}{'textbook':>14}")
    for name, unit in (("speed", "%"), ("eccentricity", "mm"), ("weighted", "%"), ("unweighted", "%")):
        errors = [rows[k][1][name] - known[name] for k in (0, 2)]
        print(f"{name:14}{known[name]:10.6f} {unit:2}{errors[0]:13.1e}{errors[1]:14.1e}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["child"]:
        child(*sys.argv[2:5])
    else:
        main()
