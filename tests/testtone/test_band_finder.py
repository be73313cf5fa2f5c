"""Bands are placed by hand into synthetic recordings, and must be found inside the places where they were put."""

import numpy as np
import pytest

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_finder import locate_bands
from groovewright.testtone.sheet.band_sheet import Band, BandSheet

RATE_HZ = 32_000
EDGE_S = 0.2
"""At most this much of a band's end is left out: a frame for its edge, one for the median, two for the inset."""

MOVES = {"left": (1.0, 0.03), "right": (0.03, 1.0), "lateral": (0.7, 0.7), "vertical": (0.7, -0.7)}


def band(name, kind="tone", cut="lateral", *, hz=(1000.0,), start_s=None, duration_s=None):
    return Band(name, kind, cut, tuple(hz), None, (120.0, 110.0), start_s, duration_s)


def sheet(*bands):
    return BandSheet(True, 100 / 3, bands)


def played(one, length_s, level=0.3, *, speed=1.0, wow=0.0):
    """Return what a band sounds like; wow is the peak part of the pitch at 0.5556 Hz."""
    time_s = np.arange(round(length_s / speed * RATE_HZ)) / RATE_HZ
    turned_s = speed * time_s + speed * wow / (2 * np.pi * 0.5556) * np.sin(2 * np.pi * 0.5556 * time_s)
    if one.kind == "silence":
        mono = np.zeros(len(time_s))
    elif one.kind == "sweep":
        first, last = one.frequency_hz
        octaves = np.log(last / first)
        mono = np.sin(2 * np.pi * first * length_s / octaves * (np.exp(octaves * turned_s / length_s) - 1))
    else:
        parts = [np.sin(2 * np.pi * hz * turned_s) / (1 + 3 * number) for number, hz in enumerate(one.frequency_hz)]
        mono = np.sum(parts, axis=0)
    return level * mono[:, np.newaxis] * np.array(MOVES[one.cut])


def pause(length_s):
    return np.zeros((round(length_s * RATE_HZ), 2))


def recorded(parts, *, noise=1e-3, clicks=0, hum=0.0, seed=7):
    """Return the recording, and where each part stands. [s]"""
    random = np.random.default_rng(seed)
    samples = np.concatenate(parts)
    samples = samples + noise * random.normal(size=samples.shape)
    for start in random.integers(0, len(samples) - 64, clicks):
        samples[start : start + 64] += random.choice([-1, 1]) * np.hanning(64)[:, np.newaxis]
    samples += hum * np.sin(2 * np.pi * 50 * np.arange(len(samples)) / RATE_HZ)[:, np.newaxis]
    edges_s = np.cumsum([0] + [len(part) for part in parts]) / RATE_HZ
    return ArrayRecording(np.clip(samples, -1, 1), RATE_HZ), edges_s


def assert_inside(found, start_s, stop_s, *, slack_s=0.0, missed_s=EDGE_S):
    assert start_s - slack_s <= found.start_s <= start_s + missed_s, found
    assert stop_s - missed_s <= found.start_s + found.duration_s <= stop_s + slack_s, found


RECORD = (
    band("3150 Hz", hz=(3150,)),
    band("left", cut="left"),
    band("right", cut="right"),
    band("vertical", cut="vertical"),
    band("two", "two-tone", hz=(60, 4000)),
    band("quiet", "silence", hz=()),
    band("sweep", "sweep", hz=(20, 12_000), duration_s=6.0),
)


@pytest.mark.parametrize("speed", [0.97, 1.0, 1.03])
@pytest.mark.parametrize("gap_s", [0.3, 2.0])
def test_a_whole_record_is_found(speed, gap_s):
    parts = [0.02 * np.random.default_rng(1).normal(size=(2 * RATE_HZ, 2))]
    for one in RECORD:
        parts += [played(one, 6.0 if one.kind == "sweep" else 3.0, speed=speed, wow=0.003), pause(gap_s)]
    recording, edges_s = recorded(parts, clicks=40, hum=2e-3)

    located = locate_bands(recording, sheet(*RECORD))

    assert [found.band for found in located] == list(RECORD)
    assert {found.how for found in located} == {"found"}
    for number, found in enumerate(located):
        start_s, stop_s = edges_s[2 * number + 1], edges_s[2 * number + 2]
        if found.band.kind == "silence":
            # The pauses beside a silent groove sound just as it does.
            assert_inside(found, start_s, stop_s, slack_s=gap_s)
        else:
            slack_s = 0.051 if found.band.kind == "sweep" else 0.0
            # The lowest octaves of a sweep cannot be told from rumble and hum in so short a time.
            assert_inside(found, start_s, stop_s, slack_s=slack_s, missed_s=0.8 if slack_s else EDGE_S)


def test_bands_that_follow_without_a_pause_are_told_apart():
    bands = RECORD[:5]
    recording, edges_s = recorded([played(one, 2.0) for one in bands])

    for number, found in enumerate(locate_bands(recording, sheet(*bands))):
        assert_inside(found, edges_s[number], edges_s[number + 1])


@pytest.mark.parametrize("gap_s", [0.0, 0.5])
@pytest.mark.parametrize("step_db", [1.5, 3.0])
def test_a_ladder_of_rising_levels_is_told_apart(gap_s, step_db):
    rungs = tuple(band(f"rung {number}", hz=(300,)) for number in range(7))
    parts = [pause(1.0)]
    for number, rung in enumerate(rungs):
        parts += [played(rung, 1.5, 0.05 * 10 ** (number * step_db / 20)), pause(gap_s)]
    recording, edges_s = recorded(parts, clicks=10)

    for number, found in enumerate(locate_bands(recording, sheet(*rungs))):
        assert_inside(found, edges_s[2 * number + 1], edges_s[2 * number + 2])


def test_a_faint_band_just_before_a_loud_one_and_a_wide_sweep_with_short_pauses_are_found():
    bands = (
        band("faint", "two-tone", hz=(10_000, 10_300)),
        band("loud", cut="right"),
        band("wide", "sweep", "vertical", hz=(20, 15_000)),
        band("last", cut="left", hz=(400,)),
    )
    parts = [pause(0.3)]
    for one, level in zip(bands, (0.04, 0.4, 0.1, 0.3), strict=True):
        parts += [played(one, 4.0, level), pause(0.2)]
    recording, edges_s = recorded(parts, noise=2e-3, hum=1e-3)

    for number, found in enumerate(locate_bands(recording, sheet(*bands))):
        is_sweep = found.band.kind == "sweep"
        start_s, stop_s = edges_s[2 * number + 1], edges_s[2 * number + 2]
        assert_inside(found, start_s, stop_s, slack_s=0.051 if is_sweep else 0.0, missed_s=0.4 if is_sweep else EDGE_S)


def test_progress_of_the_search_rises_to_one():
    recording, _ = recorded([pause(1), played(RECORD[0], 30.0), pause(1)])
    seen = []

    locate_bands(recording, sheet(RECORD[0]), progress=seen.append)

    assert len(seen) > 5
    assert seen == sorted(seen)
    assert seen[-1] == 1


def test_a_low_sweep_for_the_resonance_is_found_above_the_rumble():
    low = band("resonance", "sweep", hz=(25, 5))
    recording, edges_s = recorded([pause(3), played(low, 8.0), pause(3), played(RECORD[0], 3.0)], hum=2e-3)

    found = locate_bands(recording, sheet(low, RECORD[0]))

    assert_inside(found[0], edges_s[1], edges_s[2], slack_s=0.15, missed_s=0.3)
    assert_inside(found[1], edges_s[3], edges_s[4])


def test_crossed_channels_and_a_turned_polarity_do_not_hide_bands():
    bands = RECORD[:4]
    parts = [part for one in bands for part in (played(one, 2.0), pause(0.5))]
    recording, edges_s = recorded([part[:, ::-1] * np.array([1.0, -1.0]) for part in parts])

    for number, found in enumerate(locate_bands(recording, sheet(*bands))):
        assert_inside(found, edges_s[2 * number], edges_s[2 * number + 1])


def test_a_start_in_the_sheet_always_wins_and_anchors_the_search():
    alike = [band("first"), band("second", start_s=7.25, duration_s=1.0), band("third")]
    parts = [pause(1), played(alike[0], 3.0), pause(1), played(alike[0], 3.0), pause(1), played(alike[0], 3.0)]
    recording, edges_s = recorded(parts)

    first, second, third = locate_bands(recording, sheet(*alike[:2], alike[2]))

    assert (second.start_s, second.duration_s, second.how) == (7.25, 1.0, "from the sheet")
    assert_inside(third, edges_s[5], edges_s[6])
    assert third.how == "found"
    assert first.start_s + first.duration_s <= 7.25
    assert_inside(first, edges_s[1], edges_s[2])


def test_a_start_without_a_duration_lasts_to_the_band_s_end():
    one = band("only", start_s=2.5)
    recording, edges_s = recorded([pause(1), played(one, 5.0), pause(2)])

    (found,) = locate_bands(recording, sheet(one))

    assert (found.start_s, found.how) == (2.5, "from the sheet")
    assert edges_s[2] - EDGE_S <= found.start_s + found.duration_s <= edges_s[2]


def test_with_every_place_given_the_signal_is_not_looked_at():
    recording = ArrayRecording(np.zeros((10 * RATE_HZ, 2)), RATE_HZ)
    given = (band("a", start_s=0.0, duration_s=4.0), band("b", start_s=5.0, duration_s=5.2))

    located = locate_bands(recording, sheet(*given))

    assert [(found.start_s, found.duration_s) for found in located] == [(0.0, 4.0), (5.0, 5.0)]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (band("late", start_s=8.0, duration_s=5.0), "'late' lies from 8.00 to 13.00 s"),
        (band("later", start_s=80.0), "'later' would start at 80.00 s"),
    ],
)
def test_a_place_outside_the_recording_is_refused(given, said):
    with pytest.raises(ValueError, match=said):
        locate_bands(ArrayRecording(np.zeros((10 * RATE_HZ, 2)), RATE_HZ), sheet(given))


def test_missing_bands_are_named_and_counted():
    recording, _ = recorded([played(one, 2.0) for one in (RECORD[0], RECORD[1])])

    with pytest.raises(ValueError, match=r"^only 2 of the 3 bands .* without '7 kHz'; write .* in the order"):
        locate_bands(recording, sheet(RECORD[0], RECORD[1], band("7 kHz", hz=(7000,))))


def test_a_band_more_than_the_sheet_lists_is_refused_with_its_place():
    recording, _ = recorded([pause(1), played(RECORD[0], 3.0), pause(1), played(RECORD[0], 2.5), pause(1)])

    with pytest.raises(ValueError, match=r"from 5\.\d to 7\.\d s the recording looks like band '3150 Hz' too"):
        locate_bands(recording, sheet(RECORD[0]))


def test_noise_alone_holds_no_bands():
    recording, _ = recorded([pause(10)], noise=0.1)

    with pytest.raises(
        ValueError, match=r"^none of the 2 bands that were looked for were found in the recording, without "
    ):
        locate_bands(recording, sheet(*RECORD[:2]))
    with pytest.raises(ValueError, match=r"^band '3150 Hz' was not found in the recording; give start_s"):
        locate_bands(recording, sheet(RECORD[0]))


def test_bands_in_the_wrong_order_are_told_so():
    recording, _ = recorded([pause(1), played(RECORD[0], 3.0), pause(1), played(RECORD[1], 3.0), pause(1)])

    with pytest.raises(ValueError, match=r"only 1 of the 2 bands .* write the bands in the order in which they play"):
        locate_bands(recording, sheet(RECORD[1], RECORD[0]))


@pytest.mark.parametrize("frames", [1, 700, 9000])
def test_a_recording_of_a_moment_is_refused_in_one_sentence(frames):
    with pytest.raises(ValueError, match="were looked for"):
        locate_bands(ArrayRecording(np.full((frames, 2), 0.1), RATE_HZ), sheet(*RECORD))


def test_one_channel_will_do_to_find_bands():
    recording, edges_s = recorded([pause(1), played(RECORD[0], 3.0), pause(1)])

    (found,) = locate_bands(ArrayRecording(recording.samples[:, 0], RATE_HZ), sheet(RECORD[0]))

    assert_inside(found, edges_s[1], edges_s[2])
