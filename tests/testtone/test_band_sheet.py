from importlib import resources
from pathlib import Path

import pytest

from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.finding.band_finder import locate_bands
from groovewright.testtone.sheet.band_sheet import Band, read_band_sheet

EXAMPLE = (resources.files("groovewright.cli") / "examples" / "bands.toml").read_text("utf-8")
GUIDE = Path(__file__).parents[2] / "docs" / "guide" / "band-sheet.md"

TONE = """
equalised = false
speed_rpm = 45
[[bands]]
name = "Tone"
kind = "tone"
cut = "left"
frequency_hz = 1000
peak_velocity_cm_s = 5
radius_mm = [120, 110.5]
start_s = 1
duration_s = 2.5
"""


def test_every_entry_is_read():
    sheet = read_band_sheet(TONE)

    assert (sheet.equalised, sheet.speed_rpm) == (False, 45.0)
    assert sheet.bands == (Band("Tone", "tone", "left", (1000.0,), 5.0, (120.0, 110.5), 1.0, 2.5),)


def test_the_vertical_cutting_angle_may_be_stated():
    assert read_band_sheet(TONE).vertical_cutting_angle_deg is None
    assert read_band_sheet(f"vertical_cutting_angle_deg = 22.5\n{TONE}").vertical_cutting_angle_deg == 22.5


def test_the_guide_shows_the_example_that_comes_with_the_command():
    assert f"```toml\n{EXAMPLE}```" in GUIDE.read_text("utf-8")


def test_the_example_reads_and_names_every_kind_and_cut():
    sheet = read_band_sheet(EXAMPLE)

    assert sheet.equalised
    assert sheet.speed_rpm == pytest.approx(100 / 3, abs=1e-12)
    assert {band.kind for band in sheet.bands} == {"tone", "two-tone", "sweep", "silence"}
    assert {band.cut for band in sheet.bands} == {"left", "right", "lateral", "vertical"}
    two, silent = sheet.bands[5], sheet.bands[8]
    assert (two.frequency_hz, two.peak_velocity_cm_s) == ((60.0, 4000.0), (8.0, 2.0))
    assert (silent.cut, silent.frequency_hz, silent.peak_velocity_cm_s) == ("lateral", (), None)
    assert sheet.bands[1].start_s is None


SWEEP = TONE.replace('"tone"', '"sweep"').replace("= 1000", "= [20, 20000]")


def test_a_sweep_runs_in_octaves_at_one_velocity_unless_it_says_otherwise():
    usual = read_band_sheet(SWEEP).bands[0]
    other = read_band_sheet(f'{SWEEP}evenly_in = "hertz"\ncut_with_equalisation = true').bands[0]

    assert (usual.evenly_in, usual.cut_with_equalisation) == ("octaves", False)
    assert (other.evenly_in, other.cut_with_equalisation) == ("hertz", True)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('evenly_in = "decades"', "'decades' is not known; write one of octaves, hertz"),
        ("cut_with_equalisation = 1", "write true or false, without quotes"),
    ],
)
def test_a_sweep_that_runs_in_no_known_way_is_refused(line, said):
    with pytest.raises(ValueError, match=said):
        read_band_sheet(f"{SWEEP}{line}")


@pytest.mark.parametrize("line", ['evenly_in = "hertz"', "cut_with_equalisation = false"])
def test_what_only_a_sweep_has_is_refused_in_a_tone(line):
    with pytest.raises(
        ValueError, match=r"band 'Tone', .*: only a sweep has one, and this is a tone; leave the line out"
    ):
        read_band_sheet(f"{TONE}{line}")


def test_a_velocity_may_be_unknown():
    assert read_band_sheet(TONE.replace("peak_velocity_cm_s = 5\n", "")).bands[0].peak_velocity_cm_s is None


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("radius_mm", "radius", "band 'Tone' does not know 'radius'; did you mean 'radius_mm'?"),
        ("start_s", "starts", "band 'Tone' does not know 'starts'; did you mean 'start_s'?"),
        ("speed_rpm", "rpm_speed", "the sheet does not know 'rpm_speed'"),
        ("[[bands]]", "[[band]]", "the sheet does not know 'band'; did you mean 'bands'?"),
        ("[[bands]]", "[bands]", "write [[bands]] above each of them"),
        ("equalised = false", "", "the sheet lacks 'equalised'; write equalised = true or false"),
        ("equalised = false", 'equalised = "no"', "the sheet, equalised: write true or false, without quotes"),
        ("speed_rpm = 45", "", "the sheet lacks 'speed_rpm'"),
        ("speed_rpm = 45", "speed_rpm = 450", "the sheet, speed_rpm: 450 is outside 10 to 100"),
        ("speed_rpm = 45", 'speed_rpm = "fast"', "the sheet, speed_rpm: "),
        ("speed_rpm = 45", 'speed_rpm = "0"', "the sheet, speed_rpm: 0.0 is outside 10 to 100"),
        (
            "speed_rpm = 45",
            "speed_rpm = 45\nvertical_cutting_angle_deg = 46",
            "cutting_angle_deg: 46 is outside 0 to 45",
        ),
        ('name = "Tone"', "", "[[bands]] number 1 lacks 'name'"),
        ('name = "Tone"', 'name = "  "', "[[bands]] number 1, name: write 1 to 80 letters"),
        ('name = "Tone"', 'name = "a\\nb"', "[[bands]] number 1, name: write 1 to 80 letters"),
        ('kind = "tone"', 'kind = "tones"', "band 'Tone', kind: 'tones' is not known; write one of tone, two-tone"),
        ('cut = "left"', 'cut = "up"', "band 'Tone', cut: 'up' is not known; write one of left, right"),
        ('cut = "left"', "", "band 'Tone' lacks 'cut'"),
        ("= 1000", "= [1000]", "band 'Tone', frequency_hz: write a plain number without quotes"),
        ("= 1000", "= nan", "band 'Tone', frequency_hz: nan is not a number"),
        ("= 1000", "= inf", "band 'Tone', frequency_hz: inf is outside 0.5 to 96000"),
        ("= 1000", "= -1", "band 'Tone', frequency_hz: -1 is outside"),
        ("= 1000", f"= {10**30}", "band 'Tone', frequency_hz: a number of more than 15 digits is outside"),
        ("cm_s = 5", "cm_s = true", "band 'Tone', peak_velocity_cm_s: write a plain number"),
        ("cm_s = 5", "cm_s = 0", "band 'Tone', peak_velocity_cm_s: 0 is outside"),
        ("[120, 110.5]", "[120]", "band 'Tone', radius_mm: write a list of 2 numbers"),
        ("[120, 110.5]", "120", "band 'Tone', radius_mm: write a list of 2 numbers"),
        ("[120, 110.5]", "[12, 110]", "band 'Tone', radius_mm: 12 is outside 15 to 250"),
        ("start_s = 1", "start_s = -1", "band 'Tone', start_s: -1 is outside"),
        ("duration_s = 2.5", 'duration_s = "2 s"', "band 'Tone', duration_s: write a plain number"),
        ('"tone"', '"two-tone"', "band 'Tone', frequency_hz: write a list of 2 numbers"),
        ('"tone"', '"silence"', "band 'Tone', frequency_hz: a band of silence has none"),
        ("duration_s", "name", "not valid TOML"),
    ],
)
def test_a_slip_is_refused_with_band_key_and_what_would_be_right(old, new, said):
    with pytest.raises(ValueError, match=r"\w") as refused:
        read_band_sheet(TONE.replace(old, new, 1))

    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the sheet is empty"),
        ("equalised = true\nspeed_rpm = 45", "the sheet has no bands"),
        ("#" * 100_001, "longer than 100000 characters"),
        ("a = " + "[" * 20_000, "TOML|nested"),
        (TONE + TONE[TONE.index("[[") :], "two bands are named 'Tone'"),
        ("equalised = true\nspeed_rpm = 45\n" + "[[bands]]\n" * 401, "bands holds 401 tables; at most 400"),
        (
            TONE + TONE[TONE.index("[[") :].replace("Tone", "Second").replace("start_s = 1", "start_s = 2"),
            r"band 'Second', start_s: 2 s comes before the end of the bands above it \(3.5 s\)",
        ),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(text, said):
    with pytest.raises(ValueError, match=said):
        read_band_sheet(text)


def test_two_equal_frequencies_are_not_two_tones():
    text = TONE.replace('"tone"', '"two-tone"').replace("= 1000", "= [60, 60]")

    with pytest.raises(ValueError, match="both are 60 Hz"):
        read_band_sheet(text)


def test_a_place_written_in_the_sheet_is_the_place_that_is_used():
    sheet = read_band_sheet(TONE)

    (located,) = locate_bands(ArrayRecording([[0.1, 0.1]] * 160_000, 32_000), sheet)

    assert (located.start_s, located.duration_s, located.how) == (1.0, 2.5, "from the sheet")
