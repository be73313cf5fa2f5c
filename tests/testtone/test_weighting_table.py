import re
import textwrap
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.testtone.noise.weighting_table import LONGEST_TEXT, WeightingTable, read_weighting_table


@pytest.mark.parametrize(
    "text",
    [
        "10,-20\n31.5,-10.5\n315,0",
        "frequency,level\n10,-20\n31.5,-10.5\n315,0\n",
        "# made on the bench\n10;-20\n31,5;-10,5\n315;0",
        "10\t-20\n31.5\t-10.5\n\n315\t0",
        'points = [[10, -20], [31.5, -10.5], [315, 0]]\nname = "own"',
    ],
)
def test_two_columns_are_read_however_they_are_parted(text):
    table = read_weighting_table(text, name="own")
    assert table == WeightingTable("own", (10.0, 31.5, 315.0), (-20.0, -10.5, 0.0))


def test_between_points_the_curve_is_straight_over_the_logarithm_and_outside_it_nothing_counts():
    table = read_weighting_table("10, -20\n1000, 0", name="slope")
    assert table.power_gain([10, 100, 1000]) == pytest.approx([0.01, 0.1, 1.0])
    assert table.power_gain([0, 9.9, 1000.1]) == pytest.approx([0, 0, 0])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "has 0 points; it needs 2"),
        ("10, 0", "has 1 points"),
        ("10, 0\n5, 0", "line 2: 5 Hz does not rise above 10 Hz"),
        ("10, 0\n20, 500", "line 2: 500 dB is outside"),
        ("0, 0\n20, 5", "line 1: 0 Hz is outside"),
        ("10 0\n20 1", "line 1: '10 0' is not two numbers"),
        ("10, 0, 3\n20, 1, 4", "is not two numbers"),
        ("10, quiet\n20, 0", "line 1"),
        ("points = 3", "a weighting table in TOML has points"),
        ("points = [[10, 0], [20, true]]", "point 2: write frequency and level"),
        ("points = [[10, 0], [20, nan]]", "point 2: nan dB is outside"),
        ("points = [[10, 0], [inf, 0]]", "point 2: inf Hz is outside"),
        (f"points = [[10, 0], [{'9' * 400}, 0]]", "point 2"),
        ("points = [[10, 0], [20, 0]]\ncurve = 1", "this one has curve, points"),
        ("points = [[10, 0], [20, 0]]\nname = 3", "name: write it between quotes"),
        ("points = [[[", "not readable as TOML"),
        ("a" * (LONGEST_TEXT + 1), "at most"),
        ("\n".join(f"{10 + k}, 0" for k in range(3000)), "it needs 2 to 2000"),
    ],
)
def test_a_doubtful_table_is_refused_with_the_place(text, says):
    with pytest.raises(ValueError, match=says):
        read_weighting_table(text, name="t")


@settings(max_examples=150, deadline=None)
@given(st.one_of(st.text(max_size=200), st.text(alphabet="0123456789.,;=-[]\n\t e", max_size=200)))
def test_any_text_gives_a_table_or_one_sentence(text):
    try:
        table = read_weighting_table(text)
    except ValueError as refusal:
        said = str(refusal)
    else:
        said = table.label
    assert said


def test_the_guide_shows_tables_that_are_read():
    guide = (Path(__file__).parents[2] / "docs" / "guide" / "captures.md").read_text("utf-8")
    section = guide.partition("## A weighting of your own")[2].partition("\n## ")[0]
    columns, toml = (textwrap.dedent(text) for text in re.findall(r"  ```(?:toml)?\n(.*?)  ```", section, re.DOTALL))
    assert read_weighting_table(columns, name="curve").frequency_hz == (10.0, 100.0, 315.0)
    assert read_weighting_table(toml).level_db == (-30.0, -3.1, 0.0)
    assert read_weighting_table(toml).name == "bench curve"
