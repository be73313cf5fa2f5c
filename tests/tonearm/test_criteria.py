import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.tonearm.criteria import (
    CLOSED_FORM_NULL_RADII,
    CLOSED_FORMS,
    CRITERIA,
    angle_minimax_geometry,
    closed_form_geometry,
    inner_null_null_radii,
    least_squares_null_radii,
    minimax_null_radii,
)

PUBLISHED = Path(__file__).parents[1] / "published"
NULLS = tomllib.loads((PUBLISHED / "geometry_nulls.toml").read_text())
ARMS = tomllib.loads((PUBLISHED / "geometry_arms.toml").read_text())
LP = {"innermost_mm": 60.325, "outermost_mm": 146.05}

ranges = st.tuples(st.floats(45, 75), st.floats(80, 150))


def small_angle_error_over_radius(radius_mm, null_mm):
    """Error over radius, but for a factor of 1/(2 L), where angles are small."""
    return (1 - null_mm[0] / radius_mm) * (1 - null_mm[1] / radius_mm)


@pytest.mark.parametrize("row", NULLS["closed_form"], ids=lambda row: f"{row['criterion']} {row['null_mm']}")
def test_null_radii_match_the_printed_tables(row):
    innermost_mm, outermost_mm = row["groove_mm"]
    found = CLOSED_FORM_NULL_RADII[row["criterion"]](innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    assert (np.abs(np.array(found) - row["null_mm"]) <= np.array(row["printed_to_mm"]) / 2).all()


@pytest.mark.parametrize("row", ARMS["by_length"]["rows"], ids=lambda row: f"{row[0]} mm")
def test_arms_by_length_match_the_printed_table(row):
    length, a_offset, a_overhang, ls_overhang, s_offset, s_overhang = row
    half = ARMS["by_length"]["printed_to"] / 2
    for criterion, offset, overhang in (
        ("minimax", a_offset, a_overhang),
        ("least-squares", None, ls_overhang),
        ("inner-null", s_offset, s_overhang),
    ):
        nulls = CLOSED_FORM_NULL_RADII[criterion](**LP)
        distance = math.sqrt(length**2 - nulls[0] * nulls[1])
        arm = closed_form_geometry(criterion, pivot_to_spindle_mm=distance, **LP)
        assert arm.effective_length_mm == pytest.approx(length, abs=1e-9)
        assert arm.overhang_mm == pytest.approx(overhang, abs=half)
        assert offset is None or arm.offset_angle_deg == pytest.approx(offset, abs=half)


def test_linear_offsets_match_the_printed_ones():
    half = ARMS["by_length"]["printed_to"] / 2
    row = ARMS["by_length"]
    assert sum(minimax_null_radii(**LP)) / 2 == pytest.approx(row["linear_offset_minimax_mm"], abs=half)
    assert sum(inner_null_null_radii(**LP)) / 2 == pytest.approx(row["linear_offset_inner_null_mm"], abs=half)


@settings(max_examples=50, deadline=None)
@given(ranges)
def test_minimax_nulls_make_three_equal_peaks_of_alternating_sign(groove_mm):
    r1, r2 = groove_mm
    nulls = minimax_null_radii(innermost_mm=r1, outermost_mm=r2)
    # In the middle of 1/r between the nulls the parabola has its vertex.
    between = 2 / (1 / nulls[0] + 1 / nulls[1])
    inner, middle, outer = (small_angle_error_over_radius(r, nulls) for r in (r1, between, r2))
    assert inner == pytest.approx(outer, rel=1e-9)
    assert middle == pytest.approx(-outer, rel=1e-9)
    assert inner > 0


@settings(max_examples=50, deadline=None)
@given(ranges)
def test_least_squares_nulls_have_the_least_mean_square_at_the_minimax_offset(groove_mm):
    r1, r2 = groove_mm
    nulls = least_squares_null_radii(innermost_mm=r1, outermost_mm=r2)
    total = sum(nulls)
    assert total == pytest.approx(sum(minimax_null_radii(innermost_mm=r1, outermost_mm=r2)), rel=1e-12)
    radius = np.linspace(r1, r2, 2001)

    def mean_square(product):
        return np.trapezoid((1 - total / radius + product / radius**2) ** 2, radius)

    best = nulls[0] * nulls[1]
    assert mean_square(best) < min(mean_square(best * 0.999), mean_square(best * 1.001))


@settings(max_examples=50, deadline=None)
@given(ranges)
def test_inner_null_is_at_the_innermost_groove_and_the_rest_is_level(groove_mm):
    r1, r2 = groove_mm
    nulls = inner_null_null_radii(innermost_mm=r1, outermost_mm=r2)
    between = 2 / (1 / nulls[0] + 1 / nulls[1])
    assert nulls[0] == r1
    assert small_angle_error_over_radius(r2, nulls) == pytest.approx(
        -small_angle_error_over_radius(between, nulls), rel=1e-9
    )


def test_angle_minimax_has_the_printed_product_of_nulls():
    row = NULLS["angle_minimax"]
    arm = angle_minimax_geometry(
        pivot_to_spindle_mm=row["pivot_to_spindle_mm"],
        innermost_mm=row["groove_mm"][0],
        outermost_mm=row["groove_mm"][1],
    )
    assert math.prod(arm.null_radii_mm) == pytest.approx(row["null_product_mm2"], abs=row["printed_to_mm2"] / 2)


@settings(max_examples=50, deadline=None)
@given(ranges, st.floats(180, 350))
def test_angle_minimax_errs_alike_at_both_ends_and_between(groove_mm, distance_mm):
    r1, r2 = groove_mm
    arm = angle_minimax_geometry(pivot_to_spindle_mm=distance_mm, innermost_mm=r1, outermost_mm=r2)
    inner, middle, outer = arm.tracking_error_deg([r1, math.sqrt(r1 * r2), r2])
    assert inner == pytest.approx(outer, abs=1e-9)
    assert inner == pytest.approx(-middle, abs=1e-9)


def test_the_exact_criteria_have_no_closed_form():
    with pytest.raises(ValueError, match="'exact-peak' has no closed form; those that have one are minimax"):
        closed_form_geometry("exact-peak", pivot_to_spindle_mm=222, **LP)


def test_criteria_are_named_after_what_they_minimise():
    assert list(CRITERIA) == [*CLOSED_FORMS, "exact-peak", "exact-rms"]
    for key, criterion in CRITERIA.items():
        assert criterion.key == key
        assert criterion.label[0].isupper()
        assert criterion.minimises.endswith(".")


@pytest.mark.parametrize("form", CLOSED_FORM_NULL_RADII.values())
def test_closed_forms_refuse_a_range_that_is_none(form):
    with pytest.raises(ValueError, match="must lie inside the outermost"):
        form(innermost_mm=146.05, outermost_mm=60.325)
