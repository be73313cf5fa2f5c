import numpy as np
import pytest

from groovewright.testtone.capture.recording import ArrayRecording, blocks, duration_s


def test_blocks_join_to_the_whole_stretch():
    samples = np.arange(22.0).reshape(11, 2)
    recording = ArrayRecording(samples, 48_000)

    parts = list(blocks(recording, 2, 11, size=4))

    assert [len(part) for part in parts] == [4, 4, 1]
    np.testing.assert_array_equal(np.concatenate(parts), samples[2:])


def test_one_list_of_samples_is_one_channel():
    recording = ArrayRecording([0.0, 0.5, 1.0], 3)

    assert (recording.frame_count, recording.channel_count, duration_s(recording)) == (3, 1, 1.0)


@pytest.mark.parametrize(("start", "count"), [(-1, 2), (9, 3), (0, -1)])
def test_frames_outside_are_refused(start, count):
    recording = ArrayRecording(np.zeros((11, 2)), 48_000)

    with pytest.raises(ValueError, match="the recording holds 0 to 11"):
        recording.read(start, count)


def test_what_is_read_can_be_changed_without_changing_the_recording():
    recording = ArrayRecording(np.zeros((4, 2)), 48_000)
    recording.read(0, 4)[:] = 1

    assert not recording.read(0, 4).any()


@pytest.mark.parametrize("shape", [(4, 3), (4, 0), (2, 2, 2)])
def test_a_shape_that_is_no_recording_is_refused(shape):
    with pytest.raises(ValueError, match="shape"):
        ArrayRecording(np.zeros(shape), 48_000)


def test_a_rate_of_zero_is_refused():
    with pytest.raises(ValueError, match="sample_rate_hz"):
        ArrayRecording(np.zeros((4, 2)), 0)
