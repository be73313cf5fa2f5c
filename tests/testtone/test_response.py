from dataclasses import replace

import numpy as np
import pytest

from groovewright.simulate.deck import HumLine, TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_finder import LocatedBand, locate_bands
from groovewright.testtone.resonance.response import frequency_response
from groovewright.testtone.resonance.sweep_course import sweep_course
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.testtone.tones.equalisation import equalisation_level, recording_response

RATE_HZ = 48_000.0
SECONDS = 12.0


def sweep_band(cut="left", frequency_hz=(20.0, 20_000.0), **other):
    return Band("sweep", "sweep", cut, frequency_hz, 3.0, (120.0, 115.0), start_s=0.0, duration_s=SECONDS, **other)


def located(band, *, start_s=0.0):
    return LocatedBand(band, start_s, SECONDS, "from the sheet")


def sweep(level, *, pace="octaves", ends_hz=(20.0, 20_000.0)):
    """A sweep whose amplitude follows `level(frequency)`."""
    t = np.arange(int(SECONDS * RATE_HZ)) / RATE_HZ
    first, last = ends_hz
    if pace == "octaves":
        rate = np.log(last / first) / SECONDS
        hz = first * np.exp(rate * t)
        phase = 2 * np.pi * (hz - first) / rate
    else:
        hz = first + (last - first) * t / SECONDS
        phase = 2 * np.pi * (first * t + (last - first) * t**2 / SECONDS / 2)
    return 0.2 * level(hz) * np.cos(phase)


def two(left, right=0.03, *, noise=1e-5, seed=0):
    samples = np.stack([left, right * left], axis=1)
    return ArrayRecording(samples + noise * np.random.default_rng(seed).standard_normal(samples.shape), RATE_HZ)


def shelf(hz):
    return 1 / np.sqrt(1 + (hz / 9_000) ** 2)


@pytest.mark.parametrize("pace", ["octaves", "hertz"])
def test_level_and_crosstalk_follow_a_known_response(pace):
    ends_hz = (20.0, 20_000.0) if pace == "octaves" else (200.0, 20_000.0)
    band = sweep_band(frequency_hz=ends_hz, evenly_in=pace)
    curve = frequency_response(two(sweep(shelf, pace=pace, ends_hz=ends_hz)), located(band), equalised=False)
    fine = curve.smoothing_octaves < 0.2
    wanted = 20 * np.log10(shelf(curve.frequency_hz) / shelf(1000.0))
    np.testing.assert_allclose(curve.level_db[0][fine], wanted[fine], atol=0.05)
    np.testing.assert_allclose(curve.level_db[1][fine], wanted[fine] + 20 * np.log10(0.03), atol=0.05)
    assert 1000.0 in curve.frequency_hz
    assert curve.reference == "left channel at 1000 Hz"
    if pace == "octaves":
        assert curve.frequency_hz[0] < 45
        assert curve.frequency_hz[-1] > 15_000


def test_a_downward_sweep_is_as_good():
    band = sweep_band(frequency_hz=(20_000.0, 20.0))
    recording = two(sweep(shelf, ends_hz=(20_000.0, 20.0)))
    curve = frequency_response(recording, located(band), equalised=False)
    wanted = 20 * np.log10(shelf(curve.frequency_hz) / shelf(1000.0))
    fine = curve.smoothing_octaves < 0.2
    np.testing.assert_allclose(curve.level_db[0][fine], wanted[fine], atol=0.05)


@pytest.mark.parametrize("equalised", [False, True])
def test_a_perfect_deck_is_flat_with_its_equalisation_undone(equalised):
    sheet = BandSheet(equalised, 100 / 3, (sweep_band("lateral"),))
    deck = TrueDeck(
        recorder_noise_dbfs=-80.0, speed_error_percent=0.5, hum=(HumLine(50.0, -60.0), HumLine(150.0, -70.0))
    )
    recording = simulate_recording(sheet, deck, sample_rate_hz=RATE_HZ, seed=1)
    band = LocatedBand(sheet.bands[0], 0.0, SECONDS / 1.005, "from the sheet")
    curve = frequency_response(recording, band, equalised=equalised)
    inside = (curve.frequency_hz > 60) & (curve.frequency_hz < 15_000)
    np.testing.assert_allclose(curve.level_db[:, inside], 0, atol=0.05)


def test_a_sweep_cut_with_the_recording_equalisation_is_flattened():
    recording = two(sweep(lambda hz: 0.2 * np.abs(recording_response(hz))))
    plain = frequency_response(recording, located(sweep_band()), equalised=False)
    flat = frequency_response(recording, located(sweep_band(cut_with_equalisation=True)), equalised=False)
    inside = flat.frequency_hz > 60
    np.testing.assert_allclose(flat.level_db[0][inside], 0, atol=0.05)
    np.testing.assert_allclose(plain.level_db[0][inside], -equalisation_level(plain.frequency_hz[inside]), atol=0.1)
    assert "undone" in flat.how


def test_harmonics_of_the_sweep_do_not_enter():
    left = sweep(np.ones_like)
    recording = two(left + 0.5 * left**2)
    curve = frequency_response(recording, located(sweep_band()), equalised=False)
    inside = (curve.frequency_hz > 60) & (curve.frequency_hz < 15_000)
    np.testing.assert_allclose(curve.level_db[0][inside], 0, atol=0.02)


def test_a_start_that_is_a_little_off_is_put_right():
    samples = two(sweep(shelf)).samples
    late = ArrayRecording(
        np.concatenate([1e-6 * np.random.default_rng(1).standard_normal((4800, 2)), samples]), RATE_HZ
    )
    course = sweep_course(late, located(sweep_band()))
    middle_s = 0.1 + SECONDS * np.log(1000 / 20) / np.log(1000)
    assert float(course.time_s(1000.0)) == pytest.approx(middle_s, abs=0.01)
    curve = frequency_response(late, located(sweep_band()), equalised=False)
    wanted = 20 * np.log10(shelf(curve.frequency_hz) / shelf(1000.0))
    np.testing.assert_allclose(curve.level_db[0], wanted, atol=0.06)


@pytest.mark.parametrize("lost_s", [(1.5, 0.0), (0.0, 2.0), (0.7, 1.4)])
def test_faint_ends_that_the_search_left_out_are_put_back(lost_s):
    recording = two(sweep(shelf))
    found = LocatedBand(sweep_band(), lost_s[0], SECONDS - sum(lost_s), "found")
    course = sweep_course(recording, found)
    assert float(course.time_s(1000.0)) == pytest.approx(SECONDS * np.log(1000 / 20) / np.log(1000), abs=0.01)
    assert (course.start_s, course.stop_s) == pytest.approx((0.0, SECONDS), abs=0.05)
    curve = frequency_response(recording, found, equalised=False)
    whole = frequency_response(recording, located(sweep_band()), equalised=False)
    assert curve.frequency_hz[-1] == whole.frequency_hz[-1]


@pytest.mark.parametrize(
    ("evenly_in", "ends_hz"),
    [("octaves", (20.0, 20_000.0)), ("hertz", (18_000.0, 100.0)), ("hertz", (100.0, 18_000.0))],
)
@pytest.mark.parametrize("cut_with_equalisation", [False, True])
def test_a_sweep_is_found_and_flat_however_it_was_cut(evenly_in, ends_hz, cut_with_equalisation):
    band = sweep_band("lateral", ends_hz, evenly_in=evenly_in, cut_with_equalisation=cut_with_equalisation)
    deck = TrueDeck(recorder_noise_dbfs=-80.0, speed_error_percent=0.5, level_dbfs=-34.0)
    recording = simulate_recording(
        BandSheet(True, 100 / 3, (replace(band, start_s=2.0),)), deck, sample_rate_hz=RATE_HZ, seed=1
    )
    (found,) = locate_bands(recording, BandSheet(True, 100 / 3, (replace(band, start_s=None),)))
    curve = frequency_response(recording, found, equalised=True)
    inside = (curve.smoothing_octaves < 0.2) & (curve.frequency_hz > 60) & (curve.frequency_hz < 14_000)
    assert np.count_nonzero(inside) > 20
    np.testing.assert_allclose(curve.level_db[:, inside], 0, atol=0.1)


def test_stated_uncertainties_hold_the_truth():
    inside, shown = 0, 0
    left = sweep(np.ones_like)
    for seed in range(12):
        curve = frequency_response(two(left, 0.02, noise=3e-3, seed=seed), located(sweep_band()), equalised=False)
        used = ~curve.is_bound[1] & (curve.frequency_hz > 60) & (curve.frequency_hz < 15_000)
        error = curve.level_db[1] - 20 * np.log10(0.02)
        inside += int(np.count_nonzero(np.abs(error)[used] < 1.96 * curve.standard_uncertainty_db[1][used]))
        shown += int(np.count_nonzero(used))
    assert shown > 300
    assert 0.90 < inside / shown < 0.985


def test_what_the_noise_hides_is_a_bound():
    curve = frequency_response(two(sweep(np.ones_like), 1e-6, noise=1e-3), located(sweep_band()), equalised=False)
    assert curve.is_bound[1].mean() > 0.9
    assert np.isnan(curve.standard_uncertainty_db[1][curve.is_bound[1]]).all()
    assert not curve.is_bound[0].any()


def test_the_point_that_is_0_db_has_no_uncertainty():
    curve = frequency_response(two(sweep(np.ones_like), noise=1e-3), located(sweep_band()), equalised=False)
    at = int(np.argmin(np.abs(curve.frequency_hz - 1000)))
    assert curve.level_db[0, at] == 0
    assert curve.standard_uncertainty_db[0, at] == 0
    assert curve.standard_uncertainty_db[0, at + 1] > 0


def test_a_sweep_that_runs_otherwise_is_refused():
    with pytest.raises(ValueError, match="holds no sweep from 20 to 20000 Hz that runs evenly in octaves"):
        frequency_response(two(sweep(np.ones_like, pace="hertz")), located(sweep_band()), equalised=False)


def test_silence_is_refused():
    with pytest.raises(ValueError, match="holds no sweep"):
        frequency_response(two(np.zeros(int(SECONDS * RATE_HZ))), located(sweep_band()), equalised=False)


def test_a_tone_is_no_sweep():
    tone = Band("tone", "tone", "left", (1000.0,), 3.0, (120.0, 119.0))
    with pytest.raises(ValueError, match="a response needs a sweep"):
        frequency_response(two(sweep(np.ones_like)), LocatedBand(tone, 0.0, 5.0, "found"), equalised=False)
