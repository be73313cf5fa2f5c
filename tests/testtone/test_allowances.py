"""What no recording shows of itself: read from the sheet, and carried into what rests on it."""

import math
from dataclasses import asdict, fields
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from groovewright.testtone.sheet.allowances import DEFAULT_ALLOWANCES, EXACT, Allowances
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.testtone.speed.unsteady import _doubts, _of_record, _repeating
from groovewright.testtone.tones.equalisation import (
    TIME_CONSTANTS_S,
    equalisation_response,
    equalisation_shift,
    subsonic_response,
)

GUIDE = (Path(__file__).parents[2] / "docs/guide/band-sheet.md").read_text("utf-8")
BANDS = '\n[[bands]]\nname = "one"\nkind = "silence"\nradius_mm = [100, 99]\n'


def test_sheet_states_what_is_better_known_and_the_rest_stays_usual():
    text = f"equalised = true\nspeed_rpm = 45\n[allowances]\ncut_azimuth_deg = 0.1\nclock_ppm = 0{BANDS}"
    found = read_band_sheet(text).allowances
    assert (found.cut_azimuth_deg, found.clock_ppm) == (0.1, 0.0)
    assert found.equalisation_percent == DEFAULT_ALLOWANCES.equalisation_percent
    assert read_band_sheet(f"equalised = true\nspeed_rpm = 45{BANDS}").allowances == Allowances()


@pytest.mark.parametrize("entry", ["cut_azimuth = 1", "clock_ppm = -1", 'clock_ppm = "50 ppm"'])
def test_what_is_no_allowance_is_refused(entry):
    with pytest.raises(ValueError, match="allowances"):
        read_band_sheet(f"equalised = true\nspeed_rpm = 45\n[allowances]\n{entry}{BANDS}")


@pytest.mark.parametrize("name", [each.name for each in fields(Allowances)])
def test_guide_has_every_allowance_with_its_usual_size(name):
    (row,) = [line for line in GUIDE.splitlines() if line.startswith(f"| `{name}` |")]
    assert float(row.split("|")[2]) == pytest.approx(getattr(DEFAULT_ALLOWANCES, name), rel=0.02)


def test_exact_allows_for_nothing():
    assert set(asdict(EXACT).values()) == {0.0}


@pytest.mark.parametrize("constant", [0, 1, 2])
def test_time_constant_that_is_off_shifts_the_response_by_what_it_does(constant):
    hz = np.array([20.0, 400.0, 1000.0, 10_000.0])
    taus = list(TIME_CONSTANTS_S)
    taus[constant] *= 1.03

    def network(at):
        s = 2j * np.pi * at
        return (1 + s * taus[1]) / ((1 + s * taus[0]) * (1 + s * taus[2]))

    off = network(hz) / abs(network(np.array(1000.0)))
    assert equalisation_shift(hz, constant, 3.0) == pytest.approx(off / equalisation_response(hz), rel=1e-9)


def test_subsonic_filter_has_the_phase_of_its_order():
    assert np.degrees(np.angle(subsonic_response(20.0, 20.0, 1))) == pytest.approx(45.0)
    assert np.degrees(np.angle(subsonic_response(20.0, 20.0, 2))) == pytest.approx(90.0)


def test_flutter_of_the_record_counts_most_where_the_deck_has_little():
    assert _of_record(0.1, 0.017) == pytest.approx(0.1 - math.sqrt(0.1**2 - 0.017**2))
    assert _of_record(0.01, 0.017) == 0.01


def test_what_repeats_with_the_turn_is_taken_out_and_nothing_else():
    angle = np.linspace(0, 2 * np.pi * 10, 20_000)
    repeats, other = 0.3 * np.cos(3 * angle + 1), 0.2 * np.sin(4.37 * angle)
    assert _repeating(repeats + other, angle) == pytest.approx(repeats, abs=0.03)


PLAYED = SimpleNamespace(baseband=SimpleNamespace(rate_hz=1000.0), fit=SimpleNamespace(turns=1.0))
"""As much of a speed result as the doubts look at."""


@pytest.mark.parametrize("of_peaks", [False, True])
def test_doubt_of_a_stretch_is_how_far_another_stretch_of_unsteady_flutter_reads(of_peaks):
    from scipy.signal import butter, sosfilt

    from groovewright.testtone.speed.quasi_peak import quasi_peak
    from groovewright.testtone.speed.wow_flutter import two_sigma

    rng = np.random.default_rng(3)
    noise = sosfilt(butter(1, (0.7, 8.0), "bandpass", fs=1000.0, output="sos"), rng.standard_normal(16_000 * 31))
    read = (lambda part: float(quasi_peak(part, 1000.0))) if of_peaks else two_sigma
    stretches = noise[16_000:].reshape(30, -1)
    readings = np.array([read(part) for part in stretches])
    key = "flutter that is not steady"
    doubts = [_doubts(p, PLAYED, r, of_peaks=of_peaks)[key][0] for p, r in zip(stretches, readings, strict=True)]
    assert np.sqrt(np.mean(np.square(doubts))) == pytest.approx(readings.std(ddof=1), rel=0.5)


def test_steady_flutter_leaves_no_doubt():
    steady = 0.1 * np.sin(2 * np.pi * 4 * np.arange(16_000) / 1000)
    doubt, freedom = _doubts(steady, PLAYED, 0.1, of_peaks=False)["flutter that is not steady"]
    assert doubt < 1e-4
    assert freedom == 7
