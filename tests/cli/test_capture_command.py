"""`groovewright capture` on recordings that `groovewright simulate` made of decks whose truth is known."""

import csv
import json
import shlex
from dataclasses import fields

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from groovewright.cli import progress as progress_module
from groovewright.cli.main import main
from groovewright.testtone.sheet.allowances import Allowances

GEOMETRY = ["--pivot-to-spindle", "222 mm +- 0.3 mm"]

# Names and units of the command's JSON object, as it is promised.
PROMISED = {
    "speed_error": "%",
    "wow_flutter_weighted_2sigma": "%",
    "wow_flutter_weighted_2sigma_without_eccentricity": "%",
    "wow_flutter_weighted_quasi_peak": "%",
    "wow_flutter_weighted_quasi_peak_without_eccentricity": "%",
    "wow_flutter_unweighted_2sigma": "%",
    "wow_flutter_unweighted_2sigma_without_eccentricity": "%",
    "eccentricity": "mm",
    "crosstalk_left_into_right": "dB",
    "crosstalk_right_into_left": "dB",
    "azimuth_rotation": "deg",
    "crosstalk_leak": "dB",
    "channel_balance": "dB",
    "tracking_error": "deg",
    "effective_length_error": "mm",
    "zenith_error": "deg",
    "vertical_tracking_angle_error": "deg",
    "resonance_lateral": "Hz",
    "resonance_vertical": "Hz",
    "rumble_band_level": "dB",
    "hum": "dB",
}
LISTS = {"tracking_error": "radius", "hum": "frequency"}


def band(name, kind, cut, frequency_hz, *, velocity=None, radius_mm, duration_s):
    lines = [f'name = "{name}"', f'kind = "{kind}"', f'cut = "{cut}"', f"radius_mm = {radius_mm}"]
    lines.append(f"duration_s = {duration_s}")
    if frequency_hz is not None:
        lines += [f"frequency_hz = {frequency_hz}", f"peak_velocity_cm_s = {velocity}"]
    return "\n".join(["[[bands]]", *lines])


def tone(name, cut, frequency_hz, velocity, radius_mm, *, duration_s=1.5):
    return band(name, "tone", cut, frequency_hz, velocity=velocity, radius_mm=radius_mm, duration_s=duration_s)


def slow_sweep(name, cut, radius_mm):
    return band(name, "sweep", cut, [30, 4], velocity=0.6, radius_mm=radius_mm, duration_s=10)


# The record, phono stage and recorder of a deck sheet without [rough] are perfect.
HEAD = 'equalised = true\nspeed_rpm = "33 1/3"\n[allowances]\n' + "".join(
    f"{each.name} = 0\n" for each in fields(Allowances)
)
SHEET = HEAD + "\n".join(
    [
        tone("Both", "lateral", 1000, 5, [146, 145.5]),
        tone("Speed", "lateral", 3150, 5, [145, 143], duration_s=8),
        tone("Left", "left", 1000, 5, [142, 141.5]),
        tone("Right", "right", 1000, 5, [141, 140.5]),
        # Two turns each, since an eccentric record changes the tracking error once a turn.
        *(tone(f"Lateral {r}", "lateral", 400, 10, [r, r - 0.5], duration_s=3.8) for r in (138, 112, 88, 65)),
        tone("Vertical outer", "vertical", 400, 6, [136, 135.5], duration_s=3.8),
        tone("Vertical inner", "vertical", 400, 6, [64, 63.5], duration_s=3.8),
        slow_sweep("Sideways", "lateral", [120, 118]),
        slow_sweep("Up and down", "vertical", [117, 115]),
        band("Silence", "silence", "lateral", None, radius_mm=[63, 62], duration_s=6),
    ]
)

DECK = """
[arm]
pivot_to_spindle = "222 mm"
null_radii = ["65.998 mm", "120.891 mm"]
effective_length_error = "0.8 mm"
zenith_error = "-0.6 deg"
vertical_tracking_angle_error = "3 deg"
[arm.resonance_lateral]
frequency = "9.5 Hz"
q = 2.5
[arm.resonance_vertical]
frequency = "11 Hz"
q = 2
[generator]
azimuth_rotation = "1.2 deg"
leak_db = -38
gains_db = [0.0, -0.4]
second_harmonic = "0.2 %"
level_dbfs = -22
[platter]
speed_error = "0.12 %"
eccentricity = "0.15 mm"
[noise]
surface_db = -60
recorder_dbfs = -96
[[hum]]
frequency = "50 Hz"
level_dbfs = -66
"""


def run(*words):
    return CliRunner().invoke(main, [*words])


def written(folder, name, text):
    (folder / name).write_text(text, encoding="utf-8")
    return str(folder / name)


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    """Folder with a sheet, a deck and its recording, and what simulate says is true of it."""
    folder = tmp_path_factory.mktemp("capture")
    sheet, deck = written(folder, "record.toml", SHEET), written(folder, "deck.toml", DECK)
    made = run(
        "simulate", sheet, "--deck", deck, "--out", str(folder / "side-a.wav"), "--sample-rate", "32kHz", "--json"
    )
    assert made.exit_code == 0, made.stderr
    return folder, json.loads(made.stdout)["truth"]


@pytest.fixture(scope="module")
def captured(known):
    folder, _ = known
    shown = run("capture", str(folder / "side-a.wav"), "--bands", str(folder / "record.toml"), *GEOMETRY, "--json")
    assert shown.exit_code == 0, shown.stderr
    assert shown.stderr == ""
    return json.loads(shown.stdout)


def test_every_promised_quantity_is_there_with_its_unit_and_three_keys(captured):
    for name, unit in PROMISED.items():
        entries = captured[name] if name in LISTS else [captured[name]]
        assert entries, name
        for entry in entries:
            assert entry["unit"] == unit
            assert entry["standard_uncertainty"] > 0
            beside = {LISTS[name], "band"} if name in LISTS else set()
            assert set(entry) - beside - {"channel"} == {"value", "unit", "standard_uncertainty"}
            if beside:
                assert set(entry[LISTS[name]]) == {"value", "unit", "standard_uncertainty"}
    assert captured["channel_polarity"] == "same"


@pytest.mark.parametrize(
    ("name", "goal"),
    [
        ("speed_error", 0.001),
        ("azimuth_rotation", 0.05),
        ("eccentricity", 0.01),
        ("effective_length_error", 0.2),
        ("zenith_error", 0.2),
        ("vertical_tracking_angle_error", 0.1),
        ("resonance_lateral", 0.02 * 9.5),
        ("resonance_vertical", 0.02 * 11),
    ],
)
def test_truth_is_found_within_its_goal(name, goal, captured, known):
    _, truth = known
    assert captured[name]["value"] == pytest.approx(truth[name]["value"], abs=goal)


def test_truth_lies_within_four_standard_uncertainties(captured, known):
    _, truth = known
    for name in ("speed_error", "eccentricity", "azimuth_rotation", "effective_length_error", "zenith_error"):
        away = abs(captured[name]["value"] - truth[name]["value"])
        assert away < 4 * captured[name]["standard_uncertainty"], name
    assert captured["channel_balance"]["value"] == pytest.approx(0.4, abs=0.005)
    # The arm's two resonances turn lateral and vertical motion by different phases, which is a little leak as well.
    assert captured["crosstalk_leak"]["value"] == pytest.approx(-38, abs=0.05)


def test_tracking_error_by_radius_is_that_of_the_true_geometry(captured, known):
    _, truth = known
    at_band = {entry["band"]: entry["value"] for entry in truth["tracking_error"]}
    assert [entry["radius"]["value"] for entry in captured["tracking_error"]] == [137.75, 111.75, 87.75, 64.75]
    for entry in captured["tracking_error"]:
        assert entry["value"] == pytest.approx(at_band[entry["band"]], abs=0.1)


def test_hum_is_found_at_its_frequency_and_level(captured):
    # -66 dB re full scale, against a lateral 5 cm/s peak that stands at -22 dB re full scale.
    (line,) = [entry for entry in captured["hum"] if abs(entry["frequency"]["value"] - 50) < 1]
    assert line["value"] == pytest.approx(-44, abs=0.5)


def test_bands_were_found_where_they_were_cut(captured):
    assert [at["how"] for at in captured["bands"]] == ["found"] * 13
    # Half a second before the first, and between each and the next; played 0.12 % fast.
    assert captured["bands"][1]["start"]["value"] == pytest.approx(2.5 / 1.0012, abs=0.15)


def test_table_is_grouped_and_says_what_is_not_shown(known, tmp_path):
    folder, _ = known
    shown = run("capture", str(folder / "side-a.wav"), "--bands", str(folder / "record.toml"))
    assert shown.exit_code == 0, shown.stderr
    lines = [line.strip() for line in shown.stdout.splitlines()]
    assert lines[0] == "What side-a.wav shows"
    headings = ["Speed, wow and flutter", "Channels", "Tracking", "Arm resonance", "Noise", "Bands"]
    assert [line for line in lines if line in headings] == headings
    assert any(line.startswith("speed error") and "±" in line for line in lines)
    assert "give the pivot-to-spindle" in " ".join(lines)


def test_without_geometry_tracking_error_is_absent_with_its_reason(known):
    folder, _ = known
    shown = run("capture", str(folder / "side-a.wav"), "--bands", str(folder / "record.toml"), "--json")
    answer = json.loads(shown.stdout)
    missing = {"tracking_error", "effective_length_error", "zenith_error", "vertical_tracking_angle_error"}
    assert not missing & set(answer)
    assert missing <= set(answer["not_shown"])
    assert "speed_error" in answer


def test_quantity_without_bands_is_absent_altogether(known, tmp_path):
    folder, _ = known
    speed_only = HEAD + tone("Speed", "lateral", 3150, 5, [145, 143], duration_s=7.5) + "\nstart_s = 2.7"
    sheet = written(tmp_path, "speed.toml", speed_only)
    answer = json.loads(run("capture", str(folder / "side-a.wav"), "--bands", sheet, "--json").stdout)
    # Nothing says what arm played it, and this record's coarse pitch makes a pivoted one's tone 0.023 % slow.
    speed = answer["speed_error"]
    assert speed["value"] == pytest.approx(0.12, abs=0.03)
    assert abs(speed["value"] - 0.12) < 2 * speed["standard_uncertainty"]
    for name in ("azimuth_rotation", "crosstalk_leak", "resonance_vertical", "rumble_band_level", "hum"):
        assert name not in answer
        assert name not in answer["not_shown"]


def test_noise_through_a_loaded_weighting(known, tmp_path):
    folder, _ = known
    flat = written(tmp_path, "flat.txt", "10; 0\n315; 0\n")
    words = ["capture", str(folder / "side-a.wav"), "--bands", str(folder / "record.toml"), "--json"]
    answer = json.loads(run(*words, "--noise-weighting", flat).stdout)
    assert answer["weighted_noise_level"]["value"] == pytest.approx(answer["rumble_band_level"]["value"], abs=0.01)
    assert any("'flat'" in note and "not compared with any standard" in note for note in answer["notes"])


def test_clipped_recording_is_measured_with_a_warning(known, tmp_path):
    folder, _ = known
    samples, rate_hz = soundfile.read(folder / "side-a.wav")
    soundfile.write(tmp_path / "loud.wav", np.clip(8 * samples, -1, 1), rate_hz, subtype="PCM_16")
    shown = run("capture", str(tmp_path / "loud.wav"), "--bands", str(folder / "record.toml"), "--json")
    assert shown.exit_code == 0, shown.stderr
    (warning,) = [note for note in json.loads(shown.stdout)["notes"] if note.startswith("Clipped in")]
    assert "Bands with clipped samples" in warning


def refused(*words):
    result = run(*words)
    assert result.exit_code == 2, (result.output, result.exception)
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert result.stderr.startswith("Error: ")
    return result.stderr


BAD = [
    (lambda samples: samples[:, :1], "has one channel"),
    (lambda samples: samples[:, [0, 0]], "very same samples in both channels"),
    (lambda samples: 0 * samples, "is silent"),
    (lambda samples: samples[: len(samples) // 8], "found in the recording, without"),
    (lambda samples: np.random.default_rng(1).normal(0, 0.1, samples.shape), "found in the recording, without"),
]


@pytest.mark.parametrize(("change", "message"), BAD, ids=[message for _, message in BAD])
def test_bad_recording_gets_one_sentence(change, message, known, tmp_path):
    folder, _ = known
    samples, rate_hz = soundfile.read(folder / "side-a.wav")
    soundfile.write(tmp_path / "bad.wav", change(samples), rate_hz, subtype="PCM_24")
    assert message in refused("capture", str(tmp_path / "bad.wav"), "--bands", str(folder / "record.toml"))


def test_truncated_absent_and_other_files_get_one_sentence(known, tmp_path):
    folder, _ = known
    sheet = ["--bands", str(folder / "record.toml")]
    whole = (folder / "side-a.wav").read_bytes()
    (tmp_path / "cut.wav").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "text.wav").write_text("Dear bench,", encoding="utf-8")
    assert "cut.wav is cut short" in refused("capture", str(tmp_path / "cut.wav"), *sheet)
    assert "text.wav" in refused("capture", str(tmp_path / "text.wav"), *sheet)
    assert "absent.wav" in refused("capture", str(tmp_path / "absent.wav"), *sheet)
    assert "absent.toml cannot be read" in refused("capture", str(folder / "side-a.wav"), "--bands", "absent.toml")
    assert "Missing option '--bands'" in refused("capture", str(folder / "side-a.wav"))


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--pivot-to-spindle", "222"], "has no unit"),
        (["--pivot-to-spindle", "100mm"], "lies inside the outermost groove"),
        (["--level-uncertainty", "much"], "not a valid float"),
        (["--level-uncertainty", "-1"], "not in the range"),
        (["--noise-weighting", "absent.txt"], "absent.txt cannot be read"),
    ],
)
def test_bad_words_get_one_sentence(words, message, known):
    folder, _ = known
    sheet = ["--bands", str(folder / "record.toml")]
    assert message in refused("capture", str(folder / "side-a.wav"), *sheet, *words)


def two_files(folder, tmp_path):
    (tmp_path / "again.wav").write_bytes((folder / "side-a.wav").read_bytes())
    return [str(folder / "side-a.wav"), str(tmp_path / "again.wav"), "--bands", str(folder / "record.toml")]


def test_several_recordings_are_json_lines_of_the_same_objects_with_any_number_of_workers(known, captured, tmp_path):
    files = two_files(known[0], tmp_path)
    lines = []
    for workers in ("1", "2"):
        shown = run("capture", *files, *GEOMETRY, "--json", "--workers", workers)
        assert shown.exit_code == 0, shown.stderr
        lines.append(shown.stdout.splitlines())
    assert lines[0] == lines[1]
    found = [json.loads(line) for line in lines[0]]
    assert [one.pop("file") for one in found] == files[:2]
    assert found == [captured, captured]


def test_a_recording_that_cannot_be_used_is_named_and_the_others_go_on(known, tmp_path):
    (tmp_path / "text.wav").write_text("Dear bench,", encoding="utf-8")
    first, again, *sheet = two_files(known[0], tmp_path)
    shown = run("capture", first, str(tmp_path / "text.wav"), again, *sheet, "--json", "--workers", "1")
    assert shown.exit_code == 2
    assert "Not used: " in shown.stderr
    assert "Of 3 recordings 1 could not be used" in shown.stderr
    assert "Traceback" not in shown.stderr
    found = [json.loads(line) for line in shown.stdout.splitlines()]
    assert ["refused" in one for one in found] == [False, True, False]
    assert "text.wav" in found[1]["refused"]


def test_several_recordings_stand_side_by_side_and_in_a_csv_with_every_quantity(known, captured, tmp_path):
    files = two_files(known[0], tmp_path)
    shown = run("capture", *files, *GEOMETRY, "--csv", str(tmp_path / "plays.csv"), "--workers", "1")
    assert shown.exit_code == 0, shown.stderr
    assert "side-a.wav" in shown.stdout
    assert "again.wav" in shown.stdout
    rows = list(csv.DictReader((tmp_path / "plays.csv").read_text(encoding="utf-8").splitlines()))
    for path in files[:2]:
        of_file = [row for row in rows if row["file"] == path]
        (speed,) = [row for row in of_file if row["quantity"] == "speed_error"]
        assert float(speed["value"]) == captured["speed_error"]["value"]
        assert float(speed["standard_uncertainty"]) == captured["speed_error"]["standard_uncertainty"]
        errors = [row for row in of_file if row["quantity"] == "tracking_error"]
        assert [float(row["at"]) for row in errors] == [137.75, 111.75, 87.75, 64.75]
        assert {row["at_unit"] for row in errors} == {"mm"}
        single = {name for name, held in captured.items() if isinstance(held, dict) and "unit" in held}
        assert single <= {row["quantity"] for row in of_file}


def test_a_csv_that_cannot_be_written_is_one_sentence(known, tmp_path):
    files = two_files(known[0], tmp_path)
    shown = run("capture", *files, "--csv", str(tmp_path / "absent" / "plays.csv"), "--workers", "1")
    assert shown.exit_code == 2
    assert "plays.csv cannot be written" in shown.stderr


def test_bad_sheet_is_refused_with_its_name(known, tmp_path):
    folder, _ = known
    sheet = written(tmp_path, "typo.toml", SHEET.replace("frequency_hz = 3150", "frequency = 3150"))
    assert "typo.toml: band 'Speed' does not know 'frequency'" in refused(
        "capture", str(folder / "side-a.wav"), "--bands", sheet
    )


def test_example_of_the_help_works(known, monkeypatch):
    folder, _ = known
    monkeypatch.chdir(folder)
    shown = run("capture", "--help").stdout.partition("For example:\n")[2]
    examples = [line.strip() for line in shown.splitlines() if line.strip().startswith("groovewright ")]
    assert len(examples) == 2
    for example in examples:
        result = run(*shlex.split(example)[1:])
        assert result.exit_code == 0, result.stderr


def test_bar_is_drawn_once_a_second_has_passed_and_not_before(monkeypatch):
    clock = iter([0.0, 0.5, 1.5])
    drawn = []

    class Bar:
        tasks = ()

        def stop(self):
            drawn.append("wiped")

    def draw():
        drawn.append("drawn")
        return Bar()

    monkeypatch.setattr(progress_module.time, "monotonic", lambda: next(clock))
    monkeypatch.setattr(progress_module, "_drawn", draw)
    with progress_module.progress_bar() as report:
        report(0.1, "Reading")
        assert drawn == []
        report(0.2, "Reading")
        assert drawn == ["drawn"]
    assert drawn == ["drawn", "wiped"]
