import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.quantity import Quantity, covariance
from groovewright.tonearm.criteria import CLOSED_FORMS, CRITERIA, closed_form_geometry
from groovewright.tonearm.distortion import second_harmonic_over_range

LP = {"innermost_mm": 60.325, "outermost_mm": 146.05}
DISTANCE = Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="steel rule 1")


def request(criterion="minimax", distance=DISTANCE, **more):
    return TargetRequest(distance, criterion, **LP, **more)


@pytest.mark.parametrize("criterion", CLOSED_FORMS)
def test_with_nothing_in_the_way_the_closed_form_is_the_target(criterion):
    targets = choose_targets(request(criterion))
    free = closed_form_geometry(criterion, pivot_to_spindle_mm=222.0, **LP)
    assert targets.geometry == free
    assert targets.effective_length.value == free.effective_length_mm
    assert targets.overhang.value == free.overhang_mm
    assert targets.offset_angle.value == free.offset_angle_deg
    assert [radius.value for radius in targets.null_radii] == list(free.null_radii_mm)
    assert targets.notes == ()


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(list(CRITERIA)), st.floats(180, 320), st.floats(0.05, 1.5))
def test_the_uncertainty_is_the_change_of_the_target_with_the_distance(criterion, distance_mm, u_mm):
    at = choose_targets(
        request(criterion, Quantity.measured(distance_mm, "mm", standard_uncertainty=u_mm, source="rule"))
    )
    above, below = (
        choose_targets(request(criterion, Quantity.exact(distance_mm + shift, "mm"))) for shift in (0.5, -0.5)
    )
    for name in ("effective_length", "overhang", "offset_angle", "peak_tracking_error", "rms_distortion"):
        slope = getattr(above, name).value - getattr(below, name).value
        assert getattr(at, name).standard_uncertainty == pytest.approx(abs(slope) * u_mm, rel=1e-3, abs=1e-7)


def test_length_and_overhang_stay_correlated_with_the_distance():
    targets = choose_targets(request())
    u_length = targets.effective_length.standard_uncertainty
    # L^2 - D^2 does not change, so dL/dD = D/L.
    assert u_length == pytest.approx(0.3 * 222.0 / targets.effective_length.value, rel=1e-9)
    assert covariance(targets.effective_length, DISTANCE) == pytest.approx(0.3 * u_length, rel=1e-9)
    assert targets.overhang.standard_uncertainty == pytest.approx(0.3 - u_length, rel=1e-6)
    assert covariance(targets.overhang, DISTANCE) < 0


@pytest.mark.parametrize("criterion", ["minimax", "least-squares", "inner-null"])
def test_closed_form_nulls_are_exact(criterion):
    unknown = Quantity.unknown_uncertainty(222.0, "mm", why="none was stated")
    for distance in (DISTANCE, unknown):
        targets = choose_targets(request(criterion, distance))
        assert [radius.standard_uncertainty for radius in targets.null_radii] == [0.0, 0.0]
        assert targets.linear_offset.standard_uncertainty == 0.0


def test_nulls_that_move_with_the_distance_carry_its_uncertainty():
    targets = choose_targets(request("exact-peak"))
    assert all(0 < radius.standard_uncertainty < 0.01 for radius in targets.null_radii)


def test_an_unknown_uncertainty_of_the_distance_stays_unknown_with_its_reason():
    targets = choose_targets(request(distance=Quantity.unknown_uncertainty(222.0, "mm", why="none was stated")))
    for name in ("effective_length", "overhang", "offset_angle", "peak_tracking_error", "peak_distortion"):
        quantity = getattr(targets, name)
        assert quantity.standard_uncertainty is None
        assert "none was stated" in quantity.why_unknown
    assert targets.notes == (
        "The uncertainty of the pivot-to-spindle distance is not known, so none can be given for the targets that "
        "follow from it.",
    )


def test_distortion_is_that_of_the_geometry_at_the_velocity_and_speed_asked_for():
    targets = choose_targets(request(peak_velocity_cm_s=14.0, speed_rpm=45.0))
    harmonic = second_harmonic_over_range(targets.geometry, **LP, peak_velocity_cm_s=14.0, speed_rpm=45.0)
    assert targets.peak_distortion.value == harmonic.peak_percent
    assert targets.rms_distortion.value == harmonic.rms_percent
    assert targets.peak_distortion.unit == "%"


OBJECTIVES = {
    "minimax": ("peak", 1),
    "least-squares": ("rms", 1),
    "angle-minimax": ("peak", 0),
    "exact-peak": ("peak", 1),
    "exact-rms": ("rms", 1),
}


def rated(geometry, criterion):
    kind, power = OBJECTIVES[criterion]
    radius = np.linspace(LP["innermost_mm"], LP["outermost_mm"], 3001)
    error = np.tan(np.radians(geometry.tracking_error_deg(radius))) / radius**power
    return np.abs(error).max() if kind == "peak" else math.sqrt(np.mean(error**2))


@pytest.mark.parametrize("criterion", OBJECTIVES)
@pytest.mark.parametrize("held", ["effective length", "offset angle"])
def test_under_a_hold_each_criterion_minimises_its_own_error(criterion, held):
    from scipy.optimize import minimize_scalar

    from groovewright.tonearm.geometry import Geometry

    if held == "effective length":
        targets = choose_targets(request(criterion, hold_effective_length=Quantity.exact(236.0, "mm")))
        assert targets.geometry.effective_length_mm == 236.0
        plain = minimize_scalar(
            lambda offset: rated(Geometry(222.0, 236.0, offset), criterion), bounds=(15, 30), method="bounded"
        )
    else:
        targets = choose_targets(request(criterion, hold_offset_angle=Quantity.exact(21.0, "deg")))
        assert targets.geometry.offset_angle_deg == pytest.approx(21.0, abs=1e-12)
        plain = minimize_scalar(
            lambda length: rated(Geometry(222.0, length, 21.0), criterion), bounds=(225, 245), method="bounded"
        )
    ours = rated(targets.geometry, criterion)
    assert ours <= plain.fun * (1 + 1e-6)
    assert ours >= plain.fun * (1 - 1e-4)
    assert any(held in note and "unhindered, the criterion asks for" in note for note in targets.notes)


def test_a_held_length_keeps_its_own_uncertainty_and_passes_it_on():
    length = Quantity.measured(236.0, "mm", standard_uncertainty=0.2, source="caliper")
    targets = choose_targets(request(hold_effective_length=length))
    assert targets.effective_length is length
    assert targets.overhang.standard_uncertainty == pytest.approx(math.hypot(0.3, 0.2), rel=1e-6)
    assert covariance(targets.offset_angle, length) != 0


@pytest.mark.parametrize(
    "more",
    [
        {"hold_effective_length": Quantity.exact(236.0, "mm")},
        {"hold_offset_angle": Quantity.exact(21.0, "deg")},
        {"effective_length_limits_mm": (230.0, 236.0)},
        {"offset_angle_limits_deg": (18.0, 21.0)},
        {"arm_kind": "straight underhung"},
    ],
    ids=lambda more: next(iter(more)),
)
def test_the_inner_null_stays_at_the_innermost_groove_under_any_limit(more):
    targets = choose_targets(request("inner-null", **more))
    assert float(targets.geometry.tracking_error_deg(60.325)) == pytest.approx(0, abs=1e-9)


def test_an_inner_null_that_no_headshell_setting_gives_is_said_to_be_out_of_reach():
    targets = choose_targets(
        request("inner-null", effective_length_limits_mm=(230.0, 236.0), offset_angle_limits_deg=(24.0, 24.0))
    )
    assert any("No null can be placed at the innermost groove (60.325 mm)" in note for note in targets.notes)
    assert any("lies outside the groove range" in note for note in targets.notes)


def test_a_limit_that_binds_is_named_with_what_the_criterion_wants():
    targets = choose_targets(request(effective_length_limits_mm=(228.0, 236.0)))
    assert targets.effective_length.value == 236.0
    assert targets.effective_length.standard_uncertainty == 0.0
    assert targets.notes[0] == (
        "The effective length is at the limit of the headshell, 236.00 mm; unhindered, the criterion asks for 239.30."
    )


def test_a_limit_within_the_uncertainty_of_the_distance_is_noted():
    near = choose_targets(request(effective_length_limits_mm=(230.0, 239.2)))
    assert any("a limit of the headshell may bind or not" in note for note in near.notes)
    far = choose_targets(request(effective_length_limits_mm=(230.0, 238.0)))
    assert not any("may bind or not" in note for note in far.notes)
    free = choose_targets(request(effective_length_limits_mm=(230.0, 241.0)))
    assert free.notes == ()
    for u_mm in (30.0, 60.0, 200.0):
        guessed = Quantity.measured(222.0, "mm", standard_uncertainty=u_mm, source="by eye")
        notes = choose_targets(request(distance=guessed, effective_length_limits_mm=(230.0, 238.0))).notes
        assert any("may bind or not" in note for note in notes)


@pytest.mark.parametrize("limit_mm", [239.0, 239.2, 239.296, 239.4, 239.7])
def test_a_target_near_a_limit_is_as_uncertain_as_over_draws_of_the_distance(limit_mm):
    distance = Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="steel rule")
    limits = {"effective_length_limits_mm": (230.0, limit_mm)}
    near = choose_targets(request(distance=distance, **limits))
    drawn = np.random.default_rng(4).normal(222.0, 0.3, 200)
    lengths = [
        choose_targets(request(distance=Quantity.exact(d, "mm"), **limits)).effective_length.value for d in drawn
    ]
    rms = math.sqrt(np.mean((np.array(lengths) - near.effective_length.value) ** 2))
    assert rms > 0.05
    # A twentieth of the distance's own uncertainty.
    assert near.effective_length.standard_uncertainty == pytest.approx(rms, abs=0.05 * 0.3)
    # It goes with the distance as far as the draws do.
    slope = np.polyfit(drawn - 222.0, lengths, 1)[0]
    assert covariance(near.effective_length, distance) == pytest.approx(slope * 0.3**2, abs=0.1 * 0.3**2)


def test_a_limit_beyond_which_no_arm_can_play_leaves_the_uncertainty_unknown():
    wide = Quantity.measured(222.0, "mm", standard_uncertainty=60.0, source="guess")
    near = choose_targets(request(distance=wide, effective_length_limits_mm=(230.0, 239.2)))
    assert near.effective_length.standard_uncertainty is None
    assert "at some likely pivot-to-spindle distances" in near.effective_length.why_unknown


def test_a_target_at_a_limit_is_not_exact_while_the_distance_is_unknown():
    unknown = Quantity.unknown_uncertainty(222.0, "mm", why="none was stated")
    at_limit = choose_targets(request(distance=unknown, effective_length_limits_mm=(230.0, 238.0)))
    assert at_limit.effective_length.value == pytest.approx(238.0)
    assert at_limit.effective_length.standard_uncertainty is None
    assert at_limit.effective_length.why_unknown == (
        "the uncertainty of the pivot-to-spindle distance is not known: none was stated"
    )
    turned = choose_targets(request(distance=unknown, offset_angle_limits_deg=(18.0, 21.0)))
    assert turned.offset_angle.standard_uncertainty is None
    fixed = choose_targets(request(distance=unknown, effective_length_limits_mm=(238.0, 238.0)))
    assert fixed.effective_length.standard_uncertainty == 0


def test_a_limit_that_does_not_bind_changes_nothing():
    wide = choose_targets(request(effective_length_limits_mm=(228.0, 245.0), offset_angle_limits_deg=(20.0, 25.0)))
    assert wide.geometry == choose_targets(request()).geometry
    assert wide.notes == ()


@pytest.mark.parametrize("criterion", ["minimax", "least-squares", "angle-minimax"])
def test_a_limit_rounded_from_the_target_itself_does_not_blow_its_uncertainty_up(criterion):
    free = choose_targets(request(criterion))
    for limit_mm in (round(free.effective_length.value, digits) for digits in (2, 3, 4, 5)):
        bound = choose_targets(request(criterion, effective_length_limits_mm=(230.0, limit_mm)))
        # Either the target moves with the distance, or the length is bound and the rest moves as far as it must.
        assert bound.offset_angle.standard_uncertainty < 0.3
        assert bound.linear_offset.standard_uncertainty < 1.0
        assert bound.peak_distortion.standard_uncertainty < 0.1


def test_a_length_held_at_the_target_itself_still_lends_its_uncertainty_to_the_rest():
    own = choose_targets(request()).effective_length.value
    held = Quantity.measured(own, "mm", standard_uncertainty=0.2, source="maker's drawing")
    targets = choose_targets(request(hold_effective_length=held))
    assert targets.overhang.standard_uncertainty == pytest.approx(math.hypot(0.2, 0.3), rel=1e-6)
    assert targets.null_radii[0].standard_uncertainty > 0.5
    near = Quantity.measured(own + 0.001, "mm", standard_uncertainty=0.2, source="maker's drawing")
    assert choose_targets(request(hold_effective_length=near)).offset_angle.standard_uncertainty == pytest.approx(
        targets.offset_angle.standard_uncertainty, rel=0.01
    )


def test_a_straight_underhung_arm_has_one_null_and_no_offset():
    targets = choose_targets(request("exact-peak", arm_kind="straight underhung"))
    assert targets.offset_angle.value == 0.0
    assert targets.overhang.value < 0
    assert len(targets.null_radii) == 1
    assert targets.notes[0].startswith("A straight underhung arm has no offset angle")


def test_a_tangential_arm_has_no_length_and_no_error():
    targets = choose_targets(request(distance=None, arm_kind="tangential"))
    assert targets.geometry is None
    assert targets.effective_length is None
    assert targets.null_radii == ()
    assert targets.peak_tracking_error.value == targets.peak_distortion.value == 0
    assert "must travel through the centre of the spindle" in targets.notes[0]
    assert json.loads(json.dumps(targets.as_json()))["effective_length"] is None
    assert targets.as_json()["pivot_to_spindle"] is None


def test_as_json_is_one_plain_object_of_quantities():
    told = json.loads(json.dumps(choose_targets(request()).as_json()))
    quantities = [
        "effective_length",
        "overhang",
        "offset_angle",
        "linear_offset",
        "peak_tracking_error",
        "peak_distortion",
        "rms_distortion",
    ]
    for name in quantities:
        assert set(told[name]) == {"value", "unit", "standard_uncertainty"}
    assert [set(radius) for radius in told["null_radii"]] == [{"value", "unit", "standard_uncertainty"}] * 2
    assert told["criterion"] == "minimax"
    assert told["effective_length"]["value"] == pytest.approx(239.2961, abs=5e-5)


MM = {"criterion": "minimax", **LP}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"criterion": "best"}, "'best' is not a criterion; choose one of minimax, least-squares"),
        ({"arm_kind": "curved"}, "'curved' is not a kind of arm; choose one of offset, straight underhung, tangential"),
        ({"pivot_to_spindle": None}, "a pivoted arm needs its pivot-to-spindle distance; measure it first"),
        ({"innermost_mm": 150.0}, "must lie inside the outermost"),
        ({"pivot_to_spindle": Quantity.exact(22.2, "mm")}, "of 22.2 mm lies inside the outermost groove"),
        ({"pivot_to_spindle": Quantity.exact(-222, "mm")}, "must be above 0 mm, not -222 mm"),
        ({"pivot_to_spindle": Quantity.exact(8.74, "in")}, "must be given in mm, not in 'in'"),
        ({"pivot_to_spindle": Quantity.exact(222e3, "mm")}, "of 222000 mm is more than any arm has .*; check its unit"),
        ({"hold_effective_length": Quantity.exact(1e200, "mm")}, "a held effective length of 1e.200 mm is more than"),
        ({"hold_offset_angle": Quantity.exact(21, "mm")}, "held offset angle must be given in deg, not in 'mm'"),
        (
            {"hold_effective_length": Quantity.exact(236, "mm"), "effective_length_limits_mm": (230, 240)},
            "the effective length is both held and bounded; give one of the two",
        ),
        ({"effective_length_limits_mm": (240, 230)}, "run from 240 to 230; low comes first"),
        ({"offset_angle_limits_deg": (math.nan, 30)}, "the limits of the offset angle run from nan to 30"),
        (
            {"arm_kind": "straight underhung", "offset_angle_limits_deg": (20, 25)},
            "a straight underhung arm has an offset angle of 0",
        ),
    ],
)
def test_a_request_that_contradicts_itself_is_refused_in_one_sentence(arguments, message):
    with pytest.raises(ValueError, match=message):
        TargetRequest(**{"pivot_to_spindle": DISTANCE, **MM, **arguments})


def test_limits_out_of_reach_are_refused_with_what_would_do():
    with pytest.raises(ValueError, match=r"an arm 100 to 120 mm long.*must lie between 161.675 and 282.325 mm"):
        choose_targets(request(effective_length_limits_mm=(100.0, 120.0)))
