from itertools import pairwise

import numpy as np
import pytest

from groovewright.testtone.capture.recording import BLOCK_FRAMES, ArrayRecording
from groovewright.testtone.finding.overview import overview


@pytest.mark.parametrize("frame_count", [1, 7, 1000, 2 * BLOCK_FRAMES + 17])
@pytest.mark.parametrize("bin_count", [1, 3, 100])
def test_every_bin_holds_the_extremes_of_its_frames(frame_count, bin_count):
    samples = np.random.default_rng(5).normal(size=(frame_count, 2))

    seen = overview(ArrayRecording(samples, 1000), bin_count)

    edges = np.round(seen.start_s * 1000).astype(int)
    assert edges[0] == 0
    assert edges[-1] == frame_count
    for row, (start, stop) in enumerate(pairwise(edges)):
        np.testing.assert_array_equal(seen.lowest[row], samples[start:stop].min(axis=0))
        np.testing.assert_array_equal(seen.highest[row], samples[start:stop].max(axis=0))


def test_one_loud_frame_is_seen_however_coarse_the_picture():
    samples = np.zeros((500_000, 1))
    samples[400_001] = -0.9

    seen = overview(ArrayRecording(samples, 48_000), 200)

    assert seen.lowest.min() == -0.9
    assert np.flatnonzero(seen.lowest[:, 0]).tolist() == [160]


def test_an_empty_recording_is_refused():
    with pytest.raises(ValueError, match="0 frames"):
        overview(ArrayRecording(np.zeros((0, 2)), 48_000))
