"""What each kind of reading would show, and how it changes with the state."""

from __future__ import annotations

import numpy as np
import pytest

from groovewright.bench.estimate.observations import KINDS_OF_READING, OBSERVATION_KINDS, Observation, predict
from groovewright.bench.estimate.settings import SETTING_KEYS, SettingTargets, settings_of
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_state import STATE, ArmState
from groovewright.tonearm.geometry import Geometry

AIMS = {"vertical_tracking_angle": 22.0}
TARGETS = SettingTargets(Geometry(222.0, 239.2961, 22.9855), 0.928, -0.094, 60.325, 146.05, AIMS, {})
STANDS = ArmState(239.6, 222.3, 22.1, 18.3, 1.7, 0.31, 0.4, 91.2, 23.1)


@pytest.mark.parametrize("kind", OBSERVATION_KINDS)
@pytest.mark.parametrize("radius_mm", [66.0, 120.9])
def test_slopes_are_those_of_the_prediction(kind, radius_mm):
    step = 1e-5
    slopes = [
        (
            predict(kind, ArmState.from_array(STANDS.as_array() + change), TARGETS, radius_mm=radius_mm).value
            - predict(kind, ArmState.from_array(STANDS.as_array() - change), TARGETS, radius_mm=radius_mm).value
        )
        / (2 * step)
        for change in np.eye(len(STATE)) * step
    ]
    # Central differences with this step are good to nine digits of values near 1.
    np.testing.assert_allclose(predict(kind, STANDS, TARGETS, radius_mm=radius_mm).slopes, slopes, rtol=1e-7, atol=1e-8)


def test_readings_of_a_setting_show_that_setting():
    settings = dict(zip(SETTING_KEYS, settings_of(STANDS, TARGETS), strict=True))
    for kind, key in (
        ("effective_length_error", "effective_length"),
        ("tracking_force", "tracking_force"),
        ("side_force_rest", "side_force"),
        ("zenith_error", "zenith"),
        ("azimuth_rotation", "azimuth"),
        ("stylus_rake_angle", "stylus_rake_angle"),
        ("vertical_tracking_angle", "vertical_tracking_angle"),
    ):
        assert predict(kind, STANDS, TARGETS).value == pytest.approx(settings[key], abs=1e-12), kind


def test_the_worked_arm_has_the_worked_tracking_errors():
    on_target = ArmState(239.2961, 222.0, 22.9855, 18.0, 1.8, 0.3, 0.0, 92.0, 22.0)
    # physics.md 2: +0.7428 and +1.8056 degrees at both ends of the range.
    for radius_mm, printed_deg in ((60.325, 0.7428), (146.05, 1.8056)):
        shown = predict("null_angle", on_target, TARGETS, radius_mm=radius_mm).value
        assert shown == pytest.approx(printed_deg, abs=1e-4)


def test_an_error_of_the_vertical_angle_counts_from_its_aim():
    assert predict("vertical_tracking_angle_error", STANDS, TARGETS).value == pytest.approx(1.1)
    unknown = SettingTargets(TARGETS.geometry, 0.9, -0.1, 60.0, 146.0, {}, {})
    with pytest.raises(ValueError, match="counts from its aim"):
        predict("vertical_tracking_angle_error", STANDS, unknown)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"kind": "loudness"}, "no kind of reading"),
        ({"quantity": Quantity.exact(17.0, "deg")}, "must be given in mm"),
        ({"label": " "}, "needs a label"),
        ({"radius_mm": 66.0}, "leave the radius out"),
        ({"kind": "null_angle", "quantity": Quantity.exact(0.1, "deg")}, "needs the radius"),
        ({"kind": "null_angle", "quantity": Quantity.exact(0.1, "deg"), "radius_mm": -1.0}, "above 0 mm"),
    ],
)
def test_an_impossible_reading_is_refused(change, why):
    good = {"kind": "overhang", "quantity": Quantity.exact(17.3, "mm"), "order": 1, "label": "overhang"}
    Observation(**good)
    with pytest.raises(ValueError, match=why):
        Observation(**good | change)


def test_every_kind_reads_something_of_the_state():
    assert {name for kind in KINDS_OF_READING.values() for name in kind.reads} == set(STATE)
