"""The seven settings as they follow from how the arm stands."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, SettingTargets, settings_jacobian, settings_of
from groovewright.tonearm.arm_state import STATE, ArmState
from groovewright.tonearm.geometry import Geometry

TARGETS = SettingTargets(Geometry(222.0, 239.2961, 22.9855), 0.928, -0.098, 60.325, 146.05, {}, {})


def state(**changes):
    values = {
        "effective_length_mm": 239.2961,
        "pivot_to_spindle_mm": 222.0,
        "offset_angle_deg": 22.9855,
        "tracking_force_mn": 20.0,
        "compensation_mn": 0.0,
        "friction_coefficient": 0.3,
        "azimuth_deg": 0.0,
        "stylus_rake_angle_deg": 92.0,
        "vertical_tracking_angle_deg": 22.0,
    }
    return ArmState(**values | changes)


def test_an_arm_on_its_targets_has_no_error_of_length_and_zenith():
    length, force, side, zenith, azimuth, rake, vertical = settings_of(state(), TARGETS)
    assert (length, zenith, azimuth) == (0.0, 0.0, 0.0)
    assert (force, rake, vertical) == (20.0, 92.0, 22.0)
    # Worked value of the triangle: the sine of the groove angle is 0.3757 at 100 mm and hardly more at 103 mm.
    assert side == pytest.approx(0.3 * 20 * 0.3757, abs=0.01)


def test_a_pivot_further_out_asks_for_a_longer_arm():
    moved = settings_of(state(pivot_to_spindle_mm=223.0, effective_length_mm=239.2961 + 0.928), TARGETS)
    assert moved[0] == pytest.approx(0.0, abs=1e-12)
    assert settings_of(state(pivot_to_spindle_mm=223.0), TARGETS)[0] == pytest.approx(-0.928)


def test_compensation_takes_its_own_size_off_the_side_force():
    jacobian = settings_jacobian(state(), TARGETS)
    column = jacobian[:, STATE.index("compensation_mn")]
    np.testing.assert_allclose(column, [0, 0, -1, 0, 0, 0, 0], atol=1e-9)


def test_every_setting_has_a_name_and_a_unit():
    assert tuple(SETTINGS) == SETTING_KEYS
    assert all(setting.title and setting.unit in ("mm", "mN", "deg") for setting in SETTINGS.values())
