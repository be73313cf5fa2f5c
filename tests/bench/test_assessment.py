from dataclasses import replace

import pytest

from groovewright.bench.assessment import (
    ArmFacts,
    CartridgeFacts,
    IssuedPlate,
    IssuedReport,
    JobInputs,
    StageReadings,
    assess,
)
from groovewright.bench.forces.force import ForceReading
from groovewright.bench.length import LengthReading
from groovewright.bench.steps import same_geometry
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import ScaleCheck, WeightReading
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.tonearm.geometry import Geometry

TWO = weight_of_class("2 g", nominal_g=2.0, accuracy_class="F1")


def known(value, unit, u, source):
    return Quantity.measured(value, unit, standard_uncertainty=u, source=source)


def grams(value):
    return Quantity.exact(value * GRAM_FORCE_MN, "mN")


def forces(*shown_g):
    return tuple(ForceReading(g * GRAM_FORCE_MN, place) for place in ("outer", "inner") for g in shown_g)


DISTANCE = known(222.0, "mm", 0.3, "distance, reading 1")
REQUEST = TargetRequest(DISTANCE, "minimax", 60.325, 146.05)
GEOMETRY = choose_targets(REQUEST).geometry
CHECK = ScaleCheck(
    "Scale 2",
    "before",
    0.01 * GRAM_FORCE_MN,
    tuple(WeightReading(w, g * GRAM_FORCE_MN) for w, g in (((), 0.0), ((), 0.0), ((TWO,), 2.0), ((TWO,), 2.01))),
)
FINISHED = JobInputs(
    arm=ArmFacts(effective_mass=known(11, "g", 0.5, "arm mass")),
    cartridge=CartridgeFacts(
        force_minimum=grams(1.6),
        force_maximum=grams(2.2),
        compliance=known(15, "um/mN", 1.0, "compliance"),
        compliance_quoted_at_hz=10.0,
        mass=Quantity.exact(6.5, "g"),
        fastener_mass=Quantity.exact(0.8, "g"),
    ),
    pivot_to_spindle=(DISTANCE,),
    target_request=REQUEST,
    plates=(IssuedPlate("P-1", GEOMETRY, 100.05, 99.95),),
    as_found=StageReadings((LengthReading("overhang", known(19.0, "mm", 0.1, "found")),), forces(2.0, 1.99)),
    as_left=StageReadings((LengthReading("overhang", known(17.3, "mm", 0.1, "left")),), forces(1.90, 1.91)),
    scale_check_before=CHECK,
    reports=(IssuedReport("R-1"),),
)


def states(inputs):
    return {step.key: step.state for step in assess(inputs).missing}


def detail(inputs, key):
    return next(step.detail for step in assess(inputs).missing if step.key == key)


def test_a_finished_job_is_done_in_every_step():
    assessment = assess(FINISHED)
    assert set(states(FINISHED).values()) == {"done"}
    assert [step.key for step in assessment.missing] == ["take in", "choose", "plate", "readings", "verdicts", "report"]
    assert assessment.problems == ()
    assert assessment.as_left.length.verdict.outcome == "in tolerance"
    assert assessment.as_left.force.verdict.outcome == "in tolerance"
    assert assessment.as_found.length.verdict.outcome == "out of tolerance"
    # 18.3 g on 15 um/mN.
    assert assessment.resonance.frequency.value == pytest.approx(159.155 / (18.3 * 15) ** 0.5, abs=1e-3)


def test_an_empty_job_starts_with_taking_in():
    assessment = assess(JobInputs())
    assert [step.state for step in assessment.missing] == ["next", "open", "open", "open", "open", "open"]
    assert assessment.targets is None
    assert assessment.problems == ()
    assert "the arm and the cartridge" in detail(JobInputs(), "take in")


@pytest.mark.parametrize(
    ("change", "key", "said"),
    [
        ({"cartridge": CartridgeFacts()}, "take in", "maker's range"),
        ({"target_request": None}, "choose", "222.00 mm"),
        ({"target_request": None, "pivot_to_spindle": ()}, "choose", "Measure the pivot-to-spindle"),
        ({"plates": (IssuedPlate("P-1", GEOMETRY),)}, "plate", "Measure both check bars of plate P-1"),
        ({"plates": (IssuedPlate("P-1", GEOMETRY, 100.4, 99.7),)}, "plate", "corrected plate"),
        ({"as_left": StageReadings()}, "readings", "effective length as left and tracking force as left"),
        ({"scale_check_before": None}, "readings", "check of the scale"),
        ({"reports": ()}, "report", "Issue the report"),
    ],
)
def test_the_first_unfinished_step_is_next_and_says_what_it_lacks(change, key, said):
    inputs = replace(FINISHED, **change)
    assert states(inputs)[key] == "next"
    assert said in detail(inputs, key)


def test_a_new_distance_makes_the_choice_stale_and_the_verdicts_with_it():
    inputs = replace(FINISHED, pivot_to_spindle=(DISTANCE, known(222.6, "mm", 0.3, "distance, reading 2")))
    found = states(inputs)
    assert found["choose"] == "stale"
    assert found["verdicts"] == "stale"
    assert "222.30 mm" in detail(inputs, "choose")
    assert "next" not in found.values()


def test_a_plate_for_older_targets_is_stale():
    older = IssuedPlate("P-1", Geometry(221.0, 238.4, 23.1), 100.0, 100.0)
    inputs = replace(FINISHED, plates=(older,))
    assert states(inputs)["plate"] == "stale"
    newer = replace(inputs, plates=(older, IssuedPlate("P-2", GEOMETRY, 100.0, 100.0)))
    assert states(newer)["plate"] == "done"


def test_without_a_plate_the_step_waits_until_the_length_was_read_otherwise():
    assert states(replace(FINISHED, plates=()))["plate"] == "done"
    assert states(replace(FINISHED, plates=(), as_left=StageReadings()))["plate"] == "next"


def test_entries_after_the_report_make_it_stale():
    inputs = replace(FINISHED, reports=(IssuedReport("R-1", entries_since=2),))
    assert states(inputs)["report"] == "stale"
    assert "2 entries were recorded since report R-1" in detail(inputs, "report")


def test_an_out_of_tolerance_deck_stays_at_verdicts_until_it_is_handed_over_so():
    out = replace(FINISHED, as_left=replace(FINISHED.as_left, lengths=FINISHED.as_found.lengths), reports=())
    assert states(out)["verdicts"] == "next"
    assert "Adjust and read again" in detail(out, "verdicts")
    assert states(replace(out, reports=(IssuedReport("R-1"),)))["verdicts"] == "done"


def test_what_cannot_be_computed_is_a_problem_and_not_a_crash():
    heavy = replace(FINISHED, as_left=replace(FINISHED.as_left, forces=forces(2.9)))
    assessment = assess(heavy)
    assert assessment.as_left.force is None
    assert [problem.about for problem in assessment.problems] == ["as left: tracking force"]
    assert "extend its calibration" in assessment.problems[0].sentence
    assert "extend its calibration" in detail(heavy, "readings")
    impossible = replace(FINISHED, target_request=replace(REQUEST, effective_length_limits_mm=(900.0, 910.0)))
    assert assess(impossible).targets is None
    assert states(impossible)["choose"] == "stale"


def test_faults_written_down_and_shown_come_together():
    uneven = StageReadings(
        FINISHED.as_found.lengths,
        tuple(
            ForceReading(g * GRAM_FORCE_MN, place)
            for place, shown in (("outer", (1.99, 2.0)), ("inner", (1.80, 1.81)))
            for g in shown
        ),
    )
    faults = assess(replace(FINISHED, faults_found=("Play in the bearing.",), as_found=uneven)).faults
    assert faults[0] == "Play in the bearing."
    assert faults[1].startswith("As found: The tracking force is")


def test_a_tangential_arm_needs_neither_plate_nor_length():
    inputs = replace(
        FINISHED,
        target_request=replace(REQUEST, arm_kind="tangential", pivot_to_spindle=None),
        plates=(),
        as_found=StageReadings(),
        as_left=replace(FINISHED.as_left, lengths=()),
    )
    assert set(states(inputs).values()) == {"done"}
    assessment = assess(inputs)
    assert assessment.as_left.length is None
    details = {step.key: step.detail for step in assessment.missing}
    assert details["choose"] == "Chosen for a tangential arm, which has no effective length and no offset angle."
    assert details["plate"] == "A tangential arm needs no plate."
    assert "no verdict on one applies" in details["verdicts"]
    untouched = {"target_request": None, "arm": ArmFacts("tangential"), "reports": (), "pivot_to_spindle": ()}
    fresh = {step.key: step.detail for step in assess(replace(inputs, **untouched)).missing}
    assert fresh["choose"] == "Choose the groove; a tangential arm has no distance or length to measure."
    assert fresh["plate"] == "A tangential arm needs no plate."


def test_a_length_read_on_a_tangential_arm_is_a_problem_and_no_verdict():
    inputs = replace(FINISHED, target_request=replace(REQUEST, arm_kind="tangential", pivot_to_spindle=None))
    problem = assess(inputs).problems[-1]
    assert problem.about == "as left: effective length"
    assert "a tangential arm has no effective length" in problem.sentence


def test_a_straight_underhung_arm_gets_a_verdict_on_its_length():
    request = replace(REQUEST, arm_kind="straight underhung")
    overhang = known(choose_targets(request).overhang.value, "mm", 0.05, "rule")
    left = replace(FINISHED.as_left, lengths=(LengthReading("overhang", overhang),))
    inputs = replace(FINISHED, target_request=request, as_left=left, as_found=StageReadings())
    assert assess(inputs).as_left.length.verdict.outcome == "in tolerance"
    assert states(inputs)["plate"] == "stale"


def test_readings_of_the_distance_are_joined_for_the_next_choice():
    inputs = replace(FINISHED, pivot_to_spindle=(DISTANCE, known(224.0, "mm", 0.3, "distance, reading 2")))
    joined = assess(inputs).pivot_to_spindle
    assert joined.quantity.value == pytest.approx(223.0)
    assert not joined.agree


@pytest.mark.parametrize(
    ("moved", "same"), [({"effective_length_mm": 0.0005}, True), ({"effective_length_mm": 0.002}, False)]
)
def test_a_plate_serves_targets_that_agree_with_it_to_a_thousandth(moved, same):
    other = replace(GEOMETRY, **{name: getattr(GEOMETRY, name) + by for name, by in moved.items()})
    assert same_geometry(GEOMETRY, other) is same
