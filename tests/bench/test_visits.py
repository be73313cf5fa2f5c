"""Drift between two visits of a deck: how far, how surely, and against which target."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.estimate.observations import Observation
from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.estimate.settings import SETTING_KEYS
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.bench.visits.comparison import Visit, compare_in_turn, compare_visits
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_build import usual_build

RANGE_MN = (15.0, 20.0)


def wanted(distance_mm=222.0, criterion="minimax"):
    distance = Quantity.measured(distance_mm, "mm", standard_uncertainty=0.2, source="distance")
    return setting_targets(choose_targets(TargetRequest(distance, criterion, 60.325, 146.05)), force_range_mn=RANGE_MN)


def state(readings, targets=None):
    targets = targets or wanted()
    observations = tuple(
        Observation(kind, quantity, 0, f"{kind}, reading {k}") for k, (kind, quantity) in enumerate(readings)
    )
    return deck_state(DeckInputs(targets, usual_build(targets.geometry), observations))


def visit(name, on, readings, **facts):
    targets = facts.pop("targets", wanted())
    found = state(readings, targets)
    return Visit(name, on, targets=targets, as_found=found, as_left=found, **facts)


def azimuth(value, u=0.1, source="azimuth, the reading itself"):
    return ("azimuth_rotation", Quantity.measured(value, "deg", standard_uncertainty=u, source=source))


FIRST, LATER = date(2026, 1, 5), date(2026, 7, 6)


def test_a_change_has_the_uncertainty_of_both_readings():
    compared = compare_visits(visit("job 1", FIRST, [azimuth(0.1)]), visit("job 2", LATER, [azimuth(0.5)]))
    drift = compared.drifts[SETTING_KEYS.index("azimuth")]
    assert drift.change.value == pytest.approx(0.4, abs=0.001)
    # Each reading is off by itself, whatever gauge it was made with and however it is named.
    assert drift.change.standard_uncertainty == pytest.approx(0.1 * 2**0.5, rel=1e-3)
    assert drift.shown
    assert "Azimuth changed by" in drift.sentence
    assert compared.changed == (drift,)
    assert compared.days == 182


def test_a_change_within_its_uncertainty_is_not_shown():
    compared = compare_visits(visit("job 1", FIRST, [azimuth(0.1)]), visit("job 2", LATER, [azimuth(0.35)]))
    assert compared.changed == ()
    assert "is not shown to have changed" in compared.drifts[SETTING_KEYS.index("azimuth")].sentence


def test_what_was_not_read_on_both_occasions_has_no_change():
    compared = compare_visits(visit("job 1", FIRST, [azimuth(0.1)]), visit("job 2", LATER, []))
    drift = compared.drifts[SETTING_KEYS.index("azimuth")]
    assert (drift.change, drift.shown) == (None, False)
    assert drift.sentence == "Azimuth: not read as found at job 2."
    rake = compared.drifts[SETTING_KEYS.index("stylus_rake_angle")]
    assert rake.sentence == "Stylus rake angle: not read as left at job 1 nor as found at job 2."
    assert compared.as_json()["drifts"][SETTING_KEYS.index("azimuth")]["change"] is None


def length(value, targets_source="rule"):
    return ("effective_length", Quantity.measured(value, "mm", standard_uncertainty=0.05, source=targets_source))


def distance(value):
    return ("pivot_to_spindle", Quantity.measured(value, "mm", standard_uncertainty=0.05, source="rule along"))


def test_new_targets_move_no_arm():
    first, second = wanted(), wanted(criterion="inner-null")
    readings = [length(239.2), distance(222.0)]
    compared = compare_visits(
        visit("job 1", FIRST, readings, targets=first), visit("job 2", LATER, readings, targets=second)
    )
    drift = compared.drifts[SETTING_KEYS.index("effective_length")]
    # What is usual of an arm near either target draws both a little.
    assert drift.change.value == pytest.approx(0.0, abs=1e-3)
    assert abs(drift.left.quantity.value - drift.found.quantity.value) > 0.1
    (note,) = compared.notes[1:]
    assert "The targets were chosen anew" in note
    moved_mm = second.geometry.effective_length_mm - first.geometry.effective_length_mm
    assert f"{moved_mm:+.2f} mm" in note


def test_a_distance_that_was_read_again_is_no_change_of_target():
    readings = [length(239.2), distance(222.0)]
    compared = compare_visits(
        visit("job 1", FIRST, readings), visit("job 2", LATER, readings, targets=wanted(distance_mm=222.4))
    )
    assert abs(compared.drifts[0].change.value) < 0.001
    assert not any("targets" in note for note in compared.notes)


@pytest.mark.parametrize(
    ("facts", "hours", "words"),
    [
        ({"stylus_hours": 465.0, "stylus": "elliptical"}, 145.0, ""),
        ({"stylus_hours": 20.0, "stylus": "elliptical"}, None, "it was replaced"),
        ({"stylus_hours": 465.0, "stylus": "conical"}, None, "Another cartridge is fitted"),
        ({"stylus": "elliptical"}, None, "not entered at both visits"),
    ],
)
def test_hours_between_visits_are_those_of_one_stylus(facts, hours, words):
    compared = compare_visits(
        visit("job 1", FIRST, [], stylus_hours=320.0, stylus="elliptical"), visit("job 2", LATER, [], **facts)
    )
    assert compared.stylus_hours == hours
    assert words in " ".join(compared.notes)


def test_visits_are_compared_in_turn_and_never_backward():
    visits = [visit(f"job {k}", date(2026, k, 1), [azimuth(0.1 * k)]) for k in (1, 2, 3)]
    assert [(c.earlier.name, c.later.name) for c in compare_in_turn(visits)] == [("job 1", "job 2"), ("job 2", "job 3")]
    assert compare_in_turn(visits[:1]) == ()
    with pytest.raises(ValueError, match="swap the two"):
        compare_visits(visits[1], visits[0])


def test_a_visit_whose_state_cannot_be_told_still_counts_its_days():
    bare = replace(visit("job 1", FIRST, []), as_left=None, targets=None)
    compared = compare_visits(bare, visit("job 2", LATER, [azimuth(0.2)]))
    assert all(drift.change is None for drift in compared.drifts)
    assert compared.days == 182


def test_a_change_that_is_none_is_shown_once_in_twenty_comparisons():
    rng = np.random.default_rng(7)
    shown = 0
    rounds = 400
    for _ in range(rounds):
        of_gauge = Quantity(0.0, "deg", {Source("gauge"): 0.1, Source("own"): 0.1})

        def read_at(_k, of_gauge=of_gauge):
            return ("azimuth_rotation", replace(of_gauge, value=float(rng.normal(0.3, of_gauge.standard_uncertainty))))

        pair = [visit(f"job {k}", date(2026, k, 1), [read_at(k)]) for k in (1, 2)]
        shown += bool(compare_visits(*pair).changed)
    # 5 % of 400 is 20, with a standard deviation of 4.4.
    assert shown <= 20 + 3 * 4.4
    assert shown >= 20 - 3 * 4.4
