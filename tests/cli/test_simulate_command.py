"""`groovewright simulate`: sheets in, a recording and its truth out."""

import json
import shlex
from importlib import resources
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner

from groovewright.cli.main import main

DECK = (resources.files("groovewright.cli") / "examples" / "deck.toml").read_text("utf-8")

BANDS = """
equalised = false
speed_rpm = "33 1/3"
[[bands]]
name = "3150 Hz"
kind = "tone"
cut = "lateral"
frequency_hz = 3150
peak_velocity_cm_s = 5
radius_mm = [100, 99]
duration_s = 0.5
"""


@pytest.fixture(autouse=True)
def sheets(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("record.toml").write_text(BANDS, encoding="utf-8")
    Path("deck.toml").write_text(DECK, encoding="utf-8")


def run(*words):
    return CliRunner().invoke(main, ["simulate", *words])


def test_recording_and_its_truth():
    result = run("record.toml", "--deck", "deck.toml", "--out", "known.wav", "--sample-rate", "48kHz", "--json")
    assert result.exit_code == 0, result.stderr
    found = json.loads(result.stdout)
    info = soundfile.info("known.wav")
    assert (info.samplerate, info.channels, info.subtype) == (48_000, 2, "FLOAT")
    # Half a second of silence, of tone and of silence again, played 0.12 % fast.
    assert info.frames == pytest.approx(1.5 * 48_000 / 1.0012, abs=1)
    assert found["duration"]["value"] == info.frames / 48_000
    assert found["truth"]["speed_error"] == {"value": 0.12, "unit": "%", "standard_uncertainty": 0.0}
    assert found["truth"]["zenith_error"]["value"] == -0.5
    assert found["truth"]["tracking_error"][0]["radius"]["value"] == 99.5
    assert found["bands"] == [{"name": "3150 Hz", "start": {"value": 0.5, "unit": "s", "standard_uncertainty": 0.0}}]


def test_same_seed_writes_the_same_file_and_another_another():
    files = []
    for seed, out in (("5", "a.wav"), ("5", "b.wav"), ("6", "c.wav")):
        options = ("--seed", seed, "--sample-rate", "32kHz", "--sample-format", "24-bit", "--out", out)
        assert run("record.toml", "--deck", "deck.toml", *options).exit_code == 0
        files.append(Path(out).read_bytes())
    assert files[0] == files[1] != files[2]


def test_table_names_file_and_truth():
    result = run("record.toml", "--deck", "deck.toml", "--out", "known.wav", "--sample-rate", "32kHz")
    assert result.exit_code == 0
    for words in ("known.wav", "WAV, float, 32000 Hz", "speed error", "tracking error at 99.5 mm, 3150 Hz"):
        assert words in result.stdout


def test_clipped_recording_is_said_to_be():
    Path("deck.toml").write_text("[generator]\nlevel_dbfs = 6\n", encoding="utf-8")
    result = run("record.toml", "--deck", "deck.toml", "--out", "known.wav", "--sample-rate", "32kHz", "--json")
    (note,) = json.loads(result.stdout)["notes"]
    assert "6.0 dB above full scale" in note
    Path("deck.toml").write_text("[generator]\nlevel_dbfs = -6\n", encoding="utf-8")
    result = run("record.toml", "--deck", "deck.toml", "--out", "known.wav", "--sample-rate", "32kHz", "--json")
    assert json.loads(result.stdout)["notes"] == []


def test_example_sheets_go_together_without_clipping():
    examples = resources.files("groovewright.cli") / "examples"
    for name in ("bands.toml", "deck.toml"):
        Path(name).write_text((examples / name).read_text("utf-8"), encoding="utf-8")
    result = run("bands.toml", "--deck", "deck.toml", "--out", "known.wav", "--sample-rate", "32kHz", "--json")
    assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["notes"] == []


def test_sheet_in_the_help_and_its_examples_work():
    shown = CliRunner().invoke(main, ["simulate", "--help"]).stdout
    text = shown.partition("in deck.toml:\n")[2].partition("\nOptions:")[0]
    Path("deck.toml").write_text(text, encoding="utf-8")
    examples = [line.strip() for line in shown.splitlines() if line.strip().startswith("groovewright simulate ")]
    assert len(examples) == 2
    for example in examples:
        result = CliRunner().invoke(main, [*shlex.split(example)[1:], "--json"])
        assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["truth"]["effective_length_error"]["value"] == 0.6


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["record.toml", "--deck", "deck.toml", "--out", "known.mp3"], '"known.mp3" does not end in .wav'),
        (["record.toml", "--deck", "none.toml", "--out", "known.wav"], "none.toml cannot be read"),
        (["none.toml", "--deck", "deck.toml", "--out", "known.wav"], "none.toml cannot be read"),
        (["deck.toml", "--deck", "deck.toml", "--out", "known.wav"], "deck.toml: the sheet does not know 'arm'"),
        (["record.toml", "--deck", "record.toml", "--out", "known.wav"], "does not know 'equalised'"),
        (["record.toml", "--deck", "deck.toml", "--out", "no/folder/known.wav"], "cannot be written: no such file"),
        (["record.toml", "--deck", "deck.toml", "--out", "k.wav", "--sample-rate", "5kHz"], "must be 8000 to 384000"),
        (["record.toml", "--deck", "deck.toml", "--out", "k.wav", "--sample-rate", "48000.5 Hz"], "whole number of Hz"),
        (["record.toml", "--out", "k.wav"], "Missing option '--deck'"),
    ],
)
def test_refusals_are_one_sentence(words, said):
    result = run(*words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""
    assert not list(Path().glob("k*.wav"))
