"""What a whole capture shows, what it says it can't, and what it takes."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from groovewright.measurement.quantity import Quantity, covariance
from groovewright.simulate.deck import Resonance, TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.capture_bands import (
    channel_pairs,
    ladders,
    middle_of,
    off_the_ladders,
    resonance_sweeps,
    response_sweeps,
    speed_bands,
)
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.allowances import EXACT
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import geometry_from_nulls

RPM = 100 / 3
RATE_HZ = 32_000
ARM = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))


def tone(name, cut="lateral", hz=1000.0, *, velocity=5.0, radius_mm=(120.0, 119.5), duration_s=1.0):
    return Band(name, "tone", cut, (hz,), velocity, radius_mm, None, duration_s)


def placed(*bands):
    """Give every band its start: half a second after the one before."""
    start_s, found = 0.5, []
    for band in bands:
        found.append(replace(band, start_s=start_s))
        start_s += band.duration_s + 0.5
    return BandSheet(False, RPM, tuple(found))


def located(*bands):
    return tuple(LocatedBand(band, band.start_s, band.duration_s, "from the sheet") for band in placed(*bands).bands)


def recorded(sheet, deck, seed=1):
    made = simulate_recording(sheet, deck, sample_rate_hz=RATE_HZ, seed=seed)
    return ArrayRecording(made.read(0, made.frame_count), RATE_HZ)


def analysed(sheet, deck, **given):
    options = {"geometry": ARM, "progress": lambda share, doing: None} | given
    return analyse_capture(recorded(sheet, deck), sheet, **options)


NOISY = TrueDeck(geometry=ARM, surface_noise_db=-60.0, level_dbfs=-20.0)
PAIR = (tone("Left", "left"), tone("Right", "right"))


def test_ladder_is_three_rising_neighbours_and_stays_out_of_the_rest():
    steps = [tone(f"{v}", velocity=float(v), hz=300.0) for v in (6, 8, 10)]
    bands = located(tone("before"), *steps, tone("after", hz=300.0, velocity=10.0))
    assert [[at.band.name for at in run] for run in ladders(bands)] == [["6", "8", "10"]]
    assert [at.band.name for at in off_the_ladders(bands, "lateral")] == ["before", "after"]
    assert ladders(located(*steps[:2])) == ()
    assert ladders(()) == ()


def test_tones_cut_for_speed_go_before_longer_others():
    bands = located(tone("long", duration_s=9.0), tone("3 k", hz=3000.0), tone("3150", hz=3150.0, duration_s=2.0))
    assert [at.band.name for at in speed_bands(bands)] == ["3150", "3 k"]
    assert [at.band.name for at in speed_bands(bands[:1])] == ["long"]
    assert speed_bands(located(tone("low", hz=100.0))) == ()


def test_pair_nearest_to_1_khz_comes_first():
    bands = located(tone("L8", "left", 8000.0), tone("R8", "right", 8000.0), *PAIR, tone("lone", "left", 400.0))
    assert [(pair.left.band.name, pair.right.band.name) for pair in channel_pairs(bands)] == [
        ("Left", "Right"),
        ("L8", "R8"),
    ]


def test_sweeps_are_for_the_resonance_or_for_the_response():
    slow = Band("slow", "sweep", "lateral", (25.0, 4.0), 1.0, (100.0, 99.0), None, 10.0)
    wide = Band("wide", "sweep", "lateral", (20.0, 16_000.0), 1.0, (100.0, 99.0), None, 10.0)
    bands = located(slow, wide)
    assert [at.band.name for at in resonance_sweeps(bands, "lateral")] == ["slow"]
    assert resonance_sweeps(bands, "vertical") == ()
    assert [at.band.name for at in response_sweeps(bands)] == ["wide"]


def test_middle_of_a_long_band_has_the_radii_that_go_with_it():
    (at,) = located(tone("long", radius_mm=(140.0, 60.0), duration_s=80.0))
    middle = middle_of(at, 20.0)
    assert (middle.start_s, middle.duration_s) == (0.5 + 30, 20.0)
    assert middle.band.radius_mm == (110.0, 90.0)
    assert middle_of(at, 80.0) is at


def test_what_the_sheet_has_no_band_for_is_absent_without_a_reason():
    result = analysed(placed(*PAIR), NOISY)
    shown = set(result.quantities) | set(result.not_shown)
    assert "azimuth_rotation" in result.quantities
    assert not shown & {"tracking_error", "resonance_lateral", "rumble_band_level", "hum", "intermodulation"}
    assert set(result.quantities) <= {known.name for known in CAPTURE_NAMES}


def test_band_that_cannot_be_measured_gives_its_reason_and_spoils_nothing_else():
    sheet = placed(*PAIR, tone("Vertical", "vertical", 400.0))
    quiet = recorded(sheet, NOISY)
    hidden = quiet.samples[int(3.4 * RATE_HZ) :]
    hidden[:] = 1e-3 * np.random.default_rng(3).standard_normal(hidden.shape)
    result = analyse_capture(quiet, sheet, geometry=ARM, progress=lambda share, doing: None)
    assert "azimuth_rotation" in result.quantities
    assert "'Vertical' does not hold its tone of 400 Hz" in result.not_shown["vertical_tracking_angle_error"]
    assert result.not_shown["vertical_tracking_angle_error"].endswith(".")


def test_left_alone_says_what_crosstalk_needs():
    result = analysed(placed(PAIR[0]), NOISY)
    assert "one cut right" in result.not_shown["azimuth_rotation"]


def test_swapped_leads_of_one_channel_are_named():
    sheet = placed(tone("Both"), *PAIR)
    assert analysed(sheet, NOISY).channel_polarity == "same"
    swapped = analysed(sheet, replace(NOISY, polarity=(1, -1), azimuth_rotation_deg=2.0))
    assert swapped.channel_polarity == "opposed"
    assert swapped.as_json()["channel_polarity"] == "opposed"
    assert any("leads of one are swapped" in note for note in swapped.notes)
    assert swapped.quantities["azimuth_rotation"].value == pytest.approx(2.0, abs=0.05)


def test_carrier_tells_a_resonance_where_no_sweep_does_and_says_so_if_not():
    steady = analysed(placed(tone("3150", hz=3150.0, duration_s=9.0)), NOISY)
    assert "resonance_lateral" not in steady.quantities
    assert steady.not_shown["resonance_lateral"]


def test_captures_share_the_error_of_the_record_and_nothing_else():
    tracking = [tone(f"{r}", hz=400.0, velocity=10.0, radius_mm=(r, r - 0.5)) for r in (138.0, 112.0, 88.0, 65.0)]
    sheet = placed(*PAIR, *tracking)
    before, after = (
        analysed(sheet, NOISY, capture_name=name, record_name="record 7") for name in ("capture 1", "capture 2")
    )
    rotation = [result.quantities["azimuth_rotation"] for result in (before, after)]
    # How the head stood that cut the record is one error in both; the noise of each capture is its own.
    assert covariance(*rotation) == pytest.approx(sum(c**2 for c in _of_cut(rotation[0], "record 7").values()))
    length = [result.quantities["effective_length_error"] for result in (before, after)]
    shared = {source.label for source in length[0].components} & {source.label for source in length[1].components}
    assert shared == {"level of record 7"}
    assert covariance(*length) > 0


def _of_cut(quantity, record):
    return {source: c for source, c in quantity.components.items() if source.label.endswith(f"cut of {record}")}


def test_stated_levels_known_better_leave_the_tracking_error_surer():
    tracking = [tone(f"{r}", hz=400.0, velocity=10.0, radius_mm=(r, r - 0.5)) for r in (138.0, 112.0, 88.0, 65.0)]
    usual, better = (
        analysed(replace(placed(*tracking), allowances=EXACT), NOISY, level_standard_uncertainty_db=db).quantities[
            "zenith_error"
        ]
        for db in (0.5, 0.05)
    )
    assert better.standard_uncertainty < usual.standard_uncertainty / 5
    assert better.value == pytest.approx(0, abs=4 * better.standard_uncertainty)


def test_start_set_by_hand_goes_before_the_sheets():
    sheet = placed(*PAIR)
    wrong = replace(sheet, bands=(replace(sheet.bands[0], start_s=0.0), sheet.bands[1]))
    result = analysed(sheet, NOISY)
    recording = recorded(sheet, NOISY)
    corrected = analyse_capture(
        recording, wrong, geometry=None, progress=lambda share, doing: None, start_corrections={"Left": 0.5}
    )
    assert corrected.bands == result.bands
    with pytest.raises(ValueError, match="no band is named 'Leftish'"):
        analyse_capture(
            recording, sheet, geometry=None, progress=lambda share, doing: None, start_corrections={"Leftish": 1.0}
        )


def test_mono_is_refused():
    with pytest.raises(ValueError, match="has one channel; a capture needs left and right"):
        analyse_capture(
            ArrayRecording(np.zeros(RATE_HZ), RATE_HZ), placed(*PAIR), geometry=None, progress=lambda share, doing: None
        )


def test_clipping_is_counted_where_nobody_did_and_the_bands_are_named():
    sheet = placed(*PAIR)
    loud = ArrayRecording(np.clip(20 * recorded(sheet, NOISY).samples, -1, 1), RATE_HZ)
    result = analyse_capture(loud, sheet, geometry=None, progress=lambda share, doing: None)
    (note,) = [note for note in result.notes if note.startswith("Clipped in")]
    assert "Left" in note


def test_clipped_sweep_shows_no_resonance_and_says_why():
    sweep = Band("Sweep", "sweep", "lateral", (25.0, 4.0), 3.0, (130.0, 128.0), None, 14.0)
    sheet = placed(tone("Both"), sweep)
    deck = replace(NOISY, resonance_lateral=Resonance(9.0, 4.0), level_dbfs=-5.0)
    quiet = analysed(sheet, replace(deck, level_dbfs=-20.0))
    assert quiet.quantities["resonance_lateral_q"].value == pytest.approx(4.0, abs=0.1)
    clipped = analysed(sheet, deck)
    for name in ("resonance_lateral", "resonance_lateral_q"):
        assert name not in clipped.quantities
        assert clipped.not_shown[name].startswith("Sweep is clipped, which flattens the peak of a resonance")


@pytest.mark.parametrize("evenly_in", ["octaves", "hertz"])
def test_resonance_is_as_sure_where_the_sweep_was_found(evenly_in):
    sweep = Band("Sweep", "sweep", "lateral", (25.0, 4.0), 1.0, (130.0, 128.0), None, 14.0, evenly_in)
    deck = replace(NOISY, resonance_lateral=Resonance(9.4, 2.6))
    recording = recorded(placed(tone("Both"), sweep), deck)
    sheet = BandSheet(False, RPM, (tone("Both"), sweep), allowances=EXACT)
    result = analyse_capture(recording, sheet, geometry=ARM, progress=lambda share, doing: None)
    assert result.bands[1].how == "found"
    for name, truth in (("resonance_lateral", 9.4), ("resonance_lateral_q", 2.6)):
        found = result.quantities[name]
        assert found.value == pytest.approx(truth, abs=3.5 * found.standard_uncertainty)
        assert found.standard_uncertainty < 0.02 * truth


def test_reason_is_given_once():
    result = analysed(placed(tone("3150", hz=3150.0)), NOISY)
    assert result.not_shown["wow_flutter_weighted_2sigma"].startswith("It needs 5 s of the tone")
    assert result.not_shown["eccentricity"].startswith("The stretch holds 0.")


def test_progress_rises_from_0_to_1():
    told = []
    analysed(placed(*PAIR), NOISY, progress=lambda share, doing: told.append((share, doing)))
    shares = [share for share, _ in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert all(doing for _, doing in told)


class Stopped(Exception):  # noqa: N818 - says what happened
    pass


@pytest.mark.parametrize("stage", ["Measuring the tone of Long", "Measuring the speed", "Measuring the noise"])
def test_analysis_can_be_stopped_within_a_long_band(stage):
    silence = Band("Silence", "silence", "lateral", (), None, (100.0, 99.0), None, 12.0)
    sheet = placed(tone("Long", hz=3150.0, duration_s=12.0), silence)
    recording = recorded(sheet, NOISY)
    told = []

    def stop_at_the_second_block(share, doing):
        told.append(doing)
        if told.count(stage) == 3:
            raise Stopped

    with pytest.raises(Stopped):
        analyse_capture(recording, sheet, geometry=ARM, progress=stop_at_the_second_block)
    # Once for the step, and once for each block that was read in it.
    assert told[-3:] == [stage] * 3


def test_pictures_hold_what_was_measured():
    deck = replace(NOISY, eccentricity_mm=0.2, resonance_lateral=Resonance(9.5, 2.5))
    speed = tone("3150", hz=3150.0, radius_mm=(140.0, 138.0), duration_s=8.0)
    silence = Band("Silence", "silence", "lateral", (), None, (100.0, 99.0), None, 3.0)
    result = analysed(placed(speed, silence), deck)
    (curve,) = result.pictures.speed
    # 0.2 mm at 139 mm, where the groove stands at 24 degrees: a sine of 0.158 %, which the other curve doesn't have.
    assert np.ptp(curve.deviation_percent) == pytest.approx(2 * 100 * 0.2 / 139 / np.cos(np.radians(24.2)), rel=0.05)
    assert np.ptp(curve.without_eccentricity_percent) < 0.2 * np.ptp(curve.deviation_percent)
    (spectrum,) = result.pictures.speed_spectra
    turn = np.argmin(np.abs(spectrum.frequency_hz - RPM / 60))
    assert spectrum.amplitude_percent[turn - 1 : turn + 2].max() == pytest.approx(100 * 0.2 / 139, rel=0.2)
    (raster,) = result.pictures.rasters
    assert raster.deviation_percent.shape == (raster.turn.size, raster.angle_deg.size)
    assert {curve.trace for curve in result.pictures.noise_spectra} == {"lateral", "vertical"}


def test_json_holds_three_keys_for_each_quantity():
    answer = analysed(placed(tone("Both"), *PAIR), NOISY).as_json()
    for name, held in answer.items():
        for entry in held if isinstance(held, list) and name not in ("notes", "bands") else [held]:
            if isinstance(entry, dict) and "value" in entry:
                assert {"value", "unit", "standard_uncertainty"} <= set(entry)
    assert [at["name"] for at in answer["bands"]] == ["Both", "Left", "Right"]
    assert answer["bands"][0]["start"] == Quantity.exact(0.5, "s").as_json()


@pytest.mark.skipif(sys.platform == "darwin", reason="the system counts memory in another unit there")
def test_memory_does_not_grow_with_the_recording():
    # As samples in memory, these 10 minutes alone would be 307 MB.
    program = Path(__file__).with_name("long_capture.py")
    ran = subprocess.run(
        [sys.executable, str(program), "10", "32000"], capture_output=True, text=True, check=False, timeout=300
    )
    assert ran.returncode == 0, ran.stderr
    assert float(ran.stdout) < 300


def test_a_tone_that_is_over_early_on_a_fast_platter_is_read_to_its_own_end():
    # 1.2 % fast, 12 s are over 0.14 s early: the fade must not count as flutter.
    deck = TrueDeck(geometry=ARM, speed_error_percent=1.2, recorder_noise_dbfs=-90, level_dbfs=-20.0)
    speed = tone("3150 Hz", hz=3150.0, radius_mm=(130.0, 129.0), duration_s=12.0)
    result = analysed(placed(speed), deck)
    assert result.quantities["speed_error"].value == pytest.approx(1.2, abs=0.001)
    assert result.quantities["wow_flutter_weighted_quasi_peak"].value < 0.001
