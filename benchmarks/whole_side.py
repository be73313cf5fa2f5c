"""The whole command on a whole side: 20 bands of every kind, 96 kHz stereo, from the file to the JSON.

Run ``python benchmarks/whole_side.py [minutes]`` (10 by default). The side is simulated once into a temporary file. The
command runs as a process of its own. Told are its time by the clock and by the processor, times real time, the peak of
its memory, and beside them what reading the file alone takes. Goals: 100 times real time on two cores, under 300 MB.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import soundfile

from groovewright.cli.main import main as groovewright
from groovewright.simulate.deck import Resonance, Rumble, SpeedSine, TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.tonearm.geometry import geometry_from_nulls

RATE_HZ, BLOCK = 96_000, 1 << 16
ARM = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))
DECK = TrueDeck(
    geometry=ARM,
    azimuth_rotation_deg=2.0,
    speed_error_percent=0.1,
    eccentricity_mm=0.2,
    flutter=(SpeedSine(5.0, 0.03),),
    resonance_lateral=Resonance(9.4, 2.6),
    resonance_vertical=Resonance(10.8, 2.2),
    rumble=Rumble(-55.0, -52.0),
    surface_noise_db=-56.0,
    recorder_noise_dbfs=-92.0,
    level_dbfs=-32.0,
)

# Kind, cut, frequencies, velocities, and part of the side.
BANDS = (
    ("tone", "lateral", "3150", "5", 10),
    ("tone", "left", "1000", "5", 3),
    ("tone", "right", "1000", "5", 3),
    *(("tone", "lateral", "1000", "8", 3) for _ in range(4)),
    *(("tone", "vertical", "400", "4", 3) for _ in range(3)),
    ("two-tone", "lateral", "[60, 4000]", "[6.0, 1.5]", 4),
    ("sweep", "lateral", "[25, 4]", "0.5", 5),
    ("sweep", "vertical", "[25, 4]", "0.5", 5),
    ("sweep", "left", "[40, 16000]", "1", 5),
    ("silence", "lateral", "", "", 8),
    *(("tone", "lateral", "315", f"{velocity}", 2) for velocity in (5, 7, 9, 11, 13)),
)


def sheet_of(seconds: float) -> str:
    """The band sheet as text; every band with its place, so that the bands' parts fill the side."""
    parts = sum(part for *_, part in BANDS)
    unit_s = (seconds - len(BANDS) - 2) / parts
    lines, start_s, radius_mm = ["equalised = true", 'speed_rpm = "33 1/3"'], 1.0, 145.0
    for number, (kind, cut, hz, velocity, part) in enumerate(BANDS):
        inner_mm = radius_mm - 80 * part / parts
        lines += ["[[bands]]", f'name = "{number} {kind}"', f'kind = "{kind}"', f'cut = "{cut}"']
        lines += [f"frequency_hz = {hz}", f"peak_velocity_cm_s = {velocity}"] if hz else []
        lines += [f"radius_mm = [{radius_mm:.2f}, {inner_mm:.2f}]"]
        lines += [f"start_s = {start_s / 1.001:.3f}", f"duration_s = {part * unit_s:.3f}"]
        start_s, radius_mm = start_s + part * unit_s + 1.0, inner_mm
    return "\n".join(lines) + "\n"


def write(path: Path, sheet: str) -> None:
    """The side in a file, made a block at a time."""
    made = simulate_recording(read_band_sheet(sheet), DECK, sample_rate_hz=RATE_HZ, seed=1)
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24", format="WAV") as file:
        for first in range(0, made.frame_count, BLOCK):
            file.write(made.read(first, min(BLOCK, made.frame_count - first)))


def read_through(path: Path) -> float:
    """How long reading the file once takes, by the processor. [s]"""
    began = time.process_time()
    with soundfile.SoundFile(path) as file:
        for _ in file.blocks(BLOCK, dtype="float64"):
            pass
    return time.process_time() - began


def main() -> None:
    seconds = 60 * (float(sys.argv[1]) if len(sys.argv) > 1 else 10.0)
    with tempfile.TemporaryDirectory() as folder:
        wav, toml = Path(folder) / "side.wav", Path(folder) / "record.toml"
        toml.write_text(sheet_of(seconds), "utf-8")
        write(wav, toml.read_text("utf-8"))
        command = [sys.executable, __file__, "child", str(wav), str(toml)]
        began = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        clock_s = time.perf_counter() - began
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        processor_s, reading_s = used.ru_utime + used.ru_stime, read_through(wav)
    print(f"{seconds:.0f} s of {RATE_HZ} Hz stereo, {len(BANDS)} bands; goals: 100 times real time, under 300 MB")
    print(f"by the clock     {clock_s:7.1f} s, {seconds / clock_s:5.0f} times real time")
    print(f"by the processor {processor_s:7.1f} s, {seconds / processor_s:5.0f} times real time")
    print(f"reading the file once takes {reading_s:.1f} s, {100 * reading_s / processor_s:.0f} % of that")
    print(f"peak of memory {used.ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    if sys.argv[1:2] == ["child"]:
        wav, toml = sys.argv[2:4]
        groovewright(["capture", wav, "--bands", toml, "--pivot-to-spindle", "222 mm +- 0.3 mm", "--json"])
    else:
        main()
