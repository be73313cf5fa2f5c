import numpy as np
import pytest

from groovewright.testtone.finding.clipping import ClippingCounter


def counted(samples, block=1000, rate_hz=1000.0):
    samples = np.asarray(samples, dtype=float)
    if samples.ndim == 1:
        samples = samples[:, np.newaxis]
    counter = ClippingCounter(rate_hz, samples.shape[1])
    for start in range(0, len(samples), block):
        counter.add(samples[start : start + block])
    return counter.result()


def runs_by_hand(values):
    found, start = [], 0
    for place in range(1, len(values) + 1):
        if place < len(values) and values[place] == values[start]:
            continue
        if abs(values[start]) >= 1 - 2**-15 and place - start >= 3:
            found.append((start, place - start))
        start = place
    return found


@pytest.mark.parametrize("block", [1, 2, 3, 7, 64, 1000])
def test_runs_are_the_same_however_the_blocks_fall(block):
    values = np.random.default_rng(2).choice([-1.0, 1.0, 0.3], size=500, p=[0.4, 0.4, 0.2])

    seen = counted(values, block)

    assert sorted((round(run.start_s * 1000), run.frame_count) for run in seen.runs) == runs_by_hand(values)
    assert seen.sample_count == sum(length for _, length in runs_by_hand(values))


def test_a_peak_that_just_fits_is_not_clipped():
    assert not counted([0, 1, 1, 0.9, -1, -1, 0, 1, -1, 1, -1])


def test_equal_samples_below_full_scale_are_not_clipped():
    assert not counted([0.5] * 50 + [0.999] * 50)


def test_place_channel_and_length_are_told():
    samples = np.zeros((100, 2))
    samples[40:45, 1] = -1
    seen = counted(samples)

    assert [(run.start_s, run.channel, run.frame_count) for run in seen.runs] == [(0.04, 1, 5)]
    assert "1 place (5 samples, first in the right channel at 0.040 s)" in seen.describe()
    assert seen.meets(0.0, 0.05)
    assert not seen.meets(0.1, 1.0)


def test_the_list_of_places_is_bounded_and_the_count_is_not():
    seen = counted(np.tile([1, 1, 1, 0.0], 5000))

    assert (seen.run_count, seen.sample_count, len(seen.runs)) == (5000, 15_000, 200)
    # Where they lie is known beyond the list: 5000 runs of 4 ms fill 20 s.
    assert seen.meets(19.95, 30.0)
    assert not seen.meets(20.0, 30.0)


def test_a_long_run_meets_every_stretch_that_it_lies_over():
    seen = counted([0.0] * 1000 + [1.0] * 3000 + [0.0] * 1000)

    assert [seen.meets(start_s, start_s + 0.5) for start_s in (0.4, 0.9, 2.0, 3.6, 4.0)] == [
        False,
        True,
        True,
        True,
        False,
    ]


def test_nothing_clipped_says_so():
    assert counted([0.1, 0.2]).describe() == "Nothing is clipped."


def flat_topped(*, clip, gain, bits=None, hz=997.0, rate_hz=48_000):
    tone = np.clip(0.5 * np.sin(2 * np.pi * hz * np.arange(rate_hz) / rate_hz), -clip, clip) * gain
    return tone if bits is None else np.round(tone * 2 ** (bits - 1)) / 2 ** (bits - 1)


def clipping_of(values):
    counter = ClippingCounter(48_000, 1)
    for block in np.array_split(values[:, np.newaxis], 5):
        counter.add(block)
    return counter.result()


@pytest.mark.parametrize("bits", [16, 24, None])
@pytest.mark.parametrize("clip", [0.45, 0.3])
def test_flat_tops_are_found_at_any_level(clip, bits):
    found = clipping_of(flat_topped(clip=clip, gain=0.37, bits=bits))
    assert found.run_count > 1800
    assert found.meets(0.2, 0.9)


@pytest.mark.parametrize("bits", [16, 24, None])
@pytest.mark.parametrize("hz", [10.0, 50.0, 997.0, 3150.0])
def test_round_tops_are_not_taken_for_flat_ones(hz, bits):
    assert not clipping_of(flat_topped(clip=1.0, gain=0.37, bits=bits, hz=hz))
