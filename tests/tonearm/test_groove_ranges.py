import tomllib
from pathlib import Path

import pytest

from groovewright.tonearm.groove_ranges import GROOVE_RANGES, check_groove_range, groove_range

EDITIONS = tomllib.loads((Path(__file__).parents[1] / "published" / "geometry_groove_ranges.toml").read_text())[
    "edition"
]


@pytest.mark.parametrize("row", EDITIONS, ids=lambda row: f"{row['disc']} {row['standard']}")
def test_radii_are_half_the_printed_diameters(row):
    entry = groove_range(row["disc"], row["standard"])
    # Diameters are printed to 0.1 mm, or exactly in inches; halving adds nothing.
    assert entry.outermost_mm == pytest.approx(row["outer_diameter_mm"] / 2, abs=1e-9)
    if "inner_diameter_mm" in row:
        assert entry.innermost_mm == pytest.approx(row["inner_diameter_mm"] / 2, abs=1e-9)
    else:
        assert "combined" in entry.source


def test_every_entry_was_checked_against_a_printed_edition():
    assert {(row["disc"], row["standard"]) for row in EDITIONS} == {(e.disc, e.standard) for e in GROOVE_RANGES}


@pytest.mark.parametrize("entry", GROOVE_RANGES, ids=lambda entry: f"{entry.disc} {entry.standard}")
def test_every_entry_names_its_year_and_both_sources(entry):
    assert str(entry.year) in entry.standard
    assert entry.standard in entry.source
    if "combined" in entry.source:
        other = next(
            o
            for o in GROOVE_RANGES
            if o.disc == entry.disc and o.standard in entry.source and o.standard != entry.standard
        )
        assert other.innermost_mm == entry.innermost_mm


def test_all_three_discs_are_offered():
    assert {entry.disc for entry in GROOVE_RANGES} == {"12 inch", "10 inch", "7 inch"}


@pytest.mark.parametrize(
    ("disc", "standard", "message"),
    [
        (
            "11 inch",
            "RIAA 1963",
            "no groove range is known for a '11 inch' disc; choose one of 12 inch, 10 inch, 7 inch",
        ),
        ("7 inch", "RIAA 1963", "no 7 inch groove range is known from 'RIAA 1963'; choose one of JIS S 8502:1973"),
    ],
)
def test_an_unknown_disc_or_standard_is_refused_with_those_that_are_known(disc, standard, message):
    with pytest.raises(ValueError, match=message):
        groove_range(disc, standard)


@pytest.mark.parametrize(
    ("innermost_mm", "outermost_mm", "message"),
    [
        (146.05, 60.325, "must lie inside the outermost"),
        (60, 60, "must lie inside the outermost"),
        (0, 146, "innermost_mm must be above 0 mm"),
        (60, float("inf"), "outermost_mm must be above 0 mm and finite"),
        (60, 1e300, "lies on no record .*; check its unit, and that it is a radius"),
        (60, 60.0000001, "grooves from 60 to 60 mm are no range; give ends at least 0.1 mm apart"),
        (float("nan"), 146, "innermost_mm must be above 0 mm"),
    ],
)
def test_a_range_that_is_none_is_refused(innermost_mm, outermost_mm, message):
    with pytest.raises(ValueError, match=message):
        check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
