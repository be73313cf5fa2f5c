import math

import numpy as np
import pytest

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.noise.level_reference import FULL_SCALE, reference_from_tone
from groovewright.testtone.noise.noise import noise_of, weighted_noise_of
from groovewright.testtone.noise.weighting_table import read_weighting_table
from groovewright.testtone.resonance.low_rate import read_low_rate
from groovewright.testtone.tones.equalisation import equalisation_response

RATE_HZ = 1000
TURN_S = 1.8
LABEL = "band level 10-315 Hz, not a standard rumble figure"


def db(power):
    return 10 * math.log10(power)


def white(rng, *, density, duration_s, rate_hz=RATE_HZ):
    """Independent noise of one-sided density (full scale squared a hertz) in both channels."""
    return rng.normal(0, math.sqrt(density * rate_hz / 2), (round(duration_s * rate_hz), 2))


def sines(samples, parts, rate_hz=RATE_HZ):
    """Add sines (frequency, amplitude) to both channels."""
    time_s = np.arange(samples.shape[0]) / rate_hz
    total = sum(amplitude * np.sin(2 * np.pi * hz * time_s + 0.3 * hz) for hz, amplitude in parts)
    return samples + np.asarray(total)[:, np.newaxis]


def level(samples, rate_hz=RATE_HZ, **options):
    settings = {"start_s": 0.0, "duration_s": samples.shape[0] / rate_hz, "equalised": True} | options
    return noise_of(ArrayRecording(samples, rate_hz), **settings)


def test_white_noise_has_the_level_of_its_density_over_the_band():
    # Check value: 10 lg(N0 x 305), within 0.2 dB.
    density = 1e-9
    found = level(white(np.random.default_rng(1), density=density, duration_s=60))
    assert found.label == LABEL
    assert found.band_level["left"].value == pytest.approx(db(305 * density / 0.5), abs=0.2)
    # Lateral is the mean of both channels: half the power of one, as they are independent.
    assert found.band_level["lateral"].value == pytest.approx(db(305 * density / 2 / 0.5), abs=0.2)


def test_a_sine_inside_the_band_reads_its_own_level_and_one_outside_nothing():
    quiet = white(np.random.default_rng(2), density=1e-16, duration_s=20)
    inside = level(sines(quiet, [(87.3, 10**-2)]))
    assert inside.band_level["right"].value == pytest.approx(-40.0, abs=0.05)
    outside = level(sines(quiet, [(0.5556, 10**-2), (5.0, 10**-2), (340.0, 10**-2)]))
    assert outside.band_level["right"].value < -100


def test_the_level_is_that_of_the_file_at_any_sample_rate():
    rng = np.random.default_rng(3)
    samples = sines(white(rng, density=1e-16, duration_s=4, rate_hz=48_000), [(300.0, 0.01)], 48_000)
    assert level(samples, 48_000).band_level["left"].value == pytest.approx(-40.0, abs=0.01)


def test_levels_of_white_and_of_steep_noise_hold_the_truth():
    rng = np.random.default_rng(4)
    frequency_hz = np.linspace(10, 315, 20_001)
    frames = 8 * RATE_HZ
    misses = []
    for corner_hz in [15.0, 1e6] * 150:
        shape = 1 / np.sqrt(1 + (np.fft.rfftfreq(frames, 1 / RATE_HZ) / corner_hz) ** 4)
        noise = np.fft.irfft(np.fft.rfft(rng.normal(0, 1e-3, frames)) * shape, n=frames)
        true = np.trapezoid(2e-6 / RATE_HZ / (1 + (frequency_hz / corner_hz) ** 4), frequency_hz)
        found = level(np.stack([noise, noise * 0], axis=1) + rng.normal(0, 1e-9, (frames, 2))).band_level["left"]
        misses.append((found.value - db(true / 0.5)) / found.standard_uncertainty)
    inside = np.mean(np.abs(misses) < 1.96)
    # 300 honest intervals hold the truth in 92 to 98 % of cases, but once in 100 runs.
    assert 0.92 <= inside <= 0.98


def test_hum_is_named_with_level_and_frequency_and_rumble_given_without_it():
    rng = np.random.default_rng(5)
    density = 1e-9
    samples = sines(white(rng, density=density, duration_s=20), [(50.03, 2e-3), (150.09, 1e-3)])
    found = level(samples)
    assert [(line.mains_hz, line.harmonic) for line in found.hum] == [(50.0, 1), (50.0, 3)]
    for line, hz, amplitude in zip(found.hum, (50.03, 150.09), (2e-3, 1e-3), strict=True):
        assert line.frequency.value == pytest.approx(hz, abs=4 * line.frequency.standard_uncertainty)
        assert line.frequency.standard_uncertainty < 0.01
        assert line.level["left"].value == pytest.approx(db(amplitude**2), abs=0.3)
    hum_power = (2e-3**2 + 1e-3**2) / 2
    assert found.band_level_without_hum["left"].value == pytest.approx(db(305 * density / 0.5), abs=0.2)
    assert found.band_level["left"].value == pytest.approx(db((305 * density + hum_power) / 0.5), abs=0.2)
    assert "lift the stylus" in found.notes[0]


def test_sixty_hertz_is_told_from_fifty():
    samples = sines(white(np.random.default_rng(6), density=1e-10, duration_s=10), [(60.0, 1e-3), (300.0, 1e-3)])
    assert [(line.mains_hz, line.harmonic) for line in level(samples).hum] == [(60.0, 1), (60.0, 5)]


def test_noise_and_a_tone_beside_the_mains_are_no_hum():
    rng = np.random.default_rng(7)
    named = [len(level(white(rng, density=1e-9, duration_s=10)).hum) for _ in range(40)]
    assert sum(count > 0 for count in named) <= 1
    assert level(sines(white(rng, density=1e-9, duration_s=10), [(44.0, 1e-2)])).hum == ()


def test_what_repeats_each_turn_is_given_apart():
    rng = np.random.default_rng(8)
    repeated = [(k / TURN_S, 1e-3) for k in (31, 47, 101, 233)]
    found = level(sines(white(rng, density=1e-9, duration_s=20), repeated), turn_s=TURN_S)
    part = found.turn_synchronous["left"]
    assert part.value == pytest.approx(db(4 * 1e-3**2), abs=4 * part.standard_uncertainty)
    assert part.standard_uncertainty < 0.5


def test_noise_that_does_not_repeat_is_not_shown_as_if_it_did():
    found = level(white(np.random.default_rng(9), density=1e-9, duration_s=20), turn_s=TURN_S)
    assert found.turn_synchronous == {}
    assert "nothing stands out of the noise that repeats each turn" in found.not_shown["turn_synchronous left"]


def test_the_turn_part_needs_the_speed_and_four_turns():
    samples = white(np.random.default_rng(10), density=1e-9, duration_s=5)
    assert "needs the speed measured" in level(samples).not_shown["turn_synchronous"]
    assert "at least four turns" in level(samples, turn_s=TURN_S).not_shown["turn_synchronous"]


def test_a_bare_velocity_recording_is_taken_through_the_playback_curve():
    quiet = white(np.random.default_rng(11), density=1e-16, duration_s=10)
    found = level(sines(quiet, [(100.0, 1e-3)]), equalised=False)
    # IEC 60098: +13.088 dB at 100 Hz.
    assert found.band_level["left"].value == pytest.approx(-60 + 13.088, abs=0.01)
    assert "playback curve" in found.notes[-1]


def test_the_reference_is_a_lateral_tone_of_five_centimetres_a_second():
    amplitude = Quantity.measured(0.2, "1", standard_uncertainty=0.002, source="noise on the tone")
    tone = {"amplitude_left": amplitude, "amplitude_right": amplitude, "frequency_hz": 1000.0}
    reference = reference_from_tone(**tone, peak_velocity_cm_s=10.0, equalised=True)
    assert reference.left.value == pytest.approx(0.1 / math.sqrt(2))
    quiet = white(np.random.default_rng(12), density=1e-16, duration_s=10)
    found = level(sines(quiet, [(87.3, 1e-3)]), reference=reference).band_level["lateral"]
    assert found.value == pytest.approx(-40.0, abs=0.01)
    # 1 % of the reference is 0.087 dB, and the channels' references err together.
    assert found.standard_uncertainty == pytest.approx(20 * math.log10(1.01), rel=0.01)


def test_the_reference_is_carried_along_the_playback_curve_to_1_khz():
    amplitude = Quantity.exact(0.2, "1")
    tone = {"amplitude_left": amplitude, "amplitude_right": amplitude, "peak_velocity_cm_s": 5.0}
    at_315_hz = reference_from_tone(**tone, frequency_hz=315.0, equalised=True)
    assert at_315_hz.right.value == pytest.approx(
        0.2 / math.sqrt(2) * abs(equalisation_response(1000.0)) / abs(equalisation_response(315.0))
    )
    assert reference_from_tone(**tone, frequency_hz=315.0, equalised=False).right.value == pytest.approx(
        0.2 / math.sqrt(2)
    )
    assert "full scale" in FULL_SCALE.label


def test_a_silent_reference_channel_is_refused():
    tone = {"frequency_hz": 1000.0, "peak_velocity_cm_s": 5.0, "equalised": True}
    with pytest.raises(ValueError, match="amplitude of 0 in the right channel"):
        reference_from_tone(amplitude_left=Quantity.exact(0.1, "1"), amplitude_right=Quantity.exact(0.0, "1"), **tone)


def test_a_loaded_table_weighs_the_noise_and_is_called_what_it_is():
    table = read_weighting_table("10, -20\n100, -20\n200, 0\n300, 0", name="bench curve")
    quiet = white(np.random.default_rng(13), density=1e-16, duration_s=10)
    samples = sines(quiet, [(55.0, 1e-3), (320.0, 1.0)])
    found = weighted_noise_of(ArrayRecording(samples, RATE_HZ), table, start_s=0, duration_s=10, equalised=True)
    assert found.band_level["left"].value == pytest.approx(-80.0, abs=0.01)
    assert found.label == (
        "level through the loaded table 'bench curve', 10-300 Hz, which was not compared with any standard"
    )


def test_a_dead_channel_is_named():
    samples = white(np.random.default_rng(14), density=1e-9, duration_s=5) * [1, 0]
    found = level(samples)
    assert "right" not in found.band_level
    assert found.not_shown["band_level right"] == "the right signal is silent to the last digit; check the wiring"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"duration_s": 1.0}, "too short for a level"),
        ({"band_hz": (315.0, 10.0)}, "give the lower limit first"),
        ({"band_hz": (10.0, 480.0)}, "reaches 450 Hz"),
        ({"start_s": 3.0}, "is not within the recording"),
    ],
)
def test_a_span_or_band_that_cannot_be_measured_is_refused(options, says):
    samples = white(np.random.default_rng(15), density=1e-9, duration_s=4)
    with pytest.raises(ValueError, match=says):
        level(samples, **options)


def test_one_channel_is_refused():
    with pytest.raises(ValueError, match="noise needs left and right"):
        level(np.zeros((4000, 1)))


def test_more_than_fits_into_memory_is_refused_with_what_fits():
    class Endless:
        sample_rate_hz = 96_000.0
        channel_count = 2
        frame_count = 96_000 * 36_000

    with pytest.raises(ValueError, match=r"\d+ s can be taken at once"):
        read_low_rate(Endless(), start_s=0, duration_s=30_000, top_hz=20_000)
