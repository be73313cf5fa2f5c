"""What the bench says of the seven settings."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from groovewright.bench.estimate.deck_state import BenchInputs, bench_state
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation, predict
from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.estimate.settings import SETTING_KEYS, settings_jacobian, settings_of
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.scale_drift import ScaleDrift
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, DecisionRule
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_state import STATE, Adjustments, ArmState

DISTANCE = Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="steel rule")
CHOSEN = choose_targets(TargetRequest(DISTANCE, "minimax", 60.325, 146.05))
TARGETS = setting_targets(CHOSEN, force_range_mn=(16.0, 20.0))
BUILD = usual_build(TARGETS.geometry)
SURE = Adjustments()


def reading(kind, value, uncertainty, order, **more):
    label = more.pop("label", f"{kind}, reading {order}")
    unit = KINDS_OF_READING[kind].unit
    quantity = Quantity.measured(value, unit, standard_uncertainty=uncertainty, source=f"gauge of {label}")
    return Observation(kind, quantity, order, label, **more)


ALL_READ = (
    Observation("pivot_to_spindle", DISTANCE, 1, "distance"),
    reading("overhang", 17.3, 0.05, 2),
    reading("zenith_error", 0.05, 0.1, 3),
    reading("tracking_force", 18.1, 0.1, 4),
    reading("side_force_rest", -0.1, 0.1, 5),
    reading("azimuth_rotation", 0.1, 0.1, 6),
    reading("stylus_rake_angle", 92.1, 0.2, 7),
    reading("vertical_tracking_angle", 22.3, 0.4, 8),
)


def bench(*observations, **more):
    return bench_state(BenchInputs(TARGETS, BUILD, observations, **more))


def test_a_deck_that_is_read_well_and_stands_well_is_in_tolerance():
    state = bench(*ALL_READ)
    assert {setting.verdict.outcome for setting in state.settings} == {IN_TOLERANCE}
    assert [setting.key for setting in state.settings] == list(SETTING_KEYS)
    assert not any(setting.stale for setting in state.settings)
    assert (state.outliers, state.notes) == ((), ())


def test_nothing_is_read_at_first_and_nothing_is_in_tolerance():
    state = bench()
    assert all(setting.quantity is None and setting.verdict is None for setting in state.settings)
    assert state.probability_all_conform is None
    assert set(state.state) == set(STATE)
    # What to read first is told all the same.
    assert all(setting.helps_most for setting in state.settings)


def test_a_setting_that_rests_on_what_is_usual_alone_is_not_read():
    # A distance alone tells next to nothing of the length, and a friction coefficient nothing of the compensation.
    state = bench(ALL_READ[0], reading("friction_coefficient", 0.3, 0.02, 2))
    assert state.setting("effective_length").quantity is None
    assert state.setting("side_force").quantity is None
    # A very tight prior is still no reading.
    tight = {"azimuth_deg": Quantity.measured(0.0, "deg", standard_uncertainty=0.01, source="last visit")}
    assert bench(priors=tight).setting("azimuth").quantity is None


def test_side_force_without_a_reading_of_friction_is_dominated_by_it():
    state = bench(*ALL_READ[:4], reading("compensation_force", 1.9, 0.05, 9))
    side = state.setting("side_force")
    # mu N sin(psi) - compensation, with 0.2 to 0.4 of mu: 0.0577 x 18.1 x 0.376.
    assert side.quantity.standard_uncertainty == pytest.approx(np.hypot(0.0577 * 18.1 * 0.376, 0.05), rel=0.01)
    assert side.dominated_by.startswith("friction coefficient of stylus and groove")
    assert side.dominating_share > 0.9
    assert side.further.kind in {"side_force_rest", "friction_coefficient"}


def test_a_reading_of_unknown_uncertainty_is_left_out_and_named():
    unknown = Quantity.unknown_uncertainty(0.2, "deg", why="none was stated with the entry")
    state = bench(*ALL_READ[:5], Observation("azimuth_rotation", unknown, 6, "azimuth by eye"))
    assert state.setting("azimuth").quantity is None
    assert state.setting("effective_length").verdict.outcome == IN_TOLERANCE
    (note,) = state.notes
    assert note.startswith("azimuth by eye is left out")
    assert "none was stated with the entry" in note


def test_shares_say_what_a_setting_rests_on():
    state = bench(*ALL_READ, reading("tracking_force", 18.0, 0.2, 9, label="second scale"))
    first, second = state.setting("tracking_force").rests_on
    # Weights are as one over the variance: 1 / 0.01 beside 1 / 0.04.
    assert (first.label, second.label) == ("tracking_force, reading 4", "second scale")
    assert first.share == pytest.approx(0.8, abs=0.001)
    assert second.share == pytest.approx(0.2, abs=0.001)
    assert state.setting("tracking_force").dominated_by == "gauge of tracking_force, reading 4"


def test_an_overhang_is_hardly_hurt_by_the_distance():
    length = bench(*ALL_READ).setting("effective_length")
    assert length.rests_on[0].label == "overhang, reading 2"
    # The error of the distance bears on length and target alike: 1 - 0.928 of it is left.
    left = np.hypot(0.05, (1 - TARGETS.length_slope) * 0.3)
    assert length.quantity.standard_uncertainty == pytest.approx(left, rel=0.01)


@pytest.mark.parametrize("key", SETTING_KEYS)
def test_the_reading_that_helps_most_leaves_what_it_says(key):
    state = bench(*ALL_READ)
    further = state.setting(key).further
    assert further is not None
    # Whatever it shows, the uncertainty that it leaves is the same; so let it show what is expected.
    stands = ArmState(*(state.state[name].value for name in STATE))
    shown = predict(further.kind, stands, TARGETS, radius_mm=further.radius_mm).value
    where = {} if further.radius_mm is None else {"radius_mm": further.radius_mm}
    more = reading(further.kind, shown, further.typical_uncertainty, 20, **where)
    left = bench(*ALL_READ, more).setting(key).quantity.standard_uncertainty
    assert left == pytest.approx(further.leaves, rel=1e-4)


def test_a_slide_makes_stale_what_it_changes_until_that_is_read_again():
    move = Move(Adjustments(slide_mm=0.8), Adjustments(slide_mm=0.12), 10, "move 1")
    state = bench(*ALL_READ, moves=(move,))
    assert {setting.key for setting in state.settings if setting.stale} == {
        "effective_length",
        "tracking_force",
        # By a twentieth of a millinewton, since the force and the groove angle grow.
        "side_force",
        "zenith",
    }
    force = state.setting("tracking_force")
    assert force.why_stale.startswith("Move 1 moved it by about")
    assert "g (" in force.why_stale
    again = (reading("tracking_force", 18.25, 0.1, 11), reading("effective_length_error", 0.7, 0.1, 12))
    read_again = bench(*ALL_READ, *again, moves=(move,))
    assert {setting.key for setting in read_again.settings if setting.stale} == {"zenith"}


def test_a_hand_that_may_have_slipped_makes_stale_without_any_shift():
    move = Move(SURE, Adjustments(compensation_mn=0.3), 10, "move 1")
    state = bench(*ALL_READ, moves=(move,))
    assert [setting.key for setting in state.settings if setting.stale] == ["side_force"]
    assert state.setting("side_force").quantity.standard_uncertainty == pytest.approx(np.hypot(0.1, 0.3), rel=0.01)
    assert state.setting("side_force").dominated_by == "the hand setting the compensation, move 1"


def test_a_move_carries_the_state_along():
    move = Move(Adjustments(compensation_mn=0.5), Adjustments(compensation_mn=0.05), 10, "move 1")
    before, after = (bench(*ALL_READ, moves=moves).setting("side_force").quantity for moves in ((), (move,)))
    assert after.value == pytest.approx(before.value - 0.5, abs=1e-3)
    assert after.standard_uncertainty == pytest.approx(np.hypot(before.standard_uncertainty, 0.051), rel=0.01)


def test_a_reading_that_disagrees_is_named_with_both_figures():
    slip = reading("overhang", 18.3, 0.05, 9, label="overhang, beam gauge")
    third = reading("overhang", 17.28, 0.05, 10)
    state = bench(*ALL_READ, slip, third)
    (outlier,) = state.outliers
    assert outlier.startswith("overhang, beam gauge: the overhang of 18.300 mm ± 0.050 mm disagrees")
    assert "17.29" in outlier
    residual = next(one for one in state.residuals if one.label == "overhang, beam gauge")
    assert residual.in_uncertainties == pytest.approx((18.3 - 17.29) / np.hypot(0.05, 0.05 / np.sqrt(2)), rel=0.01)
    # It has drawn the mean of three by a third of a millimetre, which nobody can rely on now.
    drawn = state.setting("effective_length").quantity
    assert drawn.standard_uncertainty == pytest.approx((18.3 - 17.29) / 3, rel=0.02)
    assert state.setting("effective_length").verdict.outcome == UNDECIDED


def test_a_slip_of_typing_is_told_from_a_disagreement():
    state = bench(reading("tracking_force", 181.0, 0.1, 1))
    (outlier,) = state.outliers
    assert "far from what is usual" in outlier
    assert state.setting("tracking_force").verdict.outcome != IN_TOLERANCE


@pytest.mark.parametrize(("kind", "value"), [("overhang", 173.0), ("pivot_to_spindle", 22.2)])
def test_a_slip_that_no_arm_fits_is_refused_by_its_name(kind, value):
    slip = reading(kind, value, 0.05, 2, label="mistyped")
    others = [one for one in ALL_READ if one.kind != kind]
    with pytest.raises(ValueError, match="The least likely of them is mistyped"):
        bench(slip, *others)


def test_honest_readings_raise_an_alarm_in_one_job_of_twenty_at_most():
    generator, alarms, jobs = np.random.default_rng(3), 0, 200
    for _ in range(jobs):
        readings = [
            reading(kind, value + spread * generator.normal(), spread, order)
            for order, (kind, value, spread) in enumerate(
                [("overhang", 17.3, 0.1)] * 4
                + [("tracking_force", 18.0, 0.1)] * 4
                + [("azimuth_rotation", 0.2, 0.1)] * 2
            )
        ]
        alarms += bool(bench(ALL_READ[0], *(replace(one, order=one.order + 2) for one in readings)).outliers)
    # 5 %, and three standard deviations of a count of 200.
    assert alarms <= jobs * 0.05 + 3 * np.sqrt(jobs * 0.05 * 0.95)


def test_a_disagreement_that_few_repeats_explain_is_none():
    few = Quantity(18.6, "mN", {Source("three repeats", 2): 0.1})
    sure = Quantity(18.6, "mN", {Source("many repeats"): 0.1})
    named = [
        bench(*ALL_READ, Observation("tracking_force", quantity, 9, "second scale")).outliers
        for quantity in (few, sure)
    ]
    assert [len(outliers) for outliers in named] == [0, 1]


def test_a_scale_that_drifted_is_an_outlier():
    change = Quantity.measured(0.4, "mN", standard_uncertainty=0.05, source="both checks")
    drifted = bench(*ALL_READ, scale_drift=ScaleDrift(change, True, "Scale 2 drifted by +0.041 g."))
    steady = bench(*ALL_READ, scale_drift=ScaleDrift(change, False, "No drift of scale 2 is shown."))
    assert drifted.outliers == (
        "The scale check after the job disagrees with the one before. Scale 2 drifted by +0.041 g.",
    )
    assert steady.outliers == ()


def test_exact_readings_that_contradict_each_other_are_named():
    exact = [
        Observation("azimuth_rotation", Quantity.exact(at, "deg"), k, f"azimuth {k}") for k, at in ((9, 0.1), (10, 0.2))
    ]
    state = bench(*ALL_READ[:5], *exact)
    assert any("azimuth 9, azimuth 10" in outlier for outlier in state.outliers)


def test_the_probability_of_all_is_that_of_draws_from_the_state():
    wide = tuple(
        replace(
            one, quantity=replace(one.quantity, components={s: 2.5 * c for s, c in one.quantity.components.items()})
        )
        for one in ALL_READ
    )
    state = bench(*wide)
    generator = np.random.default_rng(5)
    sources = {source for quantity in state.state.values() for source in quantity.components}
    unit = {source: generator.normal(size=200_000) for source in sources}
    quantities = [setting.quantity for setting in state.settings]
    kept = np.ones(200_000, dtype=bool)
    for setting in state.settings:
        drawn = setting.quantity.value - sum(
            part * unit[source] for source, part in setting.quantity.components.items()
        )
        kept &= (setting.tolerance.lower <= drawn) & (drawn <= setting.tolerance.upper)
    assert len(quantities) == 7
    # Standard error of 200,000 draws, and the stated error of our own computation.
    assert state.probability_all_conform == pytest.approx(
        kept.mean(), abs=4 * 0.5 / np.sqrt(200_000) + state.probability_error
    )
    assert 0.1 < state.probability_all_conform < 0.9


def test_settings_follow_from_the_state_with_its_covariance():
    state = bench(*ALL_READ)
    stands = ArmState(*(state.state[name].value for name in STATE))
    np.testing.assert_allclose(
        [setting.quantity.value for setting in state.settings], settings_of(stands, TARGETS), atol=1e-12
    )
    slopes = settings_jacobian(stands, TARGETS)
    sources = {source for quantity in state.state.values() for source in quantity.components}
    for setting, slope in zip(state.settings, slopes, strict=True):
        for source in sources:
            through = sum(
                k * state.state[name].components.get(source, 0.0) for k, name in zip(slope, STATE, strict=True)
            )
            assert setting.quantity.components.get(source, 0.0) == pytest.approx(through, abs=1e-9)


def test_a_rule_decides_every_verdict():
    simple = bench(*ALL_READ[:3], reading("azimuth_rotation", 0.6, 0.1, 6), rule=DecisionRule("simple acceptance"))
    assert simple.setting("azimuth").verdict.outcome == OUT_OF_TOLERANCE
    assert bench(reading("azimuth_rotation", 0.6, 0.1, 6)).setting("azimuth").verdict.outcome == UNDECIDED


def test_without_a_makers_range_the_force_has_a_value_and_no_verdict():
    targets = setting_targets(CHOSEN)
    state = bench_state(BenchInputs(targets, BUILD, ALL_READ))
    force = state.setting("tracking_force")
    assert force.quantity.value == pytest.approx(18.1, abs=0.01)
    assert (force.aim, force.tolerance, force.verdict) == (None, None, None)
    assert state.probability_all_conform is None


def test_json_is_plain_and_complete():
    move = Move(Adjustments(slide_mm=0.8), Adjustments(slide_mm=0.12), 10, "move 1")
    plain = json.loads(json.dumps(bench(*ALL_READ, moves=(move,)).as_json(), allow_nan=False))
    assert [setting["key"] for setting in plain["settings"]] == list(SETTING_KEYS)
    assert plain["settings"][0]["quantity"].keys() == {"value", "unit", "standard_uncertainty"}
    assert plain["settings"][1]["stale"] is True
    assert json.dumps(bench().as_json(), allow_nan=False)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"observations": (ALL_READ[0], ALL_READ[0])}, "two readings are labelled"),
        ({"moves": (Move(SURE, SURE, 3, "a"), Move(SURE, SURE, 4, "a"))}, "two moves are labelled"),
        ({"moves": (Move(SURE, SURE, 3, "a"), Move(SURE, SURE, 3, "b"))}, "two moves have the order"),
        ({"observations": ALL_READ, "moves": (Move(SURE, SURE, 3, "a"),)}, "before it or after"),
    ],
)
def test_what_does_not_tell_readings_and_moves_apart_is_refused(change, why):
    with pytest.raises(ValueError, match=why):
        BenchInputs(TARGETS, BUILD, **change)


@pytest.mark.parametrize(
    ("priors", "why"),
    [
        ({"overhang_mm": Quantity.exact(17.0, "mm")}, "nothing that an arm's state holds"),
        ({"azimuth_deg": Quantity.exact(0.0, "mm")}, "must be given in deg"),
        ({"azimuth_deg": Quantity.unknown_uncertainty(0.0, "deg", why="not stated")}, "has no uncertainty"),
    ],
)
def test_an_impossible_prior_is_refused(priors, why):
    with pytest.raises(ValueError, match=why):
        bench(priors=priors)
