"""Wow and flutter against the figures of IEC 60386 and AES6, as far as they are known, and against known truths."""

from __future__ import annotations

import dataclasses
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.speed.flutter_weighting import WEIGHTING_TABLE, unweighted_gain, weighting_gain
from groovewright.testtone.speed.quasi_peak import highest_readings, pointer, quasi_peak
from groovewright.testtone.speed.speed import speed_of
from groovewright.testtone.speed.wow_flutter import (
    FlutterFilters,
    _even_draws,
    two_sigma,
    two_sigma_without_noise,
    wow_flutter,
)
from groovewright.testtone.tones.demodulation import Baseband, demodulate

PUBLISHED = tomllib.loads(Path("tests/published/wow_flutter.toml").read_text())


def played(*, seconds, flutter=(), speed_error=0.0, noise=0.0, seed=0, rate_hz=1000.0):
    """A 3150 Hz tone, already demodulated, whose speed is known in closed form; flutter is (Hz, peak, phase)."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    cycles = 3150 * speed_error * t
    for frequency, peak, phase in flutter:
        cycles += 3150 * peak / (2 * np.pi * frequency) * np.sin(2 * np.pi * frequency * t + phase)
    samples = np.exp(2j * np.pi * cycles)
    if noise:
        rng = np.random.default_rng(seed)
        samples += noise * (rng.normal(size=t.size) + 1j * rng.normal(size=t.size))
    return Baseband(rate_hz, samples, 0.0, 3150.0, 250.0, (0.0, 0.0))


def measured(**how):
    return wow_flutter(speed_of(played(**how), 3150.0, 100 / 3, radius_mm=(100.0, 100.0)))


def test_two_sigma_of_4_hz_on_3150_hz_from_the_samples_on():
    # 0.1000 % peak at 4 Hz for 30 s reads 0.0997 %, to 0.0005 %.
    rate_hz = 48_000
    t = np.arange(30 * rate_hz) / rate_hz
    tone = 0.5 * np.cos(2 * np.pi * 3150 * t + 3.15 / 4 * np.sin(2 * np.pi * 4 * t))
    baseband = demodulate(
        ArrayRecording(tone, rate_hz), start_s=0, duration_s=30, mix=(1,), carrier_hz=3150, half_width_hz=250
    )
    result = wow_flutter(speed_of(baseband, 3150, 100 / 3, radius_mm=(100, 100)))
    assert result.weighted_2sigma.value == pytest.approx(0.0997, abs=0.0005)
    assert result.unweighted_2sigma.value == pytest.approx(0.0997, abs=0.0005)
    assert result.weighted_quasi_peak.value == pytest.approx(0.1, abs=0.002)


@pytest.mark.parametrize("row", PUBLISHED["two_sigma"], ids=lambda row: row["what"])
def test_two_sigma_of_known_distributions(row):
    count = 1_000_000
    if row["what"] == "sine":
        deviation = np.sin(2 * np.pi * (np.arange(count) + 0.5) / count)
    else:
        deviation = np.random.default_rng(5).normal(size=count)
    # Drawn from a million values, the quantile of noise scatters by 0.2 %.
    assert two_sigma(deviation) == pytest.approx(row["value"], abs=row["tolerance"])


def test_gaussian_speed_reads_196_percent_of_its_deviation():
    # 0.05 % of noise between 5 and 100 Hz, unweighted: 0.0980 % to 0.002 %.
    rng = np.random.default_rng(11)
    count, rate_hz = 60_000, 1000.0
    frequency = np.fft.rfftfreq(count, 1 / rate_hz)
    drawn = rng.normal(size=frequency.size) + 1j * rng.normal(size=frequency.size)
    band = (frequency > 5) & (frequency < 100)
    speed = np.fft.irfft(np.where(band, drawn, 0), n=count)
    phase = np.fft.irfft(np.where(band, drawn / (2j * np.pi * np.maximum(frequency, 1)), 0), n=count) * (
        0.0005 / speed.std()
    )
    baseband = Baseband(rate_hz, np.exp(2j * np.pi * 3150 * phase), 0.0, 3150.0, 250.0, (0.0, 0.0))
    result = wow_flutter(speed_of(baseband, 3150, 100 / 3, radius_mm=(100, 100)))
    assert result.unweighted_2sigma_without_eccentricity.value == pytest.approx(0.0980, abs=0.002)


@pytest.mark.parametrize("speed_error", [-0.03, 0.0, 0.005, 0.03])
def test_mean_speed_does_not_change_the_reading(speed_error):
    # The same relative flutter at any mean speed: its frequency deviation grows with the speed.
    flutter = [(4.0, 0.001 * (1 + speed_error), 0.3)]
    result = measured(seconds=10, flutter=flutter, speed_error=speed_error)
    assert result.weighted_2sigma.value == pytest.approx(0.1 * math.sin(0.475 * math.pi), abs=0.0002)


@pytest.mark.parametrize("row", WEIGHTING_TABLE, ids=lambda row: f"{row[0]:g} Hz")
def test_weighting_meets_its_table_which_is_from_memory(row):
    # From memory of IEC 60386 and AES6: this shows that the curve meets the table, not that the table is right.
    frequency_hz, gain_db = row
    if frequency_hz < 200:
        assert 20 * np.log10(weighting_gain(frequency_hz)) == pytest.approx(gain_db, abs=0.05)


def test_weighting_has_the_shape_that_the_abstract_of_aes6_gives():
    frequency = np.geomspace(0.05, 199, 2000)
    gain_db = 20 * np.log10(weighting_gain(frequency))
    assert frequency[gain_db.argmax()] == pytest.approx(4.0, rel=0.01)
    assert np.all(np.diff(gain_db[frequency < 3.9]) > 0)
    assert np.all(np.diff(gain_db[frequency > 4.1]) < 0)

    def slope_db_an_octave(low_hz, high_hz):
        low, high = 20 * np.log10(weighting_gain([low_hz, high_hz]))
        return abs(high - low) / np.log2(high_hz / low_hz)

    assert 4 < slope_db_an_octave(20, 100) < 7
    assert 3 < slope_db_an_octave(0.5, 1.6) < 9
    assert slope_db_an_octave(0.2, 0.5) > slope_db_an_octave(0.5, 1.6)


@pytest.mark.parametrize(("frequency_hz", "gain_db"), [(20.0, -5.9), (0.8, -6.0), (1.6, -1.8), (63.0, -14.2)])
def test_a_steady_flutter_is_weighted_by_the_table(frequency_hz, gain_db):
    # 2 % of the set value, by the table from memory.
    result = measured(seconds=12.3, flutter=[(frequency_hz, 0.001, 1.0)])
    set_value = 0.1 * math.sin(0.475 * math.pi) * 10 ** (gain_db / 20)
    assert result.weighted_2sigma_without_eccentricity.value == pytest.approx(set_value, rel=0.02)
    assert result.unweighted_2sigma_without_eccentricity.value == pytest.approx(0.0997, rel=0.02)


def test_the_unweighted_band_is_flat_from_a_fifth_of_a_hertz_to_200_hz():
    np.testing.assert_allclose(unweighted_gain(np.geomspace(0.2, 200, 50)), 1.0, atol=1e-12)
    np.testing.assert_array_equal(unweighted_gain([0.0, 0.1]), 0.0)
    np.testing.assert_allclose(unweighted_gain([250.0, 400.0]), 0.0, atol=1e-12)


def pulses(milliseconds, rate_hz=1000.0):
    """Pulses to one side, once a second, of the same peak to peak as a sine of peak 1."""
    signal = np.zeros(round(10 * rate_hz))
    for second in range(10):
        first = round((second + 0.2) * rate_hz)
        signal[first : first + round(milliseconds * rate_hz / 1000)] = 2.0
    return signal


@pytest.mark.parametrize("row", PUBLISHED["pulse"], ids=lambda row: f"{row['milliseconds']} ms, {row['source']}")
@pytest.mark.parametrize("rate_hz", [1000.0, 11_025 / 11])
def test_quasi_peak_of_a_pulse_once_a_second(row, rate_hz):
    reading = 100 * quasi_peak(pulses(row["milliseconds"], rate_hz), rate_hz)
    assert reading == pytest.approx(row["percent"], abs=row["tolerance"])


def test_between_pulses_of_100_ms_the_reading_falls_to_40_percent():
    # From AES6's abstract; half of the last digit that it gives.
    highest, lowest = pointer(pulses(100), 1000.0, settled_s=2.0)
    assert 100 * lowest / highest == pytest.approx(PUBLISHED["fall"]["percent"], abs=PUBLISHED["fall"]["tolerance"])


@pytest.mark.parametrize("frequency_hz", [4.0, 10.0, 50.0])
def test_quasi_peak_of_a_steady_sine_is_its_peak(frequency_hz):
    t = np.arange(8000) / 1000
    assert quasi_peak(0.7 * np.sin(2 * np.pi * frequency_hz * t), 1000.0) == pytest.approx(0.7, rel=0.04)


def test_a_long_signal_read_in_stretches_reads_as_a_whole():
    rng = np.random.default_rng(2)
    signal = np.convolve(rng.normal(size=65_000), np.hanning(120) / 60, mode="same")
    whole = quasi_peak(signal, 1000.0)
    readings, where = highest_readings(np.array([signal, signal[::-1]]), 1000.0)
    # What came before the run-up is forgotten to a few parts in 100,000.
    assert readings[0] == pytest.approx(whole, rel=1e-4)
    assert quasi_peak(signal[where[0]], 1000.0) == pytest.approx(whole, rel=1e-4)
    assert readings[1] == pytest.approx(quasi_peak(signal[::-1], 1000.0), rel=1e-4)


def test_too_slow_a_signal_is_refused_by_the_detector():
    with pytest.raises(ValueError, match="give at least 800"):
        quasi_peak(np.zeros(100), 100.0)


def test_with_and_without_the_eccentricity():
    turn_hz = 100 / 180
    result = measured(seconds=15, flutter=[(turn_hz, 0.002, 0.0), (4.0, 0.0005, 0.0)])
    assert result.weighted_2sigma_without_eccentricity.value == pytest.approx(0.0498, abs=0.0005)
    assert result.unweighted_2sigma_without_eccentricity.value == pytest.approx(0.0498, abs=0.0005)
    assert result.unweighted_2sigma.value > 0.2
    share = float(weighting_gain(turn_hz))
    assert 0.05 < result.weighted_2sigma.value < 0.05 + 0.2 * share + 0.001
    assert result.weighted_quasi_peak.value > result.weighted_quasi_peak_without_eccentricity.value


@pytest.mark.parametrize("flutter_hz", [3.3, 6.467, 11.2])
def test_an_off_centre_record_does_not_colour_what_the_platter_does(flutter_hz):
    # The groove's angle is the platter's plus e/r of its sine, e/r 0.3 %: the platter wavers as if it were on centre.
    t = np.arange(8000) / 1000
    platter = 2 * np.pi / 1.8 * (t + 5e-4 / (2 * np.pi * flutter_hz) * np.sin(2 * np.pi * flutter_hz * t))
    cycles = 3150 * 1.8 / (2 * np.pi) * (platter + 0.003 * np.sin(platter))
    baseband = Baseband(1000.0, np.exp(2j * np.pi * (cycles - 3150 * t)), 0.0, 3150.0, 250.0, (0.0, 0.0))
    result = wow_flutter(speed_of(baseband, 3150.0, 100 / 3, radius_mm=(100.0, 100.0)))
    share, turn_share = float(weighting_gain(flutter_hz)), float(weighting_gain(1 / 1.8))
    wavered = 0.05 * share * np.cos(2 * np.pi * flutter_hz * t)
    assert result.weighted_2sigma_without_eccentricity.value == pytest.approx(two_sigma(wavered), rel=2e-4)
    assert result.weighted_quasi_peak_without_eccentricity.value == pytest.approx(quasi_peak(wavered, 1000), rel=2e-4)
    # With it, the platter's waver is that much more where the groove runs faster.
    swing = 0.003 * np.cos(platter)
    both = wavered * (1 + swing) + 100 * turn_share * swing
    assert result.weighted_2sigma.value == pytest.approx(two_sigma(both), rel=2e-4)


def test_a_stretch_under_5_s_is_not_shown_and_says_why():
    result = measured(seconds=4.5, flutter=[(4.0, 0.001, 0.0)])
    assert result.weighted_2sigma is None
    assert result.not_shown == ("Wow and flutter is not shown: it needs 5 s of the tone and 4.5 s can be used.",)


def test_that_the_table_is_from_memory_is_said_with_every_result():
    assert any("from memory" in note for note in measured(seconds=6).notes)
    assert "from memory" in weighting_gain.__doc__
    assert "from memory" in quasi_peak.__doc__


def test_a_narrow_baseband_is_refused():
    baseband = Baseband(1000.0, np.ones(8000, dtype=complex), 0.0, 300.0, 200.0, (0.0, 0.0))
    with pytest.raises(ValueError, match="needs 250 Hz"):
        wow_flutter(speed_of(baseband, 300.0, 100 / 3))


def test_noise_for_samples_far_apart_is_folded_as_they_fold_it():
    # Both draws have the same standard deviation, for they are samples of the same noise.
    filters = FlutterFilters(speed_of(played(seconds=8, noise=0.02), 3150.0, 100 / 3))
    rng = np.random.default_rng(1)
    dense = filters.noise_alone(weighting_gain, 1.0, rng, count=20_000)
    sparse = filters.noise_alone(weighting_gain, 1.0, rng, count=20_000, every=29)
    assert sparse.std() == pytest.approx(dense.std(), rel=0.01)
    # And it is the noise that the tone has: the deviation of a steady tone is nothing else.
    signal = filters.deviation(weighting_gain)[1]
    assert dense.std() == pytest.approx(signal.std(), rel=0.05)


@pytest.mark.parametrize("hz", [4.0, 9.5])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_uncertainty_of_a_steady_flutter_is_what_noise_does_to_its_size(hz, seed):
    # A sine in white noise of density S is known to sqrt(S / T), however the sixteen draws behind it fall.
    seconds, noise = 8.0, 0.01
    filters = FlutterFilters(
        speed_of(played(seconds=seconds, flutter=[(hz, 1e-3, 0.4)], noise=noise, seed=seed), 3150.0, 100 / 3)
    )
    assert not filters.kept.any()
    of_phase = math.sqrt(2 * noise**2 / 1000.0 / seconds)
    expected = 100 * hz / 3150 * float(weighting_gain(hz)) * of_phase
    rng = np.random.default_rng(seed)
    for reading in two_sigma_without_noise(filters, weighting_gain, rng, source="noise")[1:]:
        parts = {source.label: part for source, part in reading.components.items()}
        assert parts["noise, in the deviation"] == pytest.approx(expected, rel=0.06)
        assert math.isinf(reading.degrees_of_freedom)


def test_unsteady_flutter_that_would_stand_out_is_taken_for_signal_and_what_noise_hides_is_told():
    hidden = {}
    for seconds in (8.0, 32.0):
        result = measured(seconds=seconds, flutter=[(4.0, 1e-3, 0.0)], noise=0.01)
        (told,) = (note for note in result.notes if "Unsteady flutter" in note)
        hidden[seconds] = float(told.split("up to ")[1].split(" %")[0])
    # A power can be told from noise as the root of the number of its lines, so its rms as the fourth root.
    assert hidden[32.0] / hidden[8.0] == pytest.approx(4**-0.25, rel=0.05)
    baseband = played(seconds=8.0, flutter=[(4.0, 1e-3, 0.0)], noise=0.01)
    quiet = FlutterFilters(speed_of(baseband, 3150.0, 100 / 3))
    noise_percent = quiet.noise_alone(weighting_gain, 1.0, np.random.default_rng(1), count=20_000).std()
    assert 0.15 < hidden[8.0] / noise_percent < 0.4
    # As much again as the noise itself is seen, and read.
    wavers = np.exp(1j * 0.02 * np.random.default_rng(7).normal(size=baseband.samples.size))
    loud = FlutterFilters(speed_of(dataclasses.replace(baseband, samples=baseband.samples * wavers), 3150.0, 100 / 3))
    assert loud.kept[(loud.frequency_hz > 20) & (loud.frequency_hz < 200)].mean() > 0.7


def test_the_few_draws_of_what_was_fitted_are_even():
    drawn = _even_draws(np.random.default_rng(1), 40)
    np.testing.assert_allclose(drawn.mean(axis=0), 0, atol=1e-12)
    np.testing.assert_allclose(drawn.var(axis=0, ddof=1), 1, rtol=1e-12)
    first = np.cov(drawn[:, :15], rowvar=False)
    np.testing.assert_allclose(first, np.eye(15), atol=1e-12)
