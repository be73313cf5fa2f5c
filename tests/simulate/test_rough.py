"""Roughness of a simulated deck, against formulas and tables that it is not made from."""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from groovewright.simulate.deck import TrueDeck
from groovewright.simulate.deck_sheet import read_deck
from groovewright.simulate.recording import simulate_recording
from groovewright.simulate.rough import Event, Rough, Wander
from groovewright.testtone.sheet.band_sheet import Band, BandSheet

RPM = 100 / 3
TURN_S = 1.8
FULL_SCALE_PER_CM_S = 10 ** (-14 / 20) / (5 / math.sqrt(2))
GUIDE = (Path(__file__).parents[2] / "docs/guide/deck-sheet.md").read_text("utf-8")


def tone(cut="lateral", frequency_hz=1000.0, velocity=5.0, radius_mm=60.0, duration_s=1.2):
    return Band("tone", "tone", cut, (frequency_hz,), velocity, (radius_mm, radius_mm), 0.0, duration_s)


def samples(rough, band, *, rate_hz=96_000, equalised=False, **deck):
    sheet = BandSheet(equalised, RPM, (band,))
    recording = simulate_recording(sheet, TrueDeck(rough=rough, **deck), sample_rate_hz=rate_hz, seed=3)
    return recording.read(0, recording.frame_count)


def lines(channel, rate_hz=96_000, start_s=0.1, length_s=1.0):
    first, count = round(start_s * rate_hz), round(length_s * rate_hz)
    return np.fft.rfft(channel[first : first + count]) / (count / 2)


# Exact values by envelope geometry, computed apart from this program: a tip on a groove of 60 mm radius at 33 1/3 rpm.
@pytest.mark.parametrize(
    ("hz", "radius_um", "wall_second", "lateral_third"),
    [(1000, 15, 3.767, 0.2113), (1000, 25, 6.265, 0.5845), (3000, 15, 11.195, 1.865), (3000, 25, 18.307, 4.977)],
)
def test_round_tip_distorts_as_the_envelope_of_its_circle(hz, radius_um, wall_second, lateral_third):
    rough = Rough(tip_radius_um=radius_um)
    wall = lines(samples(rough, tone("left", hz, 5 / math.sqrt(2)))[:, 0])
    assert 100 * abs(wall[2 * hz] / wall[hz]) == pytest.approx(wall_second, abs=0.002)
    left, right = samples(rough, tone("lateral", hz)).T
    lateral, vertical = lines(left + right), lines(left - right)
    assert 100 * abs(lateral[3 * hz] / lateral[hz]) == pytest.approx(lateral_third, abs=0.002)
    # The pinch of a lateral groove is all vertical.
    assert abs(lateral[2 * hz] / lateral[hz]) < 1e-6
    assert 100 * abs(vertical[2 * hz] / lateral[hz]) == pytest.approx(wall_second, abs=0.002)


def test_tip_that_is_larger_than_the_curves_of_its_groove_is_refused():
    with pytest.raises(ValueError, match="larger than the curves"):
        samples(Rough(tip_radius_um=25.0), tone("left", 15_000.0, 5.0))


def test_time_constants_of_each_channel_are_off_as_set():
    hz, error = 1000, 3.0
    rough = Rough(equalisation_left_percent=(0.0, 0.0, error), equalisation_right_percent=(0.0, error, 0.0))
    right_as_it_should, off = (
        np.array([lines(channel)[[hz, 5 * hz]] for channel in samples(each, tone(), equalised=True).T])
        for each in (None, rough)
    )
    assert abs(right_as_it_should[0, 0]) == pytest.approx(abs(off[0, 0]), rel=1e-4), "0 dB at 1 kHz stays"
    changed = 20 * np.log10(abs(off[:, 0]) / abs(right_as_it_should[:, 0]))
    assert changed == pytest.approx([0.0, 0.0], abs=1e-3)
    sheet = tone(frequency_hz=5000.0)
    plain, treble = (abs(lines(samples(each, sheet, equalised=True)[:, 0])[5000]) for each in (None, rough))

    def fall(treble_s):
        w5, w1 = 2 * math.pi * 5000 * treble_s, 2 * math.pi * 1000 * treble_s
        return math.sqrt((1 + w1**2) / (1 + w5**2))

    assert treble / plain == pytest.approx(fall(75e-6 * 1.03) / fall(75e-6), rel=1e-4)


@pytest.mark.parametrize("order", [1, 2])
def test_subsonic_filter_is_three_decibels_down_at_its_corner(order):
    low = Rough(subsonic_hz=20.0, subsonic_order=order)
    for hz in (10, 20, 200):
        plain, filtered = (
            abs(lines(samples(each, tone(frequency_hz=float(hz), velocity=1.0), equalised=True)[:, 0])[hz])
            for each in (Rough(), low)
        )
        expected = 1 / math.sqrt(1 + (20 / hz) ** (2 * order))
        assert filtered / plain == pytest.approx(expected, rel=2e-3)


def test_head_that_was_turned_cuts_the_other_wall_and_a_louder_cut_is_louder():
    plain = lines(samples(None, tone("left"))[:, 0])[1000]
    left, right = (
        lines(channel)[1000] for channel in samples(Rough(cut_azimuth_deg=2.0, cut_level_db=1.0), tone("left")).T
    )
    assert abs(left / plain) == pytest.approx(10 ** (1 / 20) * math.cos(math.radians(2)), rel=1e-4)
    assert (right / left).real == pytest.approx(-math.tan(math.radians(2)), rel=1e-4)


def test_fast_clock_makes_every_tone_slow():
    found = samples(Rough(clock_error_ppm=1000.0), tone(duration_s=2.0), rate_hz=48_000)[:, 0]
    spectrum = np.abs(np.fft.rfft(found[4800:52800] * np.hanning(48_000), 480_000))
    assert np.argmax(spectrum) / 10 == pytest.approx(1000 / 1.001, abs=0.06)


def test_wander_has_its_rms_and_its_time_is_the_integral_of_its_speed():
    wander = Wander.drawn(0.1, np.random.default_rng(1))
    time_s = np.arange(0, 300, 1e-3)
    ahead_s, faster = wander.passed(time_s)
    assert 100 * np.sqrt(np.mean(faster**2)) == pytest.approx(0.1, rel=0.1)
    summed = np.concatenate([[0.0], np.cumsum((faster[1:] + faster[:-1]) / 2 * 1e-3)])
    assert ahead_s == pytest.approx(summed, abs=2e-7)


def test_warp_lifts_the_stylus_and_sways_the_speed():
    found = samples(Rough(warp_mm=1.0, warp_cycles_per_turn=4, warp_lever=0.0), tone(velocity=0.001, duration_s=4.0))
    vertical = (found[:, 0] - found[:, 1]) / math.sqrt(2) / FULL_SCALE_PER_CM_S
    omega = 4 * 2 * math.pi * RPM / 60
    assert vertical.max() == pytest.approx(0.1 * omega, rel=1e-2)


@pytest.mark.parametrize(
    ("wiring", "expected"),
    [
        ("swapped", (0.0, 1.0)),
        ("left inverted", (-1.0, 0.0)),
        ("right inverted", (1.0, 0.0)),
        ("left dead", (0.0, 0.0)),
        ("right dead", (1.0, 0.0)),
        ("mono", (0.5, 0.5)),
    ],
)
def test_wiring_carries_the_channels_as_set(wiring, expected):
    plain = samples(None, tone("left"))[:, 0]
    found = samples(Rough(wiring=wiring), tone("left"))
    assert found == pytest.approx(np.outer(plain, expected), abs=1e-12)


def test_skip_and_locked_groove_are_whole_turns():
    # The radius runs, and so does the phase against time of a sweep, so a place in the groove shows in its frequency.
    sweep = Band("sweep", "sweep", "lateral", (400.0, 800.0), 1.0, (100.0, 99.0), 0.0, 12.0, "hertz")

    def played_hz(event, at_s):
        found = samples(Rough(events=(event,)), sweep, rate_hz=32_000)[:, 0]
        piece = found[round(at_s * 32_000) :][:3200]
        return np.argmax(np.abs(np.fft.rfft(piece * np.hanning(3200), 64_000))) / 2

    def cut_hz(at_s):
        return 400 + 400 / 12 * at_s

    middle_s = 0.05
    assert played_hz(Event("skip", 4.0, 2.0), 6.0) == pytest.approx(cut_hz(6.0 + 2 * TURN_S + middle_s), abs=1.5)
    assert played_hz(Event("skip", 4.0, -1.0), 6.0) == pytest.approx(cut_hz(6.0 - TURN_S + middle_s), abs=1.5)
    locked = Event("locked groove", 4.0, 3.0)
    assert played_hz(locked, 4.2 + 2 * TURN_S) == pytest.approx(cut_hz(4.2 + middle_s), abs=1.5)
    assert played_hz(locked, 4.2 + 4 * TURN_S) == pytest.approx(cut_hz(4.2 + TURN_S + middle_s), abs=1.5)


def test_events_stand_where_they_are_set():
    dropped = samples(Rough(events=(Event("dropout", 0.5, 0.1, 0.1),)), tone())[:, 0]
    plain = samples(None, tone())[:, 0]
    assert dropped[48_100:57_500] == pytest.approx(0.1 * plain[48_100:57_500])
    assert dropped[57_700:] == pytest.approx(plain[57_700:])
    needle = samples(Rough(events=(Event("needle drop", 0.5, 0.8),)), tone())[:, 0]
    assert np.abs(needle[:47_900]).max() < 1e-4
    assert np.abs(needle[48_000:50_000]).max() > 0.5
    burst = samples(Rough(events=(Event("tick burst", 0.3, 0.3, 0.2),)), tone())[:, 0]
    hit = np.flatnonzero(np.abs(burst - plain) > 1e-9)
    assert 0.3 * 96_000 <= hit.min() < hit.max() <= 0.5 * 96_000


def test_clipping_stays_flat_behind_a_later_gain():
    found = samples(Rough(clip_at=0.1, gain_after_db=-6.0), tone())[:, 0]
    top = 0.1 * 10 ** (-6 / 20)
    assert found.max() == pytest.approx(top)
    assert np.count_nonzero(found == found.max()) > 1000


def test_example_of_a_rough_deck_in_the_guide_is_read():
    (text,) = re.findall(r"```toml\n(\n?# What a real deck.*?)```", GUIDE, re.DOTALL)
    rough = read_deck(text).rough
    assert rough is not None
    assert rough.tip_radius_um == pytest.approx(7.0)
    assert rough.events == (Event("tick burst", 50.5, 0.1),)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[rough]\nwiring = "crossed"\n', "is not known; write one of right, swapped"),
        ("[rough]\nsubsonic_order = 1.5\n", "is not whole"),
        ('[[event]]\nkind = "skip"\nat_s = 3\nsize = 0.5\n', "a skip is a whole number of turns"),
        ('[[event]]\nkind = "bang"\nat_s = 3\nsize = 1\n', "is not known; write one of skip"),
    ],
)
def test_what_cannot_be_is_refused(text, said):
    with pytest.raises(ValueError, match=re.escape(said)):
        read_deck(text)
