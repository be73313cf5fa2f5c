import numpy as np
import pytest

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band
from groovewright.testtone.tones.tone_fit import ToneFit, fit_tone

BAND = Band("left, 1 kHz", "tone", "left", (1000.0,), 5.0, (140.0, 139.0))
RATE_HZ = 32_000.0
LOUD, CROSSTALK, SECOND = 0.3, 0.01 * np.exp(0.4j), 0.003 * np.exp(0.7j)
PLAYED_HZ = 1003.0


def played(rng, *, seconds=2.0, noise=3e-4, wow=0.002, second=SECOND, fade=0.0):
    """Left cut: a tone with its second harmonic, a weak right channel, and an off-centre hole's wow."""
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    phase = 2 * np.pi * PLAYED_HZ * t + wow * PLAYED_HZ / 0.5556 * np.sin(2 * np.pi * 0.5556 * t + 1) + 1.3
    level = LOUD * (1 + fade * (t / seconds - 0.5))
    left = level * np.cos(phase) + (LOUD * second * np.exp(2j * phase)).real
    right = (LOUD * CROSSTALK * np.exp(1j * phase)).real
    return np.stack([left, right], axis=1) + noise * rng.standard_normal((t.size, 2))


def fitted(samples, band=BAND, **options) -> ToneFit:
    located = LocatedBand(band, 0.0, samples.shape[0] / RATE_HZ, "from the sheet")
    return fit_tone(ArrayRecording(samples, RATE_HZ), located, **options)


def errors_in_uncertainties(fit: ToneFit) -> list[float]:
    fundamental = fit.amplitude(0)
    second = fit.amplitude(0, 2) * np.conj(fundamental) ** 2 / abs(fundamental) ** 2 - LOUD * SECOND
    crosstalk = fit.amplitude(1) * np.conj(fundamental) / abs(fundamental) - LOUD * CROSSTALK
    return [
        (abs(fundamental) - LOUD) / fit.standard_uncertainty(0),
        second.real / fit.standard_uncertainty(0, 2),
        second.imag / fit.standard_uncertainty(0, 2),
        crosstalk.real / fit.standard_uncertainty(1),
        crosstalk.imag / fit.standard_uncertainty(1),
    ]


def test_wow_of_an_off_centre_hole_smears_no_harmonic():
    fit = fitted(played(np.random.default_rng(1), noise=1e-7))
    assert abs(fit.amplitude(0)) == pytest.approx(LOUD, rel=1e-5)
    np.testing.assert_allclose(fit.amplitude(0, 2), LOUD * SECOND, atol=1e-4 * LOUD * abs(SECOND))
    np.testing.assert_allclose(fit.amplitude(1), LOUD * CROSSTALK, atol=1e-4 * LOUD * abs(CROSSTALK))
    assert abs(fit.amplitude(0, 3)) < 1e-7


@pytest.mark.parametrize("frequency_hz", [60.0, 315.0, 10_000.0])
@pytest.mark.parametrize("rate_hz", [44_100.0, 96_000.0])
def test_low_and_high_tones_are_read_as_well(frequency_hz, rate_hz):
    t = np.arange(int(1.5 * rate_hz)) / rate_hz
    phase = 2 * np.pi * frequency_hz * (1.004 * t + 0.002 * np.sin(2 * np.pi * 0.5556 * t) / (2 * np.pi * 0.5556))
    left = 0.3 * np.cos(phase) + 0.003 * np.cos(2 * phase + 0.5)
    samples = np.stack([left, 0.01 * np.cos(phase + 1)], axis=1)
    samples += 1e-5 * np.random.default_rng(0).standard_normal(samples.shape)
    tone = Band("tone", "tone", "left", (frequency_hz,), 5.0, (120.0, 119.0))
    fit = fit_tone(ArrayRecording(samples, rate_hz), LocatedBand(tone, 0.0, 1.5, "found"), (1, 2))
    assert abs(fit.amplitude(0)) == pytest.approx(0.3, rel=1e-5)
    assert abs(fit.amplitude(1) - 0.01 * np.exp(1j)) < 5e-6
    if 2 in fit.harmonics:
        assert abs(fit.amplitude(0, 2) - 0.003 * np.exp(0.5j)) < 5e-6


def test_frequency_scatters_little_more_than_any_estimator_must():
    # Rife and Boorstyn's bound for amplitude 1, noise 0.01, 48000 samples in one second, recomputed.
    bound_hz, rate_hz = 3.559e-5, 48_000.0
    t = np.arange(int(rate_hz)) / rate_hz
    rng = np.random.default_rng(0)
    tone = Band("tone", "tone", "left", (3150.0,), 5.0, (120.0, 119.0))
    found = []
    for _ in range(100):
        samples = np.cos(2 * np.pi * 3151.3 * t + rng.uniform(0, 6)) + 0.01 * rng.standard_normal(t.size)
        fit = fit_tone(ArrayRecording(samples, rate_hz), LocatedBand(tone, 0.0, 1.0, "found"), (1,))
        found.append(fit.frequency_hz - 3151.3)
    # The edges of the band are left off, which alone costs a factor of 1.2; 100 seeds scatter by 7 %.
    assert 0.9 < np.sqrt(np.mean(np.square(found))) / bound_hz < 1.7


def test_the_louder_channel_gives_the_phase_and_the_frequency():
    fit = fitted(played(np.random.default_rng(2), wow=0.0)[:, ::-1])
    assert fit.reference_channel == 1
    assert fit.amplitude(1).imag == pytest.approx(0.0, abs=3 * fit.standard_uncertainty(1))
    assert fit.frequency_hz == pytest.approx(PLAYED_HZ, abs=0.002)


def test_stated_uncertainties_hold_the_truth():
    rng = np.random.default_rng(3)
    scaled = np.array([errors_in_uncertainties(fitted(played(rng, seconds=0.6))) for _ in range(120)])
    # 600 values: the share inside 1.96 scatters by 0.009, the rms by 0.03.
    assert 0.925 < np.mean(np.abs(scaled) < 1.96) < 0.975
    assert np.sqrt(np.mean(scaled**2)) == pytest.approx(1.0, abs=0.09)


def test_noise_density_is_that_of_white_noise():
    fit = fitted(played(np.random.default_rng(4), noise=1e-3, seconds=8.0))
    np.testing.assert_allclose(fit.noise_density, 2 * 1e-3**2 / RATE_HZ, rtol=0.15)
    assert fit.degrees_of_freedom[0] > 1000


def test_hum_beside_the_tone_is_no_noise_and_moves_nothing():
    samples = played(np.random.default_rng(5))
    t = np.arange(samples.shape[0]) / RATE_HZ
    hummed = samples + 3e-3 * np.cos(2 * np.pi * 1050 * t + 1)[:, np.newaxis]
    quiet, fit = fitted(samples), fitted(hummed)
    np.testing.assert_allclose(fit.noise_density, quiet.noise_density, rtol=0.2)
    assert np.all(np.abs(fit.amplitudes - quiet.amplitudes) < 3 * fit.standard_uncertainty(0))


def test_clicks_have_no_weight():
    rng = np.random.default_rng(6)
    samples = played(rng)
    for first in (9_000, 21_000, 40_000):
        samples[first : first + 20] += 0.5 * rng.standard_normal((20, 2))
    fit = fitted(samples)
    assert 0.003 < fit.excluded_share < 0.2
    assert np.all(np.abs(errors_in_uncertainties(fit)) < 3.5)


def test_course_follows_a_level_that_changes_with_the_radius():
    fit = fitted(played(np.random.default_rng(7), fade=0.1))
    slope = np.polyfit(fit.course_s, np.abs(fit.course[:, 0, 0]), 1)[0]
    assert slope == pytest.approx(0.1 * LOUD / 2.0, rel=0.01)
    step_u = np.sqrt(fit.course_covariance[1, 0, 0].real / 2)
    scatter = (fit.course[:, 0, 1] - LOUD * SECOND).real[1:-1].std()
    assert scatter == pytest.approx(step_u, rel=0.5)


def test_harmonics_that_the_sample_rate_cannot_hold_are_left_out():
    fit = fitted(played(np.random.default_rng(8)), harmonics=(1, 2, 15, 16))
    assert fit.harmonics == (1, 2)
    with pytest.raises(ValueError, match=r"harmonic 15 of band 'left, 1 kHz' was not measured; 1003 Hz gave harmonics"):
        fit.amplitude(0, 15)


def test_one_channel_is_enough():
    fit = fitted(played(np.random.default_rng(9))[:, :1])
    assert fit.amplitudes.shape == (1, 3)


@pytest.mark.parametrize("level", [0.0, 1e-3])
def test_a_band_without_its_tone_is_refused(level):
    samples = level * np.random.default_rng(10).standard_normal((64_000, 2))
    with pytest.raises(ValueError, match=r"band 'left, 1 kHz': (no tone near 1000 Hz|silence from)"):
        fitted(samples)


def test_only_a_tone_has_harmonics_to_fit():
    sweep = Band("sweep", "sweep", "left", (20.0, 20_000.0), 5.0, (140.0, 139.0))
    with pytest.raises(ValueError, match="band 'sweep' is of kind sweep"):
        fitted(played(np.random.default_rng(11)), band=sweep)


@pytest.mark.parametrize("seconds", [0.01, 0.03, 0.05, 0.06, 0.07])
def test_a_band_too_short_is_refused(seconds):
    with pytest.raises(ValueError, match=r"band 'left, 1 kHz': .* too short"):
        fitted(played(np.random.default_rng(12), seconds=seconds))
