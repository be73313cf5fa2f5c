"""Side force over the groove, with its verdict, and the limits in the middle that stand for the whole groove."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.estimate.settings import SETTING_KEYS, SettingTargets, settings_of
from groovewright.bench.forces.side_force import (
    GivenConstant,
    GivenTable,
    GivenThread,
    SideForceRequest,
    compensation_at,
    side_force_result,
    side_force_tolerance_at_middle,
)
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, DecisionRule
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity, covariance
from groovewright.tonearm.arm_state import ArmState
from groovewright.tonearm.compensation import ConstantCompensation, TableCompensation, ThreadCompensation
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import side_force_mn

INNER, OUTER, MIDDLE = 60.325, 146.05, 103.1875
ARM = Geometry(222.0, 239.2961, 22.9855)
RULE = DecisionRule.of_maximum_risk(0.05)
FORCE_MN, COEFFICIENT = 18.0, 0.3


def measured(value, u, unit, source):
    return Quantity.measured(value, unit, standard_uncertainty=u, source=source)


def mn(value, u=0.05, source="force gauge"):
    return measured(value, u, "mN", source)


def request(**changes):
    parts = {
        "pivot_to_spindle": measured(222.0, 0.3, "mm", "distance"),
        "effective_length": measured(239.2961, 0.2, "mm", "length"),
        "tracking_force": measured(FORCE_MN, 0.1, "mN", "scale"),
        "friction_coefficient": measured(COEFFICIENT, 0.01, "1", "friction"),
        "innermost_mm": INNER,
        "outermost_mm": OUTER,
        "compensation": GivenConstant(mn(2.14)),
    }
    return SideForceRequest(**parts | changes)


def found(**changes):
    return side_force_result(request(**changes), RULE)


THREAD = GivenThread(
    weight_mass=measured(2.5, 0.01, "g", "weight"),
    lever=measured(20.0, 0.2, "mm", "lever"),
    lever_angle=measured(-90.0, 1.0, "deg", "lever angle"),
    guide_distance=measured(40.0, 0.3, "mm", "guide"),
    guide_angle=measured(5.0, 1.0, "deg", "guide angle"),
    guide_height=measured(3.0, 0.5, "mm", "guide height"),
)


def test_the_groove_is_covered_from_end_to_end_with_the_sin_form():
    result = found()
    radii = [point.radius_mm for point in result.groove]
    assert (radii[0], radii[-1]) == (INNER, OUTER)
    assert radii == sorted(set(radii))
    # Sines of the worked values: 0.402 at the innermost groove, 0.3757 at 100 mm, 0.419 at the outermost.
    drag = COEFFICIENT * FORCE_MN
    assert result.groove[0].side_force.value == pytest.approx(0.402 * drag, abs=0.0005 * drag)
    assert result.groove[-1].side_force.value == pytest.approx(0.419 * drag, abs=0.0005 * drag)
    assert result.middle.radius_mm == MIDDLE
    assert "sin" in result.as_json()["form"]


def test_uncertainties_are_those_of_a_product():
    side = found().middle.side_force
    sine = side.value / (COEFFICIENT * FORCE_MN)
    # sin psi = (r^2 + L^2 - D^2) / (2 r L), differentiated by hand.
    by_length = 1 / MIDDLE - sine / 239.2961
    by_distance = -222.0 / (MIDDLE * 239.2961)
    relative = [0.1 / FORCE_MN, 0.01 / COEFFICIENT, 0.2 * by_length / sine, 0.3 * by_distance / sine]
    assert side.standard_uncertainty == pytest.approx(side.value * math.hypot(*relative), rel=1e-6)


def test_walls_share_the_tracking_force_and_its_error():
    point = found().groove[-1]
    total = point.inner_wall.value + point.outer_wall.value
    assert total == pytest.approx(math.sqrt(2) * FORCE_MN)
    # The rest is inward here, so the outer wall carries less.
    assert point.rest.value > 0
    assert point.outer_wall.value < point.inner_wall.value
    variance = sum(
        covariance(a, b) for a in (point.inner_wall, point.outer_wall) for b in (point.inner_wall, point.outer_wall)
    )
    assert math.sqrt(variance) == pytest.approx(math.sqrt(2) * 0.1, rel=1e-6)


def test_well_compensated_is_in_tolerance_over_the_whole_groove():
    result = found()
    assert result.verdict.outcome == IN_TOLERANCE
    assert result.verdict.probability_of_conformity > 0.99
    assert result.verdict.tolerance.upper == 0.9
    assert "over" not in result.verdict.reason


@pytest.mark.parametrize(("force", "worst", "way"), [(1.0, OUTER, "more"), (3.4, 89.3, "less")])
def test_wrong_compensation_is_out_of_tolerance_where_it_is_worst(force, worst, way):
    result = found(compensation=GivenConstant(mn(force)))
    assert result.verdict.outcome == OUT_OF_TOLERANCE
    # The rest is flat about its turn, so that the uncertainty decides within a step of the radii.
    assert result.worst_radius_mm == pytest.approx(worst, abs=2.0)
    assert f"At {result.worst_radius_mm:.4g} mm, where the rest of the side force" in result.verdict.reason
    assert any(f"Set {way} compensation" in note for note in result.notes)


def test_the_change_advised_balances_the_groove():
    first = found(compensation=GivenConstant(mn(1.0)))
    second = found(compensation=GivenConstant(mn(1.0 + first.change.value)))
    rests = [point.rest.value for point in second.groove]
    assert max(rests) == pytest.approx(-min(rests))
    assert second.change.value == pytest.approx(0.0, abs=1e-12)
    balanced = found(compensation=GivenConstant(mn(first.balancing_compensation.value)))
    assert balanced.change.value == pytest.approx(0.0, abs=1e-12)
    share = first.share_of_tracking_force
    assert share.value == pytest.approx(100 * first.balancing_compensation.value / FORCE_MN)


def test_one_bad_end_of_a_table_spoils_the_whole_groove():
    forces = (mn(2.1, source="a"), mn(2.1, source="b"), mn(0.6, source="c"))
    result = found(compensation=GivenTable((60.0, 110.0, 146.05), forces))
    assert result.verdict.outcome == OUT_OF_TOLERANCE
    assert result.worst_radius_mm == OUTER
    # Most of the groove by itself is in tolerance.
    assert abs(result.middle.rest.value) < 0.2


def test_the_table_is_looked_at_where_it_turns():
    peak_mm = 111.37
    forces = (mn(2.0, source="a"), mn(3.0, source="b"), mn(2.0, source="c"))
    result = found(compensation=GivenTable((60.0, peak_mm, 147.0), forces))
    assert max(point.compensation.value for point in result.groove) == 3.0


def test_friction_of_the_bearings_widens_what_the_stylus_feels():
    without, with_friction = found(), found(bearing_friction=mn(0.4, 0.02, "friction gauge"))
    low, high = without.middle.interval_mn
    lower, higher = with_friction.middle.interval_mn
    assert lower < low - 0.39
    assert higher > high + 0.39
    assert without.middle.interval_mn == coverage_interval(without.middle.rest)
    assert without.verdict.probability_of_conformity > with_friction.verdict.probability_of_conformity
    assert any("friction is not read" in note for note in without.notes)
    assert not any("friction is not read" in note for note in with_friction.notes)


def test_bearings_that_hold_more_than_the_limit_are_a_fault():
    result = found(bearing_friction=mn(1.2, 0.02))
    assert result.verdict.outcome == OUT_OF_TOLERANCE
    assert any("no compensation can mend that" in note for note in result.notes)


def test_stray_force_adds_to_the_side_force():
    plain, drawn = found(), found(stray_force=mn(0.3, 0.01, "stray"))
    for a, b in zip(plain.groove, drawn.groove, strict=True):
        assert b.rest.value - a.rest.value == pytest.approx(0.3)


def test_a_thread_is_what_its_dimensions_give():
    result = found(compensation=THREAD)
    exact = ThreadCompensation(Geometry(222.0, 239.2961, 0.0), 2.5, 20.0, -90.0, 40.0, 5.0, 3.0)
    for point in result.groove[::5]:
        assert point.compensation.value == pytest.approx(float(exact.force_mn(point.radius_mm)))
        # The lever's 1 % alone is more than half of the uncertainty.
        assert 0.005 < point.compensation.standard_uncertainty / point.compensation.value < 0.03


def test_a_thread_on_the_wrong_side_is_noted():
    wrong = replace(THREAD, lever_angle=measured(90.0, 1.0, "deg", "lever angle"))
    result = found(compensation=wrong)
    assert any("draws toward the spindle at 60.3" in note for note in result.notes)
    assert result.verdict.outcome == OUT_OF_TOLERANCE


def test_a_course_that_suits_no_strength_is_noted():
    forces = (mn(0.8, source="a"), mn(4.0, source="b"))
    result = found(compensation=GivenTable((INNER, OUTER), forces))
    assert any("course does not suit this arm" in note for note in result.notes)


@pytest.mark.parametrize(
    "name", ["pivot_to_spindle", "effective_length", "tracking_force", "friction_coefficient", "bearing_friction"]
)
def test_an_unknown_uncertainty_shows_nothing(name):
    given = getattr(request(bearing_friction=mn(0.1)), name)
    unknown = Quantity.unknown_uncertainty(given.value, given.unit, why="none was stated")
    result = found(**{"bearing_friction": mn(0.1)} | {name: unknown})
    assert result.verdict.outcome == UNDECIDED
    assert result.verdict.probability_of_conformity is None
    assert result.middle.interval_mn is None
    assert "not known" in result.verdict.reason


def test_without_a_compensation_there_is_a_side_force_and_no_verdict():
    result = found(compensation=None)
    shown = result.as_json()
    assert result.verdict is None
    assert result.change is None
    assert shown["rest_at_middle"] is None
    assert shown["groove"][0]["rest_interval_95"] is None
    assert shown["side_force_at_middle"]["value"] > 0
    assert any("no verdict" in note for note in result.notes)


def test_the_object_for_other_programs_is_whole():
    shown = json.loads(json.dumps(found(bearing_friction=mn(0.1)).as_json(), allow_nan=False))
    for name in ("side_force_at_middle", "balancing_compensation", "bearing_friction", "limit", "worst_radius"):
        assert set(shown[name]) == {"value", "unit", "standard_uncertainty"}
    assert shown["verdict"] == IN_TOLERANCE
    assert shown["stray_force"] is None
    assert set(shown["groove"][0]["rest_interval_95"]) == {"low", "high", "unit"}


def test_more_tracking_force_is_never_advised():
    for force in (1.0, 2.14, 3.4):
        notes = " ".join(found(compensation=GivenConstant(mn(force))).notes)
        assert "more of it is no remedy" in notes
        assert "near 10 % of the tracking force is common practice, no source" in notes


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"innermost_mm": 150.0}, "innermost"),
        ({"pivot_to_spindle": Quantity.exact(222.0, "deg")}, "must be given in mm, not in 'deg'"),
        ({"tracking_force": Quantity.exact(0.0, "mN")}, "tracking force must be above 0, not 0 mN"),
        ({"tracking_force": Quantity.exact(1.8, "g")}, "must be given in mN"),
        ({"friction_coefficient": Quantity.exact(-0.3, "1")}, "friction coefficient must be above 0, not -0.3"),
        ({"friction_coefficient": Quantity.exact(30.0, "1")}, "more than a stylus has in any groove"),
        ({"bearing_friction": Quantity.exact(-0.1, "mN")}, "0 mN or more, not -0.1 mN"),
        ({"bearing_friction": Quantity.exact(0.1, "g")}, "bearings' friction must be given in mN"),
        ({"stray_force": Quantity.exact(0.1, "g")}, "stray force must be given in mN"),
        ({"limit_mn": 0.0}, "must be above 0 mN, not 0 mN"),
        ({"limit_mn": math.nan}, "must be above 0 mN"),
        ({"effective_length": Quantity.exact(23.9, "mm")}, "out of reach"),
        ({"compensation": GivenConstant(Quantity.exact(0.2, "g"))}, "compensation must be given in mN"),
        ({"compensation": GivenConstant(mn(210.0))}, "push the stylus up a wall"),
        ({"compensation": GivenTable((70.0, 147.0), (mn(2.0), mn(2.0)))}, "says nothing of 60.325 mm"),
        ({"compensation": GivenTable((70.0,), (mn(2.0),))}, "two radii or more"),
        ({"compensation": GivenTable((60.0, 147.0), (Quantity.exact(2, "g"),) * 2)}, "at 60 mm must be given in mN"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(change, says):
    with pytest.raises(ValueError, match=says) as refusal:
        found(**change)
    assert "\n" not in str(refusal.value)


def test_compensation_at_one_radius_keeps_its_sources():
    distance, length = request().pivot_to_spindle, request().effective_length
    constant = compensation_at(GivenConstant(mn(2.0)), 100.0, pivot_to_spindle=distance, effective_length=length)
    assert (constant.value, constant.standard_uncertainty) == (2.0, pytest.approx(0.05))
    assert covariance(constant, mn(2.0)) == pytest.approx(0.05**2)
    thread = compensation_at(THREAD, 100.0, pivot_to_spindle=distance, effective_length=length)
    assert thread.value == found(compensation=THREAD, innermost_mm=100.0).groove[0].compensation.value


def test_the_middle_is_what_the_bench_calls_the_side_force():
    targets = SettingTargets(ARM, 0.928, -0.098, INNER, OUTER, {}, {})
    state = ArmState(239.2961, 222.0, 22.9855, FORCE_MN, 2.14, COEFFICIENT, 0.0, 92.0, 22.0)
    of_the_seven = settings_of(state, targets)[SETTING_KEYS.index("side_force")]
    assert found().middle.rest.value == pytest.approx(of_the_seven, abs=1e-12)


def test_limits_in_the_middle_are_narrowed_by_what_the_rest_varies():
    tolerance = side_force_tolerance_at_middle(
        geometry=ARM,
        tracking_force_mn=FORCE_MN,
        friction_coefficient=COEFFICIENT,
        innermost_mm=INNER,
        outermost_mm=OUTER,
        limit_mn=0.9,
        bearing_friction_mn=0.1,
    )
    # By hand from sin psi = (r^2 + L^2 - D^2) / (2 r L): at the outermost groove, in the middle and where it is least.
    c = 239.2961**2 - 222.0**2
    outer, middle = ((r + c / r) / (2 * 239.2961) for r in (OUTER, MIDDLE))
    least = math.sqrt(c) / 239.2961
    drag = COEFFICIENT * FORCE_MN
    assert tolerance.upper == pytest.approx(0.9 - 0.1 - drag * (outer - middle))
    assert tolerance.lower == pytest.approx(-0.9 + 0.1 + drag * (middle - least))
    assert tolerance.unit == "mN"


COMPENSATIONS = st.one_of(
    st.just(None),
    st.builds(ConstantCompensation, st.floats(0, 4)),
    st.builds(
        lambda a, b, c: TableCompensation((57.0, 100.0, 147.0), (a, b, c)),
        st.floats(1.5, 2.5),
        st.floats(1.5, 2.5),
        st.floats(1.5, 2.5),
    ),
    st.just(ThreadCompensation(ARM, 2.5, 20.0, -90.0, 40.0, 5.0, 3.0)),
)


@settings(max_examples=80, deadline=None)
@given(
    compensation=COMPENSATIONS,
    coefficient=st.floats(0.15, 0.5),
    friction_mn=st.floats(0.0, 0.2),
    place=st.floats(0.0, 1.0),
    beyond=st.booleans(),
)
def test_keeping_the_limits_in_the_middle_keeps_them_everywhere(compensation, coefficient, friction_mn, place, beyond):
    limit_mn = 1.2
    tolerance = side_force_tolerance_at_middle(
        geometry=ARM,
        tracking_force_mn=FORCE_MN,
        friction_coefficient=coefficient,
        innermost_mm=INNER,
        outermost_mm=OUTER,
        limit_mn=limit_mn,
        compensation=compensation,
        bearing_friction_mn=friction_mn,
    )
    # Independent of the limits: the whole course, finely, shifted so that the middle stands at the place drawn.
    radii_mm = np.append(np.linspace(INNER, OUTER, 801), MIDDLE)
    rest = side_force_mn(radii_mm, geometry=ARM, tracking_force_mn=FORCE_MN, friction_coefficient=coefficient)
    if compensation is not None:
        rest = rest - compensation.force_mn(radii_mm)
    width = tolerance.upper - tolerance.lower
    at_middle = tolerance.upper + 0.05 if beyond else tolerance.lower + place * width
    course = rest - rest[-1] + at_middle
    largest = max(course.max() + friction_mn, -(course.min() - friction_mn))
    assert (largest > limit_mn + 0.049) if beyond else (largest <= limit_mn + 0.001)


def test_a_rest_that_varies_more_than_the_limits_has_no_setting():
    with pytest.raises(ValueError, match=r"no setting keeps it within 0\.1 mN either way"):
        side_force_tolerance_at_middle(
            geometry=ARM,
            tracking_force_mn=FORCE_MN,
            friction_coefficient=COEFFICIENT,
            innermost_mm=INNER,
            outermost_mm=OUTER,
            limit_mn=0.1,
        )
