import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.observations import Observation
from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import SURE, HeadshellLimits
from groovewright.bench.moves.next_move import next_step
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

DISTANCE = Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="steel rule")
TARGETS = setting_targets(choose_targets(TargetRequest(DISTANCE, "minimax", 60.325, 146.05)), force_range_mn=(15, 20))
BUILD = usual_build(TARGETS.geometry)
GOOD = {
    "effective_length_error": (0.0, 0.12, "mm"),
    "zenith_error": (0.0, 0.15, "deg"),
    "tracking_force": (17.5, 0.08, "mN"),
    "side_force_rest": (0.0, 0.15, "mN"),
    "friction_coefficient": (0.3, 0.02, "1"),
    "azimuth_rotation": (0.0, 0.1, "deg"),
    "stylus_rake_angle": (92.0, 0.3, "deg"),
    "vertical_tracking_angle": (22.0, 0.5, "deg"),
}


def readings(**values):
    """Return one reading of each kind, good but for those given: a value, or a value with its uncertainty, or None."""
    found = [Observation("pivot_to_spindle", DISTANCE, 1, "steel rule")]
    for order, (kind, (good, usual, unit)) in enumerate(GOOD.items(), start=2):
        given_value = values.get(kind, good)
        if given_value is None:
            continue
        value, uncertainty = given_value if isinstance(given_value, tuple) else (given_value, usual)
        quantity = Quantity.measured(value, unit, standard_uncertainty=uncertainty, source=f"gauge of {kind}")
        found.append(Observation(kind, quantity, order, kind))
    return tuple(found)


def step_of(observations, *, limits=None, build=BUILD, moves=(), targets=TARGETS):
    inputs = DeckInputs(targets, build, observations, tuple(moves))
    return next_step(inputs, deck_state(inputs), limits or HeadshellLimits(), Hands())


def test_a_deck_in_tolerance_is_left_alone():
    step = step_of(readings())
    assert step.kind == "all in tolerance"
    assert step.move is None
    assert step.sentence == "All settings are in tolerance; nothing needs to be moved."


def test_slide_and_turn_are_one_move_worded_for_the_workshop():
    step = step_of(readings(effective_length_error=-1.4, zenith_error=-1.5))
    assert step.kind == "move"
    # An effective length grows by the slide times the cosine of the offset angle, which shrinks it by what it takes
    # to keep the linear offset; the turn makes up for both.
    slide = 1.4 / math.cos(math.radians(22.99))
    turn = 1.5 + math.degrees(1.4 / 239.3) * math.tan(math.radians(22.99))
    assert step.move.amounts.slide_mm == pytest.approx(slide, abs=0.02)
    assert step.move.amounts.turn_deg == pytest.approx(turn, abs=0.02)
    assert step.sentence.startswith("Slide the cartridge forward 1.5")
    assert "mm ± 0.13 mm, then turn it inward 1.6" in step.sentence
    assert "this raises the tracking force by about 0.03" in step.sentence
    assert "so read both again, and the effective length and zenith." in step.sentence
    assert step.move.serves == ("effective_length", "zenith")
    assert {"effective_length", "zenith", "tracking_force"} <= set(step.move.read_again)
    assert step.move.caution.startswith("Lift the stylus off the record")


@pytest.mark.parametrize(
    ("kind", "value", "words"),
    [
        ("effective_length_error", 1.2, "Slide the cartridge back 1."),
        ("zenith_error", 1.2, "Turn the cartridge outward 1."),
        ("tracking_force", 15.1, "Move the counterweight toward the pivot until the scale reads 1.78 g"),
        ("side_force_rest", 1.5, "Add 0.1"),
        ("side_force_rest", -1.5, "Take 0.1"),
        ("azimuth_rotation", 1.5, "Roll the cartridge 1.5"),
        ("azimuth_rotation", -1.5, "Roll the cartridge 1.5"),
    ],
)
def test_each_fault_is_answered_by_its_own_adjuster(kind, value, words):
    step = step_of(readings(**{kind: value}))
    assert step.kind == "move"
    assert step.sentence.startswith(words)


def test_directions_of_roll_follow_the_sign_of_the_azimuth():
    assert "counter-clockwise" in step_of(readings(azimuth_rotation=1.5)).sentence
    assert "° clockwise" in step_of(readings(azimuth_rotation=-1.5)).sentence.replace("± 0.10° c", "° c")


def test_an_arm_is_raised_for_both_angles_and_the_azimuth_it_rolls_is_named():
    step = step_of(readings(stylus_rake_angle=90.4, vertical_tracking_angle=20.4))
    assert step.sentence.startswith("Raise the arm base ")
    assert "azimuth" in {one.key for one in step.move.disturbs}
    assert "azimuth" in step.move.read_again


def test_the_counterweight_move_says_where_the_scale_will_stand():
    step = step_of(readings(tracking_force=15.1))
    assert step.sentence.startswith(
        "Move the counterweight toward the pivot until the scale reads 1.78 g at record height (now 1.54 g); "
    )
    assert "mm" not in step.sentence


def test_a_unipivot_rolls_by_its_lateral_weight():
    build = usual_build(TARGETS.geometry, bearing="unipivot")
    step = step_of(readings(azimuth_rotation=-1.5), build=build)
    assert step.sentence.startswith("Move the lateral weight outward until the arm has rolled 1.4")


@pytest.mark.parametrize("rest_mn", [1.5, -1.5, 3.0])
def test_a_fault_of_the_side_force_is_never_answered_with_tracking_force(rest_mn):
    # Without any room for compensation, too, although less force would lessen the side force.
    for limits in (HeadshellLimits(), HeadshellLimits({"compensation_mn": (0.0, 0.0)})):
        step = step_of(readings(side_force_rest=rest_mn), limits=limits)
        assert step.move is None or step.move.amounts.counterweight_mm == 0


def test_a_slide_that_would_leave_the_makers_range_waits_for_the_counterweight():
    near_the_end = readings(tracking_force=19.6, effective_length_error=-2.5)
    step = step_of(near_the_end)
    assert step.kind == "move"
    assert step.move.amounts.slide_mm == 0
    assert step.move.amounts.counterweight_mm < 0
    assert step.move.followed_by == ("headshell",)
    assert step.sentence.endswith("Only then is there room in the maker's range for moving the cartridge.")
    after = step_of(near_the_end, moves=[step.move.made(order=20, label="move 1")])
    assert after.move.amounts.slide_mm > 2


def test_what_a_move_may_take_out_of_the_makers_range_asks_for_the_force_first():
    step = step_of(readings(tracking_force=(17.5, 2.5), effective_length_error=-2.5))
    assert step.kind == "read first"
    assert step.read.key == "tracking_force"


def test_a_move_that_needs_a_reading_first_waits_for_it():
    step = step_of(readings(zenith_error=None))
    assert step.kind == "read first"
    assert step.read.key == "zenith"
    assert step.sentence.startswith("Read the zenith first. Nothing has been read of it yet.")


def test_what_was_moved_is_read_before_it_counts_as_shown():
    first = step_of(readings(side_force_rest=1.5))
    again = step_of(readings(side_force_rest=1.5), moves=[first.move.made(order=20, label="move 1")])
    assert again.kind == "read first"
    assert "has not been read since" in again.sentence


def test_a_cartridge_whose_angles_lie_apart_is_named_and_not_adjusted_away():
    step = step_of(readings(stylus_rake_angle=94.0, vertical_tracking_angle=18.0))
    assert step.kind == "cannot be reached"
    assert step.faults[0].startswith(
        "Stylus rake angle and vertical tracking angle of this cartridge cannot both be in tolerance: they lie "
        "75.98° ± 0.58° apart"
    )
    assert "their tolerances need 67.0° to 73.0°" in step.faults[0]


def test_a_place_beyond_the_slots_is_named_with_how_far_it_lies():
    step = step_of(readings(effective_length_error=-4.0), limits=HeadshellLimits({"slide_mm": (-1.0, 2.0)}))
    assert step.kind == "cannot be reached"
    assert "effective length stays" in step.faults[0]
    assert "the slots of the headshell end at 2.0 mm" in step.faults[0]
    # What can be done of it still helps.
    assert 0 < step.move.amounts.slide_mm < 2


def test_an_adjuster_that_the_arm_has_not_is_named():
    step = step_of(readings(azimuth_rotation=2.0), limits=HeadshellLimits({"roll_deg": (0.0, 0.0)}))
    assert step.kind == "cannot be reached"
    assert any("azimuth" in fault for fault in step.faults)


def test_the_base_is_moved_only_where_the_slots_do_not_suffice():
    free_base = {"base_position_mm": (-5.0, 5.0)}
    kept = step_of(readings(effective_length_error=-2.0), limits=HeadshellLimits(free_base))
    assert kept.move.amounts.base_position_mm == 0
    needed = step_of(
        readings(effective_length_error=-2.0),
        limits=HeadshellLimits(free_base | {"slide_mm": (0.0, 0.0)}),
    )
    assert needed.kind == "move"
    # A pivot nearer to the spindle shortens the length that is needed.
    assert needed.move.amounts.base_position_mm == pytest.approx(-2.0 / TARGETS.length_slope, abs=0.1)
    assert needed.sentence.startswith("Move the arm base 2.")


def test_without_the_makers_range_the_end_is_not_called_in_tolerance():
    bare = {key: limit for key, limit in TARGETS.tolerances.items() if key != "tracking_force"}
    step = step_of(readings(), targets=replace(TARGETS, tolerances=bare))
    assert step.kind == "cannot be reached"
    assert step.sentence == "The tracking force has no limits: enter the maker's range of the cartridge."


def test_the_answer_is_plain_json():
    for observations in (readings(), readings(azimuth_rotation=1.5), readings(zenith_error=None)):
        step = step_of(observations)
        written = json.loads(json.dumps(step.as_json(), allow_nan=False))
        assert written["kind"] == step.kind
        assert (written["move"] is None) == (step.move is None)
        for amount in (written["move"] or {"adjusters": {}})["adjusters"].values():
            assert {"value", "unit", "standard_uncertainty"} <= set(amount)


def test_where_each_move_alone_only_shifts_the_fault_the_first_in_the_order_of_work_is_named():
    # Raised so far for its two angles, the arm rolls and shortens as much as it gains.
    step = step_of(readings(stylus_rake_angle=90.4, vertical_tracking_angle=20.4))
    assert step.move.followed_by
    assert "It helps only together with " in step.sentence
    assert step.move.log_probability_after > step.move.log_probability_before + 1


def test_an_adjuster_moved_without_an_entry_is_still_moved_with_a_word_about_its_end():
    unseen = Move(Adjustments(), Adjustments(slide_mm=5.0, turn_deg=4.0), 0, "moves not entered")
    step = step_of(readings(effective_length_error=-2.0), moves=[unseen])
    assert step.kind == "move"
    assert step.move.amounts.slide_mm == pytest.approx(2.0 / math.cos(math.radians(22.99)), abs=0.1)
    assert step.notes[0].startswith("Where the adjuster stands within the slots of the headshell is not known")


def off(low, high):
    return st.floats(low, high, allow_nan=False)


@settings(max_examples=40, deadline=None)
@given(
    length_mm=off(-4, 4),
    zenith_deg=off(-4, 4),
    force_mn=off(13, 22),
    rest_mn=off(-3, 3),
    azimuth_deg=off(-3, 3),
    height_deg=off(-1.5, 1.5),
    slots_mm=off(0.5, 6),
    axis=st.sampled_from(["arm line", "cantilever axis"]),
    turn_about=st.sampled_from(["stylus", "screw"]),
    slid_mm=off(-0.4, 0.4),
)
def test_no_move_lowers_the_probability_or_leaves_a_limit(
    *, length_mm, zenith_deg, force_mn, rest_mn, azimuth_deg, height_deg, slots_mm, axis, turn_about, slid_mm
):
    build = usual_build(TARGETS.geometry, axis=axis, turn_about=turn_about)
    limits = HeadshellLimits({"slide_mm": (-slots_mm, slots_mm)})
    slid = Move(Adjustments(slide_mm=slid_mm), Hands().uncertainty(Adjustments(slide_mm=slid_mm)), 0, "as found")
    inputs = DeckInputs(
        TARGETS,
        build,
        readings(
            effective_length_error=length_mm,
            zenith_error=zenith_deg,
            tracking_force=force_mn,
            side_force_rest=rest_mn,
            azimuth_rotation=azimuth_deg,
            stylus_rake_angle=92 + height_deg,
            vertical_tracking_angle=22 + height_deg,
        ),
        (slid,),
    )
    state = deck_state(inputs)
    move = next_step(inputs, state, limits, Hands()).move
    if move is None:
        return
    assert move.log_probability_after > move.log_probability_before

    after = deck_state(replace(inputs, moves=(*inputs.moves, move.made(order=99, label="next"))))
    if not move.followed_by and after.probability_all_conform is not None:
        assert after.probability_all_conform >= state.probability_all_conform - after.probability_error - 1e-6
        # What was promised is what the estimate then says.
        promised = math.exp(move.log_probability_after)
        assert after.probability_all_conform == pytest.approx(promised, abs=2 * after.probability_error + 1e-3)

    force, spread = after.state["tracking_force_mn"].value, SURE * after.state["tracking_force_mn"].standard_uncertainty
    before = state.state["tracking_force_mn"]
    allowed = max(15 - before.value, before.value - 20, -math.inf) + SURE * before.standard_uncertainty
    assert max(15 - force, force - 20) + spread <= max(allowed, 0.0) + 1e-6

    stands = slid.amounts.as_array() + move.amounts.as_array()
    hand = SURE * np.hypot(slid.uncertainty.as_array(), move.hand.as_array())
    for name, place, spare, asked in zip(ADJUSTERS, stands, hand, move.amounts.as_array(), strict=True):
        lowest, highest = limits.ranges[name]
        if asked and lowest + spare <= slid.amounts.as_array()[ADJUSTERS.index(name)] <= highest - spare:
            assert lowest <= place - spare + 1e-6
            assert place + spare <= highest + 1e-6


def test_limits_are_refused_that_are_none():
    with pytest.raises(ValueError, match=r"'slots' is no adjuster; limits are given for slide_mm, "):
        HeadshellLimits({"slots": (0, 1)})
    with pytest.raises(ValueError, match="so 0 lies between them; 1 to 2 leaves it out"):
        HeadshellLimits({"slide_mm": (1, 2)})
    with pytest.raises(ValueError, match="given in mN here, not in g"):
        HeadshellLimits(force=Tolerance(1.5, 2.0, "g"))
    with pytest.raises(ValueError, match="0 or more"):
        Hands(share=-0.1)
    assert HeadshellLimits({"slide_mm": (-1, 1)}).ranges["turn_deg"] == ADJUSTER_TABLE["turn_deg"].usual_range


def test_an_unknown_uncertainty_is_refused_and_not_taken_for_none():
    inputs = DeckInputs(TARGETS, BUILD, readings(azimuth_rotation=1.5))
    state = deck_state(inputs)
    blank = Quantity.unknown_uncertainty(0.0, "deg", why="none was stated")
    with pytest.raises(ValueError, match="the uncertainty of azimuth_deg is unknown"):
        next_step(inputs, replace(state, state={**state.state, "azimuth_deg": blank}), HeadshellLimits(), Hands())


def off_reading(error_mm, order, label):
    quantity = Quantity.measured(error_mm, "mm", standard_uncertainty=0.1, source=f"gauge of {label}")
    return Observation("effective_length_error", quantity, order, label)


def test_readings_that_disagree_steer_no_move_until_one_is_read_again():
    # By one of them the cartridge would have to be slid by a millimetre.
    step = step_of((*readings(), off_reading(1.0, 20, "arc plate")))
    assert step.kind == "read first"
    assert step.move is None
    assert "arc plate" in step.sentence
    assert step.read.key == "effective_length"
    assert step.read.reading.kind == "effective_length_error"


def test_the_majority_steers_once_it_was_read_again():
    again = (off_reading(1.0, 20, "arc plate"), off_reading(1.02, 21, "arc plate, read again"))
    step = step_of((*readings(), *again))
    assert step.kind == "move"
    # Along the cartridge a millimetre of length is one over the cosine of the offset angle.
    cosine = np.cos(np.radians(TARGETS.geometry.offset_angle_deg))
    assert step.move.amounts.slide_mm == pytest.approx(-1.01 / cosine, abs=0.1)


def test_a_millimetre_that_nobody_knows_is_read_and_not_moved():
    # The likeliest amount is 0.2 mm, known to 0.9 mm: a hand that makes it moves at random.
    step = step_of(readings(effective_length_error=(0.2, 0.9)))
    assert step.kind == "read first"
    assert step.read.key == "effective_length"


def test_what_is_good_stays_where_it_is_while_something_else_is_moved():
    # In its range, though far from the middle, the force needs no move; the cartridge does.
    step = step_of(readings(tracking_force=(18.6, 0.08), zenith_error=1.5, azimuth_rotation=1.5))
    assert step.move.amounts.counterweight_mm == 0
    assert "counterweight" not in step.move.followed_by


def test_a_force_that_is_moved_goes_to_the_middle_of_the_range():
    step = step_of(readings(tracking_force=20.4))
    assert "until the scale reads 1.78 g at record height (now 2.08 g)" in step.sentence


def test_length_comes_before_azimuth_and_compensation_last():
    made, moves = [], []
    observations = readings(effective_length_error=1.2, azimuth_rotation=0.9, side_force_rest=1.5, tracking_force=20.6)
    while (step := step_of(observations, moves=moves)).kind == "move":
        moves.append(step.move.made(order=20 + len(moves), label=f"move {len(moves)}"))
        made.append(step.move.serves[0])
        assert not step.move.spoils
    assert made == ["effective_length", "tracking_force", "azimuth", "side_force"]


def test_another_order_is_taken_where_the_deck_asks_for_it_and_the_reason_is_said():
    # Rolled by three degrees, the cartridge turns in plan by more than half its tolerance.
    step = step_of(readings(effective_length_error=0.8, zenith_error=0.8, azimuth_rotation=3.0))
    assert step.move.amounts.roll_deg != 0
    assert "It comes before moving the cartridge, against the usual order, since rolling the cartridge by 2.8°" in (
        step.sentence
    )
    assert step.sentence.endswith("and little comes back.")


def test_a_move_that_takes_a_good_setting_out_says_so_and_what_mends_it():
    # Raised by 8 mm the arm rolls by more than its tolerance.
    step = step_of(readings(stylus_rake_angle=89.9, vertical_tracking_angle=19.9))
    assert step.move.amounts.arm_height_mm > 4
    assert "azimuth" in step.move.spoils
    assert "out of tolerance, which " in step.sentence
    assert "rolling the cartridge" in step.sentence
    assert step.as_json()["move"]["spoils"] == list(step.move.spoils)


def test_what_is_good_is_not_moved_before_what_would_disturb_it():
    # A unipivot's lateral weight lowers both angles; the height makes up for it afterwards, not in advance.
    build = usual_build(TARGETS.geometry, bearing="unipivot")
    first = step_of(readings(azimuth_rotation=-1.5), build=build)
    assert first.move.amounts.roll_deg != 0
    then = step_of(readings(azimuth_rotation=-1.5), build=build, moves=[first.move.made(order=20, label="roll")])
    assert then.move is None or then.move.amounts.roll_deg == 0


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        ("effective_length_error", 1.0),
        ("zenith_error", 1.5),
        ("tracking_force", 21.0),
        ("side_force_rest", 2.0),
        ("azimuth_rotation", 2.0),
        ("stylus_rake_angle", 95.0),
        ("vertical_tracking_angle", 28.0),
    ],
)
def test_a_gross_reading_steers_nothing_once_two_others_contradict_it(kind, wrong):
    good, u, unit = GOOD[kind]
    values = (wrong, good + 0.2 * u, good - 0.2 * u)
    read = [
        Observation(kind, Quantity.measured(value, unit, standard_uncertainty=u, source=label), order, label)
        for order, (value, label) in enumerate(zip(values, ("first", "second", "third"), strict=True), start=20)
    ]
    others = [reading for reading in readings(azimuth_rotation=1.5) if reading.kind != kind]
    if kind == "azimuth_rotation":
        others = [reading for reading in readings(zenith_error=1.5) if reading.kind != kind]
    unsettled = step_of((*others, *read[:2]))
    assert unsettled.kind == "read first"
    with_it, without_it = step_of((*others, *read)), step_of((*others, *read[1:]))
    assert with_it.kind == without_it.kind == "move"
    assert with_it.sentence == without_it.sentence
    state = deck_state(DeckInputs(TARGETS, BUILD, (*others, *read)))
    assert state.disagreements[0].labels[0] == "first"
    assert state.disagreements[0].is_outvoted
