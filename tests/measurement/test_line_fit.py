import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from groovewright.measurement.line_fit import fit_line, fit_line_of_known_uncertainty, fit_line_through_origin
from groovewright.measurement.quantity import covariance

NIST = tomllib.loads((Path(__file__).parents[1] / "published" / "measurement_nist.toml").read_text(encoding="utf-8"))
RELATIVE = NIST["relative_tolerance"]
UNITS = {"x_unit": "g", "y_unit": "mN", "source": "fit"}


def test_norris_line_has_the_certified_figures():
    norris = NIST["norris"]
    fit = fit_line(norris["x"], norris["y"], **UNITS)
    certified = [
        (fit.intercept.value, norris["intercept"]),
        (fit.intercept.standard_uncertainty, norris["intercept_standard_deviation"]),
        (fit.slope.value, norris["slope"]),
        (fit.slope.standard_uncertainty, norris["slope_standard_deviation"]),
        (fit.residual_standard_deviation, norris["residual_standard_deviation"]),
        (float(np.sum(fit.residuals**2)), norris["residual_sum_of_squares"]),
    ]
    for ours, expected in certified:
        assert ours == pytest.approx(expected, rel=RELATIVE)
    assert fit.degrees_of_freedom == 34
    assert fit.slope.unit == "mN/g"


def test_noint1_line_through_the_origin_has_the_certified_figures():
    noint1 = NIST["noint1"]
    fit = fit_line_through_origin(noint1["x"], noint1["y"], **UNITS)
    assert fit.slope.value == pytest.approx(noint1["slope"], rel=RELATIVE)
    assert fit.slope.standard_uncertainty == pytest.approx(noint1["slope_standard_deviation"], rel=RELATIVE)
    assert fit.residual_standard_deviation == pytest.approx(noint1["residual_standard_deviation"], rel=RELATIVE)
    assert (fit.intercept.value, fit.intercept.standard_uncertainty) == (0, 0)
    assert fit.predict(2.0).value == pytest.approx(2 * noint1["slope"], rel=RELATIVE)


tenths = st.integers(-500, 500).map(lambda tenth: tenth / 10)
points = st.lists(st.tuples(tenths, tenths), min_size=4, max_size=12)


@settings(max_examples=50)
# scipy's own figures are NaN where y does not vary.
@given(points.filter(lambda rows: min(np.ptp(rows, axis=0)) > 1))
def test_line_agrees_with_scipy(rows):
    x, y = zip(*rows, strict=True)
    ours, theirs = fit_line(x, y, **UNITS), stats.linregress(x, y)
    scale = 1e-9 * (1 + np.abs(y).max())
    assert ours.slope.value == pytest.approx(theirs.slope, abs=scale)
    assert ours.intercept.value == pytest.approx(theirs.intercept, abs=100 * scale)
    # scipy takes the scatter from 1 - r^2, which loses half its digits when the points lie on a line.
    assert ours.slope.standard_uncertainty == pytest.approx(theirs.stderr, rel=1e-6, abs=1e-5 * (1 + np.abs(y).max()))


@settings(max_examples=50)
@given(points.filter(lambda rows: np.ptp([x for x, _ in rows]) > 1), st.integers(0, 99))
def test_known_uncertainties_give_the_covariance_of_weighted_least_squares(rows, seed):
    x, y = np.array(rows).T
    u = np.random.default_rng(seed).uniform(0.1, 2, x.size)
    fit = fit_line_of_known_uncertainty(x, y, y_standard_uncertainties=u, **UNITS)
    design = np.column_stack((np.ones_like(x), x))
    expected = np.linalg.inv(design.T @ np.diag(u**-2.0) @ design)
    both = (fit.intercept, fit.slope)
    ours = [[covariance(first, second) for second in both] for first in both]
    np.testing.assert_allclose(ours, expected, rtol=1e-6, atol=1e-9 * np.abs(expected).max())
    assert math.isinf(fit.slope.degrees_of_freedom)


def test_weight_2_is_the_same_as_a_point_twice():
    once = fit_line([0, 1, 2, 3], [0.0, 1.2, 1.9, 3.2], weights=[1, 2, 1, 1], **UNITS)
    twice = fit_line([0, 1, 1, 2, 3], [0.0, 1.2, 1.2, 1.9, 3.2], **UNITS)
    assert once.slope.value == pytest.approx(twice.slope.value)
    assert once.intercept.value == pytest.approx(twice.intercept.value)


def test_where_the_intercept_is_taken_changes_no_prediction():
    x, y = [20, 22, 25, 30], [1.0, 1.5, 1.9, 3.1]
    near, far = fit_line(x, y, about=24.25, **UNITS), fit_line(x, y, about=-1000.0, **UNITS)
    assert near.predict(28).value == pytest.approx(far.predict(28).value, rel=1e-9)
    assert near.predict(28).standard_uncertainty == pytest.approx(far.predict(28).standard_uncertainty, rel=1e-6)
    assert covariance(near.intercept, near.slope) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: fit_line([1, 2], [1, 2], **UNITS), "at least 3 points, and 2"),
        (lambda: fit_line_through_origin([1], [1], **UNITS), "at least 2 points, and 1"),
        (lambda: fit_line([2, 2, 2], [1, 2, 3], **UNITS), "all points stand at g 2"),
        (lambda: fit_line_through_origin([0, 0], [1, 2], **UNITS), "a slope needs different ones"),
        (lambda: fit_line([1, 2, 3], [1, 2], **UNITS), "lists of one length"),
        (lambda: fit_line([1, 2, math.nan], [1, 2, 3], **UNITS), "must be finite"),
        (lambda: fit_line([1, 2, 3], [1, 2, 3], weights=[1, 0, 1], **UNITS), "every weight above 0"),
        (
            lambda: fit_line_of_known_uncertainty([1, 2], [1, 2], y_standard_uncertainties=[0.1, 0], **UNITS),
            "a standard uncertainty above 0",
        ),
    ],
)
def test_what_gives_no_line_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_two_points_of_known_uncertainty_have_no_scatter_to_speak_of():
    fit = fit_line_of_known_uncertainty([0, 2], [1, 5], y_standard_uncertainties=[0.1, 0.1], **UNITS)
    assert fit.residual_standard_deviation is None
    assert fit.degrees_of_freedom == 0
    assert fit.slope.standard_uncertainty == pytest.approx(0.1 * math.sqrt(2) / 2)
