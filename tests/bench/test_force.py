import math
from dataclasses import replace

import pytest

from groovewright.bench.forces.force import ForceReading, ForceSession, force_result
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import ScaleCheck, WeightReading
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, DecisionRule
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN

STEP_MN = 0.01 * GRAM_FORCE_MN
ONE = weight_of_class("1 g", nominal_g=1.0, accuracy_class="F1")
TWO = weight_of_class("2 g", nominal_g=2.0, accuracy_class="F1")
RULE = DecisionRule("guarded acceptance")


def check(occasion="before", shift_g=0.0, gain=1.0):
    rows = (((), 0.0), ((ONE,), 1.0), ((TWO,), 2.0), ((ONE, TWO), 3.0))
    readings = [
        WeightReading(weights, (gain * g + shift_g + wobble) * GRAM_FORCE_MN)
        for weights, g in rows
        for wobble in (0.0, 0.01, 0.0)
    ]
    return ScaleCheck("Scale 2", occasion, STEP_MN, tuple(readings))


def read(place, *shown_g, height=None, surface="platter"):
    return tuple(ForceReading(g * GRAM_FORCE_MN, place, height, surface) for g in shown_g)


def mm(value, u=0.1, source="caliper"):
    return Quantity.measured(value, "mm", standard_uncertainty=u, source=f"{source} {value}")


def grams(value):
    return Quantity.exact(value * GRAM_FORCE_MN, "mN")


SESSION = ForceSession(
    readings=read("outer", 1.90, 1.91, 1.90) + read("inner", 1.91, 1.90, 1.90),
    check_before=check(),
    check_after=check("after"),
    maker_minimum=grams(1.6),
    maker_maximum=grams(2.2),
)


def test_a_good_session_is_in_tolerance_with_the_middle_as_aim():
    result = force_result(SESSION, RULE)
    # The check reads a third of a step high throughout, and so does the stylus.
    assert result.tracking_force.value / GRAM_FORCE_MN == pytest.approx(1.90, abs=0.002)
    assert result.verdict.outcome == IN_TOLERANCE
    assert result.verdict.measured.unit == "g"
    assert result.aim.value == pytest.approx(1.9 * GRAM_FORCE_MN)
    assert result.faults == ()
    assert not any("cure" in note or "Never" in note for note in result.notes)


def test_gain_and_offset_are_taken_off():
    crooked = replace(
        SESSION, check_before=check(gain=1.02, shift_g=0.05), check_after=check("after", gain=1.02, shift_g=0.05)
    )
    shown = tuple(
        replace(one, indication_mn=1.02 * one.indication_mn + 0.05 * GRAM_FORCE_MN) for one in SESSION.readings
    )
    found = force_result(replace(crooked, readings=shown), RULE)
    assert found.scale_gain.value == pytest.approx(1.02, abs=1e-6)
    assert found.tracking_force.value == pytest.approx(force_result(SESSION, RULE).tracking_force.value, abs=1e-3)


def test_as_json_has_the_named_keys_and_plain_types():
    found = force_result(SESSION, RULE).as_json()
    for key in ("scale_gain", "scale_offset", "tracking_force", "outer_inner_difference"):
        assert set(found[key]) == {"value", "unit", "standard_uncertainty"}
    assert found["verdict"] == "in tolerance"
    assert found["probability_of_conformity"] == pytest.approx(1.0, abs=1e-6)
    assert found["height_slope"] is None


def test_a_difference_over_the_platter_is_a_fault_and_is_not_averaged_away():
    even = force_result(SESSION, RULE)
    uneven = force_result(
        replace(SESSION, readings=read("outer", 1.95, 1.96, 1.95) + read("inner", 1.86, 1.85, 1.85)), RULE
    )
    assert uneven.outer_inner_difference.value == pytest.approx(0.1 * GRAM_FORCE_MN, rel=0.1)
    assert uneven.difference_shown
    assert "fault of the arm" in uneven.faults[0]
    assert "larger at the outer" in uneven.faults[0]
    widened = math.sqrt(uneven.tracking_force.standard_uncertainty**2 - even.tracking_force.standard_uncertainty**2)
    assert widened == pytest.approx(abs(uneven.outer_inner_difference.value) / math.sqrt(12), rel=0.05)
    assert not even.difference_shown


def test_readings_on_a_platform_are_carried_to_record_height_by_two_heights():
    low, high = mm(2.7), mm(12.7)
    session = replace(
        SESSION,
        readings=read("inner", 1.92, 1.92, 1.92, height=low) + read("inner", 2.02, 2.02, 2.02, height=high),
        record_height=mm(1.7),
    )
    result = force_result(session, RULE)
    # 0.1 g over 10 mm, so 1 mm down is 0.01 g less; the check reads a third of a step high.
    assert result.height_slope.value == pytest.approx(0.01 * GRAM_FORCE_MN, rel=1e-3)
    assert result.tracking_force.value / GRAM_FORCE_MN == pytest.approx(1.91 - 0.01 / 3, abs=1e-3)


def test_a_height_without_slope_leaves_the_uncertainty_unknown_and_nothing_shown():
    session = replace(SESSION, readings=read("outer", 1.90, 1.91, height=mm(4.0)), record_height=mm(1.5))
    result = force_result(session, RULE)
    assert result.tracking_force.standard_uncertainty is None
    assert result.verdict.outcome == UNDECIDED
    assert "2.5 mm above record height" in result.verdict.reason
    with pytest.raises(ValueError, match="thickness"):
        force_result(replace(session, record_height=None), RULE)


def plain_mm(value):
    return Quantity.unknown_uncertainty(value, "mm", why="typed without ±")


@pytest.mark.parametrize(("platform", "record"), [(plain_mm(1.7), plain_mm(1.7)), (mm(1.7), plain_mm(1.7))])
def test_equal_heights_typed_without_uncertainty_are_not_record_height(platform, record):
    session = replace(SESSION, readings=read("outer", 1.90, 1.91, height=platform), record_height=record)
    result = force_result(session, RULE)
    assert result.verdict.outcome == UNDECIDED
    assert "of record height" in result.verdict.reason
    assert any("to within 0.5 mm" in note for note in result.notes)


def test_a_known_slope_carries_the_half_millimetre_assumed_of_a_height():
    slope = Quantity.exact(0.1, "mN/mm")
    heights = {"rough": plain_mm(1.7), "known": Quantity.exact(1.7, "mm")}
    force = {
        name: force_result(
            replace(SESSION, readings=read("outer", 1.90, 1.91, height=at), record_height=mm(1.7), height_slope=slope),
            RULE,
        ).tracking_force
        for name, at in heights.items()
    }
    # Half a millimetre, rectangular, at 0.1 mN/mm.
    extra = 0.1 * 0.5 / math.sqrt(3)
    assert force["rough"].standard_uncertainty == pytest.approx(
        math.hypot(force["known"].standard_uncertainty, extra), rel=1e-6
    )


def test_a_height_without_uncertainty_is_no_matter_at_record_height():
    result = force_result(replace(SESSION, record_height=plain_mm(1.7)), RULE)
    assert result.verdict.outcome == IN_TOLERANCE
    assert not any("to within 0.5 mm" in note for note in result.notes)


def test_an_unchecked_scale_shows_nothing_and_is_told_what_to_do():
    result = force_result(replace(SESSION, check_before=None, check_after=None), RULE)
    assert result.scale_gain is None
    assert result.tracking_force.standard_uncertainty is None
    assert result.verdict.outcome == UNDECIDED
    assert any("one of 2 g" in note for note in result.notes)


def test_drift_is_a_fault_and_part_of_the_uncertainty():
    steady = force_result(SESSION, RULE)
    drifted = force_result(replace(SESSION, check_after=check("after", shift_g=0.06)), RULE)
    assert any("drifted by +0.060 g" in fault for fault in drifted.faults)
    assert drifted.tracking_force.standard_uncertainty > steady.tracking_force.standard_uncertainty
    assert drifted.tracking_force.value == pytest.approx(steady.tracking_force.value - 0.03 * GRAM_FORCE_MN, abs=1e-3)


def test_too_much_force_is_out_and_brings_the_practice_with_it():
    result = force_result(replace(SESSION, readings=read("outer", 2.40, 2.40, 2.41)), RULE)
    assert result.verdict.outcome == OUT_OF_TOLERANCE
    said = " ".join(result.notes)
    assert "Never leave the maker's range" in said
    assert "no cure for mistracking" in said
    assert "Aim for 1.90 g" in said
    assert "outer and the inner platter" in said


def test_notes_answer_the_complaint_and_the_surface():
    session = replace(
        SESSION, mistracking_reported=True, readings=read("outer", 1.90, 1.91, surface="record"), check_after=None
    )
    said = " ".join(force_result(session, RULE).notes)
    assert "no cure for mistracking" in said
    assert "not on a record" in said
    assert "again after the readings" in said
    late = replace(SESSION, check_before=None)
    assert any("after the readings only" in note for note in force_result(late, RULE).notes)


def test_a_stylus_that_scatters_more_than_the_scale_is_reported():
    result = force_result(replace(SESSION, readings=read("outer", 1.80, 1.95, 2.02, 1.88)), RULE)
    assert any("friction" in fault for fault in result.faults)


def test_without_a_range_there_is_no_verdict_and_with_one_limit_no_aim():
    open_ended = force_result(replace(SESSION, maker_minimum=None), RULE)
    assert open_ended.aim is None
    assert open_ended.verdict.outcome == IN_TOLERANCE
    none = force_result(replace(SESSION, maker_minimum=None, maker_maximum=None), RULE)
    assert none.verdict is None
    assert none.as_json()["probability_of_conformity"] is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"readings": ()}, "no reading"),
        ({"readings": read("outer", -0.1)}, "must stand at 0"),
        ({"readings": read("outer", 4.2)}, "extend its calibration"),
        ({"maker_minimum": grams(2.4)}, "from 2.4 to 2.2 g"),
        ({"check_after": check("before")}, "name the two occasions apart"),
    ],
)
def test_contradictions_are_refused_in_one_sentence(change, said):
    with pytest.raises(ValueError, match=said):
        force_result(replace(SESSION, **change), RULE)
