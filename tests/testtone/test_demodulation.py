"""The demodulator: level, phase, time axis, edges, and what it refuses."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.tones.demodulation import demodulate

# Filters reject by 120 dB, so a tone comes back to a few millionths of itself.
ONE_MILLIONTH = 1e-6


def tone(rate_hz, seconds, amplitude=0.5, frequency_hz=3150.0, phase=0.4):
    t = np.arange(round(rate_hz * seconds)) / rate_hz
    mono = amplitude * np.cos(2 * np.pi * frequency_hz * t + phase)
    return ArrayRecording(np.column_stack([mono, mono]), rate_hz)


@pytest.mark.parametrize("rate_hz", [32_000, 44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize(("carrier_hz", "half_width_hz"), [(3150.0, 250.0), (1000.0, 50.0), (12_000.0, 100.0)])
def test_level_and_phase_of_a_steady_tone_are_exact_from_edge_to_edge(rate_hz, carrier_hz, half_width_hz):
    recording = tone(rate_hz, 1.0, frequency_hz=carrier_hz)
    baseband = demodulate(
        recording, start_s=0.2, duration_s=0.6, mix=(0.5, 0.5), carrier_hz=carrier_hz, half_width_hz=half_width_hz
    )
    np.testing.assert_allclose(baseband.samples, 0.5 * np.exp(0.4j), rtol=0, atol=4 * ONE_MILLIONTH)
    assert baseband.rate_hz >= 4 * half_width_hz


@pytest.mark.parametrize("offset_hz", [-240.0, -90.0, 30.0, 250.0])
def test_a_tone_beside_the_carrier_turns_at_the_difference_with_the_time_axis_exact(offset_hz):
    recording = tone(96_000, 3.0, frequency_hz=3150 + offset_hz)
    baseband = demodulate(recording, start_s=0.5, duration_s=2.3, mix=(0.5, 0.5), carrier_hz=3150, half_width_hz=250)
    expected = 0.5 * np.exp(1j * (0.4 + 2 * np.pi * offset_hz * baseband.times_s))
    np.testing.assert_allclose(baseband.samples, expected, rtol=0, atol=4 * ONE_MILLIONTH)


def test_an_event_is_found_at_the_time_at_which_it_happened():
    rate_hz = 96_000
    t = np.arange(4 * rate_hz) / rate_hz
    happened_s = 2.3456
    mono = 0.3 * (1 + np.exp(-(((t - happened_s) / 0.02) ** 2))) * np.cos(2 * np.pi * 3150 * t)
    baseband = demodulate(
        ArrayRecording(mono, rate_hz), start_s=0.0, duration_s=4.0, mix=(1,), carrier_hz=3150, half_width_hz=250
    )
    rise = np.abs(baseband.samples) - 0.3
    centre_s = np.sum(rise * baseband.times_s) / np.sum(rise)
    assert centre_s == pytest.approx(happened_s, abs=1e-6)


def test_what_lies_outside_the_stretch_does_not_reach_into_the_result():
    recording = tone(96_000, 2.0)
    shouting = recording.samples.copy()
    shouting[: 96_000 // 2] = 0.9 * np.sign(np.sin(np.arange(48_000) * 0.2))[:, None]
    shouting[96_000 * 3 // 2 :] = 0.0
    stretch = {"start_s": 0.5, "duration_s": 1.0, "mix": (1, 0), "carrier_hz": 3150, "half_width_hz": 250}
    alone = demodulate(recording, **stretch)
    beside = demodulate(ArrayRecording(shouting, 96_000), **stretch)
    np.testing.assert_array_equal(beside.samples, alone.samples)


def test_what_was_trimmed_is_said_and_accounts_for_the_whole_stretch():
    baseband = demodulate(
        tone(96_000, 2.0), start_s=0.25, duration_s=1.5, mix=(1, 0), carrier_hz=3150, half_width_hz=250
    )
    before_s, after_s = baseband.trimmed_s
    covered_s = (baseband.samples.size - 1) / baseband.rate_hz
    assert before_s + covered_s + after_s == pytest.approx(1.5, abs=1e-12)
    assert baseband.start_s == pytest.approx(0.25 + before_s, abs=1e-12)
    assert 0 < before_s < 0.03
    assert 0 < after_s < 0.03 + 1 / baseband.rate_hz


def test_the_size_of_the_blocks_does_not_matter():
    rate_hz = 48_000
    noise = np.random.default_rng(3).normal(size=(rate_hz * 8, 1)) * 0.1
    whole = demodulate(
        ArrayRecording(noise, rate_hz), start_s=0, duration_s=8, mix=(1,), carrier_hz=1000, half_width_hz=100
    )
    # 8 s are three blocks; 2 s from the middle are one.
    part = demodulate(
        ArrayRecording(noise, rate_hz), start_s=3, duration_s=2, mix=(1,), carrier_hz=1000, half_width_hz=100
    )
    common = np.interp(part.times_s, whole.times_s, whole.samples.real)
    grid_offset = (part.start_s - whole.start_s) * whole.rate_hz
    assert grid_offset == pytest.approx(round(grid_offset), abs=1e-6)
    np.testing.assert_allclose(part.samples.real, common, rtol=0, atol=ONE_MILLIONTH)


def test_left_and_right_are_weighed_as_asked():
    t = np.arange(48_000) / 48_000
    both = np.column_stack([0.4 * np.cos(2 * np.pi * 1000 * t), 0.1 * np.sin(2 * np.pi * 1000 * t)])
    stretch = {"start_s": 0, "duration_s": 1, "carrier_hz": 1000, "half_width_hz": 100}
    vertical = demodulate(ArrayRecording(both, 48_000), mix=(0.5, -0.5), **stretch)
    np.testing.assert_allclose(vertical.samples, 0.2 + 0.05j, rtol=0, atol=4 * ONE_MILLIONTH)


@pytest.mark.parametrize("neighbour_hz", [60.0, 2100.0, 4200.0, 6300.0, 12_000.0, 20_850.0, 45_000.0])
def test_what_lies_three_half_widths_away_is_rejected_wherever_it_might_fold(neighbour_hz):
    recording = tone(96_000, 1.0, frequency_hz=neighbour_hz)
    baseband = demodulate(recording, start_s=0, duration_s=1, mix=(1, 0), carrier_hz=3150, half_width_hz=250)
    middle = baseband.samples[20:-20]
    assert np.abs(middle).max() < 0.5 * ONE_MILLIONTH * 2


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"start_s": 1.9}, "is not within the recording of 2 s"),
        ({"start_s": -0.1}, "is not within the recording"),
        ({"duration_s": 0.0}, "is not within the recording"),
        ({"duration_s": 0.03}, "too short for 250 Hz around 3150 Hz; give at least"),
        ({"mix": (1.0,)}, "1 weights for 2 channels"),
        ({"carrier_hz": 47_000.0}, "below 43200 Hz"),
        ({"carrier_hz": 200.0}, "must lie above 0 Hz"),
        ({"half_width_hz": 0.0}, "0 Hz around 3150 Hz"),
    ],
)
def test_refusals_say_what_would_do(change, sentence):
    asked = {"start_s": 0.1, "duration_s": 1.0, "mix": (0.5, 0.5), "carrier_hz": 3150.0, "half_width_hz": 250.0}
    with pytest.raises(ValueError, match=sentence):
        demodulate(tone(96_000, 2.0), **(asked | change))
