import json
from contextlib import suppress
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.forces.force import force_result
from groovewright.files.force_sheet import load_force_sheet, read_force_sheet
from groovewright.measurement.units import GRAM_FORCE_MN

EXAMPLE = (resources.files("groovewright.cli") / "examples" / "force.toml").read_text("utf-8")
GUIDE = Path(__file__).parents[2] / "docs" / "guide" / "force-sheet.md"


def test_the_example_is_a_whole_session():
    sheet = read_force_sheet(EXAMPLE)
    assert len(sheet.session.readings) == 9
    assert sheet.session.check_before.readings[0].indication_mn == pytest.approx(GRAM_FORCE_MN)
    assert sheet.session.maker_maximum.value == pytest.approx(2.2 * GRAM_FORCE_MN)
    assert sheet.rule.kind == "guarded acceptance"
    result = force_result(sheet.session, sheet.rule)
    assert result.verdict.outcome == "in tolerance"
    # Shown 1.917 g at 1.2 mm too high; 0.03 g in 6 mm, and a scale that reads 0.5 % high.
    assert result.tracking_force.value / GRAM_FORCE_MN == pytest.approx(1.90, abs=0.01)
    assert json.loads(json.dumps(result.as_json()))["scale_gain"]["unit"] == "1"


def test_the_guide_shows_the_very_example():
    assert f"```toml\n{EXAMPLE.strip()}\n```" in GUIDE.read_text("utf-8")


def test_every_key_of_the_form_is_in_the_guide():
    guide = GUIDE.read_text("utf-8")
    keys = "name resolution repeatability nominal class certified_mass certificate loads weights indications place "
    keys += "platform_height at_record_height surface minimum maximum height force_slope mistracking rule guard_factor"
    assert [key for key in keys.split() if f"`{key}`" not in guide] == []


def test_other_units_and_a_decimal_comma_mean_the_same():
    other = EXAMPLE.replace('"1.92 g"', '"18.83 mN"').replace('"1.6 g"', '"1,6 g"').replace('"2.7 mm', '"0.27 cm')
    readings = read_force_sheet(other).session.readings
    assert readings[0].indication_mn == pytest.approx(18.83)
    assert readings[0].platform_height.value == pytest.approx(2.7)


def test_optional_parts_are_read():
    extra = EXAMPLE + (
        '\n[complaint]\nmistracking = true\n\n[decision]\nrule = "simple acceptance"\nguard_factor = 2\n'
        '\n[[readings]]\nplace = "middle"\nat_record_height = true\nsurface = "record"\nindications = ["1.90 g"]\n'
    )
    extra = extra.replace('height = "1.5 mm', 'force_slope = "0.005 g +- 0.002 g per mm"\nheight = "1.5 mm')
    sheet = read_force_sheet(extra)
    assert sheet.session.mistracking_reported
    assert (sheet.rule.kind, sheet.rule.guard_factor) == ("simple acceptance", 2.0)
    assert sheet.session.readings[-1].platform_height is None
    assert sheet.session.readings[-1].surface == "record"
    assert sheet.session.height_slope.value == pytest.approx(0.005 * GRAM_FORCE_MN)
    assert sheet.session.height_slope.standard_uncertainty == pytest.approx(0.002 * GRAM_FORCE_MN)
    assert sheet.session.height_slope.unit == "mN/mm"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'resolution = "0.01 g"',
            'resolutoin = "0.01 g"',
            r"\[scale\] does not know 'resolutoin'; did you mean 'resol",
        ),
        ('resolution = "0.01 g"', "", r"\[scale\] lacks 'resolution'; write resolution = '0.01 g'"),
        ('resolution = "0.01 g"', 'resolution = "0 g"', r"\[scale\], resolution: must be above 0"),
        ('resolution = "0.01 g"', "resolution = 0.01", r"\[scale\], resolution: write text in quotes"),
        (
            'resolution = "0.01 g"',
            'resolution = "0.01"',
            r"\[scale\], resolution: .* has no unit; write it like 0.01 g",
        ),
        ("[scale]", "[sclae]", "did you mean 'scale'"),
        ('class = "M1"', 'class = "M9"', r"\[\[weights\]\] number 1: .*E1, E2, F1, F2, M1, M2, M3"),
        ('nominal = "1 g"', 'nominal = "3 g"', r"number 1: a nominal mass of 3 g"),
        ("+- 0.0006 g (k=2)", "", "certified_mass: write the certificate's uncertainty"),
        ('certificate = "4411"', 'class = "M1"', "either certified_mass, or nominal and class"),
        ('name = "2 g"', 'name = "1 g"', "already; give every weight its own name"),
        (
            'weights = ["2 g"]',
            'weights = ["5 g"]',
            r"\[\[check_before.loads\]\] number 2, weights: no weight is named '5 g'",
        ),
        ('weights = ["2 g"]', 'weights = "2 g"', "write a list of texts in quotes"),
        ('["1.00 g", "1.01 g", "1.00 g"]', "[]", "the list is empty"),
        ('["1.00 g", "1.01 g", "1.00 g"]', "[1.00, 1.01]", "write a list of texts in quotes"),
        ('"1.00 g", "1.01 g"', '"1.00 g +- 0.1 g"', "without its ±"),
        ('minimum = "1.6 g"', 'minimum = "2.6 g"', r"\[maker\]: minimum must be below maximum"),
        ('minimum = "1.6 g"', 'minimum = "1.6 mm"', r"\[maker\], minimum: 1.6 mm is a length"),
        (
            'place = "outer"',
            'place = "edge"',
            r"\[\[readings\]\] number 1, place: 'edge' is not known; write one of outer",
        ),
        ('platform_height = "2.7 mm +- 0.1 mm"', "", r"\[\[readings\]\] number 1 lacks the height"),
        ('place = "outer"', 'place = "outer"\nat_record_height = true', "not both"),
        ('place = "outer"', 'place = "outer"\nat_record_height = "yes"', "write true or false"),
        ('height = "1.5 mm +- 0.1 mm"', 'force_slope = "0.005 g"', "end '0.005 g' with 'per mm'"),
        ("[maker]", "[decision]\nrule = 'coin'\n[maker]", r"\[decision\]: .*guarded acceptance"),
        ("[maker]", "[decision]\nguard_factor = '2'\n[maker]", "plain number without quotes"),
        ("[scale]", "scale = 3\n[maker2]", "does not know 'maker2'"),
        ("[maker]", "[maker", "not valid TOML"),
    ],
)
def test_a_wrong_entry_names_its_table_and_key(old, new, said):
    assert old in EXAMPLE
    with pytest.raises(ValueError, match=said) as refusal:
        read_force_sheet(EXAMPLE.replace(old, new))
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("scale = 3", "readings"),
        ("check_before = 3\nweights = []\n[[readings]]\nplace='outer'", "lacks the height"),
        ("readings = 3", "must be a list of tables"),
        (
            "[[readings]]\nplace = 'outer'\nat_record_height = true\nindications = ['1.9 g']\n[check_before]",
            "needs a table",
        ),
        ("a = " + "[" * 5000, "nested too deeply|not valid TOML"),
    ],
)
def test_what_is_no_force_sheet_is_refused(text, said):
    with pytest.raises(ValueError, match=said):
        read_force_sheet(text)


def test_too_many_readings_are_refused():
    many = ", ".join(['"1.90 g"'] * 1001)
    with pytest.raises(ValueError, match="holds 1001 readings"):
        read_force_sheet(f'[[readings]]\nplace = "outer"\nat_record_height = true\nindications = [{many}]\n')


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_sheet_is_read_or_refused_and_never_crashes(data):
    start = data.draw(st.integers(0, len(EXAMPLE)))
    stop = data.draw(st.integers(start, min(start + 30, len(EXAMPLE))))
    damaged = EXAMPLE[:start] + data.draw(st.text(max_size=8)) + EXAMPLE[stop:]
    # Whatever else than a ValueError comes out fails the test.
    with suppress(ValueError):
        sheet = read_force_sheet(damaged)
        result = force_result(sheet.session, sheet.rule)
        json.dumps(result.as_json(), allow_nan=False)


def test_files_that_cannot_be_read_are_named(tmp_path):
    with pytest.raises(ValueError, match=r"none\.toml cannot be read"):
        load_force_sheet(tmp_path / "none.toml")
    with pytest.raises(ValueError, match="cannot be read"):
        load_force_sheet(tmp_path)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ValueError, match="not a text file in UTF-8"):
        load_force_sheet(binary)
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * 100_001)
    with pytest.raises(ValueError, match="larger than 100 kB"):
        load_force_sheet(huge)
    bad = tmp_path / "bad.toml"
    bad.write_text("x = 1", "utf-8")
    with pytest.raises(ValueError, match=r"bad\.toml: the sheet does not know 'x'"):
        load_force_sheet(bad)
    good = tmp_path / "good.toml"
    good.write_text("\ufeff" + EXAMPLE, "utf-8")
    assert len(load_force_sheet(good).session.readings) == 9
