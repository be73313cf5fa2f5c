import math
import tomllib
from pathlib import Path
from statistics import NormalDist

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from groovewright.measurement.conformity import (
    IN_TOLERANCE,
    ONE_SIDED_95_PERCENT,
    OUT_OF_TOLERANCE,
    UNDECIDED,
    DecisionRule,
    Tolerance,
    decide,
    probability_of_conformity,
)
from groovewright.measurement.quantity import Quantity

PUBLISHED = tomllib.loads(
    (Path(__file__).parents[1] / "published" / "measurement_jcgm106.toml").read_text(encoding="utf-8")
)
KINDS = ("guarded acceptance", "simple acceptance", "guarded rejection")


def reading(value, u, dof=math.inf, unit="mm"):
    return Quantity.measured(value, unit, standard_uncertainty=u, source="gauge", degrees_of_freedom=dof)


@pytest.mark.parametrize("row", PUBLISHED["quantile"], ids=lambda row: str(row["probability"]))
def test_guard_factor_of_a_maximum_risk_is_the_printed_quantile(row):
    rule = DecisionRule.of_maximum_risk(1 - row["probability"])
    assert rule.guard_factor == pytest.approx(row["z"], abs=PUBLISHED["quantile_tolerance"]["z"])


@pytest.mark.parametrize("row", PUBLISHED["conformity"], ids=lambda row: row["clause"])
def test_probability_of_conformity_is_the_printed_one(row):
    probability = probability_of_conformity(
        reading(row["value"], row["standard_uncertainty"]), Tolerance(row.get("lower"), row.get("upper"), "mm")
    )
    assert probability == pytest.approx(row["probability"], abs=PUBLISHED["conformity_tolerance"]["probability"])


def test_speed_is_acted_upon_from_the_printed_reading_on():
    row = PUBLISHED["speeding"]
    rule = DecisionRule.of_maximum_risk(row["risk"], "guarded rejection")

    def outcome(speed):
        u = row["relative_standard_uncertainty"] * speed
        return decide(reading(speed, u, unit="km/h"), Tolerance(None, row["limit_km_h"], "km/h"), rule).outcome

    half_digit = row["printed_to_km_h"] / 2
    assert outcome(row["act_above_km_h"] - half_digit) == UNDECIDED
    assert outcome(row["act_above_km_h"] + half_digit) == OUT_OF_TOLERANCE
    assert outcome(99.0) == IN_TOLERANCE


BAND = PUBLISHED["guard_band"]
BAND_RULE = DecisionRule("guarded acceptance", BAND["coverage_factor"])
BAND_TOLERANCE = Tolerance(BAND["lower"], BAND["upper"], "mm")


@pytest.mark.parametrize("row", BAND["row"], ids=lambda row: str(row["value"]))
def test_guard_band_rule_decides_as_published(row):
    u = BAND["expanded_uncertainty"] / BAND["coverage_factor"]
    assert decide(reading(row["value"], u), BAND_TOLERANCE, BAND_RULE).outcome == row["outcome"]


def test_zone_of_acceptance_has_the_published_ends():
    u = BAND["expanded_uncertainty"] / BAND["coverage_factor"]
    for end, inward in zip(BAND["zone"], (1, -1), strict=True):
        just_inside, just_outside = end + inward * BAND["zone_tolerance"], end - inward * BAND["zone_tolerance"]
        assert decide(reading(just_inside, u), BAND_TOLERANCE, BAND_RULE).outcome == IN_TOLERANCE
        assert decide(reading(just_outside, u), BAND_TOLERANCE, BAND_RULE).outcome == UNDECIDED


def test_default_rule_is_guarded_acceptance_at_one_sided_95_percent():
    assert DecisionRule() == DecisionRule("guarded acceptance", ONE_SIDED_95_PERCENT)
    assert stats.norm.cdf(DecisionRule().guard_factor) == pytest.approx(0.95, abs=1e-14)


@pytest.mark.parametrize("kind", KINDS)
def test_unknown_uncertainty_is_not_shown_under_every_rule_with_the_reason(kind):
    measured = Quantity.unknown_uncertainty(10.0, "mm", why="no certificate of the rule")
    verdict = decide(measured, Tolerance(9.0, 11.0, "mm"), DecisionRule(kind))
    assert verdict.outcome == UNDECIDED
    assert verdict.probability_of_conformity is None
    assert "no certificate of the rule" in verdict.reason


@pytest.mark.parametrize(
    ("kind", "value", "outcome"),
    [
        ("simple acceptance", 10.49, IN_TOLERANCE),
        ("simple acceptance", 10.51, OUT_OF_TOLERANCE),
        ("guarded acceptance", 10.2, IN_TOLERANCE),
        ("guarded acceptance", 10.4, UNDECIDED),
        ("guarded acceptance", 10.6, UNDECIDED),
        ("guarded acceptance", 10.8, OUT_OF_TOLERANCE),
        ("guarded rejection", 10.4, IN_TOLERANCE),
        ("guarded rejection", 10.6, UNDECIDED),
        ("guarded rejection", 10.8, OUT_OF_TOLERANCE),
    ],
)
def test_each_rule_has_its_zones(kind, value, outcome):
    assert decide(reading(value, 0.1), Tolerance(9.5, 10.5, "mm"), DecisionRule(kind, 2.0)).outcome == outcome


def test_few_repeats_widen_the_guard_band_to_the_t_quantile():
    few, tolerance = reading(10.0, 0.1, dof=3), Tolerance(None, 10.2, "mm")
    assert DecisionRule().guard_band(few) == pytest.approx(0.1 * stats.t.ppf(0.95, 3), rel=1e-9)
    assert probability_of_conformity(few, tolerance) == pytest.approx(stats.t.cdf(2, 3), rel=1e-12)
    assert decide(few, tolerance, DecisionRule()).outcome == UNDECIDED
    assert decide(reading(10.0, 0.1), tolerance, DecisionRule()).outcome == IN_TOLERANCE


def test_tolerance_narrower_than_the_guard_bands_can_never_be_shown():
    verdict = decide(reading(10.0, 0.1), Tolerance(9.9, 10.1, "mm"), DecisionRule())
    assert verdict.outcome == UNDECIDED
    assert "measure better" in verdict.reason


def test_maximum_risk_counts_both_limits_where_the_guard_band_counts_one():
    # 1.7 standard uncertainties to each limit: 4.5 % beyond one of them, 8.9 % beyond either.
    middle, tolerance = reading(10.0, 0.1), Tolerance(9.83, 10.17, "mm")
    assert decide(middle, tolerance, DecisionRule()).outcome == IN_TOLERANCE
    assert decide(middle, tolerance, DecisionRule.of_maximum_risk(0.05)).outcome == UNDECIDED
    assert decide(middle, tolerance, DecisionRule.of_maximum_risk(0.10)).outcome == IN_TOLERANCE


def test_a_reason_never_blames_the_guard_band_for_what_the_risk_forbids():
    verdict = decide(reading(0.0, 0.6), Tolerance(-1, 1, "mm"), DecisionRule.of_maximum_risk(0.05))
    assert (verdict.outcome, 1 - verdict.probability_of_conformity > 0.05) == (UNDECIDED, True)
    assert "by the guard band of 0.99 mm, but with both limits so near" in verdict.reason
    near_a_limit = decide(reading(0.9, 0.2), Tolerance(-1, 1, "mm"), DecisionRule.of_maximum_risk(0.05))
    assert "but not by the guard band of 0.33 mm" in near_a_limit.reason


def test_guarded_rejection_states_a_risk_for_rejection_only():
    sentence = DecisionRule.of_maximum_risk(0.05, "guarded rejection").describe()
    assert "out only if outside them by 1.64 standard uncertainties, the latter with a risk of at most 5 %" in sentence
    assert decide(reading(0.99, 0.5), Tolerance(-1, 1, "mm"), DecisionRule.of_maximum_risk(0.05, KINDS[2])).outcome == (
        IN_TOLERANCE
    )


def test_an_exact_value_needs_no_guard_band_in_its_reason():
    verdict = decide(Quantity.exact(1.4, "mm"), Tolerance(-1, 1, "mm"), DecisionRule())
    assert (verdict.outcome, verdict.reason) == (OUT_OF_TOLERANCE, "1.4 mm (exact) lies outside -1 to 1 mm.")


def test_exact_quantity_is_certain():
    exact = Quantity.exact(10.0, "mm")
    assert decide(exact, Tolerance(9, 11, "mm"), DecisionRule()).probability_of_conformity == 1.0
    assert decide(exact, Tolerance(11, 12, "mm"), DecisionRule()).outcome == OUT_OF_TOLERANCE
    assert decide(exact, Tolerance(10, 12, "mm"), DecisionRule()).outcome == IN_TOLERANCE


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Tolerance(None, None, "mm"), "a lower limit, an upper limit or both"),
        (lambda: Tolerance(2, 1, "mm"), "must be below"),
        (lambda: Tolerance(math.nan, 1, "mm"), "finite"),
        (lambda: DecisionRule("shared risk"), "use one of guarded acceptance"),
        (lambda: DecisionRule(guard_factor=-1), "0 to 10"),
        (lambda: DecisionRule(guard_factor=math.nan), "0 to 10"),
        (lambda: DecisionRule.of_maximum_risk(0.7), "between 0 and 0.5"),
        (lambda: decide(reading(1, 1), Tolerance(0, 1, "in"), DecisionRule()), "give both in one unit"),
    ],
)
def test_what_has_no_meaning_is_refused(make, message):
    with pytest.raises(ValueError, match=message):
        make()


@pytest.mark.parametrize("kind", KINDS)
def test_every_rule_describes_itself_in_one_sentence(kind):
    text = DecisionRule.of_maximum_risk(0.05, kind).describe()
    assert text.lower().startswith(kind)
    assert text.endswith(".")
    if kind != "simple acceptance":
        assert "1.64 standard uncertainties" in text
        assert "5 %" in text


values = st.floats(-20, 20)
uncertainties = st.floats(1e-3, 5)
dofs = st.sampled_from([1, 2.5, 9, math.inf])


@settings(max_examples=60)
@given(value=values, further=st.floats(0, 5), u=uncertainties, dof=dofs)
def test_moving_away_from_the_middle_never_makes_conformity_likelier(value, further, u, dof):
    tolerance = Tolerance(-3.0, 3.0, "mm")
    outward = math.copysign(abs(value) + further, value)
    near = probability_of_conformity(reading(value, u, dof), tolerance)
    assert probability_of_conformity(reading(outward, u, dof), tolerance) <= near + 1e-12


@settings(max_examples=60)
@given(value=values, u=uncertainties, factors=st.tuples(st.floats(0, 4), st.floats(0, 4)), kind=st.sampled_from(KINDS))
def test_a_wider_guard_band_never_says_more(value, u, factors, kind):
    tolerance = Tolerance(-3.0, 3.0, "mm")
    narrow, wide = (decide(reading(value, u), tolerance, DecisionRule(kind, f)).outcome for f in sorted(factors))
    assert wide in (narrow, UNDECIDED)


@settings(max_examples=60)
@given(value=values, u=uncertainties, risk=st.floats(0.001, 0.4))
def test_a_verdict_under_a_maximum_risk_is_wrong_no_more_often(value, u, risk):
    verdict = decide(reading(value, u), Tolerance(-1.0, 2.0, "mm"), DecisionRule.of_maximum_risk(risk))
    exact = NormalDist(value, u)
    inside = exact.cdf(2.0) - exact.cdf(-1.0)
    assert verdict.probability_of_conformity == pytest.approx(inside, abs=1e-12)
    if verdict.outcome == IN_TOLERANCE:
        assert 1 - inside <= risk + 1e-9
    if verdict.outcome == OUT_OF_TOLERANCE:
        assert inside <= risk + 1e-9
