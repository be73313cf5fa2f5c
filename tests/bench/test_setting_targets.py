"""The seven settings' aims and tolerances from a job's targets."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.bench.estimate.setting_targets import DEFAULT_TOLERANCES, setting_targets
from groovewright.bench.estimate.settings import SETTING_KEYS
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import side_force_mn

DISTANCE = Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="steel rule")
CHOSEN = choose_targets(TargetRequest(DISTANCE, "minimax", 60.325, 146.05))


def test_targets_move_with_the_distance_as_the_closed_form_says():
    targets = setting_targets(CHOSEN)
    # With fixed nulls L = sqrt(D^2 + n1 n2) and sin(beta) = (n1 + n2) / (2 L): so dL/dD = D / L, and so on.
    geometry = targets.geometry
    length_slope = geometry.pivot_to_spindle_mm / geometry.effective_length_mm
    offset = np.radians(geometry.offset_angle_deg)
    offset_slope = np.degrees(-np.tan(offset) / geometry.effective_length_mm * length_slope)
    assert targets.length_slope == pytest.approx(length_slope, rel=1e-6)
    assert targets.offset_slope_deg_per_mm == pytest.approx(offset_slope, rel=1e-6)


def test_a_held_length_does_not_move_with_the_distance():
    held = Quantity.exact(239.0, "mm")
    request = TargetRequest(DISTANCE, "minimax", 60.325, 146.05, hold_effective_length=held)
    targets = setting_targets(choose_targets(request))
    assert targets.geometry.effective_length_mm == 239.0
    assert targets.length_slope == 0.0


def test_the_force_aims_at_the_middle_of_the_makers_range():
    targets = setting_targets(CHOSEN, force_range_mn=(16.0, 20.0))
    assert targets.tolerances["tracking_force"] == Tolerance(16.0, 20.0, "mN")
    assert targets.aims["tracking_force"] == 18.0
    assert setting_targets(CHOSEN, force_range_mn=(16.0, 20.0), force_aim_mn=19.0).aims["tracking_force"] == 19.0
    assert tuple(targets.tolerances) == SETTING_KEYS


def test_without_a_force_range_force_and_side_force_have_no_limits():
    targets = setting_targets(CHOSEN)
    assert set(SETTING_KEYS) - set(targets.tolerances) == {"tracking_force", "side_force"}


@pytest.mark.parametrize("at_limit", ["lower", "upper"])
def test_at_a_limit_in_the_middle_the_groove_just_keeps_its_own(at_limit):
    targets = setting_targets(CHOSEN, force_range_mn=(16.0, 20.0), friction_coefficient=0.25)
    radii_mm = np.linspace(60.325, 146.05, 2001)
    drawn, middle = (
        side_force_mn(r, geometry=targets.geometry, tracking_force_mn=18.0, friction_coefficient=0.25)
        for r in (radii_mm, targets.middle_mm)
    )
    rest = drawn - middle + getattr(targets.tolerances["side_force"], at_limit)
    # 5 % of 18 mN, less a constant compensation.
    reached = rest.min() if at_limit == "lower" else rest.max()
    assert reached == pytest.approx(-0.9 if at_limit == "lower" else 0.9, abs=1e-4)


def test_a_jobs_own_limits_stand():
    own = {
        "azimuth": Tolerance(-0.2, 0.3, "deg"),
        "side_force": Tolerance(None, 1.5, "mN"),
        "tracking_force": Tolerance(17.0, 19.0, "mN"),
        "stylus_rake_angle": Tolerance(90.0, 92.0, "deg"),
    }
    targets = setting_targets(CHOSEN, tolerances=own, force_range_mn=(16.0, 20.0), cutting_angle_deg=20.0)
    assert targets.tolerances["azimuth"] == own["azimuth"]
    assert targets.tolerances["tracking_force"] == own["tracking_force"]
    assert targets.tolerances["zenith"] == DEFAULT_TOLERANCES["zenith"]
    assert targets.tolerances["side_force"].lower is None
    assert 0.5 < targets.tolerances["side_force"].upper < 1.5
    assert targets.aims["stylus_rake_angle"] == 91.0
    assert targets.aims["vertical_tracking_angle"] == 20.0
    assert targets.tolerances["vertical_tracking_angle"] == Tolerance(18.0, 22.0, "deg")


def test_limits_that_no_setting_keeps_are_refused():
    with pytest.raises(ValueError, match="so no setting keeps it"):
        setting_targets(CHOSEN, tolerances={"side_force": Tolerance(-0.05, 0.05, "mN")}, force_range_mn=(16.0, 20.0))
    with pytest.raises(ValueError, match="must be in mm, not in deg"):
        setting_targets(CHOSEN, tolerances={"effective_length": Tolerance(-1, 1, "deg")})
    tangential = choose_targets(TargetRequest(None, "minimax", 60.325, 146.05, arm_kind="tangential"))
    with pytest.raises(ValueError, match="for pivoted arms"):
        setting_targets(tangential)


def test_a_straight_underhung_arm_has_targets_too():
    request = TargetRequest(DISTANCE, "minimax", 60.325, 146.05, arm_kind="straight underhung")
    targets = setting_targets(choose_targets(request), force_range_mn=(16.0, 20.0))
    assert isinstance(targets.geometry, Geometry)
    assert targets.offset_slope_deg_per_mm == 0.0
    assert targets.geometry.overhang_mm < 0
    # No setting keeps 5 % over the whole groove, so the best balance is aimed at, both ends alike.
    limits, balance_mn = targets.tolerances["side_force"], targets.aims["side_force"]
    assert limits.upper - limits.lower == pytest.approx(1.8)
    drawn, middle = (
        side_force_mn(r, geometry=targets.geometry, tracking_force_mn=18.0, friction_coefficient=0.3)
        for r in (np.linspace(60.325, 146.05, 2001), targets.middle_mm)
    )
    rest = drawn - middle + balance_mn
    assert rest.min() == pytest.approx(-rest.max(), abs=1e-4)
