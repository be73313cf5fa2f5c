"""The deck sheet: what it says, what it refuses, and that the guide tells all of it."""

import re
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.simulate import deck_sheet
from groovewright.simulate.deck import HumLine, PlatterSine, Resonance, Rumble, SpeedSine, TrueDeck
from groovewright.simulate.deck_sheet import read_deck
from groovewright.tonearm.geometry import Geometry, geometry_from_nulls

EXAMPLE = (resources.files("groovewright.cli") / "examples" / "deck.toml").read_text("utf-8")
GUIDE = (Path(__file__).parents[2] / "docs" / "guide" / "deck-sheet.md").read_text("utf-8")

ARM = '[arm]\npivot_to_spindle = "222 mm"\nnull_radii = ["66 mm", "120.9 mm"]\n'


def test_example_says_what_it_says():
    assert read_deck(EXAMPLE) == TrueDeck(
        geometry=geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(66.0, 120.9)),
        effective_length_error_mm=0.6,
        zenith_error_deg=-0.5,
        vertical_tracking_angle_error_deg=2.0,
        resonance_lateral=Resonance(9.4, 2.6),
        resonance_vertical=Resonance(10.8, 2.2),
        azimuth_rotation_deg=1.2,
        leak_db=-38.0,
        channel_gains_db=(0.0, -0.4),
        second_harmonic_percent=0.1,
        level_dbfs=-26.0,
        speed_error_percent=0.12,
        drift_percent_per_minute=0.002,
        eccentricity_mm=0.15,
        eccentricity_phase_deg=40.0,
        flutter=(SpeedSine(25.3, 0.02),),
        platter_flutter=(PlatterSine(3, 0.015, 70.0),),
        mistracking_cm_s=(14.0, 11.0),
        rumble=Rumble(-50.0, -46.0),
        surface_noise_db=-58.0,
        recorder_noise_dbfs=-96.0,
        clicks_per_minute=4.0,
        click_velocity_cm_s=15.0,
        hum=(HumLine(50.0, -76.0), HumLine(150.0, -84.0)),
    )


def test_what_is_left_out_is_perfect():
    assert read_deck("[noise]\n") == TrueDeck()


def test_geometry_may_be_given_by_its_lengths_and_in_other_units():
    deck = read_deck(
        '[arm]\npivot_to_spindle = "8 3/4 in"\neffective_length = "24 cm"\noffset_angle = "23 deg"\n'
        'effective_length_error = "-500 um"\nstylus_follows_arc = true\n'
    )
    assert deck.geometry == Geometry(222.25, 240.0, 23.0)
    assert deck.true_geometry == Geometry(222.25, 239.5, 23.0)
    assert deck.stylus_follows_arc


def test_the_guide_shows_the_very_example():
    assert f"```toml\n{EXAMPLE.strip()}\n```" in GUIDE


def test_every_key_of_the_form_is_in_the_guide():
    source = Path(deck_sheet.__file__).read_text("utf-8")
    known = [
        key for listed in re.findall(r"refuse_unknown\(([^)]*)\)", source) for key in re.findall(r'"(\w+)"', listed)
    ]
    assert len(known) > 35
    assert [
        key for key in known if f"`{key}`" not in GUIDE and f"[{key}" not in GUIDE and f".{key}]" not in GUIDE
    ] == []


def test_vertical_cutting_angle_is_the_band_sheets_unless_given():
    assert read_deck("[arm]\n").vertical_cutting_angle_deg is None
    assert read_deck('[arm]\nvertical_cutting_angle = "22 deg"\n').vertical_cutting_angle_deg == 22.0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the sheet is empty"),
        ("[arm", "not valid TOML"),
        ("[amr]\n", "does not know 'amr'; did you mean 'arm'?"),
        ("arm = 3\n", "write [arm] on a line of its own"),
        ('[arm]\nzenith_err = "1 deg"\n', "did you mean 'zenith_error'"),
        ('[arm]\nzenith_error = "1 deg"\n', "lacks 'pivot_to_spindle'"),
        ('[arm]\nnull_radii = ["66 mm", "120 mm"]\n', "lacks 'pivot_to_spindle'"),
        ('[arm]\npivot_to_spindle = "222 mm"\n', "either null_radii, or effective_length and offset_angle"),
        (f'{ARM}offset_angle = "23 deg"\n', "either null_radii, or effective_length and offset_angle"),
        ('[arm]\npivot_to_spindle = "222 mm"\nnull_radii = ["66 mm"]\n', "write a list of two"),
        ('[arm]\npivot_to_spindle = "222 mm"\nnull_radii = [66, 120]\n', "write text in quotes"),
        (f'{ARM}effective_length_error = "0.6 mm +- 0.1 mm"\n', "the truth has no uncertainty"),
        (f'{ARM}effective_length_error = "0.6"\n', "has no unit"),
        (f'{ARM}effective_length_error = "0.6 deg"\n', "a length such as 0.6 mm"),
        (f"{ARM}effective_length_error = 0.6\n", "write text in quotes"),
        (f'{ARM}effective_length_error = "90 mm"\n', "beyond 50 mm"),
        ('[arm]\nvertical_cutting_angle = "50 deg"\n', "must be 0 to 45 deg"),
        ('[arm]\nvertical_cutting_angle = "-1 deg"\n', "must be 0 to 45 deg"),
        ("[arm]\nvertical_cutting_angle = 20\n", "write text in quotes"),
        ('[arm.resonance_lateral]\nfrequency = "9 Hz"\n', "lacks 'q'"),
        ('[arm.resonance_lateral]\nfrequency = "0 Hz"\nq = 2\n', "above 0"),
        ("[generator]\nleak_db = 3\n", "outside -150 to -3"),
        ("[generator]\npolarity = [1, 0]\n", "each channel's is 1 or -1"),
        ("[generator]\npolarity = [1, 0.5]\n", "each channel's is 1 or -1"),
        ("[generator]\ngains_db = [1]\n", "a list of 2 numbers"),
        ("[platter]\nspeed_error = 0.12\n", "write text in quotes"),
        ('[[platter.locked]]\ncycles_per_turn = 1.5\npeak = "0.1 %"\n', "not whole"),
        ('[platter]\nflutter = "none"\n', "list of tables"),
        ('[mistracking]\nleft = "-3 cm/s"\n', "above 0"),
        ("[noise]\nrecorder_dbfs = nan\n", "not a number"),
        ('[[hum]]\nfrequency = "50 Hz"\n', "lacks 'level_dbfs'"),
    ],
)
def test_refusals_name_place_and_remedy(text, said):
    with pytest.raises(ValueError, match=re.escape(said)) as refusal:
        read_deck(text)
    assert "\n" not in str(refusal.value)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, len(EXAMPLE) - 1), st.integers(0, 40), st.text(max_size=12))
def test_broken_sheets_are_read_or_refused_never_worse(at, removed, put):
    broken = EXAMPLE[:at] + put + EXAMPLE[at + removed :]
    try:
        deck = read_deck(broken)
    except ValueError:
        return
    assert isinstance(deck, TrueDeck)
