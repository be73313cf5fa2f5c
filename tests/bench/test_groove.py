"""What an arm does over the groove, from length, distance and offset angle together."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.estimate.groove import groove_course, groove_of
from groovewright.bench.estimate.observations import Observation
from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.distortion import peak_tracking_error, second_harmonic_over_range
from groovewright.tonearm.geometry import Geometry

LP = {"innermost_mm": 60.325, "outermost_mm": 146.05}
DISTANCE = Quantity.measured(222.0, "mm", standard_uncertainty=0.5, source="steel rule 1")
KNOWN = Quantity.exact(222.0, "mm")
REQUEST = TargetRequest(DISTANCE, "minimax", **LP)
TARGETS = choose_targets(REQUEST)
AIM = TARGETS.geometry
LENGTH = Quantity.exact(AIM.effective_length_mm, "mm")
OFFSET = Quantity.exact(AIM.offset_angle_deg, "deg")


def off(error_mm, u_mm=0.0, *, source="length reading", **more):
    return Quantity.measured(AIM.effective_length_mm + error_mm, "mm", standard_uncertainty=u_mm, source=source, **more)


def width(interval):
    return interval.high - interval.low


def test_without_any_error_it_is_what_the_targets_promise():
    found = groove_course(REQUEST, LENGTH, KNOWN, OFFSET)
    assert found.peak_tracking_error.value == pytest.approx(TARGETS.peak_tracking_error.value, rel=1e-9)
    # Peaks are sought on 49 radii here: up to 1e-4 of one may lie between them.
    assert found.peak_distortion.value == pytest.approx(TARGETS.peak_distortion.value, rel=1e-4)
    assert found.rms_distortion.value == pytest.approx(TARGETS.rms_distortion.value, rel=1e-6)


def test_a_known_error_has_the_consequence_of_that_geometry():
    found = groove_course(REQUEST, off(1.5), KNOWN, OFFSET)
    arm = Geometry(222.0, AIM.effective_length_mm + 1.5, AIM.offset_angle_deg)
    harmonic = second_harmonic_over_range(arm, **LP, peak_velocity_cm_s=10.0, speed_rpm=100 / 3)
    assert found.peak_tracking_error.value == pytest.approx(peak_tracking_error(arm, **LP)[1], rel=1e-4)
    assert found.peak_distortion.value == pytest.approx(harmonic.peak_percent, rel=1e-4)
    assert width(found.peak_distortion) == pytest.approx(0, abs=1e-12)


def test_the_interval_holds_what_plain_draws_of_the_geometry_give():
    turned = Quantity.measured(AIM.offset_angle_deg + 0.4, "deg", standard_uncertainty=0.2, source="mirror")
    found = groove_course(REQUEST, off(0.6, 0.3), DISTANCE, turned)
    generator = np.random.default_rng(5)
    plain = []
    for _ in range(4000):
        length = AIM.effective_length_mm + 0.6 + 0.3 * generator.normal()
        distance = 222.0 + 0.5 * generator.normal()
        arm = Geometry(distance, length, AIM.offset_angle_deg + 0.4 + 0.2 * generator.normal())
        radius = np.linspace(60.325, 146.05, 49)
        plain.append(np.abs(arm.tracking_error_deg(radius)).max())
    plain = np.array(plain)
    inside = np.mean((plain >= found.peak_tracking_error.low) & (plain <= found.peak_tracking_error.high))
    # Four standard errors of a share of 0.95 among 4000.
    assert inside == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / 4000))


def test_what_length_and_distance_share_cancels():
    rule = Source("steel rule 1")
    by_rule = Quantity(AIM.effective_length_mm, "mm", {rule: 0.5})
    # An overhang is known where both are off alike; a length read with another gauge leaves it open.
    together, apart = (
        groove_course(REQUEST, length, DISTANCE, OFFSET).peak_distortion for length in (by_rule, off(0.0, 0.5))
    )
    assert width(apart) > 3 * width(together)


def test_the_offset_angle_can_be_off_too():
    turned = Quantity.exact(AIM.offset_angle_deg + 1.0, "deg")
    found = groove_course(REQUEST, LENGTH, KNOWN, turned)
    assert found.peak_tracking_error.value == pytest.approx(
        float(np.abs(AIM.tracking_error_deg(np.linspace(60.325, 146.05, 49)) - 1.0).max()), rel=1e-9
    )
    np.testing.assert_allclose(found.tracking_error_deg, AIM.tracking_error_deg(found.radius_mm) - 1.0, atol=1e-9)


def test_the_band_holds_the_curve_of_plain_draws():
    turned = Quantity.measured(AIM.offset_angle_deg, "deg", standard_uncertainty=0.2, source="mirror")
    found = groove_course(REQUEST, off(0.3, 0.2), DISTANCE, turned)
    generator = np.random.default_rng(7)
    held = np.zeros(found.radius_mm.size)
    for _ in range(3000):
        arm = Geometry(
            222.0 + 0.5 * generator.normal(),
            AIM.effective_length_mm + 0.3 + 0.2 * generator.normal(),
            AIM.offset_angle_deg + 0.2 * generator.normal(),
        )
        curve = arm.tracking_error_deg(found.radius_mm)
        held += (found.tracking_error_low_deg <= curve) & (curve <= found.tracking_error_high_deg)
    # 95 % at every radius, with four standard errors of a share among 3000.
    np.testing.assert_allclose(held / 3000, 0.95, atol=4 * math.sqrt(0.95 * 0.05 / 3000))


def test_the_same_seed_gives_the_same_interval():
    first, again, other = (
        groove_course(REQUEST, off(0.2, 0.2), KNOWN, OFFSET, draws=2000, seed=seed).rms_distortion for seed in (3, 3, 4)
    )
    assert first == again
    assert first != other


def test_the_ends_of_an_interval_hardly_depend_on_the_draws():
    for at_mm, u_mm in ((0.0, 0.2), (0.4, 0.3), (1.5, 0.1)):
        length = off(at_mm, u_mm)
        runs = [groove_course(REQUEST, length, KNOWN, OFFSET, seed=k).peak_tracking_error for k in range(20)]
        spread = max(np.std([run.low for run in runs]), np.std([run.high for run in runs]))
        assert spread < 0.03 * np.mean([width(run) for run in runs])


def test_a_scatter_of_two_readings_has_long_tails_and_still_an_interval():
    scatter = off(0.0, 0.05, source="scatter of 2", degrees_of_freedom=1)
    stated = off(0.0, 0.05, source="stated")
    few, many = (groove_course(REQUEST, length, KNOWN, OFFSET) for length in (scatter, stated))
    assert math.isfinite(few.peak_distortion.high)
    # 95 % of the t-distribution of one degree of freedom reach to 12.7, of the normal one to 1.96.
    assert width(few.peak_distortion) > 3 * width(many.peak_distortion)


@pytest.mark.parametrize(
    ("length", "words"),
    [
        (
            off(0.4, 0.2),
            r"stays below \d\.\d\d° and .* % \(95 %\)",
        ),
        (
            Quantity.unknown_uncertainty(AIM.effective_length_mm + 0.4, "mm", why="none was stated"),
            r"reaches \d\.\d\d° .*not known: none was stated\)",
        ),
    ],
)
def test_it_is_said_in_one_sentence(length, words):
    sentence = groove_course(REQUEST, length, KNOWN, OFFSET).describe("As left")
    assert sentence.startswith("As left, tracking error ")
    assert re.search(words, sentence)


def test_no_number_told_is_below_the_end_of_its_interval():
    cost = groove_course(REQUEST, off(0.4, 0.2), KNOWN, OFFSET)
    told = [float(number) for number in re.findall(r"below ([\d.]+)", cost.describe("As left"))]
    assert 0 <= told[0] - cost.peak_tracking_error.high <= 0.01
    assert 0 <= told[1] - cost.peak_distortion.high <= 0.01


def test_errors_too_large_for_the_arm_leave_no_interval_and_a_reason():
    cost = groove_course(REQUEST, off(0.0, 40.0), KNOWN, OFFSET)
    assert cost.peak_tracking_error.value == pytest.approx(TARGETS.peak_tracking_error.value, rel=1e-3)
    assert (cost.rms_distortion.low, cost.rms_distortion.high) == (None, None)
    assert "errors that it allows would leave grooves out of reach" in cost.peak_distortion.why_unknown


def test_an_unknown_uncertainty_gives_no_interval_but_its_reason():
    length = Quantity.unknown_uncertainty(AIM.effective_length_mm + 0.4, "mm", why="none was stated")
    found = groove_course(REQUEST, length, KNOWN, OFFSET)
    assert found.peak_distortion.low is None
    assert found.peak_distortion.high is None
    assert found.peak_distortion.why_unknown == "the uncertainty of the effective length is not known: none was stated"
    assert found.peak_distortion.value > TARGETS.peak_distortion.value


@pytest.mark.parametrize(
    ("length", "more", "message"),
    [
        (Quantity.exact(239.0, "deg"), {}, "the effective length must be given in mm, not in 'deg'"),
        (LENGTH, {"draws": 10}, "draw at least 1000"),
        (off(90.0), {}, "out of reach"),
    ],
)
def test_what_cannot_be_worked_out_is_refused(length, more, message):
    with pytest.raises(ValueError, match=message):
        groove_course(REQUEST, length, DISTANCE, OFFSET, **more)


SETTINGS = setting_targets(TARGETS, force_range_mn=(16.0, 20.0))
READ = (
    Observation("pivot_to_spindle", DISTANCE, 1, "distance"),
    Observation("overhang", Quantity.measured(18.0, "mm", standard_uncertainty=0.1, source="gauge"), 2, "overhang"),
)
TURNED = Observation(
    "zenith_error", Quantity.measured(0.8, "deg", standard_uncertainty=0.1, source="mirror"), 3, "zenith"
)


def state_of(*readings):
    return deck_state(DeckInputs(SETTINGS, usual_build(AIM), readings))


def test_a_deck_is_drawn_with_the_offset_angle_that_was_read():
    found = groove_of(state_of(*READ, TURNED), SETTINGS, REQUEST)
    # 0.8 degree inward, from where the lengths alone put the curve.
    straight = groove_of(state_of(*READ), SETTINGS, REQUEST)
    assert (found.offset_is_read, straight.offset_is_read) == (True, False)
    np.testing.assert_allclose(found.tracking_error_deg, straight.tracking_error_deg - 0.8, atol=0.01)
    assert "not read" in straight.describe("As found")


def test_a_deck_without_a_length_has_no_curve_and_says_why():
    with pytest.raises(ValueError, match="the effective length is not read"):
        groove_of(state_of(TURNED), SETTINGS, REQUEST)


def test_a_distance_measured_anew_moves_the_target_angle_with_it():
    # The target follows the distance; with the angle on target the curve stays that of the criterion.
    longer = replace(READ[0], quantity=replace(DISTANCE, value=224.0))
    target = choose_targets(replace(REQUEST, pivot_to_spindle=Quantity.exact(224.0, "mm")))
    overhang = replace(READ[1], quantity=replace(READ[1].quantity, value=target.overhang.value))
    found = groove_of(state_of(longer, overhang), SETTINGS, REQUEST)
    assert found.peak_tracking_error.value == pytest.approx(target.peak_tracking_error.value, abs=0.02)
