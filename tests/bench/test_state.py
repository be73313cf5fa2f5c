"""What the bench says of the seven settings."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.estimate.joint_estimate import estimate
from groovewright.bench.estimate.moves import Move, with_unknown_amounts
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation, predict
from groovewright.bench.estimate.priors import complete_priors
from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.estimate.settings import SETTING_KEYS, settings_jacobian, settings_of
from groovewright.bench.targets.targets import TargetRequest, choose_targets
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
    return deck_state(DeckInputs(TARGETS, BUILD, observations, **more))


def test_a_deck_that_is_read_well_and_stands_well_is_in_tolerance():
    state = bench(*ALL_READ)
    assert {setting.verdict.outcome for setting in state.settings} == {IN_TOLERANCE}
    assert [setting.key for setting in state.settings] == list(SETTING_KEYS)
    assert {setting.basis for setting in state.settings} == {"read"}
    assert (state.disagreements, state.notes) == ((), ())


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


def test_shares_say_what_a_setting_rests_on():
    state = bench(*ALL_READ, reading("tracking_force", 18.0, 0.2, 9, label="second scale"))
    first, second = state.setting("tracking_force").based_on
    # Weights are as one over the variance: 1 / 0.01 beside 1 / 0.04.
    assert (first.label, second.label) == ("tracking_force, reading 4", "second scale")
    assert first.share == pytest.approx(0.8, abs=0.001)
    assert second.share == pytest.approx(0.2, abs=0.001)
    assert state.setting("tracking_force").dominated_by == "gauge of tracking_force, reading 4"


def test_an_overhang_is_hardly_hurt_by_the_distance():
    length = bench(*ALL_READ).setting("effective_length")
    assert length.based_on[0].label == "overhang, reading 2"
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
    assert {setting.key for setting in state.settings if setting.basis == "calculated"} == {
        "effective_length",
        "tracking_force",
        # By a twentieth of a millinewton, since the force and the groove angle grow.
        "side_force",
        "zenith",
    }
    force = state.setting("tracking_force")
    assert force.reason.startswith("Calculated: Move 1 moved it by about")
    assert "g (" in force.reason
    again = (reading("tracking_force", 18.25, 0.1, 11), reading("effective_length_error", 0.7, 0.1, 12))
    read_again = bench(*ALL_READ, *again, moves=(move,))
    assert {setting.key for setting in read_again.settings if setting.basis == "calculated"} == {"zenith"}


def test_a_hand_that_may_have_slipped_makes_stale_without_any_shift():
    move = Move(SURE, Adjustments(compensation_mn=0.3), 10, "move 1")
    state = bench(*ALL_READ, moves=(move,))
    assert [setting.key for setting in state.settings if setting.basis == "calculated"] == ["side_force"]
    assert state.setting("side_force").quantity.standard_uncertainty == pytest.approx(np.hypot(0.1, 0.3), rel=0.01)
    assert state.setting("side_force").dominated_by == "the hand changing the compensation, move 1"


def test_a_move_carries_the_state_along():
    move = Move(Adjustments(compensation_mn=0.5), Adjustments(compensation_mn=0.05), 10, "move 1")
    before, after = (bench(*ALL_READ, moves=moves).setting("side_force").quantity for moves in ((), (move,)))
    assert after.value == pytest.approx(before.value - 0.5, abs=1e-3)
    assert after.standard_uncertainty == pytest.approx(np.hypot(before.standard_uncertainty, 0.051), rel=0.01)


@pytest.mark.parametrize(("kind", "value"), [("overhang", 173.0), ("pivot_to_spindle", 22.2)])
def test_a_slip_that_no_arm_fits_is_refused_by_its_name(kind, value):
    slip = reading(kind, value, 0.05, 2, label="mistyped")
    others = [one for one in ALL_READ if one.kind != kind]
    with pytest.raises(ValueError, match="The least likely of them is mistyped"):
        bench(slip, *others)


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
    state = deck_state(DeckInputs(targets, BUILD, ALL_READ))
    force = state.setting("tracking_force")
    assert force.quantity.value == pytest.approx(18.1, abs=0.01)
    assert (force.aim, force.tolerance, force.verdict) == (None, None, None)
    assert state.probability_all_conform is None


def test_json_is_plain_and_complete():
    move = Move(Adjustments(slide_mm=0.8), Adjustments(slide_mm=0.12), 10, "move 1")
    plain = json.loads(json.dumps(bench(*ALL_READ, moves=(move,)).as_json(), allow_nan=False))
    assert [setting["key"] for setting in plain["settings"]] == list(SETTING_KEYS)
    assert plain["settings"][0]["quantity"].keys() == {"value", "unit", "standard_uncertainty"}
    assert plain["settings"][1]["basis"] == "calculated"
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
        DeckInputs(TARGETS, BUILD, **change)


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


def test_what_only_readings_of_unknown_uncertainty_tell_has_a_value_and_is_undecided():
    unknown = Quantity.unknown_uncertainty(0.2, "deg", why="none was stated with the entry")
    state = bench(*ALL_READ[:5], Observation("azimuth_rotation", unknown, 6, "azimuth by eye"))
    azimuth = state.setting("azimuth")
    assert (azimuth.basis, azimuth.verdict.outcome) == ("read", UNDECIDED)
    assert azimuth.quantity.value == pytest.approx(0.2, abs=1e-3)
    assert azimuth.quantity.standard_uncertainty is None
    assert "azimuth by eye: none was stated with the entry" in azimuth.quantity.why_unknown
    assert state.setting("effective_length").verdict.outcome == IN_TOLERANCE
    (note,) = state.notes
    assert note.startswith("azimuth by eye cannot be weighted")


def test_a_reading_of_unknown_uncertainty_changes_nothing_beside_a_known_one():
    unknown = Quantity.unknown_uncertainty(3.0, "deg", why="none was stated with the entry")
    with_it = bench(*ALL_READ, Observation("azimuth_rotation", unknown, 9, "azimuth by eye"))
    assert with_it.setting("azimuth") == bench(*ALL_READ).setting("azimuth")


SLIP = reading("overhang", 18.3, 0.05, 9, label="overhang, beam gauge")


def test_two_readings_that_disagree_are_both_named_and_nothing_is_in_tolerance_by_one_of_them():
    state = bench(*ALL_READ, SLIP)
    (one,) = state.disagreements
    assert set(one.labels) == {"overhang, reading 2", "overhang, beam gauge"}
    assert all(label in one.sentence for label in one.labels)
    assert "17.30 mm ± 0.05 mm" in one.sentence
    assert "18.30 mm ± 0.05 mm" in one.sentence
    assert "effective_length" in one.settings
    assert not one.is_outvoted
    assert state.unresolved == (one,)
    length = state.setting("effective_length")
    assert length.verdict.outcome == UNDECIDED
    assert state.setting("azimuth").verdict.outcome == IN_TOLERANCE


def test_disagreeing_readings_leave_in_tolerance_what_is_so_with_either_left_out():
    near = reading("overhang", 17.55, 0.03, 9, label="overhang, beam gauge")
    sure = [replace(one, quantity=_with_uncertainty(one.quantity, 0.03)) for one in ALL_READ[1:2]]
    state = bench(ALL_READ[0], *sure, *ALL_READ[2:], near)
    (one,) = state.disagreements
    assert "effective_length" in one.settings
    # 0.0 mm and 0.25 mm, the limit being 0.5 mm.
    assert state.setting("effective_length").verdict.outcome == IN_TOLERANCE


def _with_uncertainty(quantity, u):
    return replace(quantity, components=dict.fromkeys(quantity.components, u))


def test_a_majority_leaves_the_third_out_and_steers():
    third = reading("overhang", 17.28, 0.05, 10)
    state = bench(*ALL_READ, SLIP, third)
    (one,) = state.disagreements
    assert one.is_outvoted
    assert one.labels[0] == "overhang, beam gauge"
    assert "it is left out" in one.sentence
    assert state.unresolved == ()
    without = bench(*ALL_READ, third)
    kept, alone = (found.setting("effective_length").quantity for found in (state, without))
    assert kept.value == pytest.approx(alone.value, abs=1e-12)
    assert kept.standard_uncertainty == pytest.approx(alone.standard_uncertainty, rel=1e-9)
    residual = next(one for one in state.residuals if one.label == "overhang, beam gauge")
    assert residual.in_uncertainties == pytest.approx((18.3 - 17.29) / np.hypot(0.05, 0.05 / np.sqrt(2)), rel=0.01)


def test_leaving_out_two_readings_agrees_with_an_estimate_without_them():
    third = reading("overhang", 17.28, 0.05, 10)
    every = (*ALL_READ, SLIP, third)
    joint = estimate(every, (), _priors(), TARGETS)
    slip, other = (next(k for k, one in enumerate(every) if one.label == label) for label in (SLIP.label, third.label))
    residual, spread = joint.without_both(slip, other)
    rest = tuple(one for k, one in enumerate(every) if k not in (slip, other))
    alone = estimate((*rest, SLIP), (), _priors(), TARGETS)
    assert residual == pytest.approx(alone.leave_one_out_residual[-1], rel=1e-6)
    assert spread == pytest.approx(np.linalg.norm(alone.leave_one_out_errors[-1]), rel=1e-6)


def _priors():
    complete = complete_priors({}, BUILD)
    return [complete[name] for name in STATE]


def test_an_unresolved_disagreement_widens_by_how_far_it_draws_the_estimate():
    drawn = bench(*ALL_READ, SLIP).setting("effective_length").quantity
    # Of two alike, either draws the mean by half of what they are apart; only the doubtful one is counted.
    assert drawn.standard_uncertainty == pytest.approx(0.5, rel=0.02)


def test_a_slip_of_typing_is_told_from_a_disagreement():
    state = bench(reading("tracking_force", 181.0, 0.1, 1))
    (one,) = state.disagreements
    assert "far from what is usual" in one.sentence
    assert one.labels == ("tracking_force, reading 1",)
    assert state.setting("tracking_force").verdict.outcome != IN_TOLERANCE


def test_honest_readings_raise_an_alarm_in_one_job_of_a_hundred_at_most():
    generator, alarms, jobs = np.random.default_rng(3), 0, 400
    for _ in range(jobs):
        readings = [
            reading(kind, value + spread * generator.normal(), spread, order)
            for order, (kind, value, spread) in enumerate(
                [("overhang", 17.3, 0.1)] * 4
                + [("tracking_force", 18.0, 0.1)] * 4
                + [("azimuth_rotation", 0.2, 0.1)] * 2
            )
        ]
        alarms += bool(bench(ALL_READ[0], *(replace(one, order=one.order + 2) for one in readings)).disagreements)
    # 1 %, and three standard deviations of a count of 400.
    assert alarms <= jobs * 0.01 + 3 * np.sqrt(jobs * 0.01 * 0.99)


def test_a_disagreement_that_few_repeats_explain_is_none():
    few = Quantity(18.7, "mN", {Source("three repeats", 2): 0.1})
    sure = Quantity(18.7, "mN", {Source("many repeats"): 0.1})
    named = [
        bench(*ALL_READ, Observation("tracking_force", quantity, 9, "second scale")).disagreements
        for quantity in (few, sure)
    ]
    assert [len(found) for found in named] == [0, 1]


def test_exact_readings_that_contradict_each_other_are_named():
    exact = [
        Observation("azimuth_rotation", Quantity.exact(at, "deg"), k, f"azimuth {k}") for k, at in ((9, 0.1), (10, 0.2))
    ]
    state = bench(*ALL_READ[:5], *exact)
    assert any("azimuth 9, azimuth 10" in one.sentence for one in state.disagreements)


def test_what_is_calculated_is_never_in_tolerance():
    tiny = Move(Adjustments(roll_deg=0.1), Adjustments(roll_deg=0.02), 10, "move 1")
    state = bench(*ALL_READ, moves=(tiny,))
    azimuth = state.setting("azimuth")
    assert (azimuth.basis, azimuth.verdict.outcome) == ("calculated", UNDECIDED)
    assert azimuth.quantity.value == pytest.approx(0.2, abs=0.01)
    assert azimuth.verdict.reason == azimuth.reason
    read = bench(*ALL_READ, reading("azimuth_rotation", 0.2, 0.1, 11), moves=(tiny,)).setting("azimuth")
    assert (read.basis, read.verdict.outcome, read.reason) == ("read", IN_TOLERANCE, "")


def test_a_move_of_unknown_amount_leaves_unread_what_it_touches():
    move = with_unknown_amounts(SURE, SURE, frozenset({"slide_mm"}), order=10, label="move 1")
    state = bench(*ALL_READ, moves=(move,))
    length = state.setting("effective_length")
    assert (length.basis, length.quantity, length.verdict) == ("not read", None, None)
    assert "by an amount that is not known" in length.reason
    assert state.setting("azimuth").basis == "read"
    again = bench(*ALL_READ, reading("overhang", 17.3, 0.05, 11), moves=(move,)).setting("effective_length")
    assert (again.basis, again.verdict.outcome) == ("read", IN_TOLERANCE)


def test_a_side_force_read_after_the_counterweight_was_moved_reads_no_tracking_force():
    move = Move(Adjustments(counterweight_mm=0.5), Adjustments(counterweight_mm=0.05), 10, "move 1")
    state = bench(*ALL_READ, reading("side_force_rest", 0.0, 0.1, 11), moves=(move,))
    assert state.setting("tracking_force").basis == "calculated"
    assert state.setting("side_force").basis == "read"


def test_settings_that_do_not_apply_say_so_and_the_rest_is_judged():
    targets = replace(TARGETS, inapplicable={"zenith": "This arm has no offset angle."})
    state = deck_state(DeckInputs(targets, BUILD, ALL_READ))
    zenith = state.setting("zenith")
    assert (zenith.basis, zenith.outcome, zenith.reason) == (
        "does not apply",
        "does not apply",
        "This arm has no offset angle.",
    )
    assert state.setting("azimuth").is_in_tolerance
