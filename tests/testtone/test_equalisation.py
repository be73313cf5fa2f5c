import tomllib
from pathlib import Path

import numpy as np
import pytest

from groovewright.testtone.tones.equalisation import (
    BASS_S,
    MIDDLE_S,
    TREBLE_S,
    equalisation_level,
    equalisation_response,
    recording_response,
)

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "published" / "captures_equalisation.toml").read_text())


@pytest.mark.parametrize(("rows", "subsonic"), [("playback", False), ("playback_with_subsonic", True)])
def test_levels_match_the_table(rows, subsonic):
    frequency_hz, level_db = np.array(PUBLISHED[rows]).T
    found = equalisation_level(frequency_hz, subsonic=subsonic)
    np.testing.assert_allclose(found, level_db, rtol=0, atol=PUBLISHED["printed_to_db"] / 2 + 1e-6)


def test_levels_round_to_the_table_in_common_print():
    frequency_hz, level_db = np.array(PUBLISHED["printed_table"]).T
    np.testing.assert_allclose(
        equalisation_level(frequency_hz), level_db, rtol=0, atol=PUBLISHED["printed_table_to_db"] / 2
    )


def test_recording_undoes_playback():
    frequency_hz = np.geomspace(1, 48_000, 500)
    product = recording_response(frequency_hz) * equalisation_response(frequency_hz)
    np.testing.assert_allclose(20 * np.log10(np.abs(product)), 0, atol=1e-9)
    np.testing.assert_allclose(np.angle(product), 0, atol=1e-12)


def test_phase_is_that_of_three_real_time_constants():
    frequency_hz = np.array([50.05, 500.5, 2122.0, 10_000.0])
    omega = 2 * np.pi * frequency_hz
    phase = np.arctan(omega * MIDDLE_S) - np.arctan(omega * BASS_S) - np.arctan(omega * TREBLE_S)
    np.testing.assert_allclose(np.angle(equalisation_response(frequency_hz)), phase, atol=1e-12)


def test_the_simulated_phono_stage_has_this_response_at_96_khz():
    from groovewright.simulate.filters import CORRECTION_DELAY, equaliser_filter

    numerator, denominator = equaliser_filter(96_000.0)
    frequency_hz = np.geomspace(20, 20_000, 400)
    z = np.exp(-2j * np.pi * frequency_hz / 96_000)
    sampled = np.polyval(numerator[::-1], z) / np.polyval(denominator[::-1], z) / z**CORRECTION_DELAY
    off = sampled / equalisation_response(frequency_hz)
    np.testing.assert_allclose(20 * np.log10(np.abs(off)), 0, atol=0.05)
    np.testing.assert_allclose(np.degrees(np.angle(off)), 0, atol=0.5)


@pytest.mark.parametrize("frequency_hz", [-1.0, np.nan, np.inf])
def test_frequencies_that_are_none_are_refused(frequency_hz):
    with pytest.raises(ValueError, match="from 0 Hz up"):
        equalisation_response(frequency_hz)


def test_the_subsonic_high_pass_stops_direct_current():
    assert equalisation_level(0.0, subsonic=True) == -np.inf
