import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.forces.side_force import bearing_friction
from groovewright.measurement.quantity import Quantity, Source, covariance


def mn(value, u, source):
    return Quantity.measured(value, "mN", standard_uncertainty=u, source=source)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.0, 2.0), st.floats(-2.0, 2.0))
def test_pushes_both_ways_give_back_the_friction_and_the_stray_force(friction_mn, stray_mn):
    # A push outward works against friction and the inward stray force; a push inward is helped by it.
    outward, inward = Quantity.exact(friction_mn + stray_mn, "mN"), Quantity.exact(friction_mn - stray_mn, "mN")
    if outward.value + inward.value < 0:
        return
    found = bearing_friction(outward=outward, inward=inward)
    assert found.friction.value == pytest.approx(friction_mn, abs=1e-12)
    assert found.stray_force.value == pytest.approx(stray_mn, abs=1e-12)


def test_independent_readings_give_half_their_root_sum_of_squares():
    found = bearing_friction(outward=mn(0.4, 0.03, "outward"), inward=mn(0.2, 0.04, "inward"))
    assert found.friction.standard_uncertainty == pytest.approx(0.025)
    assert found.stray_force.standard_uncertainty == pytest.approx(0.025)
    assert covariance(found.friction, found.stray_force) == pytest.approx((0.03**2 - 0.04**2) / 4)


def test_the_zero_of_a_common_gauge_drops_out_of_the_stray_force():
    zero = Source("zero of the gauge")
    outward = Quantity(0.4, "mN", {zero: 0.05, Source("outward"): 0.01})
    inward = Quantity(0.2, "mN", {zero: 0.05, Source("inward"): 0.01})
    found = bearing_friction(outward=outward, inward=inward)
    assert found.stray_force.standard_uncertainty == pytest.approx(0.01 / math.sqrt(2), rel=1e-6)
    assert found.friction.standard_uncertainty == pytest.approx(math.hypot(0.05, 0.01 / math.sqrt(2)), rel=1e-6)


def test_a_stray_force_that_is_shown_sends_to_the_level_and_the_wires():
    shown = bearing_friction(outward=mn(0.4, 0.02, "outward"), inward=mn(0.2, 0.02, "inward"))
    assert any("starts more easily inward" in note and "level the deck" in note for note in shown.notes)
    other = bearing_friction(outward=mn(0.2, 0.02, "outward"), inward=mn(0.4, 0.02, "inward"))
    assert any("starts more easily outward" in note for note in other.notes)
    alike = bearing_friction(outward=mn(0.30, 0.02, "outward"), inward=mn(0.29, 0.02, "inward"))
    assert alike.notes == ()


def test_a_friction_not_told_from_nothing_is_noted():
    found = bearing_friction(outward=mn(0.02, 0.05, "outward"), inward=mn(0.03, 0.05, "inward"))
    assert any("not told from 0" in note for note in found.notes)


def test_an_unknown_uncertainty_stays_unknown():
    found = bearing_friction(
        outward=Quantity.unknown_uncertainty(0.3, "mN", why="none was stated"), inward=mn(0.2, 0.02, "inward")
    )
    assert found.friction.standard_uncertainty is None
    assert found.stray_force.standard_uncertainty is None
    assert found.notes == ()


def test_impossible_readings_are_refused():
    with pytest.raises(ValueError, match="would make the friction negative; give each as positive"):
        bearing_friction(outward=mn(0.2, 0.02, "outward"), inward=mn(-0.4, 0.02, "inward"))
    with pytest.raises(ValueError, match="force at start inward must be given in mN"):
        bearing_friction(outward=mn(0.2, 0.02, "outward"), inward=Quantity.exact(0.02, "g"))
