from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.estimate.settings import SETTING_KEYS, settings_of
from groovewright.bench.moves.adjuster_groups import GROUP, GROUPS
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.moves.order_of_work import CUSTOM, DEPARTURE, order_of_work
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_model import arm_state
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

DISTANCE = Quantity.exact(222.0, "mm")
TARGETS = setting_targets(choose_targets(TargetRequest(DISTANCE, "minimax", 60.325, 146.05)), force_range_mn=(15, 20))
GIMBAL = usual_build(TARGETS.geometry)


def keys(order):
    return [group.key for group in order.groups]


def test_the_usual_order_is_kept_where_no_other_is_clearly_better():
    work = order_of_work(GIMBAL, TARGETS, HeadshellLimits())
    assert keys(work) == ["headshell", "counterweight", "height", "roll", "compensation"]
    assert work.departures == {}


def test_a_large_move_comes_before_what_it_disturbs_and_says_why():
    moved = {GROUP["height"]: np.zeros(7), GROUP["headshell"]: np.zeros(7)}
    moved[GROUP["height"]][ADJUSTERS.index("arm_height_mm")] = 9.0
    moved[GROUP["headshell"]][ADJUSTERS.index("slide_mm")] = 1.0
    work = order_of_work(GIMBAL, TARGETS, HeadshellLimits(), planned=moved)
    assert keys(work).index("height") < keys(work).index("headshell")
    text = work.departures["height", "headshell"]
    assert text.startswith("It comes before moving the cartridge, against the usual order, since ")
    assert "changing the arm's height by 9.0 mm changes the " in text


def test_no_departure_spares_less_than_it_must():
    # Each pair that is the other way round than is usual must spare half of half a tolerance.
    for build in (GIMBAL, usual_build(TARGETS.geometry, bearing="unipivot")):
        work = order_of_work(build, TARGETS, HeadshellLimits())
        usual = sorted(work.groups, key=lambda group: CUSTOM.index(group.key))
        forced = order_of_work(build, TARGETS, HeadshellLimits(), planned={})
        assert keys(forced) == keys(work)
        swapped = sum(
            CUSTOM.index(first.key) > CUSTOM.index(then.key)
            for place, first in enumerate(work.groups)
            for then in work.groups[place + 1 :]
        )
        shares = {(r.first, r.then): r for r in work.reasons}
        of_usual = sum(
            shares[a.key, b.key].backward if (a.key, b.key) in shares else shares[b.key, a.key].forward
            for place, a in enumerate(usual)
            for b in usual[place + 1 :]
        )
        assert work.disturbance + DEPARTURE * swapped <= of_usual + 1e-12


def test_every_pair_has_its_reason_in_words():
    work = order_of_work(GIMBAL, TARGETS, HeadshellLimits())
    count = len(work.groups)
    assert len(work.reasons) == count * (count - 1) // 2
    by_pair = {(reason.first, reason.then): reason for reason in work.reasons}
    for first, then in pairwise(keys(work)):
        assert by_pair[first, then].text.startswith(f"{GROUP[first].title} before ")
    roll = by_pair["height", "roll"]
    # 0.5 of half a tolerance of 1 degree is 1 degree: about 4.2 mm of height, which rolls by tau sin(offset angle).
    assert "changing the arm's height by 4.5 mm changes the azimuth by 0.4" in roll.text
    assert roll.forward == pytest.approx(0.81, abs=0.05)
    assert roll.text.endswith("nothing noticeable comes back.")


def test_an_arm_whose_axis_is_square_to_the_cantilever_does_not_roll_when_raised():
    work = order_of_work(usual_build(TARGETS.geometry, axis="cantilever axis"), TARGETS, HeadshellLimits())
    pair = next(reason for reason in work.reasons if {reason.first, reason.then} == {"height", "roll"})
    assert max(pair.forward, pair.backward) < 0.05
    assert "either order would do" in pair.text


def test_a_unipivots_weight_is_moved_before_the_height_that_it_disturbs():
    work = order_of_work(usual_build(TARGETS.geometry, bearing="unipivot"), TARGETS, HeadshellLimits())
    pair = next(reason for reason in work.reasons if {reason.first, reason.then} == {"height", "roll"})
    # Either disturbs the other there; the lesser evil comes second.
    assert min(pair.forward, pair.backward) > 0.05
    assert pair.backward <= pair.forward


def test_no_other_order_disturbs_less():
    work = order_of_work(GIMBAL, TARGETS, HeadshellLimits())
    reverse = sum(reason.forward for reason in work.reasons)
    assert work.disturbance == pytest.approx(sum(reason.backward for reason in work.reasons))
    assert work.disturbance < reverse


def test_disturbances_are_those_of_the_full_model():
    work = order_of_work(GIMBAL, TARGETS, HeadshellLimits())
    reason = next(reason for reason in work.reasons if (reason.first, reason.then) == ("counterweight", "compensation"))

    def at(**moved):
        return settings_of(arm_state(GIMBAL, Adjustments(**moved)), TARGETS)

    force, side = SETTING_KEYS.index("tracking_force"), SETTING_KEYS.index("side_force")
    per_mm = (at(counterweight_mm=0.01) - at(counterweight_mm=-0.01)) / 0.02
    limit = TARGETS.tolerances["side_force"]
    expected = abs(per_mm[side] / per_mm[force]) * 2.5 / ((limit.upper - limit.lower) / 2)
    assert reason.forward == pytest.approx(expected, rel=1e-3)


def test_what_is_fixed_is_left_out_and_a_free_base_comes_in():
    fixed = HeadshellLimits({"roll_deg": (0.0, 0.0), "base_position_mm": (-3.0, 3.0)})
    order = keys(order_of_work(GIMBAL, TARGETS, fixed))
    assert "roll" not in order
    assert "base" in order


def test_without_tolerances_nothing_is_called_disturbed():
    bare = replace(TARGETS, tolerances={})
    assert order_of_work(GIMBAL, bare, HeadshellLimits()).disturbance == 0


def test_the_rule_that_holds_in_any_order_is_said():
    assert "never answer it with more force" in order_of_work(GIMBAL, TARGETS, HeadshellLimits()).rule


def test_every_adjuster_belongs_to_one_group_and_every_setting_is_served():
    names = [name for group in GROUPS for name in group.adjusters]
    assert sorted(names) == sorted(ADJUSTERS)
    assert set(SETTING_KEYS) == {key for group in GROUPS for key in group.serves}
    assert all(np.diff(group.places).size == len(group.adjusters) - 1 for group in GROUPS)
