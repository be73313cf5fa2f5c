import math

import numpy as np
import pytest
from scipy.special import jv

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band
from groovewright.testtone.tones.intermodulation import (
    FROM_MEMORY,
    difference_tone_method,
    intermodulation_of,
    modulation_method,
)

RATE_HZ = 48_000


def located(frequency_hz, *, duration_s, kind="two-tone"):
    band = Band("two tones", kind, "lateral", frequency_hz, None, (100.0, 99.0))
    return LocatedBand(band, 0.0, duration_s, "found")


def platter_time_s(duration_s, *, speed=1.0, wow=0.0):
    """Time along the groove of a platter that turns wrongly, with wow at 0.7 Hz and flutter at 6 Hz."""
    time_s = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    swing = sum(wow / (2 * np.pi * hz) * np.sin(2 * np.pi * hz * time_s + hz) for hz in (0.7, 6.0))
    return speed * time_s + swing


def recorded(rng, signal, *, noise):
    return ArrayRecording(np.stack([signal, 0.5 * signal], axis=1) + rng.normal(0, noise, (signal.size, 2)), RATE_HZ)


def two_tones(rng, *, amplitude=0.0, phase=0.0, noise=1e-6, duration_s=2.0, **deck):
    """60 Hz and 7 kHz, 4 to 1, with so much amplitude and phase modulation of the upper tone."""
    groove_s = platter_time_s(duration_s, **deck)
    lower, upper = 2 * np.pi * 60 * groove_s + 0.4, 2 * np.pi * 7000 * groove_s + 1.1
    modulated = (1 + amplitude * np.cos(lower + 0.7)) * np.cos(upper + phase * np.sin(lower + 0.2))
    return recorded(rng, 0.4 * np.cos(lower) + 0.1 * modulated, noise=noise)


def test_amplitude_modulation_is_the_same_by_the_envelope_and_by_the_sidebands():
    recording = two_tones(np.random.default_rng(1), amplitude=0.03)
    for channel in modulation_method(recording, located((60.0, 7000.0), duration_s=2.0)):
        assert channel.quantities["amplitude_modulation"].value == pytest.approx(3.0, abs=1e-3)
        assert channel.quantities["second_order"].value == pytest.approx(3.0, abs=1e-3)
        assert "phase_modulation" in channel.not_shown or channel.quantities["phase_modulation"].value < 1e-3


@pytest.mark.parametrize(
    ("index", "carrier", "first", "second"),
    [(0.25, 0.9844359, 0.1240260, 0.0077719), (0.5, 0.9384698, 0.2422685, 0.0306040)],
)
def test_phase_modulation_has_the_sidebands_of_the_bessel_table(index, carrier, first, second):
    # Abramowitz and Stegun 9.1, seven digits.
    recording = two_tones(np.random.default_rng(2), phase=index)
    found = modulation_method(recording, located((60.0, 7000.0), duration_s=2.0))[0].quantities
    assert found["second_order"].value == pytest.approx(100 * 2 * first / carrier, rel=1e-3)
    assert found["third_order"].value == pytest.approx(100 * 2 * second / carrier, rel=2e-3)
    assert "amplitude_modulation" not in found or found["amplitude_modulation"].value < 100 * 3 * second


def test_wrong_speed_wow_and_flutter_do_not_smear_the_sidebands():
    rng = np.random.default_rng(3)
    still = two_tones(rng, amplitude=0.02, phase=0.05)
    moved = two_tones(rng, amplitude=0.02, phase=0.05, speed=1.02, wow=0.002)
    band = located((60.0, 7000.0), duration_s=2.0)
    at_rest, played = (modulation_method(recording, band)[0] for recording in (still, moved))
    for key in ("second_order", "amplitude_modulation", "phase_modulation"):
        assert played.quantities[key].value == pytest.approx(at_rest.quantities[key].value, rel=5e-3)
    assert played.frequency[1] == pytest.approx(7000 * 1.02, rel=1e-3)


def test_stated_uncertainties_hold():
    rng = np.random.default_rng(4)
    from scipy.stats import t

    inside = []
    for _ in range(25):
        recording = two_tones(rng, amplitude=0.02, noise=3e-3, duration_s=1.4)
        for channel in modulation_method(recording, located((60.0, 7000.0), duration_s=1.4)):
            found = channel.quantities["amplitude_modulation"]
            reach = t.ppf(0.975, found.degrees_of_freedom) * found.standard_uncertainty
            inside.append(abs(found.value - 2.0) < reach)
    # Of 50 honest intervals at 95 % fewer than 43 hold in one run of a hundred.
    assert sum(inside) >= 43


def test_products_below_the_noise_are_not_shown_as_distortion():
    found = modulation_method(two_tones(np.random.default_rng(5), noise=1e-3), located((60.0, 7000.0), duration_s=2.0))[
        0
    ]
    assert "amplitude_modulation" not in found.quantities
    assert "does not stand out of the noise; it is at most" in found.not_shown["amplitude_modulation"]


def bent(duration_s, second, third):
    """11 and 12 kHz, 0.2 each, through a curved characteristic whose other products all stay below half the rate."""
    time_s = np.arange(round(duration_s * 96_000)) / 96_000
    tones = 0.2 * (np.cos(2 * np.pi * 11_000 * time_s) + np.cos(2 * np.pi * 12_000 * time_s + 0.5))
    return ArrayRecording(np.stack([tones + second * tones**2 + third * tones**3] * 2, axis=1), 96_000)


def test_difference_tones_are_those_of_a_characteristic_whose_products_are_known():
    found = difference_tone_method(bent(1.0, 0.05, 0.1), located((11_000.0, 12_000.0), duration_s=1.0))[0].quantities
    tone = 0.2 + 0.1 * (3 / 4 + 3 / 2) * 0.2**3
    assert found["second_order"].value == pytest.approx(100 * 0.05 * 0.2**2 / (2 * tone), rel=1e-3)
    assert found["third_order"].value == pytest.approx(100 * 2 * 0.1 * 3 / 4 * 0.2**3 / (2 * tone), rel=1e-3)
    assert found["total"].value == pytest.approx(
        math.hypot(found["second_order"].value, found["third_order"].value), rel=1e-6
    )


def test_the_frequencies_choose_the_method_and_the_result_says_what_is_from_memory():
    near = intermodulation_of(bent(0.5, 0.05, 0.1), located((11_000.0, 12_000.0), duration_s=0.5))
    far = intermodulation_of(two_tones(np.random.default_rng(6), amplitude=0.1), located((7000.0, 60.0), duration_s=2))
    assert [channel.method for channel in near] == ["difference tone"] * 2
    assert [channel.method for channel in far] == ["modulation"] * 2
    assert FROM_MEMORY in near[0].notes
    assert FROM_MEMORY in far[0].notes


@pytest.mark.parametrize(
    ("frequency_hz", "duration_s", "kind", "says"),
    [
        ((60.0, 7000.0), 0.5, "two-tone", "need at least 1.20 s"),
        ((60.0, 23_000.0), 2.0, "two-tone", "record it at a higher rate"),
        ((3150.0,), 2.0, "tone", "that of a two-tone band"),
    ],
)
def test_a_band_that_cannot_show_intermodulation_is_refused(frequency_hz, duration_s, kind, says):
    recording = two_tones(np.random.default_rng(7))
    band = located(frequency_hz, duration_s=duration_s, kind=kind)
    with pytest.raises(ValueError, match=says):
        modulation_method(recording, band)


def test_a_silent_band_is_refused():
    with pytest.raises(ValueError, match="is silent; check where it starts"):
        modulation_method(ArrayRecording(np.zeros((96_000, 2)), RATE_HZ), located((60.0, 7000.0), duration_s=2.0))


def test_the_bessel_table_is_that_of_scipy():
    assert jv([0, 1, 2], 0.5) == pytest.approx([0.9384698, 0.2422685, 0.0306040], abs=5e-8)
