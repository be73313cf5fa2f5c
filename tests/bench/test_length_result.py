import math

import numpy as np
import pytest

from groovewright.bench.estimate.consequence import consequence_of_length
from groovewright.bench.length import DEFAULT_LENGTH_TOLERANCE, LengthReading, length_result
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, DecisionRule
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity

RULE = DecisionRule("guarded acceptance")
INNER, OUTER = 60.325, 146.05


def mm(value, u, source):
    return Quantity.measured(value, "mm", standard_uncertainty=u, source=source)


def targets(distance=None, **changes):
    return choose_targets(TargetRequest(distance or mm(222.0, 0.4, "distance"), "minimax", INNER, OUTER, **changes))


def result(*readings, chosen=None, rule=RULE):
    return length_result(chosen or targets(), readings, DEFAULT_LENGTH_TOLERANCE, rule)


def test_an_overhang_reading_hardly_suffers_from_the_distance():
    chosen = targets()
    found = result(LengthReading("overhang", mm(17.5, 0.05, "overhang gauge")), chosen=chosen)
    # L = D + overhang and L_target = sqrt(D^2 + n1 n2), so D enters the error with 1 - D / L only.
    left = 1 - 222 / chosen.geometry.effective_length_mm
    assert found.effective_length_error.value == pytest.approx(17.5 - 17.2961, abs=5e-4)
    assert found.effective_length_error.standard_uncertainty == pytest.approx(math.hypot(0.05, left * 0.4), rel=1e-3)
    assert found.effective_length.standard_uncertainty == pytest.approx(math.hypot(0.05, 0.4), rel=1e-3)
    assert found.overhang.value == pytest.approx(17.5)
    assert found.overhang.standard_uncertainty == pytest.approx(0.05, rel=1e-3)


def test_a_direct_length_reading_carries_the_distance_through_the_target():
    found = result(LengthReading("effective_length", mm(239.3, 0.1, "length gauge")))
    assert found.effective_length_error.value == pytest.approx(239.3 - 239.2961, abs=5e-4)
    assert found.effective_length_error.standard_uncertainty == pytest.approx(
        math.hypot(0.1, 0.4 * 222 / 239.2961), rel=1e-3
    )


@pytest.mark.parametrize(
    ("overhang_mm", "outcome"), [(17.3, IN_TOLERANCE), (17.75, UNDECIDED), (19.3, OUT_OF_TOLERANCE)]
)
def test_verdicts_follow_the_guard_band(overhang_mm, outcome):
    found = result(LengthReading("overhang", mm(overhang_mm, 0.1, "gauge")))
    assert found.verdict.outcome == outcome


def test_the_remedy_is_a_slide_that_does_bring_the_length_home():
    found = result(LengthReading("overhang", mm(19.3, 0.1, "gauge")))
    note = next(note for note in found.notes if note.startswith("Slide"))
    slide_mm = float(note.split()[3])
    assert "back" in note
    # The exact length after a slide dx along the cartridge's axis: L'^2 = L^2 - 2 L dx cos(beta) + dx^2.
    length, beta = found.effective_length.value, math.radians(22.9855)
    after = math.sqrt(length**2 - 2 * length * slide_mm * math.cos(beta) + slide_mm**2)
    assert after == pytest.approx(239.2961, abs=0.02)


def test_two_readings_that_disagree_are_reported():
    found = result(
        LengthReading("overhang", mm(17.3, 0.05, "gauge one")), LengthReading("overhang", mm(18.3, 0.05, "gauge two"))
    )
    assert "disagree" in found.notes[0]
    assert found.effective_length_error.standard_uncertainty > 0.3


def test_consequence_is_that_of_the_geometry_as_read():
    chosen = targets(Quantity.exact(222, "mm"))
    found = result(LengthReading("overhang", Quantity.exact(18.2961, "mm")), chosen=chosen)
    radii = np.linspace(INNER, OUTER, 20001)
    length, beta = 240.2961, math.radians(22.98550)
    psi = np.arcsin((radii**2 + length**2 - 222**2) / (2 * radii * length))
    error = psi - beta
    cost = consequence_of_length(chosen, found)
    assert cost.peak_tracking_error.value == pytest.approx(np.degrees(np.abs(error).max()), abs=1e-3)
    groove_speed = 2 * np.pi * (100 / 3 / 60) * radii
    assert cost.peak_distortion.value == pytest.approx(
        100 * (100 / groove_speed * np.tan(np.abs(error))).max(), rel=1e-3
    )
    crossings = radii[:-1][np.diff(np.sign(error)) != 0]
    np.testing.assert_allclose([radius.value for radius in found.null_radii], crossings, rtol=0, atol=0.01)


def test_intervals_of_the_error_hold_the_truth_over_many_decks():
    rng = np.random.default_rng(11)
    held, decks = 0, 400
    for _ in range(decks):
        true_distance, true_length = rng.uniform(200, 260), rng.normal(0, 0.5)
        n1_n2 = 65.998 * 120.891
        true_target = math.sqrt(true_distance**2 + n1_n2)
        true_length += true_target
        chosen = targets(mm(true_distance + rng.normal(0, 0.5), 0.5, "distance"))
        readings = (
            LengthReading("overhang", mm(true_length - true_distance + rng.normal(0, 0.2), 0.2, "one")),
            LengthReading("effective_length", mm(true_length + rng.normal(0, 0.3), 0.3, "two")),
        )
        low, high = coverage_interval(result(*readings, chosen=chosen).effective_length_error)
        held += low <= true_length - true_target <= high
    assert 0.93 <= held / decks <= 0.97


def test_an_unknown_distance_leaves_nothing_shown_and_says_through_what():
    chosen = targets(Quantity.unknown_uncertainty(222.0, "mm", why="none was stated"))
    found = result(LengthReading("overhang", mm(17.3, 0.1, "gauge")), chosen=chosen)
    assert found.verdict.outcome == UNDECIDED
    assert "none was stated" in found.verdict.reason


def test_a_straight_underhung_arm_has_one_null():
    distance = mm(222.0, 0.3, "distance")
    chosen = targets(distance, arm_kind="straight underhung")
    found = result(LengthReading("overhang", Quantity.exact(chosen.overhang.value, "mm")), chosen=chosen)
    assert len(found.null_radii) == 1
    assert found.effective_length_error.value == pytest.approx(0, abs=1e-9)


def test_what_cannot_be_is_refused():
    tangential = targets(arm_kind="tangential")
    with pytest.raises(ValueError, match="tangential arm has no effective length"):
        result(LengthReading("effective_length", mm(239, 0.1, "gauge")), chosen=tangential)
    with pytest.raises(ValueError, match="must be in mm"):
        result(LengthReading("overhang", Quantity.exact(1, "deg")))
    with pytest.raises(ValueError, match="reach"):
        result(LengthReading("overhang", mm(-180, 0.1, "gauge")))
    with pytest.raises(ValueError, match="no reading"):
        result()
