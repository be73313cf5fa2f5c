"""The capture of the invented workshop: a short recording of a simulated deck, with the errors of the deck it is of."""

from __future__ import annotations

import tempfile
from pathlib import Path

from django.conf import settings

from groovewright.bench.targets.targets import Targets
from groovewright.files.audio_writing import write_recording
from groovewright.jobbook import content_store
from groovewright.jobbook.capture_analysis import analyse
from groovewright.jobbook.capture_entries import add_capture, enter_capture
from groovewright.jobbook.models import Job, Stage
from groovewright.simulate.deck import HumLine, SpeedSine, TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.sheet.band_sheet import read_band_sheet

SEED = 33
RATE_HZ = 32_000.0
# Short, so that the workshop is there at once; a true record's bands last ten times as long.
SHEET = """# An invented test record, with bands so short that no pressing has the like.

equalised = true
speed_rpm = "33 1/3"

[[bands]]
name = "Speed, 3150 Hz"
kind = "tone"
cut = "lateral"
frequency_hz = 3150
peak_velocity_cm_s = 5.0
radius_mm = [145, 144.4]
start_s = 0.3
duration_s = 5.6

[[bands]]
name = "Left, 1 kHz"
kind = "tone"
cut = "left"
frequency_hz = 1000
peak_velocity_cm_s = 5.0
radius_mm = [142, 141.9]
start_s = 6.1
duration_s = 0.8

[[bands]]
name = "Right, 1 kHz"
kind = "tone"
cut = "right"
frequency_hz = 1000
peak_velocity_cm_s = 5.0
radius_mm = [140, 139.9]
start_s = 7.1
duration_s = 0.8

[[bands]]
name = "Lateral, outer"
kind = "tone"
cut = "lateral"
frequency_hz = 1000
peak_velocity_cm_s = 10.0
radius_mm = [137, 136.9]
start_s = 8.1
duration_s = 0.8

[[bands]]
name = "Lateral, middle"
kind = "tone"
cut = "lateral"
frequency_hz = 1000
peak_velocity_cm_s = 10.0
radius_mm = [95, 94.9]
start_s = 9.1
duration_s = 0.8

[[bands]]
name = "Lateral, inner"
kind = "tone"
cut = "lateral"
frequency_hz = 1000
peak_velocity_cm_s = 10.0
radius_mm = [64, 63.9]
start_s = 10.1
duration_s = 0.8
"""


def capture_as_found(job: Job, targets: Targets, *, effective_length_mm: float) -> None:
    """Hand in, analyse and enter the capture that was made of a deck before anything was set.

    Parameters
    ----------
    effective_length_mm : float
        True effective length of the arm as found. [mm]
    """
    deck = TrueDeck(
        geometry=targets.geometry,
        effective_length_error_mm=effective_length_mm - targets.effective_length.value,
        zenith_error_deg=-0.7,
        azimuth_rotation_deg=1.4,
        leak_db=-36,
        channel_gains_db=(0.2, -0.1),
        speed_error_percent=0.18,
        flutter=(SpeedSine(6.1, 0.05), SpeedSine(0.9, 0.03)),
        eccentricity_mm=0.05,
        surface_noise_db=-50,
        recorder_noise_dbfs=-88,
        hum=(HumLine(50, -70),),
        level_dbfs=-20,
    )
    recording = simulate_recording(read_band_sheet(SHEET), deck, sample_rate_hz=RATE_HZ, seed=SEED)
    settings.CONTENT_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=settings.CONTENT_DIR, prefix="demo-") as folder:
        draft = Path(folder) / "test record, side one.wav"
        write_recording(draft, recording, "24-bit")
        size = draft.stat().st_size
        sheet = add_capture(
            job,
            stage=Stage.AS_FOUND,
            name=draft.name,
            size=size,
            file_sha256=content_store.keep_file(draft),
            sheet_text=SHEET,
        )
    enter_capture(analyse(sheet, lambda share, doing: None))
