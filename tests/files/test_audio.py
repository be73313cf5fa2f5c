import struct
import tracemalloc

import numpy as np
import pytest
import soundfile

from groovewright.files.audio import AudioRecording, open_recording, require_two_channels
from groovewright.files.audio_header import read_promise
from groovewright.testtone.capture.recording import blocks
from groovewright.testtone.finding.clipping import Clipping

FORMS = [
    ("WAV", "PCM_16", ".wav", 2.0**-15),
    ("WAV", "PCM_24", ".wav", 2.0**-23),
    ("WAV", "PCM_32", ".wav", 2.0**-31),
    ("WAV", "FLOAT", ".wav", 2.0**-25),
    ("WAV", "DOUBLE", ".wav", 0.0),
    ("WAVEX", "PCM_24", ".wav", 2.0**-23),
    ("RF64", "PCM_24", ".wav", 2.0**-23),
    ("RF64", "FLOAT", ".wav", 2.0**-25),
    ("FLAC", "PCM_16", ".flac", 2.0**-15),
    ("FLAC", "PCM_24", ".flac", 2.0**-23),
    ("AIFF", "PCM_16", ".aiff", 2.0**-15),
    ("AIFF", "PCM_24", ".aif", 2.0**-23),
    ("AIFF", "PCM_32", ".aiff", 2.0**-31),
    ("AIFF", "FLOAT", ".aifc", 2.0**-25),
    ("AIFF", "DOUBLE", ".aifc", 0.0),
]


FRAMES_OF_4_GB = 2**32 // 16


def noise(frames=20_000, channels=2):
    return np.random.default_rng(3).uniform(-0.5, 0.5, (frames, channels))


def written(path, samples, rate_hz=48_000, **form):
    soundfile.write(path, samples, rate_hz, **form)
    return path


def refusal(path):
    with pytest.raises(ValueError, match=path.name) as refused:
        open_recording(path)
    return str(refused.value)


@pytest.mark.parametrize(("form", "subtype", "suffix", "step"), FORMS)
def test_every_form_reads_back_to_its_own_resolution(tmp_path, form, subtype, suffix, step):
    samples = noise()
    path = written(tmp_path / f"side{suffix}", samples, 96_000, format=form, subtype=subtype)

    with open_recording(path) as recording:
        assert (recording.sample_rate_hz, recording.channel_count, recording.frame_count) == (96_000, 2, 20_000)
        np.testing.assert_allclose(recording.read(0, 20_000), samples, rtol=0, atol=step)
        np.testing.assert_allclose(recording.read(19_990, 10), samples[-10:], rtol=0, atol=step)
        np.testing.assert_allclose(recording.read(5, 3), samples[5:8], rtol=0, atol=step)
        assert not recording.clipping
        assert recording.peak == pytest.approx(np.abs(samples).max(), abs=step)
        with pytest.raises(ValueError, match="holds 0 to 20000"):
            recording.read(19_999, 2)


@pytest.mark.parametrize(("form", "subtype", "suffix", "step"), FORMS)
def test_a_file_cut_short_says_how_many_frames_are_missing(tmp_path, form, subtype, suffix, step):
    path = written(tmp_path / f"side{suffix}", noise(), format=form, subtype=subtype)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) * 2 // 3])
    readable = 0
    with soundfile.SoundFile(path) as file:
        try:
            while True:
                frame = file.read(1, always_2d=True)
                if len(frame) == 0:
                    break
                readable += 1
        except soundfile.SoundFileError:
            pass

    said = refusal(path)

    assert "counts 20000 frames" in said
    missing = int(said.split("the last ")[1].split()[0])
    # FLAC comes in frames of 4096 samples; the library refuses the last of the whole ones when read one by one.
    assert missing == 20_000 - (-(-readable // 4096) * 4096 if form == "FLAC" else readable)


def test_one_frame_short_is_noticed(tmp_path):
    path = written(tmp_path / "side.wav", noise(), subtype="PCM_24")
    path.write_bytes(path.read_bytes()[:-1])

    assert "the last 1 of them" in refusal(path)


def test_bytes_after_the_samples_do_no_harm(tmp_path):
    path = written(tmp_path / "side.wav", noise(), subtype="PCM_24")
    path.write_bytes(path.read_bytes() + b"LIST" + struct.pack("<I", 4) + b"INFO" + bytes(100))

    with open_recording(path) as recording:
        assert recording.frame_count == 20_000


@pytest.mark.parametrize("claimed", [0, 0xFFFFFFFF])
def test_a_recording_that_was_never_finished_is_refused(tmp_path, claimed):
    path = written(tmp_path / "side.wav", noise(), subtype="PCM_16")
    content = bytearray(path.read_bytes())
    content[40:44] = struct.pack("<I", claimed)
    path.write_bytes(content)

    assert "never finished" in refusal(path)


def sparse_wav(path, frames, *, rf64, tail):
    """Write a file whose samples are a hole but for the last few, so that 4 GB take no room on the disk."""
    data_bytes = frames * 16
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 3, 2, 96_000, 1_536_000, 16, 64)
    long_sizes = struct.pack("<4sIQQQI", b"ds64", 28, data_bytes + 72, data_bytes, frames, 0)
    with path.open("wb") as file:
        file.write(struct.pack("<4sI4s", b"RF64" if rf64 else b"RIFF", 0xFFFFFFFF, b"WAVE"))
        file.write(long_sizes if rf64 else b"")
        file.write(form)
        file.write(struct.pack("<4sI", b"data", 0xFFFFFFFF if rf64 else data_bytes % 2**32))
        file.seek(data_bytes - tail.nbytes, 1)
        file.write(tail.tobytes())


@pytest.fixture
def tail():
    return np.random.default_rng(1).uniform(-0.5, 0.5, (1000, 2)).astype("<f8")


def test_samples_beyond_4_gb_are_read(tmp_path, tail):
    frames = FRAMES_OF_4_GB + 5000
    path = tmp_path / "long.wav"
    sparse_wav(path, frames, rf64=True, tail=tail)
    promise = read_promise(path)
    assert (promise.promised_frames, promise.missing_frames) == (frames, 0)

    # Opening reads from end to end, which takes seconds for 4 GB; the reader alone shows that it reaches that far.
    with soundfile.SoundFile(path) as file:
        unclipped = Clipping(0, 0, (), frozenset())
        recording = AudioRecording("long.wav", "RF64", 96_000, 2, file.frames, 0.5, unclipped, False, file)
        assert recording.frame_count == frames
        np.testing.assert_array_equal(recording.read(frames - 1000, 1000), tail)
        assert not recording.read(FRAMES_OF_4_GB // 2, 100).any()


def test_an_rf64_cut_short_beyond_4_gb_says_what_is_missing(tmp_path, tail):
    path = tmp_path / "long.wav"
    sparse_wav(path, FRAMES_OF_4_GB + 5000, rf64=True, tail=tail)
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size - 16 * 250)

    assert f"counts {FRAMES_OF_4_GB + 5000} frames and the last 250 of them" in refusal(path)


def test_a_plain_wav_that_grew_beyond_its_count_is_refused(tmp_path, tail):
    path = tmp_path / "long.wav"
    sparse_wav(path, FRAMES_OF_4_GB + 5000, rf64=False, tail=tail)

    assert f"{FRAMES_OF_4_GB} frames lie beyond" in refusal(path)


def test_memory_does_not_grow_with_length(tmp_path):
    def most_bytes(seconds):
        path = written(tmp_path / f"{seconds}.wav", noise(48_000 * seconds), subtype="PCM_16")
        tracemalloc.start()
        with open_recording(path) as recording:
            for block in blocks(recording, 0, recording.frame_count):
                assert len(block)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    most_bytes(1)
    short = most_bytes(10)
    assert most_bytes(60) < 1.1 * short


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"ID3\x04" + bytes(200), "is an MP3 file"),
        (b"\xff\xfb\x90\x64" + bytes(200), "is an MP3 or AAC file"),
        (b"OggS" + bytes(200), "is an Ogg file"),
        (b"\x00\x00\x00\x20ftypM4A " + bytes(200), "is an MP4 file"),
        (b"Dear customer,\nhere is the recording.\n", "is a text file"),
        (bytes(5000), "starts with nothing but zeros"),
        (b"\x81\x07\x99garbage\x00\x01" * 20, "is no audio file"),
        (b"RIFF\x24\x00\x00\x00WAVE", "no samples after it"),
        (b"RIFF\x24\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00", "ends within its header"),
        (b"RIFF\x24\x00\x00\x00WAVEdata\x10\x00\x00\x00" + bytes(16), "how its samples are stored"),
        (b"FORM\x00\x00\x00\x24AIFF", "without its samples"),
    ],
)
def test_what_is_no_recording_gets_one_sentence(tmp_path, content, said):
    path = tmp_path / "side.wav"
    path.write_bytes(content)
    if content.startswith(b"FORM"):
        path = path.rename(tmp_path / "side.aiff")

    assert said in refusal(path)


def test_a_file_named_as_another_kind_is_refused_with_the_right_name(tmp_path):
    path = written(tmp_path / "side.flac", noise())
    path = path.rename(tmp_path / "side.wav")

    assert "side.wav holds FLAC by its content, not WAV; rename it to side.flac" in refusal(path)


@pytest.mark.parametrize("what", ["missing.wav", "."])
def test_what_is_not_a_file_is_refused(tmp_path, what):
    with pytest.raises(ValueError, match="is not a file"):
        open_recording(tmp_path / what)


@pytest.mark.parametrize(
    ("samples", "rate_hz", "form", "said"),
    [
        (np.zeros((4000, 2)), 48_000, {}, "every sample is zero"),
        (np.full((4000, 2), 5e-5), 48_000, {"subtype": "PCM_24"}, "86 dB below full scale"),
        (np.zeros((0, 2)), 48_000, {}, "holds no samples"),
        (noise(), 22_050, {}, "22050 samples a second"),
        (noise(), 384_000, {}, "384000 samples a second"),
        (noise(channels=3), 48_000, {}, "3 channels"),
        (noise(), 48_000, {"subtype": "PCM_U8"}, "8-bit"),
        (noise(), 48_000, {"subtype": "ULAW"}, "U-Law"),
        (noise() * 32_768, 48_000, {"subtype": "FLOAT"}, "times full scale"),
    ],
)
def test_unusable_samples_are_refused(tmp_path, samples, rate_hz, form, said):
    assert said in refusal(written(tmp_path / "side.wav", samples, rate_hz, **form))


@pytest.mark.parametrize("rate_hz", [32_000, 192_000])
def test_both_ends_of_the_sample_rates_are_taken(tmp_path, rate_hz):
    with open_recording(written(tmp_path / "side.wav", noise(), rate_hz)) as recording:
        assert recording.sample_rate_hz == rate_hz


@pytest.mark.parametrize("odd", [np.nan, np.inf, -np.inf])
def test_samples_that_are_no_number_are_placed(tmp_path, odd):
    samples = noise(300_000)
    samples[240_000, 1] = odd

    assert "the first at 5.000 s" in refusal(written(tmp_path / "side.wav", samples, subtype="FLOAT"))


def test_one_channel_is_refused_only_where_two_are_needed(tmp_path):
    with (
        open_recording(written(tmp_path / "side.wav", noise(channels=1))) as recording,
        pytest.raises(ValueError, match=r"side\.wav has one channel; crosstalk needs two"),
    ):
        require_two_channels(recording, "crosstalk")


def test_one_channel_saved_twice_is_one_channel(tmp_path):
    twice = np.repeat(noise(channels=1), 2, axis=1)
    with (
        open_recording(written(tmp_path / "side.wav", twice)) as recording,
        pytest.raises(ValueError, match=r"side\.wav holds the very same samples in both channels"),
    ):
        require_two_channels(recording, "crosstalk")


def test_two_channels_pass(tmp_path):
    with open_recording(written(tmp_path / "side.wav", noise())) as recording:
        require_two_channels(recording, "crosstalk")


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
def test_clipping_is_reported_and_not_refused(tmp_path, subtype):
    time_s = np.arange(48_000) / 48_000
    tone = np.column_stack([1.5 * np.sin(2 * np.pi * 100 * time_s), 0.5 * np.sin(2 * np.pi * 100 * time_s)])
    path = written(tmp_path / "side.wav", np.clip(tone, -1, 1), subtype=subtype)

    with open_recording(path) as recording:
        assert recording.clipping.run_count == 200
        assert {run.channel for run in recording.clipping.runs} == {0}


def test_progress_rises_to_one(tmp_path):
    seen = []
    open_recording(written(tmp_path / "side.wav", noise(400_000)), progress=seen.append).close()

    assert seen == sorted(seen)
    assert len(seen) == 4
    assert seen[-1] == 1
