"""Broken headers and sheets: each is read or refused in one sentence, in bounded memory."""

import tracemalloc

import numpy as np
import pytest
import soundfile

from groovewright.files.audio import open_recording
from groovewright.testtone.sheet.band_sheet import read_band_sheet

FORMS = [
    ("WAV", "PCM_16", ".wav"),
    ("WAVEX", "PCM_24", ".wav"),
    ("RF64", "FLOAT", ".wav"),
    ("WAV", "DOUBLE", ".wav"),
    ("FLAC", "PCM_16", ".flac"),
    ("AIFF", "PCM_24", ".aiff"),
    ("AIFF", "FLOAT", ".aiff"),
]
MOST_BYTES = 30_000_000
HEADER_BYTES = 130
EXTREMES = (0x00, 0x01, 0x7F, 0x80, 0xFE, 0xFF)


def outcome(path):
    try:
        with open_recording(path) as recording:
            assert recording.read(0, min(64, recording.frame_count)).shape[1] in (1, 2)
            assert recording.frame_count <= path.stat().st_size * 4096
    except ValueError as refused:
        said = str(refused)
        assert said.startswith(path.name)
        assert "\n" not in said
        assert len(said) < 400
        return "refused"
    return "read"


def mutated(random, content):
    broken = bytearray(content)
    for _ in range(random.integers(1, 4)):
        what = random.integers(4)
        place = int(random.integers(min(HEADER_BYTES, len(broken))))
        if what == 0:
            broken[place] = random.choice(EXTREMES)
        elif what == 1:
            broken[place : place + 4] = random.choice(EXTREMES, 4).astype(np.uint8).tobytes()
        elif what == 2:
            del broken[place : place + int(random.integers(1, 9))]
        else:
            broken[place:place] = random.bytes(int(random.integers(1, 9)))
    if random.random() < 0.2:
        del broken[int(random.integers(len(broken))) :]
    return bytes(broken)


@pytest.mark.parametrize(("form", "subtype", "suffix"), FORMS)
def test_broken_headers_are_read_or_refused(tmp_path, form, subtype, suffix):
    random = np.random.default_rng(20)
    whole = tmp_path / f"whole{suffix}"
    soundfile.write(whole, random.uniform(-0.5, 0.5, (3000, 2)), 48_000, format=form, subtype=subtype)
    content = whole.read_bytes()
    path = tmp_path / f"broken{suffix}"
    outcomes = set()
    tracemalloc.start()
    for _ in range(250):
        path.write_bytes(mutated(random, content))
        outcomes.add(outcome(path))
    most_bytes = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert outcomes == {"read", "refused"}
    assert most_bytes < MOST_BYTES


@pytest.mark.parametrize(("form", "subtype", "suffix"), FORMS)
def test_every_length_of_header_is_refused(tmp_path, form, subtype, suffix):
    whole = tmp_path / f"whole{suffix}"
    samples = np.random.default_rng(1).uniform(-0.5, 0.5, (3000, 2))
    soundfile.write(whole, samples, 48_000, format=form, subtype=subtype)
    content = whole.read_bytes()
    path = tmp_path / f"broken{suffix}"
    for length in range(HEADER_BYTES):
        path.write_bytes(content[:length])
        assert outcome(path) == "refused"


def test_random_bytes_behind_each_magic_word_are_refused(tmp_path):
    random = np.random.default_rng(9)
    for magic in (b"RIFF____WAVE", b"RF64____WAVE", b"FORM____AIFF", b"FORM____AIFC", b"fLaC", b""):
        path = tmp_path / "side"
        for _ in range(40):
            path.write_bytes(magic + random.bytes(int(random.integers(1, 3000))))
            assert outcome(path) == "refused"


SHEET = """equalised = true
speed_rpm = "33 1/3"
[[bands]]
name = "a"
kind = "tone"
cut = "left"
frequency_hz = 1000
peak_velocity_cm_s = 5
radius_mm = [120, 110]
[[bands]]
name = "b"
kind = "two-tone"
cut = "lateral"
frequency_hz = [60, 4000]
peak_velocity_cm_s = [8, 2]
radius_mm = [100, 99]
start_s = 20
duration_s = 5
"""
PIECES = ["nan", "-inf", "1e999", "[]", "[[", "]]", '"', "true", "{}", "0x", "1979-05-27", "\x00", "\u2028", "=", "\n"]
PIECES += ["9" * 5000, "[" * 3000, "a.b", '"""', "'", "-", "1_0", "é", "{a=1}", "0000-00-00", "99:99:99", "\\u0000"]


def said_of(text):
    try:
        read_band_sheet(text)
    except ValueError as refused:
        return str(refused)
    return None


def test_broken_sheets_are_read_or_refused():
    random = np.random.default_rng(4)
    outcomes = {"read": 0, "refused": 0}
    for _ in range(1500):
        text = SHEET
        for _ in range(random.integers(1, 4)):
            start = int(random.integers(len(text)))
            stop = start + int(random.integers(0, 12))
            text = text[:start] + str(random.choice(PIECES)) * int(random.random() < 0.8) + text[stop:]
        said = said_of(text)
        outcomes["read" if said is None else "refused"] += 1
        assert said is None or ("\n" not in said and len(said) < 600)

    assert min(outcomes.values()) > 0
