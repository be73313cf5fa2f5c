"""Arc trace: the exact geometry against points in the plane, the fit against another method, what it can prove."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from groovewright.gauges.arc_trace import (
    TraceReading,
    bearing_on_arc_deg,
    deviation_from_arc_mm,
    fit_trace,
    trace_dimensions,
)
from groovewright.measurement.quantity import Quantity, Source, covariance
from groovewright.tonearm.geometry import Geometry, geometry_from_nulls

PUBLISHED = Path(__file__).parents[1] / "published" / "arc_trace.toml"
NINE = tomllib.loads(PUBLISHED.read_text(encoding="utf-8"))["nine_readings"]
PLATE = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=(65.998, 120.891))
RADII_MM = np.linspace(60.325, 146.05, 9)
BEARINGS_DEG = bearing_on_arc_deg(RADII_MM, PLATE)


def read(deviations_mm, *, u_mm=0.1, bearings_deg=BEARINGS_DEG, shared_mm=0.0):
    readings = []
    for k, (bearing, deviation) in enumerate(zip(bearings_deg, deviations_mm, strict=True)):
        components = {Source(f"eye, reading {k + 1}"): u_mm}
        if shared_mm:
            components[Source("radius of the printed arc")] = shared_mm
        readings.append(TraceReading(float(bearing), Quantity(float(deviation), "mm", components)))
    return readings


def true_trace(length_error_mm, distance_error_mm, plate_turn_deg, bearings_deg=BEARINGS_DEG):
    return deviation_from_arc_mm(
        bearings_deg,
        length_error_mm=length_error_mm,
        distance_error_mm=distance_error_mm,
        plate_turn_deg=plate_turn_deg,
        plate=PLATE,
    )


def measured(value_mm, u_mm, source="steel rule"):
    return Quantity.measured(value_mm, "mm", standard_uncertainty=u_mm, source=source)


def correlation(first, second):
    return covariance(first, second) / (first.standard_uncertainty * second.standard_uncertainty)


def test_nine_readings_prove_what_was_worked_out():
    fit = fit_trace(read(np.zeros(9), u_mm=NINE["reading_uncertainty_mm"]), PLATE)
    half = NINE["uncertainties_printed_to_mm"] / 2
    assert fit.distance_error.standard_uncertainty == pytest.approx(NINE["distance_uncertainty_mm"], abs=half)
    assert fit.length_error.standard_uncertainty == pytest.approx(NINE["length_uncertainty_mm"], abs=half)
    assert correlation(fit.length_error, fit.distance_error) == pytest.approx(
        NINE["correlation"], abs=NINE["correlation_printed_to"] / 2
    )


def test_the_sentence_of_what_a_trace_cannot_tell_has_those_figures():
    sentence = fit_trace(read(np.zeros(9)), PLATE).cannot_tell
    for figure in ("± 4.4 mm", "± 4.8 mm", "correlation 0.9996"):
        assert figure in sentence
    assert "cantilever" in sentence


@settings(max_examples=60, deadline=None)
@given(st.floats(-3, 3), st.floats(-8, 8), st.floats(-3, 3))
def test_the_stylus_stands_at_the_effective_length_from_the_pivot(length_error_mm, distance_error_mm, turn_deg):
    """Set the plate, the pivot and the stylus into the plane and measure the distance."""
    deviation = true_trace(length_error_mm, distance_error_mm, turn_deg)
    spindle = np.array([PLATE.pivot_to_spindle_mm, 0.0])
    away = math.radians(180 - turn_deg)
    pivot = spindle + (PLATE.pivot_to_spindle_mm + distance_error_mm) * np.array([math.cos(away), math.sin(away)])
    bearing = np.radians(BEARINGS_DEG)
    stylus = (PLATE.effective_length_mm + deviation)[:, None] * np.column_stack([np.cos(bearing), np.sin(bearing)])
    lengths = np.linalg.norm(stylus - pivot, axis=1)
    np.testing.assert_allclose(lengths, PLATE.effective_length_mm + length_error_mm, rtol=0, atol=1e-10)


def test_small_errors_follow_the_linear_form():
    small = 1e-4
    bearing = np.radians(BEARINGS_DEG)
    for errors, slope in (
        ((small, 0, 0), np.ones(9)),
        ((0, small, 0), -np.cos(bearing)),
        ((0, 0, small), math.radians(1) * PLATE.pivot_to_spindle_mm * np.sin(bearing)),
    ):
        np.testing.assert_allclose(true_trace(*errors), small * slope, rtol=0, atol=1e-7)


def test_a_bearing_leads_back_to_its_groove_radius():
    bearing = np.radians(BEARINGS_DEG)
    across = PLATE.effective_length_mm * np.sin(bearing)
    along = PLATE.effective_length_mm * np.cos(bearing) - PLATE.pivot_to_spindle_mm
    np.testing.assert_allclose(np.hypot(across, along), RADII_MM, rtol=0, atol=1e-10)


@settings(max_examples=40, deadline=None)
@given(st.floats(-2, 2), st.floats(-6, 6), st.floats(-2, 2))
def test_a_trace_without_error_gives_back_the_arm(length_error_mm, distance_error_mm, turn_deg):
    fit = fit_trace(read(true_trace(length_error_mm, distance_error_mm, turn_deg)), PLATE)
    assert fit.length_error.value == pytest.approx(length_error_mm, abs=1e-5)
    assert fit.distance_error.value == pytest.approx(distance_error_mm, abs=1e-5)
    assert fit.plate_turn.value == pytest.approx(turn_deg, abs=1e-6)
    assert fit.chi_square == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("joined", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_fit_is_that_of_a_general_solver_on_points_in_the_plane(seed, joined):
    """scipy's solver, given nothing but the distance from stylus to pivot, finds the same arm and covariance."""
    random = np.random.default_rng(seed)
    u_mm = np.linspace(0.05, 0.2, 9)
    deviation = true_trace(0.8, -1.5, 0.7) + u_mm * random.standard_normal(9)
    direct_mm, u_direct_mm = 220.4, 0.4
    bearing = np.radians(BEARINGS_DEG)
    readings = [
        TraceReading(float(b), measured(float(e), float(u), f"reading {k}"))
        for k, (b, e, u) in enumerate(zip(BEARINGS_DEG, deviation, u_mm, strict=True))
    ]
    points = (PLATE.effective_length_mm + deviation)[:, None] * np.column_stack([np.cos(bearing), np.sin(bearing)])

    def misfit(parameters):
        length, pivot_x, pivot_y = parameters
        # Along its bearing a stylus misses the circle by what lies between it and the point of the circle there.
        towards = np.column_stack([np.cos(bearing), np.sin(bearing)])
        centre = towards @ [pivot_x, pivot_y]
        on_circle = centre + np.sqrt(length**2 - pivot_x**2 - pivot_y**2 + centre**2)
        left = (np.linalg.norm(points, axis=1) - on_circle) / u_mm
        distance = math.hypot(PLATE.pivot_to_spindle_mm - pivot_x, pivot_y)
        return np.append(left, (direct_mm - distance) / u_direct_mm) if joined else left

    found = least_squares(
        misfit,
        [PLATE.effective_length_mm, 0, 0],
        jac="3-point",
        x_scale=[10, 10, 1],
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    length, pivot_x, pivot_y = found.x
    distance = math.hypot(PLATE.pivot_to_spindle_mm - pivot_x, pivot_y)
    spread = np.linalg.inv(found.jac.T @ found.jac)
    to_distance = np.array([0, -(PLATE.pivot_to_spindle_mm - pivot_x) / distance, pivot_y / distance])

    fit = fit_trace(readings, PLATE, pivot_to_spindle=measured(direct_mm, u_direct_mm) if joined else None)
    assert fit.effective_length.value == pytest.approx(length, abs=2e-5)
    assert fit.pivot_to_spindle.value == pytest.approx(distance, abs=2e-5)
    if fit.agree:
        assert fit.length_error.standard_uncertainty == pytest.approx(math.sqrt(spread[0, 0]), rel=1e-4)
        assert fit.distance_error.standard_uncertainty == pytest.approx(
            math.sqrt(to_distance @ spread @ to_distance), rel=1e-4
        )


@pytest.mark.parametrize("u_mm", [1e-12, 1e-7, 1e-3, 1e3])
def test_a_distance_known_far_better_or_worse_than_the_trace_is_joined(u_mm):
    fit = fit_trace(read(true_trace(0.5, 0.3, 0.4)), PLATE, pivot_to_spindle=measured(222.3, u_mm))
    assert fit.length_error.value == pytest.approx(0.5, abs=1e-5)
    alone = fit_trace(read(true_trace(0.5, 0.3, 0.4)), PLATE).distance_error.standard_uncertainty
    assert fit.distance_error.standard_uncertainty == pytest.approx(1 / math.hypot(1 / u_mm, 1 / alone), rel=1e-3)


def test_results_keep_the_sources_of_the_readings_and_of_the_distance():
    fit = fit_trace(read(np.zeros(9)), PLATE, pivot_to_spindle=measured(222.2, 0.3))
    names = {source.label for source in fit.length_error.components}
    assert names == {f"eye, reading {k}" for k in range(1, 10)} | {"steel rule"}
    # The distance is all but the rule's, so it shares the rule's error with whatever else was read with it.
    assert covariance(fit.pivot_to_spindle, measured(150.0, 0.3)) == pytest.approx(0.3**2, rel=0.01)


def test_a_shared_error_of_the_arc_goes_whole_into_the_length():
    alone = fit_trace(read(np.zeros(9)), PLATE)
    shared = fit_trace(read(np.zeros(9), shared_mm=0.5), PLATE)
    of_length = shared.length_error.components[Source("radius of the printed arc")]
    assert of_length == pytest.approx(0.5, rel=1e-9)
    assert shared.length_error.standard_uncertainty == pytest.approx(
        math.hypot(alone.length_error.standard_uncertainty, 0.5), rel=1e-9
    )
    assert shared.distance_error.standard_uncertainty == pytest.approx(alone.distance_error.standard_uncertainty)


def test_dimensions_for_a_joint_estimate_give_what_the_fit_itself_joins():
    """Generalised least squares on the two dimensions and the rule, as an estimate of all readings does it."""
    deviation = true_trace(0.6, 0.4, 0.3) + 0.1 * np.random.default_rng(3).standard_normal(9)
    rule = measured(222.5, 0.3)
    joined = fit_trace(read(deviation), PLATE, pivot_to_spindle=rule)
    observed = [*trace_dimensions(fit_trace(read(deviation), PLATE)), rule]
    matrix = np.array([[covariance(a, b) for b in observed] for a in observed])
    slopes = np.array([[1, 0], [0, 1], [0, 1]])
    weighed = slopes.T @ np.linalg.inv(matrix)
    spread = np.linalg.inv(weighed @ slopes)
    length, distance = spread @ weighed @ [quantity.value for quantity in observed]
    u = joined.length_error.standard_uncertainty
    # The two dimensions are a straight line through what is a slightly bent valley: a quarter of u at most.
    assert length == pytest.approx(joined.effective_length.value, abs=0.25 * u)
    assert distance == pytest.approx(joined.pivot_to_spindle.value, abs=0.01)
    assert math.sqrt(spread[0, 0]) == pytest.approx(u, rel=0.01)


def test_readings_that_scatter_too_much_widen_the_result():
    wild = fit_trace(read([0.3, -0.4, 0.4, -0.3, 0.4, -0.4, 0.3, -0.4, 0.3]), PLATE)
    same_arm = true_trace(wild.length_error.value, wild.distance_error.value, wild.plate_turn.value)
    honest = fit_trace(read(same_arm), PLATE)
    assert honest.agree
    assert not wild.agree
    ratio = math.sqrt(wild.chi_square / wild.degrees_of_freedom)
    assert wild.length_error.standard_uncertainty == pytest.approx(
        ratio * honest.length_error.standard_uncertainty, rel=1e-3
    )
    assert wild.length_error.degrees_of_freedom < 10


def test_a_distance_that_contradicts_the_trace_is_noticed():
    assert fit_trace(read(np.zeros(9)), PLATE, pivot_to_spindle=measured(223, 0.3)).agrees_with_direct
    off = fit_trace(read(np.zeros(9)), PLATE, pivot_to_spindle=measured(236, 0.3))
    assert not off.agrees_with_direct


def test_stated_uncertainties_hold_the_truth():
    """Over 1,000 traces of random arms, the 95 % interval of every coordinate holds it 93 to 97 % of the time."""
    random = np.random.default_rng(20_261_125)
    names = ("length_error", "distance_error", "plate_turn")
    held = {(name, joined): 0 for name in names for joined in (False, True)}
    for _ in range(1000):
        truth = random.normal(0, (1.0, 0.6, 0.5))
        readings = read(true_trace(*truth) + 0.1 * random.standard_normal(9))
        rule = measured(222 + truth[1] + 0.3 * random.standard_normal(), 0.3)
        for joined in (False, True):
            fit = fit_trace(readings, PLATE, pivot_to_spindle=rule if joined else None)
            for name, value in zip(names, truth, strict=True):
                found = getattr(fit, name)
                reach = 1.959964 * found.standard_uncertainty
                held[name, joined] += abs(found.value - value) <= reach
    assert all(930 <= count <= 970 for count in held.values()), held


@pytest.mark.parametrize(
    ("bearings", "words"),
    [
        ([20, 30], "2 readings beside the arc cannot tell"),
        ([], "0 readings beside the arc"),
        ([20, 20.05, 20.1, 20.02], "all 4 readings are at one place of the arc"),
        ([20, 20.5, 21], "within 1.0 deg"),
        ([20, 20.05, 30], "at 2 places"),
        ([-3, 20, 30], "not on the side of the grooves"),
    ],
)
def test_places_that_prove_nothing_are_refused(bearings, words):
    with pytest.raises(ValueError, match=words):
        fit_trace(read(np.zeros(len(bearings)), bearings_deg=bearings), PLATE)


def test_a_deviation_without_uncertainty_or_of_another_unit_is_refused():
    readings = read(np.zeros(9))
    for bad, words in (
        (Quantity.unknown_uncertainty(0.1, "mm", why="none was stated"), "has no known uncertainty"),
        (Quantity.exact(0.1, "mm"), "above 0"),
        (Quantity.measured(0.1, "deg", standard_uncertainty=0.1, source="eye"), "mm"),
        (measured(25.0, 0.1), "more than a trace on the right arc can show"),
    ):
        with pytest.raises(ValueError, match=words):
            fit_trace([*readings[:-1], TraceReading(36.0, bad)], PLATE)


def test_readings_that_share_all_their_uncertainty_are_refused():
    same = [TraceReading(float(b), measured(0.1, 0.1, "one eye")) for b in BEARINGS_DEG]
    with pytest.raises(ValueError, match="share all of their uncertainty"):
        fit_trace(same, PLATE)


def test_a_radius_off_the_arc_is_refused():
    with pytest.raises(ValueError, match=r"does not pass the radius 10 mm; it passes 17\.30"):
        bearing_on_arc_deg(10, PLATE)
    with pytest.raises(ValueError, match="does not pass the radius"):
        bearing_on_arc_deg(-60, Geometry(222, 239.3, 23))
