"""Files that we write, read back by an independent reader."""

import numpy as np
import pytest
import soundfile

from groovewright.files.audio_writing import write_recording
from groovewright.testtone.capture.recording import ArrayRecording, Recording

SAMPLES = np.random.default_rng(3).uniform(-1, 1, (200_001, 2))
RECORDING = ArrayRecording(SAMPLES, 48_000)


@pytest.mark.parametrize(("sample_format", "expected"), [("float", ("FLOAT", 2**-25)), ("24-bit", ("PCM_24", 2**-24))])
@pytest.mark.parametrize(("limit", "container"), [(4_000_000_000, "WAV"), (1000, "RF64")])
def test_file_reads_back(tmp_path, sample_format, expected, limit, container):
    subtype, largest_error = expected
    path = tmp_path / "written.wav"
    assert write_recording(path, RECORDING, sample_format, wav_limit_bytes=limit) == container
    info = soundfile.info(path)
    assert (info.format, info.subtype, info.samplerate, info.frames) == (container, subtype, 48_000, len(SAMPLES))
    read, _ = soundfile.read(path, dtype="float64")
    np.testing.assert_allclose(read, SAMPLES, rtol=0, atol=largest_error)


def test_mono_of_odd_length_has_its_padding_byte(tmp_path):
    path = tmp_path / "mono.wav"
    write_recording(path, ArrayRecording(SAMPLES[:1001, 0], 32_000), "24-bit")
    assert path.stat().st_size % 2 == 0
    read, rate = soundfile.read(path)
    assert (len(read), rate) == (1001, 32_000)


def test_full_scale_fits_24_bits(tmp_path):
    path = tmp_path / "full.wav"
    write_recording(path, ArrayRecording([[1.0, -1.0]] * 10, 48_000), "24-bit")
    read, _ = soundfile.read(path)
    assert read[0].tolist() == [1 - 2**-23, -1.0]


def test_same_samples_give_the_same_bytes_and_progress_ends_at_the_whole(tmp_path):
    told = []
    write_recording(tmp_path / "a.wav", RECORDING, "float", progress=told.append)
    write_recording(tmp_path / "b.wav", RECORDING, "float")
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()
    assert told == sorted(told)
    assert told[-1] == 1.0


class Broken:
    """A recording that fails in its middle."""

    sample_rate_hz, channel_count, frame_count = 48_000.0, 2, 1 << 19

    def read(self, start_frame, frame_count):
        if start_frame:
            raise OSError("gone")
        return np.zeros((frame_count, 2))


def test_broken_run_leaves_the_older_file_and_no_draft(tmp_path):
    path = tmp_path / "kept.wav"
    path.write_bytes(b"older")
    broken: Recording = Broken()
    with pytest.raises(OSError, match="gone"):
        write_recording(path, broken, "float")
    assert path.read_bytes() == b"older"
    assert [left.name for left in tmp_path.iterdir()] == ["kept.wav"]
