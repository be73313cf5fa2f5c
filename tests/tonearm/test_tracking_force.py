import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.tracking_force import (
    ArmBalance,
    force_at_height,
    force_height_slope,
    slope_between_heights,
    stylus_rise,
    tracking_force,
)

BALANCES = st.builds(
    ArmBalance,
    mass_g=st.floats(100, 800),
    centre_forward_mm=st.floats(0.5, 5),
    centre_up_mm=st.floats(-20, 5),
    stylus_forward_mm=st.floats(180, 320),
    stylus_down_mm=st.floats(-10, 40),
)
LOW_SLUNG = ArmBalance(mass_g=250, centre_forward_mm=1.7, centre_up_mm=-8, stylus_forward_mm=239, stylus_down_mm=15)


def mn(value, u, source):
    return Quantity.measured(value, "mN", standard_uncertainty=u, source=source)


def mm(value, u=0.1, source="height"):
    return Quantity.measured(value, "mm", standard_uncertainty=u, source=source)


@settings(max_examples=50, deadline=None)
@given(BALANCES, st.floats(-3, 3))
def test_force_balances_the_torque_of_the_weight(balance, raised_deg):
    # Independent: rotate both points as vectors and balance r x F about the axis.
    t = math.radians(raised_deg)
    turn = np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
    centre = turn @ [balance.centre_forward_mm, balance.centre_up_mm]
    stylus = turn @ [balance.stylus_forward_mm, -balance.stylus_down_mm]
    force_mn = float(tracking_force(raised_deg, balance))
    weight_mn = balance.mass_g * 9.80665
    assert stylus[0] * force_mn - centre[0] * weight_mn == pytest.approx(0, abs=1e-6 * weight_mn)
    rise = stylus[1] + balance.stylus_down_mm
    assert float(stylus_rise(raised_deg, balance)) == pytest.approx(rise, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(BALANCES, st.floats(-2, 2))
def test_slope_is_the_derivative_with_height(balance, raised_deg):
    angles = raised_deg + np.array([-1e-3, 1e-3])
    forces, heights = tracking_force(angles, balance), stylus_rise(angles, balance)
    numeric = (forces[1] - forces[0]) / (heights[1] - heights[0])
    assert force_height_slope(balance, raised_deg=raised_deg) == pytest.approx(numeric, rel=1e-4, abs=1e-7)


def test_a_low_centre_of_mass_reads_more_on_a_higher_platform():
    assert force_height_slope(LOW_SLUNG) > 0
    # m g (-z L - x p) / L^2 per radian, over L per radian.
    expected = 250 * 9.80665 * (8 * 239 - 1.7 * 15) / 239**3
    assert force_height_slope(LOW_SLUNG) == pytest.approx(expected, rel=1e-12)


def test_two_heights_give_the_slope_and_the_shared_offset_cancels():
    raised = np.degrees(6.0 / 239)
    low, high = (float(force) for force in tracking_force([0.0, raised], LOW_SLUNG))
    shared = {"source": "scale offset"}
    first = Quantity.measured(low, "mN", standard_uncertainty=0.5, **shared)
    second = Quantity.measured(high, "mN", standard_uncertainty=0.5, **shared)
    rise = Quantity.exact(float(stylus_rise(raised, LOW_SLUNG)), "mm")
    slope = slope_between_heights(low=first, high=second, rise=rise)
    assert slope.standard_uncertainty == pytest.approx(0, abs=1e-9)
    # The arm's slope changes a little over 6 mm.
    assert slope.value == pytest.approx(force_height_slope(LOW_SLUNG), rel=0.02)


def test_a_reading_is_carried_with_every_uncertainty():
    slope = Quantity.measured(0.05, "mN/mm", standard_uncertainty=0.01, source="slope")
    carried = force_at_height(mn(18.0, 0.03, "reading"), climb=mm(-2.0, 0.2), slope=slope)
    assert carried.value == pytest.approx(17.9)
    assert carried.standard_uncertainty == pytest.approx(
        math.sqrt(0.03**2 + (0.01 * 2) ** 2 + (0.05 * 0.2) ** 2), rel=1e-6
    )


def test_without_a_slope_the_uncertainty_is_unknown_and_the_reason_says_what_to_do():
    carried = force_at_height(mn(18.0, 0.03, "reading"), climb=mm(-2.0), slope=None)
    assert carried.value == 18.0
    assert carried.standard_uncertainty is None
    assert "2 mm above record height" in carried.why_unknown


@pytest.mark.parametrize("climb", [Quantity.exact(0.0, "mm"), mm(0.1, 0.1)])
def test_heights_that_cannot_be_told_apart_need_no_slope(climb):
    reading = mn(18.0, 0.03, "reading")
    assert force_at_height(reading, climb=climb, slope=None) == reading


@pytest.mark.parametrize("climb", [mm(0.0, 1.0), mm(1.9, 1.0)])
def test_heights_that_are_hardly_known_are_not_taken_for_one(climb):
    carried = force_at_height(mn(18.0, 0.03, "reading"), climb=climb, slope=None)
    assert carried.standard_uncertainty is None
    assert "within 2 mm of record height" in carried.why_unknown


def test_two_heights_hardly_told_apart_give_a_slope_of_unknown_uncertainty():
    slope = slope_between_heights(low=mn(18.0, 0.1, "a"), high=mn(18.2, 0.1, "b"), rise=mm(1.0, 2.0))
    assert slope.value == pytest.approx(0.2)
    assert slope.standard_uncertainty is None
    assert "1 mm apart, which is known to 2 mm only" in slope.why_unknown


@pytest.mark.parametrize("raised_deg", [math.nan, 120.0, -45.0, math.inf])
@pytest.mark.parametrize("compute", [tracking_force, stylus_rise])
def test_an_arm_that_rests_on_nothing_is_refused(compute, raised_deg):
    with pytest.raises(ValueError, match="rests on nothing"):
        compute([0.0, raised_deg], LOW_SLUNG)
    with pytest.raises(ValueError, match="rests on nothing"):
        force_height_slope(LOW_SLUNG, raised_deg=raised_deg)


def test_a_quantity_in_another_unit_is_refused():
    with pytest.raises(ValueError, match="the force must be given in mN, not in 'g'"):
        force_at_height(Quantity.exact(1.8, "g"), climb=mm(0.0), slope=None)
    with pytest.raises(ValueError, match="the height difference must be given in mm, not in 'in'"):
        slope_between_heights(low=mn(18, 0.1, "a"), high=mn(19, 0.1, "b"), rise=Quantity.exact(1, "in"))


def test_impossible_arms_and_heights_are_refused():
    with pytest.raises(ValueError, match="centre_up_mm must be finite"):
        ArmBalance(mass_g=250, centre_forward_mm=2, centre_up_mm=math.nan, stylus_forward_mm=239, stylus_down_mm=15)
    with pytest.raises(ValueError, match="centre_forward_mm must be above 0"):
        ArmBalance(mass_g=250, centre_forward_mm=-1, centre_up_mm=0, stylus_forward_mm=239, stylus_down_mm=15)
    with pytest.raises(ValueError, match="give no slope"):
        slope_between_heights(low=mn(18, 0.1, "a"), high=mn(19, 0.1, "b"), rise=mm(-6))
