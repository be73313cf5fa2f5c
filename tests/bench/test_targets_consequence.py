import math
import re

import numpy as np
import pytest

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.distortion import peak_tracking_error, second_harmonic_over_range
from groovewright.tonearm.geometry import Geometry

LP = {"innermost_mm": 60.325, "outermost_mm": 146.05}
DISTANCE = Quantity.measured(222.0, "mm", standard_uncertainty=0.5, source="steel rule 1")
TARGETS = choose_targets(TargetRequest(DISTANCE, "minimax", **LP))
NO_ERROR = Quantity.exact(0.0, "mm")


def width(interval):
    return interval.high - interval.low


def test_without_any_error_it_is_what_the_targets_promise():
    found = consequence(TARGETS, NO_ERROR, DISTANCE)
    assert found.peak_tracking_error.value == pytest.approx(TARGETS.peak_tracking_error.value, rel=1e-9)
    # Peaks are sought on 49 radii here: up to 1e-4 of one may lie between them.
    assert found.peak_distortion.value == pytest.approx(TARGETS.peak_distortion.value, rel=1e-4)
    assert found.rms_distortion.value == pytest.approx(TARGETS.rms_distortion.value, rel=1e-6)


def test_a_known_error_has_the_consequence_of_that_geometry():
    known = choose_targets(TargetRequest(Quantity.exact(222.0, "mm"), "minimax", **LP))
    found = consequence(known, Quantity.exact(1.5, "mm"), Quantity.exact(222.0, "mm"))
    arm = Geometry(222.0, known.geometry.effective_length_mm + 1.5, known.geometry.offset_angle_deg)
    harmonic = second_harmonic_over_range(arm, **LP, peak_velocity_cm_s=10.0, speed_rpm=100 / 3)
    assert found.peak_tracking_error.value == pytest.approx(peak_tracking_error(arm, **LP)[1], rel=1e-4)
    assert found.peak_distortion.value == pytest.approx(harmonic.peak_percent, rel=1e-4)
    assert width(found.peak_distortion) == pytest.approx(0, abs=1e-12)


def test_the_interval_holds_what_plain_draws_of_the_geometry_give():
    error = Quantity.measured(0.6, "mm", standard_uncertainty=0.3, source="length reading")
    found = consequence(TARGETS, error, Quantity.exact(222.0, "mm"))
    generator = np.random.default_rng(5)
    # The targets move with a distance that is uncertain; here its own draw is what is left out.
    plain = []
    for _ in range(4000):
        shift = generator.normal() * TARGETS.effective_length.standard_uncertainty
        length = TARGETS.geometry.effective_length_mm + shift + 0.6 + 0.3 * generator.normal()
        arm = Geometry(222.0, length, TARGETS.geometry.offset_angle_deg)
        radius = np.linspace(60.325, 146.05, 49)
        plain.append(np.abs(arm.tracking_error_deg(radius)).max())
    plain = np.array(plain)
    inside = np.mean((plain >= found.peak_tracking_error.low) & (plain <= found.peak_tracking_error.high))
    # Four standard errors of a share of 0.95 among 4000.
    assert inside == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / 4000))


def test_an_error_that_shares_the_distance_source_stays_correlated():
    # A direct reading of the length against the rule's target: L is known, the target moves with the distance.
    u_target = TARGETS.effective_length.components[Source("steel rule 1")]
    direct = Quantity(0.0, "mm", {Source("steel rule 1"): -u_target})
    overhang = NO_ERROR
    assert width(consequence(TARGETS, direct, DISTANCE).peak_distortion) > 1.5 * width(
        consequence(TARGETS, overhang, DISTANCE).peak_distortion
    )


def test_the_offset_angle_can_be_off_too():
    off = consequence(TARGETS, NO_ERROR, DISTANCE, offset_angle_error=Quantity.exact(1.0, "deg"))
    assert off.peak_tracking_error.value == pytest.approx(
        float(np.abs(TARGETS.geometry.tracking_error_deg(np.linspace(60.325, 146.05, 49)) - 1.0).max()), rel=1e-9
    )


def test_the_same_seed_gives_the_same_interval():
    error = Quantity.measured(0.2, "mm", standard_uncertainty=0.2, source="x")
    first, again = (consequence(TARGETS, error, DISTANCE, draws=2000, seed=3) for _ in range(2))
    assert first == again
    assert first != consequence(TARGETS, error, DISTANCE, draws=2000, seed=4)


def test_the_ends_of_an_interval_hardly_depend_on_the_draws():
    for at_mm, u_mm in ((0.0, 0.2), (0.4, 0.3), (1.5, 0.1)):
        error = Quantity.measured(at_mm, "mm", standard_uncertainty=u_mm, source="length reading")
        runs = [consequence(TARGETS, error, DISTANCE, seed=seed).peak_tracking_error for seed in range(20)]
        spread = max(np.std([run.low for run in runs]), np.std([run.high for run in runs]))
        assert spread < 0.03 * np.mean([width(run) for run in runs])


def test_a_scatter_of_two_readings_has_long_tails_and_still_an_interval():
    scatter = Quantity.measured(0.0, "mm", standard_uncertainty=0.05, source="scatter of 2", degrees_of_freedom=1)
    stated = Quantity.measured(0.0, "mm", standard_uncertainty=0.05, source="stated")
    known = choose_targets(TargetRequest(Quantity.exact(222.0, "mm"), "minimax", **LP))
    few, many = (consequence(known, error, Quantity.exact(222.0, "mm")) for error in (scatter, stated))
    assert math.isfinite(few.peak_distortion.high)
    # 95 % of the t-distribution of one degree of freedom reach to 12.7, of the normal one to 1.96.
    assert width(few.peak_distortion) > 3 * width(many.peak_distortion)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (
            Quantity.measured(0.4, "mm", standard_uncertainty=0.2, source="x"),
            r"stays below \d\.\d\d° and .* % \(95 %\)",
        ),
        (
            Quantity.unknown_uncertainty(0.4, "mm", why="none was stated"),
            r"reaches \d\.\d\d° .*not known \(none was stated\)",
        ),
    ],
)
def test_it_is_told_in_one_sentence(error, words):
    sentence = consequence(TARGETS, error, DISTANCE).describe("as left")
    assert sentence.startswith("With the length as left and the offset angle on target, tracking error ")
    assert re.search(words, sentence)


def test_no_number_told_is_below_the_end_of_its_interval():
    cost = consequence(TARGETS, Quantity.measured(0.4, "mm", standard_uncertainty=0.2, source="x"), DISTANCE)
    told = [float(number) for number in re.findall(r"below ([\d.]+)", cost.describe("as left"))]
    assert 0 <= told[0] - cost.peak_tracking_error.high <= 0.01
    assert 0 <= told[1] - cost.peak_distortion.high <= 0.01


def test_errors_too_large_for_the_arm_leave_no_interval_and_a_reason():
    loose = Quantity.measured(0.0, "mm", standard_uncertainty=40.0, source="guess")
    cost = consequence(TARGETS, loose, DISTANCE)
    assert cost.peak_tracking_error.value == pytest.approx(TARGETS.peak_tracking_error.value, rel=1e-3)
    assert (cost.rms_distortion.low, cost.rms_distortion.high) == (None, None)
    assert "errors that it allows would leave grooves out of reach" in cost.peak_distortion.why_unknown


def test_an_unknown_uncertainty_gives_no_interval_but_its_reason():
    error = Quantity.unknown_uncertainty(0.4, "mm", why="none was stated")
    found = consequence(TARGETS, error, DISTANCE)
    assert found.peak_distortion.low is None
    assert found.peak_distortion.high is None
    assert found.peak_distortion.why_unknown == "none was stated"
    assert found.peak_distortion.value > TARGETS.peak_distortion.value


@pytest.mark.parametrize(
    ("error", "more", "message"),
    [
        (Quantity.exact(0.1, "deg"), {}, "the length error must be given in mm, not in 'deg'"),
        (NO_ERROR, {"draws": 10}, "needs 1000 draws or more, not 10"),
        (Quantity.exact(90.0, "mm"), {}, "out of reach"),
    ],
)
def test_what_has_no_consequence_is_refused(error, more, message):
    with pytest.raises(ValueError, match=message):
        consequence(TARGETS, error, DISTANCE, **more)


def test_a_tangential_arm_has_no_length_to_be_off():
    targets = choose_targets(TargetRequest(DISTANCE, "minimax", **LP, arm_kind="tangential"))
    with pytest.raises(ValueError, match="a tangential arm has no effective length"):
        consequence(targets, NO_ERROR, DISTANCE)
