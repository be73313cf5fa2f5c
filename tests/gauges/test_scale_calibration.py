import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.gauges.check_weights import certified_weight, total_mass, weight_of_class
from groovewright.gauges.repeatability import Repeatability, pooled, repeatability_of, scatters_more
from groovewright.gauges.scale_calibration import (
    ScaleCheck,
    WeightReading,
    calibrate,
    force_from_indication,
)
from groovewright.measurement.quantity import Quantity, covariance
from groovewright.measurement.units import GRAM_FORCE_MN

STEP_MN = 0.01 * GRAM_FORCE_MN
ONE = weight_of_class("1 g", nominal_g=1.0, accuracy_class="M2")
TWO = weight_of_class("2 g", nominal_g=2.0, accuracy_class="M2")
FIVE = certified_weight("5 g", mass_g=5.0011, expanded_uncertainty_mg=3.0)


def check(*rows, step_mn=STEP_MN, occasion="before", stated_mn=None):
    readings = [WeightReading(weights, g * GRAM_FORCE_MN) for weights, shown in rows for g in shown]
    return ScaleCheck("Scale 2", occasion, step_mn, tuple(readings), stated_mn)


GOOD = check(((), (0.00, 0.00)), ((ONE,), (1.00, 1.01)), ((TWO,), (2.01, 2.02)), ((TWO, ONE), (3.02, 3.03)))


def test_line_agrees_with_a_plain_generalised_least_squares():
    # Fine steps, so that the covariance is the scatter's and the weights' alone and can be written down here.
    rows = [((ONE,), (1.004, 1.010, 1.001)), ((TWO,), (2.013, 2.018)), ((TWO, ONE), (3.017, 3.024)), ((FIVE,), (5.04,))]
    calibration = calibrate(check(*rows, step_mn=1e-6))
    groups = [np.array(shown) * GRAM_FORCE_MN for _, shown in rows]
    s2 = sum(((g - g.mean()) ** 2).sum() for g in groups) / sum(g.size - 1 for g in groups)
    x = np.array([total_mass(weights).value for weights, _ in rows]) * GRAM_FORCE_MN
    y = np.array([g.mean() for g in groups])
    u1, u2, u5 = 3.0e-3 / math.sqrt(3), 4.0e-3 / math.sqrt(3), 1.5e-3
    through = np.array([[u1, 0, 0], [0, u2, 0], [u1, u2, 0], [0, 0, u5]]) * GRAM_FORCE_MN
    design = np.column_stack([np.ones(4), x])
    slope = 1.0
    for _ in range(20):
        total = np.diag(s2 / np.array([g.size for g in groups])) + slope**2 * through @ through.T
        cov = np.linalg.inv(design.T @ np.linalg.inv(total) @ design)
        intercept, slope = cov @ design.T @ np.linalg.inv(total) @ y
    assert calibration.gain.value == pytest.approx(slope, rel=1e-7)
    assert calibration.offset.value == pytest.approx(intercept, abs=1e-6)
    assert calibration.gain.standard_uncertainty == pytest.approx(math.sqrt(cov[1, 1]), rel=1e-4)
    assert calibration.offset.standard_uncertainty == pytest.approx(math.sqrt(cov[0, 0]), rel=1e-4)
    assert covariance(calibration.offset, calibration.gain) == pytest.approx(cov[0, 1], rel=1e-4)


def test_line_agrees_with_total_least_squares_for_independent_weights():
    from scipy.optimize import least_squares

    small = [certified_weight(f"{m} g", mass_g=m, expanded_uncertainty_mg=2.0) for m in (0.5, 1.0, 2.0, 3.0)]
    shown_g = [0.512, 1.013, 2.031, 3.029]
    calibration = calibrate(
        check(*[((w,), (g,)) for w, g in zip(small, shown_g, strict=True)], step_mn=1e-6),
        repeatability=Repeatability(0.003 * GRAM_FORCE_MN, math.inf),
    )
    nominal = np.array([0.5, 1.0, 2.0, 3.0]) * GRAM_FORCE_MN
    shown = np.array(shown_g) * GRAM_FORCE_MN
    u_x, u_y = 1e-3 * GRAM_FORCE_MN, 0.003 * GRAM_FORCE_MN

    # The true loads are unknowns beside offset and gain, as in orthogonal distance regression.
    def misfit(unknowns):
        offset, gain, loads = unknowns[0], unknowns[1], unknowns[2:]
        return np.concatenate([(loads - nominal) / u_x, (offset + gain * loads - shown) / u_y])

    fit = least_squares(misfit, [0.0, 1.0, *nominal], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    expected = np.sqrt(np.diag(np.linalg.inv(fit.jac.T @ fit.jac)))
    # Loads are assigned values here and measured ones there, which differs by far less than the uncertainty.
    apart = np.abs([calibration.offset.value - fit.x[0], calibration.gain.value - fit.x[1]])
    assert (apart < 2e-3 * expected[:2]).all()
    found = [calibration.offset.standard_uncertainty, calibration.gain.standard_uncertainty]
    np.testing.assert_allclose(found, expected[:2], rtol=1e-3)


def test_force_agrees_with_monte_carlo_through_the_whole_chain():
    rng = np.random.default_rng(3)
    trials = 20_000
    noise_mn = 0.004 * GRAM_FORCE_MN
    e1, e2 = (rng.uniform(-1, 1, (trials, 1)) * mpe for mpe in (3.0e-3, 4.0e-3))
    loads = np.array([[1.0, 2.0, 3.0]]) * GRAM_FORCE_MN
    true = loads + np.hstack([e1, e2, e1 + e2]) * GRAM_FORCE_MN
    shown = 0.05 + 1.01 * true + noise_mn / math.sqrt(2) * rng.standard_normal((trials, 3))
    calibration = calibrate(
        check(((ONE,), (1.0, 1.0)), ((TWO,), (2.0, 2.0)), ((TWO, ONE), (3.0, 3.0)), step_mn=1e-6),
        repeatability=Repeatability(noise_mn, math.inf),
    )
    # The same weights of the fit for every trial: plain least squares, whose result the fit's must not exceed.
    weighted = [np.polyfit(loads[0], row, 1) for row in shown[:4000]]
    read = 0.05 + 1.01 * 18.0
    spread = np.std([(read - intercept) / slope for slope, intercept in weighted])
    force = force_from_indication(calibration, Quantity.exact(18.0, "mN"))
    assert force.standard_uncertainty == pytest.approx(spread, rel=0.05)


def test_the_inverse_gives_back_what_lay_on_the_pan():
    calibration = calibrate(GOOD)
    mean_shown_mn = 2.015 * GRAM_FORCE_MN
    force = force_from_indication(calibration, Quantity.exact(mean_shown_mn, "mN"))
    assert force.value == pytest.approx(2 * GRAM_FORCE_MN, abs=0.02)
    assert "9.80665 mN/g" in force.how


@settings(max_examples=25, deadline=None)
@given(st.floats(-0.5, 0.5), st.floats(0.9, 1.1), st.floats(0.1, 2.9))
def test_a_perfect_scale_is_read_back_exactly(offset_mn, gain, load_g):
    def shown(mass_g):
        return (offset_mn + gain * mass_g * GRAM_FORCE_MN) / GRAM_FORCE_MN

    calibration = calibrate(
        check(
            ((), (shown(0),)), ((ONE,), (shown(1),)), ((TWO,), (shown(2),) * 2), ((TWO, ONE), (shown(3),)), step_mn=1e-9
        )
    )
    assert calibration.gain.value == pytest.approx(gain, rel=1e-9)
    assert calibration.offset.value == pytest.approx(offset_mn, abs=1e-8)
    read = Quantity.exact(shown(load_g) * GRAM_FORCE_MN, "mN")
    assert force_from_indication(calibration, read).value == pytest.approx(load_g * GRAM_FORCE_MN, rel=1e-8)


@pytest.mark.parametrize(("g", "said"), [(4.2, "0 to 3 g"), (-0.5, "outside")])
def test_nothing_outside_the_calibrated_range_is_converted(g, said):
    with pytest.raises(ValueError, match=f"{said}.*extend its calibration"):
        force_from_indication(calibrate(GOOD), Quantity.exact(g * GRAM_FORCE_MN, "mN"))


def test_half_a_step_beyond_the_last_weight_is_still_its_reading():
    force = force_from_indication(calibrate(GOOD), Quantity.exact(3.029 * GRAM_FORCE_MN, "mN"))
    assert force.value == pytest.approx(3 * GRAM_FORCE_MN, abs=STEP_MN)


def test_one_load_is_refused_and_the_empty_pan_is_a_second_one():
    with pytest.raises(ValueError, match="cannot tell its offset from its gain"):
        calibrate(check(((TWO,), (2.01, 2.01))))
    with pytest.raises(ValueError, match="with one load"):
        calibrate(check())
    calibration = calibrate(check(((), (0.0,)), ((TWO,), (2.01, 2.01))))
    assert calibration.gain.value == pytest.approx(1.005, rel=1e-9)
    assert any("cannot show whether it is straight" in note for note in calibration.notes)


def test_without_repeats_the_uncertainty_is_unknown_until_it_is_stated():
    rows = (((ONE,), (1.00,)), ((TWO,), (2.01,)))
    silent = calibrate(check(*rows))
    assert silent.gain.standard_uncertainty is None
    assert "nothing was read twice" in silent.gain.why_unknown
    assert any("read one weight three times" in note for note in silent.notes)
    assert calibrate(check(*rows, stated_mn=0.03)).gain.standard_uncertainty > 0


def test_a_load_off_the_line_is_flagged_and_named():
    bad = check(((ONE,), (1.00, 1.01)), ((TWO,), (2.01, 2.01)), ((TWO, ONE), (3.02, 3.01)), ((FIVE,), (5.12, 5.12)))
    calibration = calibrate(bad)
    assert any(residual.shown for residual in calibration.residuals)
    assert "off the straight line" in calibration.faults[0]
    assert calibrate(GOOD).faults == ()


def test_weights_mixed_up_are_refused():
    with pytest.raises(ValueError, match="which weight belongs to which reading"):
        calibrate(check(((ONE,), (2.01, 2.01)), ((TWO,), (1.00, 1.00))))
    with pytest.raises(ValueError, match="last step must be above 0"):
        calibrate(check(((ONE,), (1.0,)), ((TWO,), (2.0,)), step_mn=0.0))


def test_no_weight_of_two_grams_is_mentioned():
    calibration = calibrate(check(((), (0.0, 0.0)), ((FIVE,), (5.01, 5.01))))
    assert any("2 g" in note for note in calibration.notes)
    assert not any("No check weight of 2 g" in note for note in calibrate(GOOD).notes)


def test_repeatability_pools_by_degrees_of_freedom():
    groups = [np.array([1.0, 1.2]), np.array([2.0, 2.0, 2.3])]
    found = repeatability_of(groups)
    assert found.degrees_of_freedom == 3
    # Sums of squares 0.02 and 0.06 over 3.
    assert found.standard_deviation_mn == pytest.approx(math.sqrt(0.08 / 3), rel=1e-12)
    together = pooled(found, Repeatability(0.2, 2), Repeatability(9.0, math.inf))
    assert together.standard_deviation_mn == pytest.approx(math.sqrt((0.08 + 0.08) / 5), rel=1e-12)
    assert pooled(Repeatability(None, math.inf), Repeatability(0.1, math.inf)).standard_deviation_mn == 0.1


def test_scatter_beyond_the_scale_is_seen_by_the_f_test():
    # The 1 % point of F with 4 and 6 degrees of freedom is 9.148 in the usual tables.
    scale = Repeatability(1.0, 6)
    assert scatters_more(Repeatability(math.sqrt(9.2), 4), scale, step_mn=0.1)
    assert not scatters_more(Repeatability(math.sqrt(9.1), 4), scale, step_mn=0.1)
    assert not scatters_more(Repeatability(0.25, 4), Repeatability(0.0, 6), step_mn=1.0)
