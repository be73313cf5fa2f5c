import math

import numpy as np
import pytest

from groovewright.bench.consequence import consequence
from groovewright.bench.targets import TargetRequest, choose_targets
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


@pytest.mark.parametrize(("u_mm", "dof"), [(40.0, math.inf), (0.5, 1.0)])
def test_errors_too_large_for_the_arm_leave_no_interval_and_a_reason(u_mm, dof):
    loose = Quantity.measured(0.0, "mm", standard_uncertainty=u_mm, source="guess", degrees_of_freedom=dof)
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
