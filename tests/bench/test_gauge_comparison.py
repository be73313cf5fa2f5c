import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.gauging.gauge_comparison import GaugeTarget, compare_gauges, judge_gauge
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.gauge_chain import GaugeChain, Joint
from groovewright.gauges.ready_chains import READY_CHAINS
from groovewright.measurement.conformity import IN_TOLERANCE, UNDECIDED, DecisionRule, decide
from groovewright.measurement.quantity import Quantity

TARGETS = choose_targets(TargetRequest(Quantity.exact(222.0, "mm"), "minimax", 60.325, 146.05))
TARGET = GaugeTarget(TARGETS)


def plain(length_mm, angle_deg, name="Plain"):
    """Return a gauge whose errors are normal with these standard uncertainties and nothing else."""
    return GaugeChain(
        name,
        "mark",
        (
            Joint("length", 2 * length_mm, "effective_length", "normal"),
            Joint("angle", 2 * angle_deg, "offset_angle", "normal"),
        ),
        mark="overhang",
    )


def test_the_share_shown_is_what_simulated_set_ups_are_judged():
    # A hundred thousand decks in tolerance, read with the gauge's error, each judged by the rule itself.
    chain, draws = plain(0.12, 0.1), 20_000
    answer = judge_gauge(chain, TARGET, draws=100_000)
    rng = np.random.default_rng(8)
    shown = 0
    for _ in range(draws):
        both = True
        for key, limit, u in (("effective_length", 0.5, 0.12), ("zenith", 0.5, 0.1)):
            tolerance = TARGET.tolerance(key)
            read = rng.uniform(-limit, limit) + rng.normal(0, u)
            measured = Quantity.measured(read, tolerance.unit, standard_uncertainty=u, source="gauge")
            both &= decide(measured, tolerance, TARGET.rule).outcome == IN_TOLERANCE
        shown += both
    # Four standard deviations of the simulation's count.
    assert answer.share_shown == pytest.approx(shown / draws, abs=4 * (0.25 / draws) ** 0.5)


def test_a_perfect_gauge_shows_everything_and_a_coarse_one_nothing():
    perfect = judge_gauge(plain(0.0, 0.0), TARGET)
    assert perfect.share_shown == pytest.approx(1.0, abs=1e-9)
    assert perfect.is_good_enough
    coarse = judge_gauge(plain(0.5, 0.5), TARGET)
    assert coarse.share_shown == 0
    assert coarse.length.perfect_deck.outcome == UNDECIDED
    assert "Not good enough. Effective length:" in coarse.answer
    assert "'length' makes" in coarse.answer


def test_one_setting_too_coarse_is_enough_to_fail():
    answer = judge_gauge(plain(0.05, 0.4), TARGET)
    assert answer.length.is_shown
    assert not answer.is_good_enough
    assert answer.answer.startswith("Not good enough. Zenith:")


@settings(max_examples=25, deadline=None)
@given(st.floats(0.02, 0.6), st.sampled_from(["guarded acceptance", "simple acceptance", "guarded rejection"]))
def test_the_largest_uncertainty_parts_gauges_that_show_a_perfect_deck_from_those_that_do_not(u, kind):
    target = replace(TARGET, rule=DecisionRule.of_maximum_risk(0.05, kind))
    setting = judge_gauge(plain(u, 0.05), target, draws=20_000).length
    # Twice the limit is as far as is looked: simple acceptance and guarded rejection take any uncertainty.
    if kind == "guarded acceptance":
        assert 0.2 < setting.largest_uncertainty < 0.5
        assert setting.is_shown == (setting.perfect_deck.measured.standard_uncertainty <= setting.largest_uncertainty)
    else:
        assert setting.is_shown
        assert setting.largest_uncertainty == pytest.approx(1.0, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.01, 0.2), st.floats(1.05, 2.0))
def test_more_play_never_shows_more(u, more):
    finer, coarser = (judge_gauge(plain(x, 0.1), TARGET, draws=20_000).share_shown for x in (u, more * u))
    # The same seed stands behind both, so nothing but the play tells them apart.
    assert coarser <= finer + 1e-9


def test_a_known_error_that_nobody_takes_off_is_said():
    chain = GaugeChain("Long", "mark", (Joint("scale", 0.02, "effective_length", nominal=0.9),), mark="overhang")
    answer = judge_gauge(chain, TARGET)
    assert not answer.is_good_enough
    assert "what is known to be off and was left so, +0.9 mm" in answer.answer


def test_gauges_are_ranked_by_what_they_could_show():
    compared = compare_gauges([plain(0.6, 0.6, "Coarse"), plain(0.05, 0.05, "Fine"), plain(0.1, 0.1, "Middle")], TARGET)
    assert [answer.chain.name for answer in compared.ranked] == ["Fine", "Middle", "Coarse"]
    shares = [answer.share_shown for answer in compared.ranked]
    assert shares == sorted(shares, reverse=True)


def test_as_json_is_plain_and_finite():
    compared = compare_gauges(list(READY_CHAINS.values()), TARGET, draws=20_000)
    found = json.loads(json.dumps(compared.as_json(), allow_nan=False))
    assert [gauge["name"] for gauge in found["gauges"]] == [answer.chain.name for answer in compared.ranked]
    for gauge in found["gauges"]:
        assert set(gauge["figures"]["overhang"]) == {
            "value",
            "unit",
            "standard_uncertainty",
            "worst_case",
            "root_sum_square",
            "interval_95_percent",
        }
        assert gauge["good_enough"] == gauge["answer"].startswith("Good enough")


def test_what_cannot_be_compared_is_refused():
    with pytest.raises(ValueError, match="no gauge to compare"):
        compare_gauges([], TARGET)
    with pytest.raises(ValueError, match="two gauges are named 'Plain'"):
        compare_gauges([plain(0.1, 0.1), plain(0.2, 0.1)], TARGET)
    with pytest.raises(ValueError, match="above 0"):
        GaugeTarget(TARGETS, length_limit_mm=0.0)
    tangential = choose_targets(TargetRequest(None, "minimax", 60.325, 146.05, arm_kind="tangential"))
    with pytest.raises(ValueError, match="tangential"):
        GaugeTarget(tangential)
