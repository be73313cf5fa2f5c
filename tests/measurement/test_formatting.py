import pytest

from groovewright.measurement.formatting import (
    format_force,
    format_number,
    format_quantity,
    rounded_uncertainty,
    split_quantity,
)
from groovewright.measurement.quantity import Quantity


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
        (239.2961, None, "239.296"),
        (222.0, None, "222"),
        (222.0, 0, "222"),
        (2.30145e-16, None, "2.30145e-16"),
        (-3.0001e-9, 0, "-3.0001e-9"),
        (0.0000123456, None, "0.0000123456"),
        (3.2e14, None, "3.2e14"),
        (1234567, None, "1234570"),
    ],
)
def test_value_ends_where_its_uncertainty_ends(value, uncertainty, text):
    assert format_number(value, uncertainty) == text


def test_quantity_prints_with_its_uncertainty_or_says_that_it_has_none():
    assert format_quantity(measured(222, 0.3)) == "222.00 mm ± 0.30 mm"
    assert format_quantity(measured(22.98, 0.051, "deg")) == "22.980° ± 0.051°"
    assert format_quantity(measured(12, 1.5, "um/mN")) == "12.0 µm/mN ± 1.5 µm/mN"
    assert format_quantity(measured(1.0021, 0.0015, "1")) == "1.0021 ± 0.0015"
    assert format_quantity(Quantity.exact(93.4454, "mm")) == "93.4454 mm (exact)"
    assert format_quantity(Quantity.unknown_uncertainty(222, "mm", why="?")) == "222 mm (uncertainty not known)"


def test_quantity_prints_in_another_unit_of_its_kind():
    assert format_quantity(measured(25.4, 0.254), unit="in") == "1.000 in ± 0.010 in"
    assert format_force(measured(18.142, 0.118, "mN")) == "1.850 g ± 0.012 g (18.14 mN)"
    unknown = Quantity.unknown_uncertainty(19.6133, "mN", why="?")
    assert format_force(unknown) == "2 g (19.6133 mN; uncertainty not known)"
    with pytest.raises(ValueError, match="different kinds"):
        format_quantity(measured(25.4, 0.254), unit="g")


def test_split_quantity_gives_templates_their_three_parts():
    assert split_quantity(measured(222, 0.3)) == ("222.00", "0.30", "mm")
    assert split_quantity(Quantity.exact(23, "deg")) == ("23", "0", "°")
    assert split_quantity(Quantity.unknown_uncertainty(222, "mm", why="?")) == ("222", None, "mm")
    assert split_quantity(measured(18.142, 0.118, "mN"), "g") == ("1.850", "0.012", "g")


def test_an_uncertainty_of_0_cannot_be_rounded():
    with pytest.raises(ValueError, match="above 0"):
        rounded_uncertainty(0)
