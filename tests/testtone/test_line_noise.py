import numpy as np
import pytest

from groovewright.testtone.tones.line_noise import noise_beside_line

RATE_HZ = 1000.0


def white(count, seed, *, sigma=1.0):
    rng = np.random.default_rng(seed)
    shared, own = (rng.standard_normal((count, 2)) + 1j * rng.standard_normal((count, 2)) for _ in range(2))
    own[:, 1] = 0.6 * own[:, 0] + 0.8 * shared[:, 1]
    return sigma * own


def test_density_of_white_noise_is_read_within_two_percent():
    # Power 2 a sample, spread over the sample rate, is 2 / rate a hertz; the channels share 0.6 of their amplitude.
    noise = noise_beside_line(white(200_000, 0), RATE_HZ, nearest_hz=50, farthest_hz=450)
    np.testing.assert_allclose(np.diag(noise.density).real, 2 / RATE_HZ, rtol=0.02)
    assert noise.density[1, 0].real == pytest.approx(0.6 * 2 / RATE_HZ, rel=0.03)
    assert abs(noise.density[1, 0].imag) < 0.03 * 2 / RATE_HZ


def test_degrees_of_freedom_are_those_that_the_density_scatters_by():
    found = [noise_beside_line(white(2000, seed), RATE_HZ, nearest_hz=50, farthest_hz=200) for seed in range(400)]
    density = np.array([noise.density[0, 0].real for noise in found])
    # A chi-square over its degrees of freedom has the variance 2 / degrees.
    scatter = np.var(density / density.mean())
    assert 2 / scatter == pytest.approx(found[0].degrees_of_freedom, rel=0.25)


def test_one_tone_beside_the_line_changes_nothing():
    residual = white(20_000, 1)
    t = np.arange(residual.shape[0]) / RATE_HZ
    hummed = residual + 3.0 * np.exp(2j * np.pi * 101.3 * t)[:, np.newaxis]
    plain = noise_beside_line(residual, RATE_HZ, nearest_hz=50, farthest_hz=200)
    beside = noise_beside_line(hummed, RATE_HZ, nearest_hz=50, farthest_hz=200)
    np.testing.assert_allclose(beside.density, plain.density, rtol=0.03, atol=1e-4)


def test_a_slope_across_the_line_cancels():
    residual = white(100_000, 2)
    spectrum = np.fft.fft(residual, axis=0)
    slope = np.sqrt(1 + np.fft.fftfreq(residual.shape[0], 1 / RATE_HZ) / RATE_HZ)
    sloped = np.fft.ifft(spectrum * slope[:, np.newaxis], axis=0)
    noise = noise_beside_line(sloped, RATE_HZ, nearest_hz=50, farthest_hz=450)
    np.testing.assert_allclose(np.diag(noise.density).real, 2 / RATE_HZ, rtol=0.02)


def test_too_short_a_stretch_is_refused():
    with pytest.raises(ValueError, match="too short to tell the noise from 50 to 200 Hz"):
        noise_beside_line(white(16, 3), RATE_HZ, nearest_hz=50, farthest_hz=200)
