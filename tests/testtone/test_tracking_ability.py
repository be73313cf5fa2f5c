import math

import numpy as np
import pytest

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import Band
from groovewright.testtone.tracking.tracking_ability import (
    OTHER_CAUSES,
    SIDE_FORCE_TOO_LARGE,
    SIDE_FORCE_TOO_SMALL,
    tracking_ability_of,
)

RATE_HZ = 32_000
TONE_HZ = 300.0
RUNG_S = 0.8
LEVELS_CM_S = (5.0, 7.0, 9.0, 11.0, 13.0, 16.0)


def ladder(levels=LEVELS_CM_S, cut="lateral"):
    return [
        LocatedBand(
            Band(f"{level:g} cm/s", "tone", cut, (TONE_HZ,), level, (100.0, 99.0)), k * RUNG_S, RUNG_S, "from the sheet"
        )
        for k, level in enumerate(levels)
    ]


def played(rng, *, left_cm_s=math.inf, right_cm_s=math.inf, noise=1e-4, second_harmonic=0.003, third_harmonic=0.0):
    """Rungs one after another; above its limit a channel is clipped by the groove wall and rattles."""
    time_s = np.arange(round(RUNG_S * RATE_HZ)) / RATE_HZ
    rungs = []
    for level in LEVELS_CM_S:
        wave = level * np.cos(2 * np.pi * TONE_HZ * time_s + 0.02 * np.sin(2 * np.pi * time_s))
        wave = wave + second_harmonic * level * np.cos(4 * np.pi * TONE_HZ * time_s) * level / LEVELS_CM_S[0]
        wave = wave + third_harmonic * level * np.cos(6 * np.pi * TONE_HZ * time_s) * (level / LEVELS_CM_S[0]) ** 2
        channels = [wave - 0.7 * np.maximum(wave - limit, 0) for limit in (left_cm_s, right_cm_s)]
        rungs.append(0.03 * np.stack(channels, axis=1))
    samples = np.concatenate(rungs)
    return ArrayRecording(samples + rng.normal(0, noise, samples.shape), RATE_HZ)


def test_the_right_channel_first_is_too_little_compensation():
    found = tracking_ability_of(played(np.random.default_rng(1), left_cm_s=11.7, right_cm_s=7.5), ladder())
    assert found.first == "right"
    assert found.finding == SIDE_FORCE_TOO_SMALL
    right, left = found.breakdown["right"], found.breakdown["left"]
    assert (right.value, left.value) == (8.0, 12.0)
    assert right.standard_uncertainty == pytest.approx(2 / math.sqrt(12))


def test_the_left_channel_first_is_too_much_compensation():
    found = tracking_ability_of(played(np.random.default_rng(2), left_cm_s=9.5), ladder())
    assert found.first == "left"
    assert found.finding == SIDE_FORCE_TOO_LARGE
    assert found.breakdown["left"].value == 10.0
    assert found.not_shown["right"] == "the right channel tracks every level, up to 16 cm/s"


def test_both_alike_has_other_causes():
    found = tracking_ability_of(played(np.random.default_rng(3), left_cm_s=9.5, right_cm_s=9.8), ladder())
    assert found.first == "both"
    assert found.finding == OTHER_CAUSES


@pytest.mark.parametrize("limits", [(8.0, 12.0), (12.0, 8.0), (8.0, 8.0), (99.0, 99.0), (2.0, 2.0)])
def test_no_finding_ever_asks_for_more_tracking_force(limits):
    found = tracking_ability_of(played(np.random.default_rng(4), left_cm_s=limits[0], right_cm_s=limits[1]), ladder())
    said = " ".join((found.finding, *found.notes, *found.not_shown.values())).lower()
    assert "raise the tracking force" not in said
    assert "add tracking force" not in said
    assert "tracking force" not in said or "more of it is no remedy" in said


@pytest.mark.parametrize("noise", [1e-5, 1e-3, 4e-3])
def test_noise_and_harmonics_that_grow_with_level_are_no_breakdown(noise):
    recording = played(np.random.default_rng(5), noise=noise, second_harmonic=0.01, third_harmonic=0.004)
    found = tracking_ability_of(recording, ladder())
    assert found.breakdown == {}
    assert found.first == "none"


def test_a_ladder_that_starts_too_high_says_so():
    found = tracking_ability_of(played(np.random.default_rng(6), left_cm_s=2.0, right_cm_s=2.0), ladder())
    assert found.not_shown["left"] == "the left channel is broken down on the lowest rung already, 5 cm/s"


def test_residual_distortion_is_everything_but_the_tone():
    recording = played(np.random.default_rng(7), noise=1e-7, second_harmonic=0.02)
    for rung in tracking_ability_of(recording, ladder()).rungs:
        expected = 2.0 * rung.peak_velocity_cm_s / LEVELS_CM_S[0]
        assert rung.residual["left"].value == pytest.approx(expected, rel=2e-3)


def test_rungs_are_sorted_by_level_wherever_they_stand():
    recording = played(np.random.default_rng(8), left_cm_s=9.5)
    assert tracking_ability_of(recording, ladder()[::-1]) == tracking_ability_of(recording, ladder())


def test_a_dead_channel_gives_no_finding():
    recording = played(np.random.default_rng(9), left_cm_s=9.5)
    dead = ArrayRecording(recording.samples * [1, 0], RATE_HZ)
    found = tracking_ability_of(dead, ladder())
    assert found.first == "none"
    assert found.not_shown["right"] == "the right channel holds no tone on every rung; check the wiring"


def test_a_ladder_needs_levels_of_one_lateral_tone():
    recording = played(np.random.default_rng(10))
    with pytest.raises(ValueError, match="needs at least 3"):
        tracking_ability_of(recording, ladder()[:2])
    with pytest.raises(ValueError, match="is a vertical tone; a ladder is of lateral tones"):
        tracking_ability_of(recording, ladder(cut="vertical"))
    with pytest.raises(ValueError, match="one frequency and different peak velocities"):
        tracking_ability_of(recording, ladder((5.0, 5.0, 7.0)))
    unknown = LocatedBand(Band("x", "tone", "lateral", (TONE_HZ,), None, (100.0, 99.0)), 0, RUNG_S, "found")
    with pytest.raises(ValueError, match="has no peak_velocity_cm_s"):
        tracking_ability_of(
            recording,
            [*ladder()[:3], unknown],
        )
    with pytest.raises(ValueError, match="so record both"):
        tracking_ability_of(ArrayRecording(recording.samples[:, :1], RATE_HZ), ladder())
    short = [LocatedBand(rung.band, rung.start_s, 0.1, rung.how) for rung in ladder()]
    with pytest.raises(ValueError, match=r"needs at least 0\.27 s"):
        tracking_ability_of(recording, short)
