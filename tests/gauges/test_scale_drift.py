import math

import pytest

from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.repeatability import Repeatability
from groovewright.gauges.scale_calibration import ScaleCheck, WeightReading, calibrate, force_from_indication
from groovewright.gauges.scale_drift import drift_component, mean_calibration, scale_drift
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN

ONE = weight_of_class("1 g", nominal_g=1.0, accuracy_class="M3")
TWO = weight_of_class("2 g", nominal_g=2.0, accuracy_class="M3")
SCATTER = Repeatability(0.004 * GRAM_FORCE_MN, math.inf)


def calibration(occasion, shift_g=0.0, scale="Scale 2", repeatability=SCATTER):
    rows = (((), 0.0), ((ONE,), 1.0), ((TWO,), 2.0), ((TWO, ONE), 3.0))
    readings = [WeightReading(weights, (g + shift_g) * GRAM_FORCE_MN) for weights, g in rows for _ in range(2)]
    return calibrate(ScaleCheck(scale, occasion, 0.01 * GRAM_FORCE_MN, tuple(readings)), repeatability=repeatability)


def test_a_shift_is_found_with_its_sign_and_called_drift():
    drift = scale_drift(calibration("before"), calibration("after", 0.04), indication_mn=18.0)
    assert drift.change.value == pytest.approx(0.04 * GRAM_FORCE_MN, rel=1e-6)
    assert drift.shown
    assert "drifted by +0.040 g" in drift.sentence


def test_errors_of_the_same_weights_cancel_in_the_drift():
    before, after = calibration("before"), calibration("after")
    drift = scale_drift(before, after, indication_mn=18.0)
    weight_sources = [s for s in drift.change.components if s.label.startswith("mass of")]
    assert weight_sources
    assert all(abs(drift.change.components[s]) < 1e-9 for s in weight_sources)
    # Class M3 would otherwise swamp it.
    assert (
        drift.change.standard_uncertainty
        < force_from_indication(before, Quantity.exact(18.0, "mN")).standard_uncertainty
    )
    assert not drift.shown
    assert "No drift" in drift.sentence


def test_unknown_repeatability_shows_no_drift_and_says_why():
    unknown = Repeatability(None, math.inf)
    drift = scale_drift(
        calibration("before", repeatability=unknown),
        calibration("after", 0.5, repeatability=unknown),
        indication_mn=18.0,
    )
    assert not drift.shown
    assert "cannot be said" in drift.sentence


def test_readings_between_two_checks_use_their_mean_and_owe_the_drift():
    before, after = calibration("before"), calibration("after", 0.04)
    mean = mean_calibration(before, after)
    assert mean.offset.value == pytest.approx(0.02 * GRAM_FORCE_MN, abs=1e-9)
    component = drift_component(scale_drift(before, after, indication_mn=18.0), scale="Scale 2")
    assert component.value == 0
    assert component.standard_uncertainty == pytest.approx(0.04 * GRAM_FORCE_MN / math.sqrt(12), rel=1e-6)


def test_checks_that_do_not_belong_together_are_refused():
    with pytest.raises(ValueError, match="Scale 2 and the check after of Scale 3"):
        scale_drift(calibration("before"), calibration("after", scale="Scale 3"), indication_mn=18.0)
    with pytest.raises(ValueError, match="name the two occasions apart"):
        mean_calibration(calibration("before"), calibration("before"))
    light = ScaleCheck(
        "Scale 2",
        "after",
        0.01 * GRAM_FORCE_MN,
        tuple(WeightReading(w, g * GRAM_FORCE_MN) for w, g in (((), 0.0), ((ONE,), 1.0))),
    )
    heavy = ScaleCheck(
        "Scale 2",
        "before",
        0.01 * GRAM_FORCE_MN,
        tuple(WeightReading(w, g * GRAM_FORCE_MN) for w, g in (((ONE,), 1.0), ((TWO,), 2.0))),
    )
    with pytest.raises(ValueError, match="share no range"):
        mean_calibration(calibrate(heavy, repeatability=SCATTER), calibrate(light, repeatability=SCATTER))
