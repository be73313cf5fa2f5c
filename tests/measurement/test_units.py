import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import (
    KINDS,
    canonical_unit,
    from_canonical,
    in_unit,
    printed_unit,
    to_canonical,
    unit_factor,
)

EVERY_UNIT = [(kind.name, unit) for kind in KINDS.values() for unit in kind.factors]


@settings(max_examples=150)
@given(unit=st.sampled_from(EVERY_UNIT), value=st.floats(-1e6, 1e6))
def test_conversion_there_and_back_changes_nothing(unit, value):
    kind, spelling = unit
    assert from_canonical(to_canonical(value, spelling, kind), spelling, kind) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize("kind", KINDS)
def test_canonical_unit_has_factor_1_and_every_shown_unit_is_in_the_table(kind):
    assert unit_factor(canonical_unit(kind), kind) == 1
    for unit in KINDS[kind].shown:
        assert unit_factor(unit, kind) > 0
        assert unit_factor(printed_unit(unit), kind) == unit_factor(unit, kind)


@pytest.mark.parametrize(
    ("unit", "kind", "factor"),
    [
        ("in", "length", 25.4),
        ("g", "force", 9.80665),
        ("N", "force", 1000),
        ("rad", "angle", 180 / math.pi),
        ("m/s", "velocity", 100),
        # 1 um/mN is 1e-4 cm per 100 dyn.
        ("cm/dyn", "compliance", 1e6),
        ("ppm", "ratio", 1e-4),
    ],
)
def test_factors_of_definition(unit, kind, factor):
    assert unit_factor(unit, kind) == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize(
    ("unit", "message"),
    [
        ("mN", "mN is the unit of a force; a length such as 222 mm"),
        ("ell", '"ell" is no unit of length'),
        ("", "use one"),
    ],
)
def test_unit_outside_the_table_is_refused(unit, message):
    with pytest.raises(ValueError, match=message):
        unit_factor(unit, "length")


def test_quantity_in_another_unit_keeps_its_sources():
    force = Quantity.measured(18.1423025, "mN", standard_uncertainty=0.0980665, source="scale", how="read")
    grams = in_unit(force, "g")
    assert grams.value == pytest.approx(1.85)
    assert grams.standard_uncertainty == pytest.approx(0.01)
    assert list(grams.components) == list(force.components)
    assert grams.how == "read"
    assert in_unit(force, "mN") is force
    unknown = in_unit(Quantity.unknown_uncertainty(25.4, "mm", why="not stated"), "in")
    assert (unknown.value, unknown.why_unknown) == (1.0, "not stated")
