"""Null check: the offset angle from the cantilever's angle against the groove, joined with length and distance."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from groovewright.gauges.null_check import NullReading, fit_nulls
from groovewright.measurement.quantity import Quantity, Source, covariance

DISTANCE_MM, LENGTH_MM, OFFSET_DEG = 222.0, 239.2961, 22.9855


def measured(value, unit, u, source):
    return Quantity.measured(value, unit, standard_uncertainty=u, source=source)


def angle_against_groove_deg(radius_mm, length_mm, distance_mm, offset_deg):
    """By vectors in the plane: spindle at the origin, pivot on the x axis."""
    x = (radius_mm**2 - length_mm**2 + distance_mm**2) / (2 * distance_mm)
    stylus = np.array([x, -math.sqrt(radius_mm**2 - x**2)])
    to_stylus = stylus - [distance_mm, 0]
    tangent = np.array([stylus[1], -stylus[0]]) / radius_mm
    along = abs(to_stylus @ tangent) / length_mm
    return math.degrees(math.acos(along)) - offset_deg


def readings(angles_deg, radii_mm=(66.0, 121.0), u=0.2):
    return [
        NullReading(radius, measured(angle, "deg", u, f"reading at {radius:g}"))
        for radius, angle in zip(radii_mm, angles_deg, strict=True)
    ]


def dimensions(u_length=0.35, u_distance=0.3):
    return {
        "effective_length": measured(LENGTH_MM, "mm", u_length, "length"),
        "pivot_to_spindle": measured(DISTANCE_MM, "mm", u_distance, "distance"),
    }


def test_readings_without_error_give_back_the_offset_angle():
    radii = (60.0, 66.0, 90.0, 121.0, 146.0)
    angles = [angle_against_groove_deg(radius, LENGTH_MM, DISTANCE_MM, 22.5) for radius in radii]
    fit = fit_nulls(readings(angles, radii), **dimensions())
    assert fit.offset_angle.value == pytest.approx(22.5, abs=1e-9)
    assert fit.effective_length.value == pytest.approx(LENGTH_MM, abs=1e-8)
    assert fit.chi_square == pytest.approx(0, abs=1e-12)


def test_a_cartridge_turned_inward_makes_the_angle_smaller():
    """Positive: the cartridge would need more offset."""
    offset = [fit_nulls(readings((a, a)), **dimensions()).offset_angle.value for a in (0.5, 0.0, -0.5)]
    assert offset == sorted(offset)
    # By the design the cantilever lies along the groove at its nulls.
    assert offset[1] == pytest.approx(OFFSET_DEG, abs=0.02)


def test_fit_is_that_of_a_general_solver():
    angles, u = (0.3, -0.2, 0.1), 0.15
    radii = (66.0, 121.0, 95.0)
    given = dimensions()

    def misfit(parameters):
        length, distance, offset = parameters
        left = [(length - LENGTH_MM) / 0.35, (distance - DISTANCE_MM) / 0.3]
        pairs = zip(radii, angles, strict=True)
        return left + [(angle_against_groove_deg(r, length, distance, offset) - angle) / u for r, angle in pairs]

    found = least_squares(misfit, [LENGTH_MM, DISTANCE_MM, OFFSET_DEG], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    spread = np.linalg.inv(found.jac.T @ found.jac)
    fit = fit_nulls(readings(angles, radii, u), **given)
    quantities = (fit.effective_length, fit.pivot_to_spindle, fit.offset_angle)
    np.testing.assert_allclose([q.value for q in quantities], found.x, rtol=0, atol=1e-5)
    own = np.array([[covariance(a, b) for b in quantities] for a in quantities])
    np.testing.assert_allclose(own, spread, rtol=1e-3, atol=1e-7)
    assert fit.chi_square == pytest.approx(2 * found.cost, rel=1e-6)


def test_length_and_distance_that_share_errors_are_joined_with_their_covariance():
    """An arm whose length and distance err together keeps its nulls, so they add nothing to the offset angle."""
    error = Source("trace")
    together = {
        "effective_length": Quantity(LENGTH_MM, "mm", {error: 1.09, Source("own"): 0.01}),
        "pivot_to_spindle": Quantity(DISTANCE_MM, "mm", {error: 1.0, Source("its own"): 0.01}),
    }
    apart = dimensions(u_length=1.09, u_distance=1.0)
    u_together = fit_nulls(readings((0.0, 0.0)), **together).offset_angle.standard_uncertainty
    u_apart = fit_nulls(readings((0.0, 0.0)), **apart).offset_angle.standard_uncertainty
    assert u_together < u_apart


def test_one_reading_tells_the_offset_angle_and_nothing_of_the_length():
    fit = fit_nulls(readings((0.4,), (66.0,)), **dimensions())
    assert fit.effective_length.standard_uncertainty == pytest.approx(0.35, rel=1e-6)
    assert fit.degrees_of_freedom == 0
    assert fit.agree


def test_readings_that_contradict_each_other_are_noticed():
    assert fit_nulls(readings((0.1, -0.1)), **dimensions()).agree
    assert not fit_nulls(readings((3.0, -3.0)), **dimensions(0.05, 0.05)).agree


def test_stated_uncertainty_holds_the_truth():
    random = np.random.default_rng(7)
    held = 0
    for _ in range(1000):
        offset = OFFSET_DEG + random.normal(0, 1.0)
        length, distance = LENGTH_MM + random.normal(0, 1.0), DISTANCE_MM + random.normal(0, 1.0)
        radii = (66.0, 121.0)
        angles = [angle_against_groove_deg(r, length, distance, offset) + 0.2 * random.standard_normal() for r in radii]
        found = fit_nulls(
            readings(angles, radii),
            effective_length=measured(length + 0.35 * random.standard_normal(), "mm", 0.35, "length"),
            pivot_to_spindle=measured(distance + 0.3 * random.standard_normal(), "mm", 0.3, "distance"),
        ).offset_angle
        held += abs(found.value - offset) <= 1.959964 * found.standard_uncertainty
    assert 930 <= held <= 970


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ([], "no reading of the cantilever yet"),
        (readings((45.0,), (66.0,)), "give the tracking error, not the offset angle"),
        (readings((0.1,), (-66.0,)), "above 0 mm"),
        ([NullReading(66.0, measured(0.1, "mm", 0.1, "eye"))], "deg"),
        ([NullReading(66.0, Quantity.unknown_uncertainty(0.1, "deg", why="none"))], "no known uncertainty"),
        (readings((0.1,), (5.0,)), "out of reach"),
    ],
)
def test_impossible_readings_are_refused(given, words):
    with pytest.raises(ValueError, match=words):
        fit_nulls(given, **dimensions())
