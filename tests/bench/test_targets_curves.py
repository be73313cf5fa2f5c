from dataclasses import replace

import numpy as np
import pytest

from groovewright.bench.targets.target_curves import curves
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.criteria import CRITERIA
from groovewright.tonearm.geometry import Geometry

LP = {"innermost_mm": 60.325, "outermost_mm": 146.05}
REQUEST = TargetRequest(Quantity.exact(222.0, "mm"), "minimax", **LP, peak_velocity_cm_s=8.0, speed_rpm=45.0)


def test_curves_of_targets_use_their_own_velocity_and_speed():
    targets = choose_targets(REQUEST)
    drawn = curves(targets, 60.325, 146.05, points=1001)
    assert drawn.radius_mm.shape == drawn.tracking_error_deg.shape == drawn.distortion_percent.shape == (1001,)
    assert drawn.distortion_percent.max() == pytest.approx(targets.peak_distortion.value, rel=1e-9)
    assert np.abs(drawn.tracking_error_deg).max() == pytest.approx(targets.peak_tracking_error.value, rel=1e-9)


def test_curves_of_a_geometry_take_what_is_given():
    arm = Geometry(222.0, 239.0, 23.0)
    quiet = curves(arm, 60.0, 146.0, points=5, peak_velocity_cm_s=5.0)
    loud = curves(arm, 60.0, 146.0, points=5, peak_velocity_cm_s=10.0)
    np.testing.assert_allclose(loud.distortion_percent, 2 * quiet.distortion_percent, rtol=1e-3)
    assert (loud.distortion_percent >= 0).all()


def test_a_tangential_arm_draws_flat_curves():
    targets = choose_targets(TargetRequest(Quantity.exact(222.0, "mm"), "minimax", **LP, arm_kind="tangential"))
    drawn = curves(targets, 60.325, 146.05)
    assert not drawn.tracking_error_deg.any()
    assert not drawn.distortion_percent.any()


def test_each_criterion_is_the_best_at_what_it_minimises():
    chosen = {key: choose_targets(replace(REQUEST, criterion=key)) for key in CRITERIA}
    peaks = {key: targets.peak_distortion.value for key, targets in chosen.items()}
    rms = {key: targets.rms_distortion.value for key, targets in chosen.items()}
    angles = {key: targets.peak_tracking_error.value for key, targets in chosen.items()}
    assert min(peaks, key=peaks.get) == "exact-peak"
    assert min(rms, key=rms.get) == "exact-rms"
    assert min(angles, key=angles.get) == "angle-minimax"


def test_a_curve_of_one_point_is_refused():
    with pytest.raises(ValueError, match="a curve needs 2 points or more, not 1"):
        curves(Geometry(222.0, 239.0, 23.0), 60.0, 146.0, points=1)
