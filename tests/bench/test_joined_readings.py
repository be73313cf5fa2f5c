import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.estimate.joined_readings import join_readings
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity, Source


def mm(value, u, source):
    return Quantity.measured(value, "mm", standard_uncertainty=u, source=source)


def test_independent_readings_are_weighted_by_their_variances():
    joined = join_readings([mm(222.0, 0.3, "rule"), mm(222.4, 0.6, "caliper")], name="distance")
    # Weights 4 to 1.
    assert joined.quantity.value == pytest.approx(222.08)
    assert joined.quantity.standard_uncertainty == pytest.approx(math.sqrt(1 / (1 / 0.09 + 1 / 0.36)))
    assert joined.chi_square == pytest.approx(0.16 / 0.45)
    assert joined.agree
    assert joined.note == ""


def test_a_shared_source_does_not_shrink():
    shared = Source("zero of the rule")
    readings = [
        Quantity(value, "mm", {shared: 0.2, Source(f"reading {value}"): 0.1})
        for value in (222.0, 222.1, 222.05, 221.95)
    ]
    joined = join_readings(readings, name="distance").quantity
    assert joined.standard_uncertainty == pytest.approx(math.sqrt(0.2**2 + 0.1**2 / 4), rel=1e-6)


READINGS = st.lists(st.tuples(st.floats(-1, 1), st.floats(0.05, 2)), min_size=2, max_size=6)


@settings(max_examples=40, deadline=None)
@given(READINGS, st.floats(0, 1))
def test_an_equally_shared_error_leaves_the_weighted_mean_and_stays_whole(rows, common):
    shared = Source("common")
    readings = [
        Quantity(200 + value, "mm", {shared: common, Source(f"reading {k}"): u}) for k, (value, u) in enumerate(rows)
    ]
    joined = join_readings(readings, name="distance")
    weights = np.array([u**-2 for _, u in rows])
    values = np.array([200 + value for value, _ in rows])
    assert joined.quantity.value == pytest.approx(weights @ values / weights.sum(), abs=1e-9)
    if joined.agree:
        assert joined.quantity.standard_uncertainty == pytest.approx(math.sqrt(common**2 + 1 / weights.sum()))
    else:
        assert joined.quantity.standard_uncertainty > math.sqrt(common**2 + 1 / weights.sum())


@settings(max_examples=60, deadline=None)
@given(READINGS, st.lists(st.floats(0.01, 0.5), min_size=6, max_size=6), st.booleans(), st.randoms())
def test_unequal_shares_of_a_source_steer_no_weight(rows, own, has_own, chance):
    shared = Source("rule")
    readings = [
        Quantity(222 + value, "mm", {shared: part, **({Source(f"reading {k}"): own[k]} if has_own else {})})
        for k, (value, part) in enumerate(rows)
    ]
    joined = join_readings(readings, name="distance").quantity
    values = [reading.value for reading in readings]
    assert min(values) - 1e-9 <= joined.value <= max(values) + 1e-9
    assert joined.standard_uncertainty >= min(part for _, part in rows) * (1 - 1e-9)
    shuffled = readings.copy()
    chance.shuffle(shuffled)
    again = join_readings(shuffled, name="distance").quantity
    assert again.value == pytest.approx(joined.value, abs=1e-9)
    assert again.standard_uncertainty == pytest.approx(joined.standard_uncertainty, rel=1e-9)


def test_two_readings_with_one_rule_give_their_middle_and_keep_its_error():
    joined = join_readings([mm(222.0, 0.3, "rule"), mm(222.1, 0.29, "rule")], name="distance")
    assert joined.quantity.value == pytest.approx(222.05)
    # The rule's part of the mean, and s / sqrt(2) of two readings 0.1 apart.
    assert joined.quantity.standard_uncertainty == pytest.approx(math.hypot(0.295, 0.05))
    assert joined.agree


def test_the_scatter_of_readings_without_a_part_of_their_own_has_their_degrees_of_freedom():
    readings = [mm(value, 0.3, "rule") for value in (222.0, 222.3, 222.1)]
    components = join_readings(readings, name="distance").quantity.components
    assert components[Source("rule")] == pytest.approx(0.3)
    assert components[Source("scatter of 3 readings of the distance", 2)] == pytest.approx(
        np.std([0.0, 0.3, 0.1], ddof=1) / math.sqrt(3)
    )


def test_readings_by_one_gauge_are_joined_before_those_of_another():
    by_rule = [mm(value, 0.3, "rule") for value in (222.0, 222.2, 222.1)]
    joined = join_readings([*by_rule, mm(222.5, 0.4, "caliper")], name="distance").quantity
    of_rule = 0.3**2 + 0.1**2 / 3
    weight = 0.4**2 / (of_rule + 0.4**2)
    assert joined.value == pytest.approx(222.1 * weight + 222.5 * (1 - weight))
    assert joined.standard_uncertainty == pytest.approx(math.sqrt(1 / (1 / of_rule + 1 / 0.4**2)))


def test_a_reading_that_hardly_bears_a_shared_error_counts_for_more_and_none_counts_below_zero():
    distance = Source("distance")
    direct = Quantity(0.9, "mm", {distance: -0.93, Source("direct"): 0.1})
    overhang = Quantity(0.0, "mm", {distance: 0.07, Source("overhang"): 0.1})
    joined = join_readings([direct, overhang], name="length")
    assert joined.agree
    assert 0 < joined.quantity.value < 0.05
    assert joined.quantity.standard_uncertainty < overhang.standard_uncertainty


@pytest.mark.parametrize("stated", [True, False], ids=["own part stated", "own part seen in the scatter only"])
def test_intervals_of_joined_readings_hold_the_truth_as_often_as_they_say(stated):
    generator = np.random.default_rng(20)
    sets, held = 1000, 0
    for _ in range(sets):
        shared_error = 0.2 * generator.normal()
        count = int(generator.integers(3, 7))
        readings = [
            Quantity(
                222 + shared_error + 0.15 * generator.normal(),
                "mm",
                {Source("rule"): 0.2, **({Source(f"reading {k}"): 0.15} if stated else {})},
            )
            for k in range(count)
        ]
        low, high = coverage_interval(join_readings(readings, name="distance").quantity)
        held += low <= 222 <= high
    assert 0.93 <= held / sets <= 0.97


def test_disagreement_is_reported_and_widens():
    joined = join_readings([mm(222.0, 0.1, "rule"), mm(223.0, 0.1, "caliper")], name="pivot-to-spindle distance")
    assert not joined.agree
    assert "disagree" in joined.note
    assert "222.00 mm" in joined.note
    assert "223.00 mm" in joined.note
    # s / sqrt(2) of two readings 1 apart, beside the 0.0707 of the weighted mean.
    assert joined.quantity.standard_uncertainty == pytest.approx(math.hypot(0.5, 0.1 / math.sqrt(2)))


def test_exact_readings_that_differ_disagree_and_equal_ones_agree():
    apart = join_readings([Quantity.exact(222.0, "mm"), Quantity.exact(222.2, "mm")], name="distance")
    assert not apart.agree
    assert apart.quantity.standard_uncertainty == pytest.approx(0.1)
    assert join_readings([Quantity.exact(222.0, "mm")] * 2, name="distance").agree


@pytest.mark.parametrize(("apart_mm", "agree"), [(0.05, True), (0.4, True), (0.9, True), (1.2, False)])
def test_readings_with_one_gauge_disagree_only_beyond_what_its_error_could_explain(apart_mm, agree):
    joined = join_readings([mm(222.0, 0.3, "rule"), mm(222.0 + apart_mm, 0.3, "rule")], name="distance")
    # 5 % of two independent readings of 0.3 lie further apart than 1.96 x 0.424 = 0.83.
    assert joined.agree is agree


def test_an_unknown_uncertainty_among_them_leaves_the_plain_mean():
    unknown = Quantity.unknown_uncertainty(222.4, "mm", why="none was stated")
    joined = join_readings([mm(222.0, 0.3, "rule"), unknown], name="distance")
    assert joined.quantity.value == pytest.approx(222.2)
    assert joined.quantity.standard_uncertainty is None
    assert joined.chi_square is None
    assert "plain mean" in joined.note


def test_one_reading_is_itself_and_none_or_mixed_units_are_refused():
    single = mm(222.0, 0.3, "rule")
    assert join_readings([single], name="distance").quantity == single
    with pytest.raises(ValueError, match="no reading of the distance"):
        join_readings([], name="distance")
    with pytest.raises(ValueError, match="deg and mm"):
        join_readings([single, Quantity.exact(1, "deg")], name="distance")
