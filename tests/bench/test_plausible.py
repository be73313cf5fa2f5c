"""What is asked back, and what is said to have been meant."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groovewright.bench.estimate.plausible import Known, Usual, doubt
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.units import GRAM_FORCE_MN

TARGET = Known(239.3, 2.0, "the target")
SHOWN = {"length": "mm", "force": "g", "angle": "deg"}


def asked(text, expected, *, kind="length", name="effective length", **more):
    typed = parse_quantity(text, kind, source="typed")
    return doubt(typed, text, name=name, kind=kind, expected=expected, shown_unit=SHOWN[kind], **more)


@pytest.mark.parametrize(
    ("text", "expected", "more", "sentence"),
    [
        ("329.4 mm", TARGET, {}, "Two digits swapped: 239.4 mm?"),
        ("232.4 mm", Known(223.4, 1.5, "the drawing"), {}, "Two digits swapped: 223.4 mm?"),
        ("23.93 mm", TARGET, {}, "A decimal sign misplaced: 239.3 mm?"),
        ("239.3 cm", TARGET, {}, "Meant in mm: 239.3 mm?"),
        ("9.42 mm", TARGET, {}, "Meant in in: 239.3 mm?"),
        ("17.3 mm", TARGET, {"distance_mm": 222.0}, "The overhang typed: 239.3 mm?"),
        ("239.3 mm", Known(17.3, 2.0, "the target"), {"distance_mm": 222.0}, "The effective length typed: 17.3 mm?"),
        (
            "222.0 mm",
            TARGET,
            {"other_things": {"pivot-to-spindle distance": 222.0}},
            "pivot-to-spindle distance, which",
        ),
        ("18.5 g", Usual(8, 40), {"kind": "force"}, "A decimal sign misplaced: 1.85 g?"),
        ("18.5 g", Usual(8, 40), {"kind": "force"}, "usually lies from 0.816 g to 4.079 g"),
        ("18,5 g", Usual(8, 40), {"kind": "force"}, "Meant in mN: 1.886 g?"),
        ("-2 deg", Known(2.0, 0.3, "the last reading"), {"kind": "angle"}, "The sign turned: 2°?"),
    ],
)
def test_a_slip_is_asked_back_with_what_was_meant(text, expected, more, sentence):
    found = asked(text, expected, **more)
    assert found.startswith(f"{text} does not fit: ")
    assert sentence in found
    assert found.count("?") <= 3


@pytest.mark.parametrize("text", ["239.3 mm", "233 mm", "247.2 mm", "9 3/8 in", "260 mm +- 6 mm"])
def test_what_fits_is_not_asked_back(text):
    assert asked(text, TARGET) is None


def test_what_nothing_explains_is_asked_back_without_a_suggestion():
    found = asked("301.7 mm", TARGET)
    assert found == "301.7 mm does not fit: the effective length should be near 239.3 mm (the target)."


@given(st.decimals(100, 500, places=1), st.floats(0.1, 5))
def test_it_is_asked_back_exactly_where_it_is_farther_than_chance_goes(number, u):
    found = asked(f"{number} mm", Known(239.3, u, "the target"))
    assert (found is None) == (abs(float(number) - 239.3) <= 4 * u)


@given(st.decimals("1.0", "3.0", places=2))
def test_a_factor_of_ten_in_a_force_is_always_found(grams):
    known = Known(float(grams) * GRAM_FORCE_MN, 0.1, "the last reading")
    assert f"{float(grams):g} g?" in asked(f"{10 * grams} g", known, kind="force", name="tracking force")


@pytest.mark.parametrize("wrong", [lambda: Known(1.0, 0.0, "x"), lambda: Usual(2.0, 1.0)])
def test_what_is_known_needs_a_width(wrong):
    with pytest.raises(ValueError, match=r"above 0|smaller end first"):
        wrong()
