import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from groovewright.testtone.resonance.response import HANN_WIDTH
from groovewright.testtone.tones.line_noise import WINDOW_SPREAD

HANN = tomllib.loads((Path(__file__).parents[1] / "published" / "captures_windows.toml").read_text())["hann"]


def hann(count):
    return 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(count) + 0.5) / count)


def test_hann_window_has_the_published_noise_bandwidth_and_scallop_loss():
    window = hann(4096)
    bandwidth = window.size * (window**2).sum() / window.sum() ** 2
    half_bin = np.abs((window * np.exp(1j * np.pi * np.arange(window.size) / window.size)).sum()) / window.sum()
    assert bandwidth == pytest.approx(HANN["noise_bandwidth_bins"], abs=5e-5)
    assert -20 * math.log10(half_bin) == pytest.approx(HANN["scallop_loss_db"], abs=5e-5)


def test_constants_of_the_hann_window_are_its_sums():
    window = hann(4096)
    assert np.mean(window**2) ** 2 / np.mean(window**4) == pytest.approx(HANN_WIDTH, rel=1e-6)
    # Power of neighbouring bins of windowed noise is correlated by the square of the transform of the squared window.
    neighbours = np.abs(np.fft.fft(window**2) / (window**2).sum()) ** 2
    assert neighbours.sum() == pytest.approx(WINDOW_SPREAD, rel=1e-6)
