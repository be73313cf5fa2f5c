"""Moves carry the state as the full arm model does, with the hand's error."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.estimate.carrying import COUPLING_UNCERTAINTY, DIRECT_COUPLING_UNCERTAINTY, carried_moves
from groovewright.bench.estimate.moves import Move
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_model import arm_state, couplings
from groovewright.tonearm.arm_state import STATE, Adjustments
from groovewright.tonearm.geometry import Geometry

BUILD = usual_build(Geometry(222.0, 239.2961, 22.9855))
SURE = Adjustments()

amounts = st.builds(
    Adjustments,
    slide_mm=st.floats(-3, 3),
    turn_deg=st.floats(-3, 3),
    base_position_mm=st.floats(-2, 2),
    arm_height_mm=st.floats(-4, 4),
    counterweight_mm=st.floats(-1, 1),
    compensation_mn=st.floats(-1, 1),
    roll_deg=st.floats(-2, 2),
)


@settings(max_examples=40, deadline=None)
@given(first=amounts, second=amounts)
def test_moves_one_after_another_shift_the_state_as_the_full_model_does(first, second):
    carried = carried_moves(BUILD, [Move(second, SURE, 9, "later"), Move(first, SURE, 4, "earlier")])
    both = Adjustments.from_array(first.as_array() + second.as_array())
    full = arm_state(BUILD, both).as_array() - arm_state(BUILD).as_array()
    shift = carried[0].shift + carried[1].shift
    assert [one.move.label for one in carried] == ["earlier", "later"]
    # A hundredth of a millimetre, degree and millinewton: below anything that is read. Force and slide bear on each
    # other a little more, by the share of the length that is slid: 0.01 g at the most.
    close = np.where(np.array(STATE) == "tracking_force_mn", 0.1, 0.01)
    assert (np.abs(shift - full) <= close).all(), shift - full


def test_the_hand_blurs_what_it_moves_by_the_couplings():
    hand = Adjustments(slide_mm=0.12, counterweight_mm=0.05)
    (carried,) = carried_moves(BUILD, [Move(SURE, hand, 1, "move 1")])
    slopes = couplings(BUILD)
    assert [source.label for source in carried.sources] == [
        "the hand sliding the cartridge, move 1",
        "the hand moving the counterweight, move 1",
    ]
    np.testing.assert_allclose(carried.contributions[:, 0], slopes[:, 0] * 0.12, atol=1e-12)
    np.testing.assert_allclose(carried.contributions[:, 1], slopes[:, 4] * 0.05, atol=1e-12)
    np.testing.assert_array_equal(carried.shift, np.zeros(len(STATE)))


def test_a_shift_is_trusted_as_far_as_its_coupling():
    (carried,) = carried_moves(BUILD, [Move(Adjustments(slide_mm=1.0), SURE, 1, "move 1")])
    blur = dict(zip(STATE, np.linalg.norm(carried.contributions, axis=1), strict=True))
    shift = dict(zip(STATE, np.abs(carried.shift), strict=True))
    assert blur["effective_length_mm"] == pytest.approx(DIRECT_COUPLING_UNCERTAINTY * shift["effective_length_mm"])
    assert blur["tracking_force_mn"] == pytest.approx(COUPLING_UNCERTAINTY * shift["tracking_force_mn"])
    assert blur["pivot_to_spindle_mm"] == 0


def test_a_counterweight_moved_back_further_than_the_usual_arm_could_bear_is_carried():
    back = Move(Adjustments(counterweight_mm=-6.0), SURE, 1, "move 1")
    (carried,) = carried_moves(BUILD, [back])
    assert carried.shift[STATE.index("tracking_force_mn")] < -BUILD.tracking_force_mn
