"""What a recording confirms of its sheet: a wrong fact is named with what would be right, and settled by it."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from groovewright.simulate.deck import SpeedSine, TrueDeck
from groovewright.simulate.recording import simulate_recording
from groovewright.simulate.rough import Event, Rough
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.checks.doubts import Doubt, WiredRecording, settled
from groovewright.testtone.checks.events import RecordedEvent, bursts_of, events_of, without_events
from groovewright.testtone.finding.band_features import signal_features, tuning_of
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import geometry_from_nulls

RPM, RATE_HZ = 100 / 3, 32_000
ARM = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))
DECK = TrueDeck(
    geometry=ARM,
    azimuth_rotation_deg=3.0,
    speed_error_percent=0.1,
    eccentricity_mm=0.3,
    flutter=(SpeedSine(5.0, 0.03),),
    surface_noise_db=-60.0,
    recorder_noise_dbfs=-95.0,
    level_dbfs=-20.0,
)


def tone(name, cut, hz, *, velocity=5.0, radius_mm=140.0, seconds=2.0):
    return Band(name, "tone", cut, (hz,), velocity, (radius_mm, radius_mm - 0.5), None, seconds)


def placed(*bands):
    start_s, found = 1.0, []
    for band in bands:
        found.append(replace(band, start_s=start_s))
        start_s += band.duration_s + 1.0
    return BandSheet(True, RPM, tuple(found))


SHEET = placed(
    tone("speed", "lateral", 3150.0, radius_mm=143.0, seconds=8.0),
    tone("left", "left", 1000.0, radius_mm=138.0),
    tone("right", "right", 1000.0, radius_mm=136.0),
    tone("both", "lateral", 400.0, radius_mm=134.0),
    tone("up", "vertical", 400.0, radius_mm=132.0),
)


@cache
def recorded(rough=None, deck=DECK):
    made = simulate_recording(SHEET, replace(deck, rough=rough), sample_rate_hz=RATE_HZ, seed=2)
    silence = 1e-5 * np.random.default_rng(1).standard_normal((8 * RATE_HZ, 2))
    return ArrayRecording(np.concatenate([made.read(0, made.frame_count), silence]), RATE_HZ)


def analysed(sheet=SHEET, rough=None, deck=DECK, **how):
    return analyse_capture(recorded(rough, deck), sheet, geometry=ARM, progress=lambda share, doing: None, **how)


def with_band(name, **changes):
    return replace(SHEET, bands=tuple(replace(b, **changes) if b.name == name else b for b in SHEET.bands))


def shifted(seconds):
    return replace(SHEET, bands=tuple(replace(b, start_s=b.start_s + seconds) for b in SHEET.bands))


def test_nothing_is_doubted_where_all_is_right():
    found = analysed()
    assert found.doubts == ()
    assert found.events == ()
    assert {"speed_error", "azimuth_rotation", "channel_balance"} <= set(found.quantities)


@pytest.mark.parametrize(
    ("sheet", "fact", "right"),
    [
        (shifted(0.3), "starts", {"start_shift_s": -0.3}),
        (shifted(-0.5), "starts", {"start_shift_s": 0.5}),
        (with_band("speed", frequency_hz=(3000.0,)), "frequency", {"frequency_hz": 3150.0}),
        (with_band("speed", frequency_hz=(3190.0,)), "frequency", {"frequency_hz": 3150.0}),
        (replace(SHEET, speed_rpm=45.0), "speed_rpm", {"speed_rpm": RPM}),
        (replace(SHEET, equalised=False), "equalised", {"equalised": True}),
    ],
    ids=["late", "early", "3000 for 3150", "3190 for 3150", "45 for 33", "equalised"],
)
def test_wrong_fact_is_named_withheld_and_settled_by_what_would_be_right(sheet, fact, right):
    found = analysed(sheet)
    (doubt,) = found.doubts
    assert doubt.fact == fact
    assert doubt.right == {key: pytest.approx(value, abs=0.05) for key, value in right.items()}
    for name in doubt.withheld:
        assert name not in found.quantities
    assert any(found.not_shown.get(name, "").startswith(doubt.what[:40]) for name in doubt.withheld)
    assert analysed(settled(sheet, doubt)).doubts == ()
    agreed = analysed(sheet, agreed=(doubt.key,))
    assert agreed.doubts == ()
    assert found.as_json()["doubts"][0]["right"] == dict(doubt.right)


def test_start_within_what_the_guide_allows_is_no_matter():
    found = analysed(shifted(0.09))
    assert found.doubts == ()
    assert found.quantities["speed_error"].value == pytest.approx(0.1, abs=0.002)


def test_band_that_holds_something_else_is_not_used_and_says_what_is_there():
    found = analysed(with_band("up", frequency_hz=(500.0,)))
    assert found.not_shown["vertical_tracking_angle_error"]
    assert any("'up' does not hold its tone of 500 Hz" in n and "a tone of 40" in n for n in found.notes)
    assert found.doubts[0].right == {"frequency_hz": 400.0}
    assert "speed_error" in found.quantities


@pytest.mark.parametrize(
    ("wiring", "offered"),
    [
        ("swapped", "swapped"),
        ("mono", None),
        ("left dead", None),
        ("right dead", None),
        ("right inverted", "right inverted"),
    ],
)
def test_wiring_is_found(wiring, offered):
    rough = Rough(wiring=wiring)
    found = analysed(rough=rough)
    doubt = found.doubts[0]
    assert doubt.fact == "channels"
    assert doubt.right.get("wiring") == offered
    assert "speed_error" in found.quantities, "the speed is that of either channel"
    if wiring != "right inverted":
        assert "azimuth_rotation" not in found.quantities
    if offered is not None:
        right = analysed(rough=rough, wiring=offered)
        assert right.doubts == ()
        assert right.quantities["azimuth_rotation"].value == pytest.approx(3.0, abs=0.05)


def test_record_played_at_another_speed_is_named():
    found = analysed(deck=replace(DECK, speed_error_percent=35.0))
    assert [doubt.fact for doubt in found.doubts] == ["played speed"]
    assert "45 rpm" in found.doubts[0].what
    assert found.quantities == {}


def test_level_of_one_band_stands_out():
    found = analysed(with_band("both", peak_velocity_cm_s=2.5))
    assert [(doubt.fact, doubt.band) for doubt in found.doubts] == [("level", "both")]
    assert "6.0 dB louder" in found.doubts[0].what


def test_band_that_is_cut_otherwise_stands_out():
    found = analysed(with_band("both", cut="vertical"))
    assert [(doubt.fact, doubt.band) for doubt in found.doubts] == [("band", "both")]


def test_clipped_band_shows_its_speed_and_no_level():
    found = analysed(rough=Rough(clip_at=0.05, gain_after_db=-5.0))
    assert {doubt.fact for doubt in found.doubts} == {"clipping"}
    assert "azimuth_rotation" not in found.quantities
    assert "speed_error" in found.quantities


AT_S = 5.5


@pytest.mark.parametrize(
    ("event", "kind"),
    [
        (Event("dropout", AT_S, 0.1, 0.05), "dropout"),
        (Event("dropout", AT_S, 0.0, 0.5), "dropout"),
        (Event("skip", AT_S, 1.0), "skip"),
        (Event("skip", AT_S, -1.0), "skip"),
        (Event("locked groove", AT_S - 4.0, 2.0), "locked groove"),
        (Event("tick burst", AT_S, 0.5, 0.4), "tick burst"),
    ],
    ids=lambda one: one if isinstance(one, str) else f"{one.kind} {one.size} {one.lasts_s}",
)
def test_event_in_a_tone_is_found_with_its_time(event, kind):
    at = LocatedBand(SHEET.bands[0], 1.1, 7.5, "from the sheet")
    recording = recorded(Rough(events=(event,)))
    features = signal_features(recording, {tuning_of(at.band)})
    events = [*events_of(recording, at, turn_s=1.8), *bursts_of(features, at)]
    assert kind in {found.kind for found in events}
    first = min(found.start_s for found in events if found.kind == kind)
    # The groove is locked from the first time that the stylus falls back, a turn after it was caught.
    expected = event.at_s + (1.8 if kind == "locked groove" else 0.0)
    assert first == pytest.approx(expected, abs=0.06)


def test_event_is_cut_out_and_the_speed_stays_right():
    rough = Rough(events=(Event("dropout", 3.0, 0.05, 0.05),))
    found = analysed(rough=rough)
    assert [event.kind for event in found.events] == ["dropout"]
    assert found.quantities["speed_error"].value == pytest.approx(0.1, abs=0.005)
    assert found.quantities["wow_flutter_unweighted_2sigma_without_eccentricity"].value == pytest.approx(
        0.03, abs=0.002
    )
    assert found.as_json()["events"][0]["kind"] == "dropout"


def test_longest_part_without_an_event_is_kept_with_its_radii():
    at = LocatedBand(tone("one", "lateral", 1000.0, seconds=10.0), 0.0, 10.0, "from the sheet")
    kept = without_events(at, [RecordedEvent("skip", 3.0, 0.1, "one"), RecordedEvent("skip", 1.0, 0.1, "other")])
    assert kept.start_s == pytest.approx(3.13)
    assert kept.start_s + kept.duration_s == pytest.approx(10.0)
    assert kept.band.radius_mm == pytest.approx((140.0 - 0.5 * 0.313, 139.5))


def test_steady_tones_with_ticks_hold_no_events():
    at = LocatedBand(SHEET.bands[0], 1.1, 7.5, "from the sheet")
    noisy = recorded(None, replace(DECK, clicks_per_minute=60.0, eccentricity_mm=0.4, flutter=(SpeedSine(9.0, 0.1),)))
    assert events_of(noisy, at, turn_s=1.8) == ()


def test_wiring_is_put_right_sample_by_sample():
    recording = ArrayRecording(np.array([[1.0, 2.0], [3.0, 4.0]]), 48_000)
    assert WiredRecording(recording, "swapped").read(0, 2).tolist() == [[2.0, 1.0], [4.0, 3.0]]
    assert WiredRecording(recording, "left inverted").read(1, 1).tolist() == [[-3.0, 4.0]]
    assert WiredRecording(recording, "right inverted").read(1, 1).tolist() == [[3.0, -4.0]]
    with pytest.raises(ValueError, match="not known"):
        WiredRecording(recording, "crossed")


def test_what_no_sheet_settles_is_refused():
    with pytest.raises(ValueError, match="nothing on the sheet settles"):
        settled(SHEET, Doubt("channels", "", "Both channels hold the same."))
