import re
from decimal import Decimal

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from groovewright.measurement.formatting import format_quantity, rounded_uncertainty, split_quantity
from groovewright.measurement.parsing import (
    ENTERED_AS,
    parse_coefficient,
    parse_list,
    parse_number,
    parse_quantity,
    parse_range,
)
from groovewright.measurement.quantity import Quantity, Source
from groovewright.measurement.units import GRAM_FORCE_MN, KINDS, in_unit


def parsed(text, kind="length", **options):
    return parse_quantity(text, kind, source="steel rule", **options)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("222 mm", "length", 222),
        ("222mm", "length", 222),
        ("  222   mm ", "length", 222),
        ("222\N{NO-BREAK SPACE}mm", "length", 222),
        ("222,5 mm", "length", 222.5),
        ("0,125 mm", "length", 0.125),
        ("1234,567 mm", "length", 1234.567),
        (".5 mm", "length", 0.5),
        ("-3.2 mm", "length", -3.2),
        ("\N{MINUS SIGN}3.2 mm", "length", -3.2),
        ("+3.2 mm", "length", 3.2),
        ("1e2 mm", "length", 100),
        ("22.2 cm", "length", 222),
        ("0.222 m", "length", 222),
        ("50 µm", "length", 0.05),
        ("50 \N{GREEK SMALL LETTER MU}m", "length", 0.05),
        ("8.74 in", "length", 221.996),
        ("8 3/4 in", "length", 222.25),
        ("8 3/4 inches", "length", 222.25),
        ("8¾ in", "length", 222.25),
        ('8 3/4"', "length", 222.25),
        ("3/4 in", "length", 19.05),
        ("33 1/3 rpm", "rotation", 100 / 3),
        ("33⅓ rpm", "rotation", 100 / 3),
        ("33.333rpm", "rotation", 33.333),
        ("1.85 g", "force", 18.1423025),
        ("1.85 gf", "force", 18.1423025),
        ("18.1 mN", "force", 18.1),
        ("18,1 mN", "force", 18.1),
        ("0.0181 N", "force", 18.1),
        ("20 g", "mass", 20),
        ("12 mg", "mass", 0.012),
        ("23 deg", "angle", 23),
        ("23°", "angle", 23),
        ("90 arcmin", "angle", 1.5),
        ("10cm/s", "velocity", 10),
        ("100 mm/s", "velocity", 10),
        ("12 um/mN", "compliance", 12),
        ("12 µm/mN", "compliance", 12),
        ("12 um / mN", "compliance", 12),
        ("12 cu", "compliance", 12),
        ("12 x 10^-6 cm/dyn", "compliance", 12),
        ("12e-6 cm/dyn", "compliance", 12),
        ("10.5 Hz", "frequency", 10.5),
        ("0.6 %", "ratio", 0.6),
    ],
)
def test_good_entry_has_its_value_in_the_canonical_unit(text, kind, value):
    quantity = parsed(text, kind)
    assert quantity.value == pytest.approx(value, rel=1e-12)
    assert quantity.unit == KINDS[kind].canonical
    assert quantity.standard_uncertainty is None
    assert "none was stated" in quantity.why_unknown
    assert quantity.how == f"entered as {text}"


@pytest.mark.parametrize(
    ("text", "uncertainty"),
    [
        ("222 mm +- 0.3 mm", 0.3),
        ("222 mm +/- 0.3 mm", 0.3),
        ("222 mm ± 0.3 mm", 0.3),
        ("222 ± 0,3 mm", 0.3),
        ("222 mm ± 0.3", 0.3),
        ("222mm±0.3mm", 0.3),
        ("222 mm ± 300 um", 0.3),
        ("222 mm ± 1/4 mm", 0.25),
        ("222 mm +- 0.6 mm (k=2)", 0.3),
        ("222 mm +- 0.588 mm (k = 1,96)", 0.3),
    ],
)
def test_stated_uncertainty_is_taken_as_one_standard_uncertainty_unless_k_is_given(text, uncertainty):
    quantity = parsed(text)
    assert quantity.value == pytest.approx(222)
    assert quantity.standard_uncertainty == pytest.approx(uncertainty, rel=1e-12)
    assert list(quantity.components) == [Source("steel rule")]


def test_bare_number_takes_a_unit_only_where_one_is_agreed():
    assert parsed("1.85", "force", unit_when_missing="g").value == pytest.approx(18.1423025)
    assert parsed("1.85 ± 0.01", "force", unit_when_missing="g").standard_uncertainty == pytest.approx(0.0980665)
    assert parsed("18 mN", "force", unit_when_missing="g").value == 18
    with pytest.raises(ValueError, match=r'"1\.85" has no unit; write it like 1\.85 g or 18\.1 mN'):
        parsed("1.85", "force")


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("1,234 mm", "length", '"1,234 mm" can be 1.234 or 1234; write 1.234 mm or 1234 mm'),
        ("-12,345 mm", "length", "can be 12.345 or 12345"),
        ("222 mm ± 1,234 mm", "length", "can be 1.234 or 1234"),
        ("1,2,3 mm", "length", "a point or comma too many"),
        ("1,234,567 mm", "length", "can be|too many"),
        ("1.234,5 mm", "length", "a point or comma too many"),
        ("1,234.5 mm", "length", "too many"),
        ("222. mm", "length", "too many"),
        ("1 234 mm", "length", "broken in two"),
        ("1\N{THIN SPACE}234 mm", "length", "broken in two"),
        ("1'234 mm", "length", "broken in two"),
        ("1_234 mm", "length", "broken in two"),
        ("222-223 mm", "length", "broken in two"),
        ("8 4/3 in", "length", "a fraction that cannot be meant"),
        ("8 3/0 in", "length", "a fraction that cannot be meant"),
        ("8.5 3/4 in", "length", "broken in two"),
        ("8-3/4 in", "length", "broken in two"),
        ("nan mm", "length", "does not have a number"),
        ("inf mm", "length", "does not have a number"),
        ("-inf mm", "length", "does not have a number"),
        ("1e400 mm", "length", "too large or too small"),
        ("1e-400 mm", "length", "too large or too small"),
        ("1e999999 mm", "length", "too large or too small"),
        ("0x10 mm", "length", "no unit of length"),
        ("mm", "length", "does not have a number"),
        ("about 222 mm", "length", "does not have a number"),
        ("222", "length", "has no unit; write it like 222 mm"),
        ("222 m m", "length", "no unit of length"),
        ("222 MM", "length", "no unit of length"),
        ("222 mm or so", "length", '"mm or so" is no unit of length known here; use one of mm, cm, m, um, in'),
        ("222 mm 222", "length", "no unit of length"),
        ("20 mN", "length", "20 mN is a force; a length such as 222 mm is needed here"),
        ("20 g", "length", "20 g is a force or a mass; a length such as 222 mm is needed here"),
        ("222 mm", "force", "222 mm is a length; a force such as 1.85 g or 18.1 mN is needed here"),
        ("20 mN", "angle", "20 mN is a force; an angle such as 23 deg is needed here"),
        ("222 mm ± 0.1 %", "length", "0.1 % is a ratio"),
        ("222 mm ± 0 mm", "length", "an uncertainty that is not above 0"),
        ("222 mm ± -0.3 mm", "length", "an uncertainty that is not above 0"),
        ("222 mm ± ", "length", "does not have a number"),
        ("± 0.3 mm", "length", "does not have a number"),
        ("222 ± 0.3 ± 0.1 mm", "length", "more than one ±"),
        ("222 mm (k=2)", "length", "a coverage factor but no uncertainty"),
        ("222 mm ± 0.3 mm (k=0)", "length", "k lies between 1 and 10"),
        ("222 mm ± 0.3 mm (k=200)", "length", "k lies between 1 and 10"),
        ("222 mm ± 0.3 mm (95 %)", "length", "no unit of length"),
        ("", "length", "nothing was entered; write a value like 222 mm"),
        ("   ", "length", "nothing was entered"),
        ("\N{FULLWIDTH DIGIT TWO}22 mm", "length", "digits other than 0 to 9"),
        ("\N{ARABIC-INDIC DIGIT TWO} mm", "length", "digits other than 0 to 9"),
        ("222 mm²", "length", "digits other than 0 to 9"),
        ("222\x00 mm", "length", "cannot be seen"),
        ("222 mm\n222 mm", "length", "cannot be seen"),
        ("2" * 61, "length", "the entry is 61 characters long"),
        ("2" * 1_000_000, "length", "the entry is 1000000 characters long"),
    ],
)
def test_bad_or_doubtful_entry_is_refused_in_one_sentence(text, kind, message):
    with pytest.raises(ValueError, match=message) as refusal:
        parsed(text, kind)
    assert "\n" not in str(refusal.value)
    assert len(str(refusal.value)) < 200


def test_unknown_kind_is_an_error_of_the_program():
    with pytest.raises(KeyError):
        parsed("222 mm", "time")


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("60.325:146.05", (60.325, 146.05)),
        (" 60,3 : 146,05 ", (60.3, 146.05)),
        ("60.325 mm:146.05 mm", (60.325, 146.05)),
        ("6.0325:14.605 cm", (60.325, 146.05)),
        ("2 3/8 in : 5 3/4 in", (60.325, 146.05)),
        ("60,3 to 146,05 mm", (60.3, 146.05)),
        ("60.3\N{EN DASH}146.05 mm", (60.3, 146.05)),
        ("\N{EN DASH}0.5:0.5", (-0.5, 0.5)),
        ("±0,5 mm", (-0.5, 0.5)),
        ("+-0.5", (-0.5, 0.5)),
    ],
)
def test_range_has_both_ends_in_mm(text, ends):
    assert parse_range(text, "length", unit_when_missing="mm") == pytest.approx(ends)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("60.325", "not a range"),
        ("60.325-146.05", "not a range"),
        ("1:2:3", "not a range"),
        ("146.05:60.325", "smaller end first"),
        ("60:60", "smaller end first"),
        ("a:b", "does not have a number"),
        (":", "does not have a number"),
        ("60 g:146 g", "a force or a mass"),
        ("", "nothing was entered"),
        ("1,600:2,200", "can be 1.600 or 1600"),
        ("±-0.5", "does not have a number"),
    ],
)
def test_bad_range_is_refused(text, message):
    with pytest.raises(ValueError, match=message):
        parse_range(text, "length", unit_when_missing="mm")


def test_a_range_without_a_unit_is_refused_where_none_is_agreed():
    with pytest.raises(ValueError, match=r'"1\.6:2\.0" has no unit; write it like 1\.6:2\.0 g'):
        parse_range("1.6:2.0", "force", example="1.6:2.0 g")
    assert parse_range("1,6:2,2 g", "force") == pytest.approx((1.6 * GRAM_FORCE_MN, 2.2 * GRAM_FORCE_MN))
    assert parse_range("1,6:2,2", "force", unit_when_missing="g") == parse_range("1.6 g:2.2 g", "force")


@pytest.mark.parametrize("text", ["222 mm within 0.5 mm", "222 within 0,5 mm", "222 mm within ±0.5", "222 WITHIN 0.5"])
def test_a_bound_is_rectangular(text):
    quantity = parsed(text, unit_when_missing="mm")
    assert quantity.standard_uncertainty == pytest.approx(0.5 / 3**0.5)
    assert [source.rectangular for source in quantity.components] == [True]


@pytest.mark.parametrize(("text", "u"), [("222(0.3) mm", 0.3), ("222,0 (0,3) mm", 0.3), ("222.00(.25) mm", 0.25)])
def test_an_uncertainty_in_brackets_with_a_decimal_sign_is_plain(text, u):
    quantity = parsed(text)
    assert (quantity.value, quantity.standard_uncertainty) == (222, u)
    assert not any(source.rectangular for source in quantity.components)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("222.0(3) mm", "in brackets that can be read in two ways; write it after ±, like 222.0 ± 3 mm"),
        ("222(3) mm", "read in two ways"),
        ("222 mm (0.3)", "read in two ways"),
        ("222(0.0) mm", "not above 0"),
        ("222(0.3)", "has no unit"),
        ("222 mm within 0.5 mm (k=2)", "has no k"),
        ("222 mm within", "does not have a number"),
        ("222 mm within 0.5 mm within 1 mm", "more than one"),
        ("222 mm ± 0.5 mm within 1 mm", "no unit of length"),
        ("222\N{EN DASH}223 mm", "broken in two"),
    ],
)
def test_a_doubtful_uncertainty_is_refused(text, message):
    with pytest.raises(ValueError, match=message):
        parsed(text)


@pytest.mark.parametrize(
    ("text", "how"),
    [
        ("222", "222 mm"),
        ("222 ± 0,3", "222 ± 0,3 mm"),
        ("222 +- 0.6 (k=2)", "222 +- 0.6 mm (k=2)"),
        ("222(0.3)", "222(0.3) mm"),
        ("222 within 1", "222 within 1 mm"),
        ("222 +- 0.3 mm", "222 +- 0.3 mm"),
    ],
)
def test_a_bare_entry_is_kept_with_the_unit_that_it_took(text, how):
    first = parsed(text, unit_when_missing="mm")
    assert first.how == ENTERED_AS + how
    again = parsed(how)
    assert (again.value, again.standard_uncertainty) == (first.value, first.standard_uncertainty)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("2,01; 2,02", [2.01, 2.02]),
        ("2.01; 2.02 g", [2.01, 2.02]),
        ("2,01 2,02", [2.01, 2.02]),
        ("2.01, 2.02 g", [2.01, 2.02]),
        ("2,01, 2,02", [2.01, 2.02]),
        ("2,01 g\n2,02 g\n", [2.01, 2.02]),
        ("2.01\t2.02", [2.01, 2.02]),
        ("-0.01 +0.02 .5 -,5", [-0.01, 0.02, 0.5, -0.5]),
        ("2.01 g 2020 mg", [2.01, 2.02]),
        ("2010; 2020 mg", [2.01, 2.02]),
        ("2.01 g; 2.02", [2.01, 2.02]),
        ("1 1/2 g", [1.5]),
        ("2.01 +- 0.01; 2.02 within 0.01 g", [2.01, 2.02]),
        ("2.01 within 0.01 g", [2.01]),
        ("2.01", [2.01]),
    ],
)
def test_a_list_is_read_with_either_decimal_sign(text, values):
    read = parse_list(text, "mass", source="scale", unit_when_missing="g")
    assert [quantity.value for quantity in read] == pytest.approx(values)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("2, 01", "can be one number or several; part them with semicolons"),
        ("2010 mg; 2.02", "units after some numbers only"),
        ("2.01; 1,234; 2.02", "can be 1.234 or 1234"),
        ("2.01; two", "does not have a number"),
        ("", "nothing was entered"),
        (" ; ", "nothing was entered"),
        ("2.01; " * 40, "hold twenty readings"),
    ],
)
def test_a_doubtful_list_is_refused(text, message):
    with pytest.raises(ValueError, match=message):
        parse_list(text, "mass", source="scale", unit_when_missing="g")


def test_a_list_without_units_is_refused_where_none_is_agreed():
    with pytest.raises(ValueError, match="has no unit"):
        parse_list("2.01; 2.02", "mass", source="scale")


@settings(max_examples=150)
@given(st.lists(st.decimals(-999, 999, places=2), min_size=1, max_size=8), st.sampled_from(["; ", " ", ";", "\n"]))
def test_a_decimal_comma_reads_like_a_decimal_point(numbers, between):
    with_points = between.join(str(number) for number in numbers)
    read = [
        [quantity.value for quantity in parse_list(text, "length", source="rule", unit_when_missing="mm")]
        for text in (with_points, with_points.replace(".", ","))
    ]
    assert read[0] == read[1] == [float(number) for number in numbers]


def test_plain_number_takes_either_decimal_sign_and_no_unit():
    assert parse_number("1.004") == parse_number("1,0040") == 1.004
    for text, message in [("1.004 mm", 'without "mm"'), ("1,004", "can be 1.004 or 1004"), ("one", "have a number")]:
        with pytest.raises(ValueError, match=message):
            parse_number(text)


@settings(max_examples=150)
@given(
    unit=st.sampled_from([(kind.name, unit) for kind in KINDS.values() for unit in kind.shown]),
    value=st.floats(-1e4, 1e4),
    u=st.floats(1e-3, 1e2),
)
def test_printed_quantity_reads_back_within_its_rounding(unit, value, u):
    kind, shown = unit
    quantity = Quantity.measured(value, shown, standard_uncertainty=u, source="steel rule")
    text = format_quantity(quantity)
    assume(len(text) <= 60)
    back = in_unit(parsed(text, kind), shown)
    shown_last, two_digits = (Decimal(split_quantity(quantity)[1]), rounded_uncertainty(u))
    digit = float(10 ** max(number.as_tuple().exponent for number in (shown_last, two_digits)))
    assert back.value == pytest.approx(value, abs=digit / 2 * (1 + 1e-6), rel=1e-12)
    assert 0.96 * u <= back.standard_uncertainty <= u + digit


@settings(max_examples=150)
@given(st.text(alphabet="0123456789.,+-±/()k=eE mNgincµ°'\"_ nanif", max_size=14))
def test_any_text_is_either_read_or_refused(text):
    read = True
    try:
        quantity = parsed(text)
    except ValueError:
        read = False
    event("read" if read else "refused")
    # Nothing is read from a text that has no digit and no unit of length.
    assert not read or (re.search("[0-9]", text) and re.search('[mni"]', text) and quantity.unit == "mm")


@pytest.mark.parametrize("text", ["", "two", "2 g", "2", "2..0 mm", "9" * 80])
def test_a_refusal_shows_what_would_be_right_where_it_was_typed(text):
    with pytest.raises(ValueError, match=r"2 mm") as refusal:
        parse_quantity(text, "length", source="fan", example="2 mm")
    assert "222" not in str(refusal.value)


def test_a_range_is_refused_with_the_example_of_its_field():
    with pytest.raises(ValueError, match="21:25 deg"):
        parse_range("21", "angle", example="21:25 deg")


@pytest.mark.parametrize(
    ("text", "value", "u"),
    [("0.3 +- 0.05", 0.3, 0.05), ("0,3±0,05", 0.3, 0.05), ("1/3 +- 0.1 (k=2)", 1 / 3, 0.05), ("0.3", 0.3, None)],
)
def test_coefficient_has_no_unit(text, value, u):
    quantity = parse_coefficient(text, source="friction")
    assert quantity.unit == "1"
    assert quantity.value == pytest.approx(value)
    assert quantity.standard_uncertainty == (None if u is None else pytest.approx(u))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("30 %", '"30 %" must have no unit, but "%" stands in it; write it like 0.3 \\+- 0.05'),
        ("0.3 +- 0.05 mm", 'must have no unit, but "mm"'),
        ("0.3 +- 0", "not above 0"),
        ("about 0.3", "does not have a number"),
        ("0.3 (k=2)", "coverage factor but no uncertainty"),
        ("", "nothing was entered"),
    ],
)
def test_coefficient_in_doubt_is_refused(text, says):
    with pytest.raises(ValueError, match=says):
        parse_coefficient(text, source="friction")
