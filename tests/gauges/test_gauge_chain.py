import math
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.gauges.gauge_chain import DIMENSIONS, GaugeChain, Joint, joint_of, stack
from groovewright.gauges.ready_chains import READY_CHAINS, arc_trace_gauge, two_null_plate
from groovewright.measurement.units import INCH_MM

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "published" / "tolerance_stacks.toml").read_text("utf-8"))


def joints_of(row, factor=1.0):
    parts = zip(row["signs"], row["nominals"], row["tolerances"], strict=True)
    return [
        Joint(f"part {k}", factor * tolerance, "effective_length", sensitivity=sign, nominal=factor * nominal)
        for k, (sign, nominal, tolerance) in enumerate(parts)
    ]


@pytest.mark.parametrize("row", PUBLISHED["stack"], ids=lambda row: row["source"][:20])
def test_published_stacks(row):
    within = {"rel": 0, "abs": row["printed_to"] / 2}
    found = stack(joints_of(row))
    assert found.nominal == pytest.approx(row["nominal"], **within)
    assert found.worst_case == pytest.approx(row["worst_case"], **within)
    assert found.root_sum_square == pytest.approx(row["root_sum_square"], **within)
    in_mm = stack(joints_of(row, INCH_MM))
    assert in_mm.worst_case == pytest.approx(INCH_MM * found.worst_case, rel=1e-12)


@pytest.mark.parametrize("row", PUBLISHED["stack"], ids=lambda row: row["source"][:20])
def test_signs_turn_the_nominal_and_nothing_else(row):
    found = stack(joints_of(row))
    for k in range(len(row["signs"])):
        flipped = joints_of(row)
        flipped[k] = replace(flipped[k], sensitivity=-flipped[k].sensitivity)
        other = stack(flipped)
        assert (other.worst_case, other.root_sum_square) == (found.worst_case, found.root_sum_square)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0, 10),
            st.floats(-5, 5),
            st.sampled_from(["rectangular", "normal", "triangular", "arcsine"]),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_root_sum_square_lies_between_the_largest_part_and_the_worst_case(parts):
    joints = [
        Joint(f"joint {k}", tolerance, "effective_length", distribution, slope)
        for k, (tolerance, slope, distribution) in enumerate(parts)
    ]
    found = stack(joints)
    largest = max(tolerance * abs(slope) for tolerance, slope, _ in parts)
    assert largest * (1 - 1e-12) <= found.root_sum_square <= found.worst_case * (1 + 1e-12)
    # No distribution between two limits spreads wider than the arcsine one.
    assert found.standard_uncertainty <= found.root_sum_square / math.sqrt(2) * (1 + 1e-12)
    again = stack(joints[::-1])
    assert again.worst_case == pytest.approx(found.worst_case, rel=1e-12)


@pytest.mark.parametrize(
    ("distribution", "divisor"),
    [("rectangular", math.sqrt(3)), ("triangular", math.sqrt(6)), ("arcsine", math.sqrt(2)), ("normal", 2.0)],
)
def test_each_distribution_has_its_spread(distribution, divisor):
    joint = Joint("joint", 0.3, "effective_length", distribution)
    assert joint.standard_uncertainty == pytest.approx(0.3 / divisor, rel=1e-12)
    drawn = joint.spread.draw(np.random.default_rng(3), 200_000)
    assert drawn.std() == pytest.approx(0.3 / divisor, rel=0.01)


def test_a_clearance_is_the_whole_play_and_a_standard_uncertainty_half_of_the_tolerance():
    clearance = joint_of("bush", 0.2, "stylus_radius", given_as="clearance")
    assert (clearance.tolerance, clearance.amount) == (0.1, 0.2)
    eye = joint_of("eye", 0.1, "stylus_radius", given_as="standard uncertainty", distribution="normal")
    assert (eye.tolerance, eye.amount, eye.standard_uncertainty) == (0.2, 0.1, 0.1)


def test_a_lever_turns_play_into_an_angle():
    joint = Joint("block", 0.5, "offset_angle", lever_mm=100.0)
    assert joint.unit == "mm"
    # Half a millimetre over a hundred is 5 mrad.
    assert stack([joint]).worst_case == pytest.approx(math.degrees(0.005), rel=1e-12)


def test_nothing_adds_up_across_dimensions():
    with pytest.raises(ValueError, match="one dimension only"):
        stack([Joint("a", 0.1, "effective_length"), Joint("b", 0.1, "offset_angle")])


REFUSED = {
    "no name": (lambda: Joint(" ", 0.1, "effective_length"), "needs a name"),
    "unknown dimension": (lambda: Joint("a", 0.1, "overhung"), "may bear on pivot_to_spindle"),
    "unknown distribution": (lambda: Joint("a", 0.1, "bearing", "uniform"), "use one of rectangular"),
    "negative": (lambda: Joint("a", -0.1, "bearing"), "0 or more"),
    "not finite": (lambda: Joint("a", math.inf, "bearing"), "finite"),
    "lever of a length": (lambda: Joint("a", 0.1, "effective_length", lever_mm=30.0), "effective_length is none"),
    "no lever": (lambda: Joint("a", 0.1, "bearing", lever_mm=0.0), "above 0 mm"),
    "spread of a rectangle": (
        lambda: Joint("a", 0.1, "bearing", given_as="standard uncertainty"),
        "give the tolerance of a rectangular one",
    ),
    "no joints": (lambda: GaugeChain("g", "mark", ()), "1 to 40 joints"),
    "twice one name": (
        lambda: GaugeChain("g", "mark", (Joint("a", 0.1, "bearing"), Joint("a", 0.2, "bearing"))),
        "two joints are named 'a'",
    ),
    "foreign dimension": (
        lambda: GaugeChain("g", "two nulls", (Joint("a", 0.1, "bearing"),)),
        "a: bearing plays no part where the gauge sets by 'two nulls'",
    ),
    "trace without an eye": (lambda: GaugeChain("g", "trace", (Joint("a", 0.1, "effective_length"),)), "trace_reading"),
    "trace at the overhang": (
        lambda: GaugeChain("g", "trace", (Joint("a", 0.1, "trace_reading"),), mark="overhang"),
        "groove radius",
    ),
    "unknown way": (lambda: GaugeChain("g", "eye", (Joint("a", 0.1, "bearing"),)), "'eye' is no way"),
    "unknown mark": (lambda: GaugeChain("g", "mark", (Joint("a", 0.1, "bearing"),), mark="null"), "no mark"),
    "no places": (lambda: GaugeChain("g", "mark", (Joint("a", 0.1, "bearing"),), places=1), "3 to 50 places"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_is_refused_in_one_sentence(case):
    make, words = REFUSED[case]
    with pytest.raises(ValueError, match=words):
        make()


def test_ready_chains_are_the_four_that_are_promised():
    assert list(READY_CHAINS) == ["single-point", "beam", "arc-trace", "two-null-plate"]
    beam = READY_CHAINS["beam"]
    # Each of the three joints of the beam's four parts shows in one or two directions, besides what is read by eye.
    joined = {joint.name.partition(",")[0] for joint in beam.joints if joint.given_as != "standard uncertainty"}
    assert {"Bush on the spindle", "Pointer on the pivot", "Block on the beam"} <= joined
    used = {joint.bears_on for chain in READY_CHAINS.values() for joint in chain.joints}
    assert used <= set(DIMENSIONS)


def test_eye_and_print_scale_of_the_ready_chains_are_the_ones_given():
    eye = next(joint for joint in arc_trace_gauge(0.07, places=5).joints if joint.bears_on == "trace_reading")
    assert eye.standard_uncertainty == pytest.approx(0.07, rel=1e-12)
    scale = two_null_plate(0.4, scale_uncertainty_percent=0.1).joints[0]
    assert (scale.nominal, scale.standard_uncertainty) == (0.4, 0.1)
