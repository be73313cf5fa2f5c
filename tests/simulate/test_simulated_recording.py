"""The forward model against series, root finding and tables that it is not made from."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import jv

from groovewright.simulate.deck import (
    HumLine,
    PlatterSine,
    Resonance,
    Rumble,
    SpeedSine,
    TrueDeck,
)
from groovewright.simulate.recording import STRETCH_FRAMES, simulate_recording
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.tonearm.geometry import Geometry, geometry_from_nulls
from groovewright.tonearm.tracking import groove_angle

RPM = 100 / 3
ARM = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))
FULL_SCALE_PER_CM_S = 10 ** (-14 / 20) / (5 / math.sqrt(2))


def band(cut="lateral", frequency_hz=(1000.0,), velocity=10.0, radius_mm=(100.0, 100.0), duration_s=1.2, **other):
    kind = {1: "tone", 2: "two-tone"}[len(frequency_hz)] if "kind" not in other else other.pop("kind")
    return Band(other.pop("name", "band"), kind, cut, frequency_hz, velocity, radius_mm, 0.0, duration_s, **other)


def samples(deck, *bands, rate_hz=48_000, equalised=False, seed=1):
    recording = simulate_recording(BandSheet(equalised, RPM, bands), deck, sample_rate_hz=rate_hz, seed=seed)
    return recording.read(0, recording.frame_count)


def spectrum(channel, rate_hz=48_000, start_s=0.1, length_s=1.0):
    """Complex peak amplitudes, one each Hz if a second is looked at; times counted from the start of the recording."""
    first, count = round(start_s * rate_hz), round(length_s * rate_hz)
    lines = np.fft.rfft(channel[first : first + count]) / (count / 2)
    return lines * np.exp(-2j * np.pi * np.arange(len(lines)) / length_s * start_s)


def constant_error(error_deg, radius_mm=100.0):
    """An arm with this tracking error at one radius, so that e is what the test says."""
    psi = float(groove_angle(radius_mm, effective_length_mm=ARM.effective_length_mm, pivot_to_spindle_mm=222.0))
    return Geometry(222.0, ARM.effective_length_mm, psi - error_deg)


def groove_speed_cm_s(radius_mm=100.0):
    return 2 * math.pi * RPM / 60 * radius_mm / 10


@pytest.mark.parametrize("error_deg", [2.0, -2.0, 25.0])
def test_harmonics_are_those_of_the_fourier_bessel_series(error_deg):
    left = samples(TrueDeck(geometry=constant_error(error_deg)), band())[:, 0]
    lines = spectrum(left)
    e = 10.0 / groove_speed_cm_s() * math.tan(math.radians(error_deg))
    for n in range(1, 6):
        expected = 10 / math.sqrt(2) * FULL_SCALE_PER_CM_S * 2 / e * float(jv(n, n * e))
        assert abs(lines[1000 * n] - expected) < 1e-9


def test_samples_solve_keplers_equation_found_by_bisection():
    left = samples(TrueDeck(geometry=constant_error(20.0)), band())[:, 0]
    e = 10.0 / groove_speed_cm_s() * math.tan(math.radians(20.0))
    for frame in (20_001, 20_013, 20_038):
        theta = 2 * math.pi * 1000 * frame / 48_000 % (2 * math.pi)
        u = brentq(lambda u, theta=theta: u - math.sin(theta + e * u), -1.5, 1.5, xtol=1e-14)
        contact = math.cos(theta + e * u)
        velocity = 10.0 * contact / (1 - e * contact)
        assert left[frame] == pytest.approx(velocity / math.sqrt(2) * FULL_SCALE_PER_CM_S, abs=1e-11)


@pytest.mark.parametrize(("cut", "sign"), [("lateral", 1), ("vertical", -1)])
def test_sign_of_the_second_harmonic_is_that_of_the_angle(cut, sign):
    for error_deg in (3.0, -3.0):
        deck = (
            TrueDeck(geometry=constant_error(error_deg))
            if cut == "lateral"
            else TrueDeck(vertical_tracking_angle_error_deg=error_deg)
        )
        lines = spectrum(samples(deck, band(cut))[:, 0])
        turned = lines[2000] / lines[1000] ** 2
        assert abs(turned.imag) < 1e-6 * abs(turned)
        assert np.sign(turned.real) == sign * np.sign(error_deg)
        ratio = abs(lines[2000] / lines[1000])
        tilt = math.tan(math.radians(error_deg))
        if cut == "vertical":
            # Cut at 20 degrees, IEC 60098.
            tilt = math.tan(math.radians(20.0 + error_deg)) - math.tan(math.radians(20.0))
        e = 10.0 / groove_speed_cm_s() * abs(tilt)
        assert ratio == pytest.approx(float(jv(2, 2 * e) / jv(1, e)), rel=1e-7)


def test_one_walls_tone_is_skewed_by_both_angles_at_once():
    deck = TrueDeck(geometry=constant_error(3.0), vertical_tracking_angle_error_deg=8.0)
    outward, upward = math.tan(math.radians(3.0)), math.tan(math.radians(20.0)) - math.tan(math.radians(28.0))
    for cut, tilt in (("left", outward + upward), ("right", outward - upward)):
        e = 10.0 / groove_speed_cm_s() * tilt / math.sqrt(2)
        lines = spectrum(samples(deck, band(cut))[:, ("left", "right").index(cut)])
        found = lines[2000] / lines[1000] ** 2 * abs(lines[1000])
        assert found == pytest.approx(float(jv(2, 2 * e) / jv(1, e)), abs=1e-8)


def test_vertical_angle_of_cutting_is_that_of_the_deck_before_that_of_the_sheet():
    def second_harmonic(sheet_deg, deck_deg):
        deck = TrueDeck(vertical_tracking_angle_error_deg=3.0, vertical_cutting_angle_deg=deck_deg)
        sheet = BandSheet(False, RPM, (band("vertical"),), sheet_deg)
        recording = simulate_recording(sheet, deck, sample_rate_hz=48_000)
        lines = spectrum(recording.read(0, recording.frame_count)[:, 0])
        return abs(lines[2000] / lines[1000])

    def expected(cutting_deg):
        tilt = math.tan(math.radians(cutting_deg + 3.0)) - math.tan(math.radians(cutting_deg))
        e = 10.0 / groove_speed_cm_s() * tilt
        return pytest.approx(float(jv(2, 2 * e) / jv(1, e)), rel=1e-7)

    assert second_harmonic(None, None) == expected(20.0)
    assert second_harmonic(15.0, None) == expected(15.0)
    assert second_harmonic(15.0, 24.0) == expected(24.0)


def test_inverting_one_channel_turns_its_second_harmonic_over():
    deck = TrueDeck(geometry=constant_error(3.0), polarity=(1, -1))
    both = samples(deck, band())
    np.testing.assert_allclose(both[:, 1], -both[:, 0], atol=1e-12)
    lines = spectrum(both[:, 1])
    assert (lines[2000] / lines[1000] ** 2).real < 0


def test_radius_falls_in_a_straight_line_and_takes_the_tracking_error_along():
    # On its arc an arm this fast would go along the groove so far that the tone's pitch fell.
    deck = TrueDeck(geometry=ARM, stylus_follows_arc=False)
    left = samples(deck, band(radius_mm=(146.05, 60.325), duration_s=4.0))[:, 0]
    for middle_s in (0.5, 2.0, 3.5):
        lines = spectrum(left, start_s=middle_s - 0.05, length_s=0.1)
        radius_mm = 146.05 + (60.325 - 146.05) * middle_s / 4.0
        error = math.radians(float(ARM.tracking_error_deg(radius_mm)))
        e = 10.0 / groove_speed_cm_s(radius_mm) * math.tan(error)
        assert (lines[200] / lines[100] ** 2 * abs(lines[100])).real == pytest.approx(e, abs=2e-5)


def transfer(deck):
    columns = []
    for cut in ("left", "right"):
        both = samples(deck, band(cut, velocity=5.0))
        columns.append([spectrum(both[:, channel])[1000] for channel in (0, 1)])
    return np.array(columns).T / (5.0 * FULL_SCALE_PER_CM_S)


def test_thirty_decibels_of_crosstalk_are_a_turn_of_1_81_degrees():
    # physics.md 8: -30 dB of pure rotation is 1.81 degrees, and both leaks have opposite sign.
    matrix = transfer(TrueDeck(azimuth_rotation_deg=1.81))
    right_into_left, left_into_right = matrix[0, 1] / matrix[0, 0], matrix[1, 0] / matrix[1, 1]
    assert 20 * math.log10(abs(right_into_left)) == pytest.approx(-30.0, abs=0.03)
    assert right_into_left.real > 0
    assert left_into_right == pytest.approx(-right_into_left, abs=1e-9)


def test_leak_gains_and_polarity_stand_in_the_matrix_as_set():
    matrix = transfer(TrueDeck(leak_db=-40.0, channel_gains_db=(0.0, -6.0), polarity=(1, -1)))
    half = 10 ** (-6 / 20)
    np.testing.assert_allclose(matrix, [[1.0, 0.01], [-0.01 * half, -half]], atol=1e-9)


def test_left_cut_stays_in_the_left_channel_at_its_own_velocity():
    both = samples(TrueDeck(), band("left", velocity=5 / math.sqrt(2)))
    assert abs(spectrum(both[:, 0])[1000]) == pytest.approx(10 ** (-14 / 20), rel=1e-9)
    assert np.abs(both[:, 1]).max() < 1e-15


def test_bands_of_a_speed_sine_are_bessel_functions():
    # 3150 Hz with 0.1 % at 4 Hz: modulation index 0.7875, J0 0.850868 and J1 0.364005 (Abramowitz & Stegun 9.1).
    deck = TrueDeck(flutter=(SpeedSine(4.0, 0.1),))
    lines = spectrum(samples(deck, band(frequency_hz=(3150.0,), duration_s=1.2))[:, 0])
    carrier = 10 / math.sqrt(2) * FULL_SCALE_PER_CM_S
    # A generator's voltage grows with speed, which adds 4/3150 of the side line's own size: named, not hidden.
    assert abs(lines[3150]) / carrier == pytest.approx(0.850868, abs=1e-6)
    assert abs(lines[3154]) / carrier == pytest.approx(0.364005 * 3154 / 3150, abs=1e-6)
    assert abs(lines[3146]) / carrier == pytest.approx(0.364005 * 3146 / 3150, abs=1e-6)


def frequency_hz(channel, rate_hz=192_000):
    """Frequency against time from the crossings of zero, each placed between its two frames by a straight line.

    At 192 frames a period the sine bends by 7e-5 of a frame between two of them: 4e-7 of a period.
    """
    crossing = np.flatnonzero((channel[:-1] < 0) & (channel[1:] >= 0))
    at = (crossing + channel[crossing] / (channel[crossing] - channel[crossing + 1])) / rate_hz
    # The band fades in and out in 5 ms.
    inside = (at[1:] > at[0] + 0.01) & (at[1:] < at[-1] - 0.01)
    return ((at[1:] + at[:-1]) / 2)[inside], (1 / np.diff(at))[inside]


def sine_of(time_s, deviation, at_hz):
    columns = [np.ones_like(time_s), np.cos(2 * np.pi * at_hz * time_s), np.sin(2 * np.pi * at_hz * time_s)]
    mean, cosine, sine = np.linalg.lstsq(np.stack(columns, axis=1), deviation, rcond=None)[0]
    return mean, complex(cosine, -sine)


TURN_HZ = RPM / 60


def test_off_centre_record_swings_the_speed_by_its_eccentricity_over_the_radius():
    # 0.2 mm at 100 mm: 0.2 % at the turn rate (physics.md 9).
    left = samples(TrueDeck(eccentricity_mm=0.2), band(duration_s=5.5), rate_hz=192_000)[:, 0]
    mean, swing = sine_of(*deviation_of(left), TURN_HZ)
    assert abs(mean) < 1e-5
    assert abs(swing) == pytest.approx(0.2 / 100, rel=2e-3)
    # The stylus begins nearest the spindle's side of the grooves' centre line, where the groove runs slowest.
    assert swing.real < 0


def deviation_of(channel):
    time_s, found_hz = frequency_hz(channel)
    return time_s, found_hz / 1000.0 - 1


def test_arm_that_swings_after_an_off_centre_record_adds_a_part_in_quadrature():
    # The stylus moves square to the line pivot-stylus, so the swing is e / (r cos(groove angle)).
    deck = TrueDeck(geometry=ARM, eccentricity_mm=0.2, stylus_follows_arc=True)
    left = samples(deck, band(velocity=1.0, duration_s=5.5), rate_hz=192_000)[:, 0]
    _, swing = sine_of(*deviation_of(left), TURN_HZ)
    psi = float(groove_angle(100.0, effective_length_mm=ARM.effective_length_mm, pivot_to_spindle_mm=222.0))
    assert abs(swing) == pytest.approx(0.2 / 100 / math.cos(math.radians(psi)), rel=3e-3)


def test_motor_keeps_its_own_time_and_platter_its_own_turn():
    fast = TrueDeck(speed_error_percent=1.0, flutter=(SpeedSine(5.0, 0.1),), platter_flutter=(PlatterSine(4, 0.2),))
    time_s, deviation = deviation_of(samples(fast, band(duration_s=6.1), rate_hz=192_000)[:, 0])
    columns = [np.ones_like(time_s)]
    for at_hz in (5.0, 4 * TURN_HZ * 1.01):
        columns += [np.cos(2 * np.pi * at_hz * time_s), np.sin(2 * np.pi * at_hz * time_s)]
    mean, motor, _, platter, _ = np.linalg.lstsq(np.stack(columns, axis=1), deviation, rcond=None)[0]
    assert mean == pytest.approx(0.01, abs=1e-6)
    assert motor == pytest.approx(0.001, rel=2e-3)
    assert platter == pytest.approx(0.002 * 1.01, rel=2e-3)


def test_drift_runs_evenly():
    left = samples(TrueDeck(drift_percent_per_minute=0.6), band(duration_s=6.0), rate_hz=192_000)[:, 0]
    slope, start = np.polyfit(*deviation_of(left), 1)
    assert slope == pytest.approx(0.006 / 60, rel=1e-2)
    assert abs(start) < 1e-6


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_equalised_recording_has_the_response_of_the_time_constants(rate_hz):
    # L(f) = 10 lg(1 + (w t2)^2) - 10 lg(1 + (w t1)^2) - 10 lg(1 + (w t3)^2), IEC 60098, 0 dB at 1 kHz.
    frequencies = (30.0, 315.0, 1000.0, 3150.0, 10_000.0, 18_000.0)
    bands = [
        Band(f"{hz:g}", "tone", "lateral", (hz,), 0.5, (100.0, 100.0), 1.4 * i, 1.3) for i, hz in enumerate(frequencies)
    ]
    left = samples(TrueDeck(), *bands, rate_hz=rate_hz, equalised=True)[:, 0]

    def exact(hz):
        s = 2j * math.pi * hz
        return (1 + 318e-6 * s) / ((1 + 3180e-6 * s) * (1 + 75e-6 * s))

    for i, hz in enumerate(frequencies):
        line = spectrum(left, rate_hz, start_s=1.4 * i + 0.2)[round(hz)] * np.exp(2j * math.pi * hz * 1.4 * i)
        found = line / (0.5 / math.sqrt(2) * FULL_SCALE_PER_CM_S)
        expected = exact(hz) / abs(exact(1000.0))
        assert 20 * math.log10(abs(found / expected)) == pytest.approx(0.0, abs=0.001)
        assert math.degrees(np.angle(found / expected)) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("cut", ["lateral", "vertical"])
def test_arm_passes_low_tones_as_a_second_order_high_pass(cut):
    deck = TrueDeck(resonance_lateral=Resonance(10.0, 3.0), resonance_vertical=Resonance(10.0, 3.0))
    for at_hz in (5.0, 10.0, 20.0, 1000.0):
        left = samples(deck, band(cut, frequency_hz=(at_hz,), velocity=0.01, duration_s=3.2), rate_hz=32_000)[:, 0]
        found = spectrum(left, 32_000, start_s=2.0)[round(at_hz)] / (0.01 / math.sqrt(2) * FULL_SCALE_PER_CM_S)
        x = 1j * at_hz / 10.0
        assert found == pytest.approx(x**2 / (x**2 + x / 3.0 + 1), abs=1e-4)


def test_swinging_arm_puts_side_lines_on_a_carrier():
    # No tracking error here, so that nothing but the arm's swing along the groove moves the carrier's phase.
    deck = TrueDeck(geometry=constant_error(0.0), resonance_lateral=Resonance(10.0, 3.0))
    tones = band(frequency_hz=(10.0, 3000.0), velocity=(0.2, 0.5), duration_s=3.2)
    lines = spectrum(samples(deck, tones)[:, 0], start_s=2.0)
    # The groove's own swing is v / w; at resonance the body's is (j/Q + 1) / (j/Q) times that.
    body_cm = 0.2 / (2 * math.pi * 10.0) * abs((1j / 3.0 + 1) / (1j / 3.0))
    psi_deg = groove_angle(100.0, effective_length_mm=ARM.effective_length_mm, pivot_to_spindle_mm=222.0)
    index = 2 * math.pi * 3000.0 * body_cm * math.sin(math.radians(float(psi_deg))) / groove_speed_cm_s()
    carrier = 0.5 / math.sqrt(2) * FULL_SCALE_PER_CM_S
    for n in (-2, -1, 0, 1, 2):
        line = abs(float(jv(n, index))) * (3000 + 10 * n) / 3000
        assert abs(lines[3000 + 10 * n]) / carrier == pytest.approx(line, abs=1e-4)


def test_arm_that_rises_puts_side_lines_on_a_carrier_by_the_vertical_angle():
    deck = TrueDeck(resonance_vertical=Resonance(10.0, 3.0))
    tones = band("vertical", frequency_hz=(10.0, 3000.0), velocity=(0.2, 0.5), duration_s=3.2)
    lines = spectrum(samples(deck, tones)[:, 0], start_s=2.0)
    body_cm = 0.2 / (2 * math.pi * 10.0) * abs((1j / 3.0 + 1) / (1j / 3.0))
    # Cut and played at 20 degrees, IEC 60098.
    index = 2 * math.pi * 3000.0 * body_cm * math.tan(math.radians(20.0)) / groove_speed_cm_s()
    for n in (-1, 0, 1):
        line = 0.5 / math.sqrt(2) * FULL_SCALE_PER_CM_S * abs(float(jv(n, index))) * (3000 + 10 * n) / 3000
        assert abs(lines[3000 + 10 * n]) == pytest.approx(line, abs=1e-5)
    # The groove swings as a sine, and the body of an arm follows by (j/Q + 1) / (j/Q) of that. Where it is above, the
    # stylus reads on: the carrier's phase, cosine of 3000 Hz at the start, leads by the index.
    follows = (1j / 3.0 + 1) / (1j / 3.0)
    leads = -1j * follows / abs(follows)
    upper = lines[3010] / lines[3000] / (abs(lines[3010]) / abs(lines[3000]))
    assert upper == pytest.approx(1j * leads, abs=0.01)


def test_clicks_come_as_often_and_as_strong_as_set():
    silence = Band("silence", "silence", "lateral", (), None, (100.0, 100.0), 0.0, 60.0)
    deck = TrueDeck(clicks_per_minute=1200.0, click_velocity_cm_s=3.0)
    both = samples(deck, silence, rate_hz=96_000) / FULL_SCALE_PER_CM_S
    # What is new in each frame, beside the last one's decay in 50 us.
    blows = np.hypot(*(both[1:] - both[:-1] * math.exp(-1 / (50e-6 * 96_000))).T)
    peaks = blows[blows > 1e-9]
    # 1200 clicks a minute over 60.5 s scatter by 35; the mean of as many exponential values by 3 %.
    assert len(peaks) == pytest.approx(1210, abs=4 * 35)
    assert peaks.mean() == pytest.approx(3.0, rel=0.12)


def test_generator_harmonics_are_as_set_at_the_reference_velocity():
    deck = TrueDeck(second_harmonic_percent=0.5, third_harmonic_percent=0.2)
    left = samples(deck, band("left", velocity=5.0))[:, 0]
    lines = spectrum(left)
    assert abs(left[4800:52800].mean()) < 1e-12
    assert (lines[2000] / lines[1000] ** 2 * abs(lines[1000])).real == pytest.approx(0.005, rel=0.01)
    assert (lines[3000] / lines[1000] ** 3 * abs(lines[1000]) ** 2).real == pytest.approx(0.002, rel=0.01)


def test_stylus_leaves_only_the_wall_whose_threshold_is_passed():
    deck = TrueDeck(mistracking_cm_s=(None, 5.0))
    quiet, loud = (samples(deck, band(velocity=v * math.sqrt(2)))[4800:52800] for v in (4.9, 8.0))
    np.testing.assert_allclose(quiet[:, 1], quiet[:, 0], atol=1e-12)
    lines = spectrum(loud[:, 1], start_s=0.0)
    assert abs(lines[2000] / lines[1000]) > 0.05
    assert abs(spectrum(loud[:, 0], start_s=0.0)[2000]) < 1e-9


def test_noise_hum_and_rumble_have_the_levels_set():
    silence = Band("silence", "silence", "lateral", (), None, (100.0, 100.0), 0.0, 10.0)
    noise = samples(TrueDeck(recorder_noise_dbfs=-60.0), silence)
    # 480,000 values give an rms within 0.1 % (one standard deviation).
    assert noise.std(axis=0) == pytest.approx(math.sqrt(0.5) * 1e-3, rel=0.005)
    assert abs(np.corrcoef(noise.T)[0, 1]) < 0.01
    surface = samples(TrueDeck(surface_noise_db=-60.0), silence)
    assert surface.std(axis=0) == pytest.approx(math.sqrt(0.5) * 10 ** (-74 / 20), rel=0.005)
    hum = spectrum(samples(TrueDeck(hum=(HumLine(50.0, -70.0, 90.0),)), silence)[:, 1], start_s=1.0)
    assert hum[50] == pytest.approx(1j * 10 ** (-70 / 20), abs=1e-9)


def test_rumble_has_its_level_and_spectrum():
    silence = Band("silence", "silence", "lateral", (), None, (100.0, 100.0), 0.0, 120.0)
    deck = TrueDeck(rumble=Rumble(lateral_db=-30.0, low_corner_hz=4.0, high_corner_hz=60.0))
    both = samples(deck, silence, rate_hz=8000)
    np.testing.assert_allclose(both[:, 0], both[:, 1], atol=1e-15)
    # The record has some 120 s x 90 Hz degrees of freedom: 1 % in the rms.
    assert both[:, 0].std() == pytest.approx(math.sqrt(0.5) * 10 ** (-44 / 20), rel=0.04)
    blocks = both[: 120 * 8000].reshape(120, 8000, 2)[:, :, 0]
    power = np.mean(np.abs(np.fft.rfft(blocks * np.hanning(8000)[None], axis=1)) ** 2, axis=0)

    def shape(hz):
        return hz**2 / ((hz**2 + 4.0**2) * (hz**2 + 60.0**2))

    low, high = power[12:20].mean(), power[200:240].mean()
    expected = np.mean([shape(hz) for hz in range(12, 20)]) / np.mean([shape(hz) for hz in range(200, 240)])
    assert 10 * math.log10(low / high / expected) == pytest.approx(0.0, abs=0.7)


EVERYTHING = TrueDeck(
    geometry=ARM,
    effective_length_error_mm=0.5,
    eccentricity_mm=0.1,
    flutter=(SpeedSine(6.0, 0.1),),
    resonance_lateral=Resonance(9.0, 2.0),
    rumble=Rumble(-50.0, -50.0),
    surface_noise_db=-60.0,
    recorder_noise_dbfs=-80.0,
    clicks_per_minute=600.0,
    hum=(HumLine(50.0, -70.0),),
    mistracking_cm_s=(5.0, 5.0),
)


def test_same_seed_gives_the_same_samples_in_blocks_of_any_size_and_order():
    sheet = BandSheet(True, RPM, (band(duration_s=4.5),))
    whole = simulate_recording(sheet, EVERYTHING, sample_rate_hz=48_000, seed=7)
    assert whole.frame_count > 3 * STRETCH_FRAMES
    expected = whole.read(0, whole.frame_count)
    pieces = simulate_recording(sheet, EVERYTHING, sample_rate_hz=48_000, seed=7)
    last = pieces.read(200_000, 12_345)
    np.testing.assert_array_equal(last, expected[200_000:212_345])
    for size in (999, 65_536, 100_001):
        read = np.concatenate(
            [pieces.read(at, min(size, pieces.frame_count - at)) for at in range(0, pieces.frame_count, size)]
        )
        np.testing.assert_array_equal(read, expected)
    other = simulate_recording(sheet, EVERYTHING, sample_rate_hz=48_000, seed=8)
    assert np.abs(other.read(0, 1000) - expected[:1000]).max() > 0


def test_recording_is_clipped_at_full_scale():
    loud = samples(TrueDeck(level_dbfs=6.0), band(velocity=10.0))
    assert np.abs(loud).max() == 1.0
    assert np.mean(np.abs(loud[4800:52800]) == 1.0) > 0.3


@pytest.mark.parametrize(
    ("deck", "bands", "words"),
    [
        (TrueDeck(), [band(velocity=None)], "no peak_velocity_cm_s"),
        (TrueDeck(), [band(duration_s=None)], "no duration_s"),
        (TrueDeck(), [band(frequency_hz=(30_000.0,))], "sample rate"),
        (TrueDeck(vertical_tracking_angle_error_deg=30.0), [band("vertical", velocity=70.0)], "could not follow"),
        (TrueDeck(geometry=Geometry(222.0, 215.0, 0.0)), [band(radius_mm=(6.0, 6.0))], "out of reach"),
        (TrueDeck(), [band(), band(name="second")], "before the one above ends"),
    ],
)
def test_what_cannot_be_cut_or_played_is_refused(deck, bands, words):
    with pytest.raises(ValueError, match=words):
        samples(deck, *bands)


def test_sweep_runs_evenly_in_octaves_at_constant_velocity():
    left = samples(TrueDeck(), band(kind="sweep", frequency_hz=(200.0, 3200.0), velocity=2.0, duration_s=4.0))[:, 0]
    time_s, found_hz = frequency_hz(left, 48_000)
    # Four octaves in four seconds: 800 Hz after two.
    assert np.interp(800.0, found_hz, time_s) == pytest.approx(2.0, abs=1e-3)
    for start in (10_000, 90_000, 180_000):
        assert left[start : start + 2000].max() == pytest.approx(2.0 / math.sqrt(2) * FULL_SCALE_PER_CM_S, rel=3e-3)


def test_sweep_may_run_evenly_in_hertz():
    cut = band(kind="sweep", frequency_hz=(3200.0, 200.0), velocity=2.0, duration_s=3.0, evenly_in="hertz")
    left = samples(TrueDeck(), cut)[:, 0]
    time_s, found_hz = frequency_hz(left, 48_000)
    # 1000 Hz a second: 2200 Hz after one.
    assert np.interp(-2200.0, -found_hz, time_s) == pytest.approx(1.0, abs=1e-3)
    for start in (10_000, 70_000, 130_000):
        assert left[start : start + 2000].max() == pytest.approx(2.0 / math.sqrt(2) * FULL_SCALE_PER_CM_S, rel=3e-3)


@pytest.mark.parametrize("evenly_in", ["octaves", "hertz"])
def test_sweep_cut_with_the_recording_equalisation_plays_flat_through_the_playback_one(evenly_in):
    cut = band(
        kind="sweep",
        frequency_hz=(200.0, 6400.0),
        velocity=2.0,
        duration_s=4.0,
        evenly_in=evenly_in,
        cut_with_equalisation=True,
    )
    left = samples(TrueDeck(), cut, equalised=True)[:, 0]
    for start in (10_000, 90_000, 180_000):
        assert left[start : start + 2000].max() == pytest.approx(2.0 / math.sqrt(2) * FULL_SCALE_PER_CM_S, rel=5e-3)
