import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.measurement.formatting import (
    FINEST_SHOWN,
    format_chosen,
    format_force,
    format_interval,
    format_number,
    format_quantity,
    format_uncertainty,
    rounded_uncertainty,
    split_quantity,
)
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN


def measured(value, u, unit="mm"):
    return Quantity.measured(value, unit, standard_uncertainty=u, source="gauge")


@pytest.mark.parametrize(
    ("uncertainty", "text"),
    [
        # JCGM 100:2008, 7.2.6: 10,47 milliohm is rounded up to 11, 28,05 kHz to 28.
        (10.47, "11"),
        (28.05, "28"),
        (0.3, "0.30"),
        (0.0123, "0.012"),
        (0.0996, "0.10"),
        (0.995, "1.0"),
        (0.1149, "0.12"),
    ],
)
def test_uncertainty_is_rounded_to_two_digits_and_not_made_much_smaller(uncertainty, text):
    assert format(rounded_uncertainty(uncertainty), "f") == text


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        # JCGM 100:2008, 7.2.6: 10,057 62 ohm with 27 milliohm is 10,058 ohm.
        (10.05762, 0.027, "10.058"),
        (222, 0.3, "222.00"),
        (222.005, 0.3, "222.01"),
        (5678, 1234, "5700"),
        (-0.001, 0.3, "0.00"),
        (239.2961, None, "239.3"),
        (222.0, None, "222"),
        (222.0, 0, "222"),
        (2.30145e-16, None, "2.301e-16"),
        (-3.001e-9, 0, "-3.001e-9"),
        (0.0000123456, None, "0.00001235"),
        (3.2e14, None, "3.2e14"),
        (1234567, None, "1235000"),
    ],
)
def test_value_ends_where_its_uncertainty_ends(value, uncertainty, text):
    assert format_number(value, uncertainty) == text


def test_quantity_prints_with_its_uncertainty_or_says_that_it_has_none():
    assert format_quantity(measured(222, 0.3)) == "222.00 mm ± 0.30 mm"
    assert format_quantity(measured(22.98, 0.051, "deg")) == "22.98° ± 0.05°"
    assert format_quantity(measured(12, 1.5, "um/mN")) == "12.0 µm/mN ± 1.5 µm/mN"
    assert format_quantity(measured(1.0021, 0.0015, "1")) == "1.0021 ± 0.0015"
    assert format_quantity(Quantity.exact(93.4454, "mm")) == "93.445 mm (exact)"
    assert format_quantity(Quantity.unknown_uncertainty(222, "mm", why="?")) == "222 mm (uncertainty not known)"


def test_quantity_prints_in_another_unit_of_its_kind():
    assert format_quantity(measured(25.4, 0.254), unit="in") == "1.000 in ± 0.010 in"
    assert format_force(measured(18.142, 0.118, "mN")) == "1.850 g ± 0.012 g (18.14 mN)"
    unknown = Quantity.unknown_uncertainty(19.6133, "mN", why="?")
    assert format_force(unknown) == "2 g (19.61 mN; uncertainty not known)"
    with pytest.raises(ValueError, match="different kinds"):
        format_quantity(measured(25.4, 0.254), unit="g")


def test_split_quantity_gives_templates_their_three_parts():
    assert split_quantity(measured(222, 0.3)) == ("222.00", "0.30", "mm")
    assert split_quantity(Quantity.exact(23, "deg")) == ("23", "0", "°")
    assert split_quantity(Quantity.unknown_uncertainty(222, "mm", why="?")) == ("222", None, "mm")
    assert split_quantity(measured(18.142, 0.118, "mN"), "g") == ("1.850", "0.012", "g")


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (measured(-0.0177634, 0.0004), "-0.02 mm ± 0.01 mm"),
        (measured(0.0123, 0.0004, "deg"), "0.01° ± 0.01°"),
        (measured(0.0123, 0.034, "deg"), "0.01° ± 0.04°"),
        (measured(8.11867, 0.0213, "Hz"), "8.1 Hz ± 0.1 Hz"),
        (measured(8.11867, 1.3, "Hz"), "8.1 Hz ± 1.3 Hz"),
        (measured(239.29613, 0.05), "239.30 mm ± 0.05 mm"),
        (measured(2.0003, 0.0001, "g"), "2.00030 g ± 0.00010 g"),
        (measured(0.0526414123, 4.1e-9, "%"), "0.0526 % ± 0.0001 %"),
        (measured(-29.4933812, 2.0e-7, "kg"), "-29.4934 kg ± 0.0001 kg"),
        (Quantity.unknown_uncertainty(8.11867, "Hz", why="?"), "8.1 Hz (uncertainty not known)"),
        (Quantity.unknown_uncertainty(0.0177634, "mm", why="?"), "0.02 mm (uncertainty not known)"),
        (Quantity.exact(60.325, "mm"), "60.325 mm (exact)"),
        (Quantity.exact(1 / 3, "mm"), "0.333 mm (exact)"),
        (Quantity.exact(100 / 3, "rpm"), "33.3333 rpm (exact)"),
    ],
)
def test_no_digit_is_finer_than_a_bench_sets_or_reads(quantity, text):
    assert format_quantity(quantity) == text


@pytest.mark.parametrize(
    ("typed", "kind", "unit", "text"),
    [
        ("1.90 g", "force", "g", "1.90"),
        ("1,9 g", "force", "g", "1.9"),
        ("1.90 g", "force", "mN", "18.63"),
        ("222 mm", "length", "mm", "222"),
        ("222.50 mm", "length", "mm", "222.50"),
        ("222.5067 mm", "length", "mm", "222.51"),
        ("8 3/4 in", "length", "mm", "222.2"),
        ("0.40°", "angle", "deg", "0.40"),
        ("-0.6 deg", "angle", "deg", "-0.6"),
    ],
)
def test_without_an_uncertainty_the_digits_are_those_that_were_typed(typed, kind, unit, text):
    assert split_quantity(parse_quantity(typed, kind, source="gauge"), unit)[0] == text


def test_a_force_is_shown_to_a_milligram_in_either_unit():
    force = measured(18.142345, 0.0001, "mN")
    assert split_quantity(force)[:2] == ("18.14", "0.01")
    assert split_quantity(force, "g")[:2] == ("1.850", "0.001")


@settings(max_examples=300)
@given(st.sampled_from(sorted(FINEST_SHOWN)), st.floats(-1e5, 1e5), st.floats(1e-12, 1e3))
def test_no_value_has_more_digits_than_its_uncertainty_or_its_unit_carries(unit, value, u):
    shown, spread, _ = split_quantity(measured(value, u, unit))
    decimals = len(shown.partition(".")[2])
    assert decimals == len(spread.partition(".")[2]) <= max(0, -FINEST_SHOWN[unit])
    assert len(spread.replace(".", "").strip("0")) <= 2
    # What is shown never claims more than was found, and holds the value within its last digit.
    assert float(spread) >= 0.96 * u
    assert abs(float(shown) - value) <= 0.5 * max(10.0**-decimals, float(spread)) * (1 + 1e-9)


def test_an_interval_has_the_digits_of_its_quantity():
    assert format_interval(measured(0.0123, 0.034, "deg")) == "-0.05 to 0.08°"
    assert format_interval(measured(18.142, 0.118, "mN"), unit="g") == "1.826 to 1.874 g"
    assert format_interval(Quantity.exact(23, "deg")) == ""


def test_limits_and_uncertainties_by_themselves_are_as_short():
    assert format_chosen(1.6 * GRAM_FORCE_MN, "mN", shown_unit="g") == "1.6"
    assert format_chosen(0.123456, "mN") == "0.12"
    assert format_chosen(92.0, "deg") == "92"
    assert format_uncertainty(0.118, "mN", shown_unit="g") == "0.012 g"
    assert format_uncertainty(0.0034, "deg") == "0.01°"


def test_an_uncertainty_of_0_cannot_be_rounded():
    with pytest.raises(ValueError, match="above 0"):
        rounded_uncertainty(0)
