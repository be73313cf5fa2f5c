"""Factors of a printer from its two measured bars."""

import math

import pytest

from groovewright.measurement.quantity import Quantity, covariance
from groovewright.plates.print_scale import print_scale


def bar(length_mm, uncertainty_mm=0.1, source="steel rule"):
    return Quantity.measured(length_mm, "mm", standard_uncertainty=uncertainty_mm, source=source)


def test_factors_are_measured_over_drawn():
    scale = print_scale(bar(100.4), bar(99.7))
    assert scale.x.value == pytest.approx(1.004, abs=1e-12)
    assert scale.y.value == pytest.approx(0.997, abs=1e-12)
    assert scale.x.unit == scale.y.unit == "1"


def test_the_uncertainty_holds_the_rule_and_the_air():
    # Rule 0.1 mm in 100 mm; humidity rectangular with half-width 0.1 %: JCGM 100, 4.3.7.
    expected = math.hypot(0.1 / 100, 1.004 * 0.001 / math.sqrt(3))
    assert print_scale(bar(100.4), bar(99.7)).x.standard_uncertainty == pytest.approx(expected, rel=1e-12)
    dry = print_scale(bar(100.4), bar(99.7), paper_humidity_half_width_percent=0.0)
    assert dry.x.standard_uncertainty == pytest.approx(0.001, rel=1e-12)


def test_one_rule_for_both_bars_correlates_them_and_the_air_does_not():
    scale = print_scale(bar(100.4), bar(99.7))
    assert covariance(scale.x, scale.y) == pytest.approx(0.001 * 0.001, rel=1e-12)


def test_a_corrected_plate_measured_again_adds_to_its_factors():
    scale = print_scale(bar(100.1), bar(99.9), drawn_scale_x=1.004, drawn_scale_y=0.997)
    assert scale.x.value == pytest.approx(1.005004, abs=1e-12)
    assert scale.y.value == pytest.approx(0.996003, abs=1e-12)


def test_an_unknown_uncertainty_stays_unknown_with_its_reason():
    unknown = Quantity.unknown_uncertainty(100.4, "mm", why="no uncertainty was typed")
    scale = print_scale(unknown, bar(99.7))
    assert scale.x.standard_uncertainty is None
    assert scale.x.why_unknown == "no uncertainty was typed"


@pytest.mark.parametrize(
    ("measured_x", "measured_y", "message"),
    [
        (bar(100.4), None, "Only the x bar was measured; measure the y bar too"),
        (None, bar(99.7), "Only the y bar was measured; measure the x bar too"),
        (None, None, "No check bar was measured; measure both"),
        (bar(94.0), bar(89.9), "The y bar measures 89.9 mm, a factor of 0.899; up to 10 % can be corrected"),
        (bar(1000.0), bar(100.0), '"fit to page" off'),
        (Quantity.exact(10.04, "cm"), bar(99.7), "The x bar was measured in cm; give it in mm"),
    ],
)
def test_what_cannot_be_corrected_is_refused(measured_x, measured_y, message):
    with pytest.raises(ValueError, match=message):
        print_scale(measured_x, measured_y)


@pytest.mark.parametrize("half_width", [-0.1, math.nan, math.inf])
def test_a_humidity_that_is_no_width_is_refused(half_width):
    with pytest.raises(ValueError, match="paper_humidity_half_width_percent must be 0 or more"):
        print_scale(bar(100), bar(100), paper_humidity_half_width_percent=half_width)
