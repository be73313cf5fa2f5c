"""A short recording of a simulated deck, as bytes of a WAV file, and its band sheet."""

import io

import numpy as np
import pytest
import soundfile

from groovewright.jobbook import content_store
from groovewright.jobbook.capture_analysis import analyse
from groovewright.jobbook.capture_entries import add_capture
from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.tonearm.geometry import Geometry
from groovewright.web.captures import shown, views
from groovewright.web.captures.worker import Run

SHEET = """equalised = false
speed_rpm = "33 1/3"

[[bands]]
name = "Speed"
kind = "tone"
cut = "lateral"
frequency_hz = 3150
peak_velocity_cm_s = 5.0
radius_mm = [120, 119]
start_s = 0.5
duration_s = 4

[[bands]]
name = "Left"
kind = "tone"
cut = "left"
frequency_hz = 1000
peak_velocity_cm_s = 5.0
radius_mm = [118, 117.8]
start_s = 5
duration_s = 1.5

[[bands]]
name = "Right"
kind = "tone"
cut = "right"
frequency_hz = 1000
peak_velocity_cm_s = 5.0
radius_mm = [117, 116.8]
start_s = 7
duration_s = 1.5
"""
# An arm on the targets of the job, whose stylus moves on its arc.
ARM = Geometry(222.0, 239.2961, 22.9855)
DECK = TrueDeck(geometry=ARM, azimuth_rotation_deg=1.2, speed_error_percent=0.25, recorder_noise_dbfs=-70)


def wav_of(samples, rate_hz=48_000, form="WAV", subtype="PCM_16"):
    file = io.BytesIO()
    soundfile.write(file, samples, rate_hz, format=form, subtype=subtype)
    return file.getvalue()


@pytest.fixture(scope="session")
def samples():
    recording = simulate_recording(read_band_sheet(SHEET), DECK, sample_rate_hz=48_000, seed=5)
    return recording.read(0, recording.frame_count)


@pytest.fixture(scope="session")
def wav(samples):
    return wav_of(samples)


@pytest.fixture(scope="session")
def sheet_text():
    return SHEET


class NotedQueue:
    """A queue that notes what it is asked for and analyses nothing."""

    def __init__(self):
        self.runs = {}

    def ask(self, sheet):
        self.runs[sheet.pk] = Run("waiting")

    def stop(self, sheet):
        self.runs[sheet.pk] = Run("stopped")

    def run_of(self, sheet):
        return self.runs.get(sheet.pk)


@pytest.fixture
def queue(monkeypatch):
    noted = NotedQueue()
    for module in (views, shown):
        monkeypatch.setattr(module, "QUEUE", noted)
    return noted


@pytest.fixture
def handed_in(bench, queue, wav, sheet_text):
    """A capture that was handed in and not analysed."""
    return add_capture(
        bench.job,
        stage="as left",
        name="side a.wav",
        size=len(wav),
        file_sha256=content_store.keep(wav),
        sheet_text=sheet_text,
    )


@pytest.fixture
def analysed(handed_in):
    return analyse(handed_in, lambda share, doing: None)


@pytest.fixture
def recording_with(samples):
    """Return a recording that has one thing wrong with it, as bytes of a file."""
    faults = {
        "silent": lambda: wav_of(np.zeros((48_000, 2))),
        "one channel": lambda: wav_of(samples[:, 0]),
        "cut short": lambda: wav_of(samples, form="FLAC")[:200_000],
        "clipped": lambda: wav_of(np.clip(samples * 8, -1, 1)),
    }
    return lambda fault: faults[fault]()
