"""The geometry of gauges against independent constructions and against the arc trace's own fit."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.gauges.arc_trace import TraceReading, bearing_on_arc_deg, fit_trace
from groovewright.gauges.chain_figures import chain_figures
from groovewright.gauges.gauge_chain import GaugeChain, Joint
from groovewright.gauges.groove_peaks import peak_distortions_percent, peak_tracking_errors_deg, tracking_errors_deg
from groovewright.gauges.ready_chains import READY_CHAINS, arc_trace_gauge
from groovewright.gauges.set_ups import GaugeAim, draw_errors, set_ups
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.distortion import peak_tracking_error, second_harmonic_over_range
from groovewright.tonearm.geometry import Geometry, geometry_from_nulls

AIM = GaugeAim(geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(65.998, 120.891)), 60.325, 146.05)
PLAYED = {"peak_velocity_cm_s": 10.0, "speed_rpm": 100 / 3}


def mark_chain(mark="outer null"):
    return GaugeChain("Mark", "mark", (Joint("any", 0.1, "bearing"),), mark=mark)


def one(chain, aim=AIM, **errors):
    return set_ups(chain, aim, {key: np.array([value]) for key, value in errors.items()}, 1)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(150, 350),
    st.floats(58, 75),
    st.floats(100, 130),
    st.sampled_from(["inner null", "outer null", "overhang", 100.0]),
)
def test_a_gauge_without_errors_sets_the_aim(distance_mm, inner_mm, outer_mm, mark):
    aim = GaugeAim(
        geometry_from_nulls(pivot_to_spindle_mm=distance_mm, null_radii_mm=(inner_mm, outer_mm)), 60.325, 146.05
    )
    trace = GaugeChain("t", "trace", (Joint("eye", 0.1, "trace_reading"),), mark=100.0 if mark == "overhang" else mark)
    for chain in (mark_chain(mark), trace, READY_CHAINS["two-null-plate"]):
        arm = one(chain, aim)
        assert arm.effective_length_error_mm[0] == pytest.approx(0, abs=1e-9)
        assert arm.zenith_error_deg[0] == pytest.approx(0, abs=1e-9)
        assert arm.pivot_to_spindle_mm[0] == pytest.approx(distance_mm, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(st.tuples(*[st.floats(-2, 2)] * 6))
def test_one_mark_against_a_plan_drawn_with_complex_numbers(errors):
    dr, dt, turn, across, distance, angle = errors
    arm = one(
        mark_chain(),
        stylus_radius=dr,
        stylus_across=dt,
        bearing=turn,
        pivot_across=across,
        pivot_to_spindle=distance,
        offset_angle=angle,
    )
    # The gauge as drawn: pivot on +x, the mark above it, cantilever lines along the groove's tangent at the null.
    radius = 120.891
    nominal = 222.0
    length = math.sqrt(nominal**2 + 65.998 * radius)
    mark = radius * complex(
        (nominal**2 + radius**2 - length**2) / (2 * nominal * radius),
        math.sqrt(1 - ((nominal**2 + radius**2 - length**2) / (2 * nominal * radius)) ** 2),
    )
    lines = -1j * mark / abs(mark)
    turned = (
        complex(math.cos(math.radians(turn)), math.sin(math.radians(turn)))
        * complex(nominal, -across)
        / abs(complex(nominal, -across))
    )
    unit = mark / abs(mark)
    stylus = (mark + dr * unit + dt * 1j * unit) * turned
    to_pivot = (nominal + distance) - stylus
    offset = math.degrees(np.angle(lines * turned / to_pivot)) + angle
    assert arm.effective_length_mm[0] == pytest.approx(abs(to_pivot), abs=1e-9)
    assert arm.offset_angle_deg[0] == pytest.approx(offset, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.floats(-3, 3), st.tuples(*[st.floats(-0.5, 0.5)] * 5))
def test_two_nulls_leave_just_the_angles_that_the_eye_left(distance, errors):
    inner_deg, outer_deg, inner_mm, outer_mm, scale = errors
    arm = one(
        READY_CHAINS["two-null-plate"],
        pivot_to_spindle=distance,
        inner_null_angle=inner_deg,
        outer_null_angle=outer_deg,
        inner_null_radius=inner_mm,
        outer_null_radius=outer_mm,
        print_scale=scale,
    )
    radii = np.array([65.998, 120.891]) * (1 + scale / 100) + [inner_mm, outer_mm]
    left = tracking_errors_deg(arm, radii)[0]
    # More offset than the lines ask for is a tracking error below zero.
    np.testing.assert_allclose(left, [-inner_deg, -outer_deg], rtol=0, atol=1e-8)


def test_two_nulls_hold_wherever_the_pivot_is():
    arm = one(READY_CHAINS["two-null-plate"], pivot_to_spindle=3.0)
    assert arm.pivot_to_spindle_mm[0] == 225.0
    assert arm.effective_length_error_mm[0] == pytest.approx(0, abs=1e-9)
    assert arm.zenith_error_deg[0] == pytest.approx(0, abs=1e-9)


def test_a_single_point_gauge_does_not_see_a_pivot_that_stands_elsewhere():
    # The nulls move although the stylus stands on the mark with the cantilever along its lines.
    arm = one(mark_chain(), pivot_to_spindle=3.0)
    nulls = Geometry(225.0, float(arm.effective_length_mm[0]), float(arm.offset_angle_deg[0])).null_radii_mm
    assert nulls[1] == pytest.approx(120.891, abs=1e-3)
    assert abs(nulls[0] - 65.998) > 0.5


def test_an_overhang_mark_is_blind_to_small_turns():
    arm = one(mark_chain("overhang"), bearing=1.0)
    # The versed sine of 1 degree over the overhang and what is left of the distance.
    assert abs(arm.effective_length_error_mm[0]) < 0.003
    assert arm.zenith_error_deg[0] == pytest.approx(1.0 - math.degrees(17.296 / 239.296 * math.radians(1)), abs=1e-3)


def test_the_trace_is_the_fit_of_an_arc_trace():
    # What the chain says of its readings is what `fit_trace` says of the same readings, joined with the distance.
    eye, direct, aim = 0.1, 0.3, AIM
    chain = arc_trace_gauge(eye)
    radii = np.linspace(aim.innermost_mm, aim.outermost_mm, 9)
    bearings = bearing_on_arc_deg(radii, aim.geometry)
    errors = np.random.default_rng(5).normal(0, eye, 9)
    readings = [
        TraceReading(float(t), Quantity.measured(float(e), "mm", standard_uncertainty=eye, source=f"reading {k}"))
        for k, (t, e) in enumerate(zip(bearings, errors, strict=True))
    ]
    distance = Quantity.measured(222.2, "mm", standard_uncertainty=direct, source="rule")
    fit = fit_trace(readings, aim.geometry, pivot_to_spindle=distance)
    arm = set_ups(chain, aim, {"trace_reading": errors[:, None], "pivot_to_spindle": np.array([0.2])}, 1)
    # The arm is moved against what was read. The fit is exact in the geometry, the chain's linear: within a micrometre.
    length = arm.effective_length_mm[0] - aim.geometry.effective_length_mm
    assert length == pytest.approx(-fit.length_error.value, abs=1e-3)
    assert arm.pivot_to_spindle_mm[0] - 222 == pytest.approx(-fit.distance_error.value, abs=1e-3)


def test_a_trace_alone_hardly_fixes_the_pivot():
    # For 0.1 mm at nine places: 4.4 mm in the distance, 4.8 mm in the length, correlation 0.9996.
    chain = GaugeChain("Trace alone", "trace", (Joint("eye", 0.2, "trace_reading", "normal"),))
    aim = GaugeAim(geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(65.998, 120.891)), 60.325, 146.05)
    arms = set_ups(chain, aim, draw_errors(chain, 200_000, np.random.default_rng(2)), 200_000)
    assert arms.pivot_to_spindle_mm.std() == pytest.approx(4.4, abs=0.05)
    assert arms.effective_length_mm.std() == pytest.approx(4.8, abs=0.05)
    correlation = np.corrcoef(arms.pivot_to_spindle_mm, arms.effective_length_mm)[0, 1]
    assert correlation == pytest.approx(0.9996, abs=5e-5)
    # What it cannot see scarcely matters: against the target for the true distance the length is far nearer.
    assert arms.effective_length_error_mm.std() < 0.8


def test_a_larger_print_of_an_arc_is_followed():
    # An arc drawn 1 % larger, its centre 1 % farther from the spindle, is followed by an arm that is both.
    joints = (Joint("eye", 0.1, "trace_reading"), Joint("scale", 1.0, "print_scale"))
    arm = one(GaugeChain("Trace", "trace", joints), print_scale=1.0)
    assert arm.effective_length_mm[0] == pytest.approx(1.01 * AIM.geometry.effective_length_mm, abs=1e-6)
    assert arm.pivot_to_spindle_mm[0] == pytest.approx(1.01 * 222, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-3, 3))
def test_peaks_by_three_radii_are_those_of_a_fine_search(length, distance, angle):
    arm = one(mark_chain(), effective_length=length, pivot_to_spindle=distance, offset_angle=angle)
    geometry = Geometry(
        float(arm.pivot_to_spindle_mm[0]), float(arm.effective_length_mm[0]), float(arm.offset_angle_deg[0])
    )
    range_mm = {"innermost_mm": AIM.innermost_mm, "outermost_mm": AIM.outermost_mm}
    _, error = peak_tracking_error(geometry, **range_mm)
    assert peak_tracking_errors_deg(arm)[0] == pytest.approx(error, abs=1e-6)
    harmonic = second_harmonic_over_range(geometry, **range_mm, **PLAYED).peak_percent
    assert peak_distortions_percent(arm, **PLAYED)[0] == pytest.approx(harmonic, rel=1e-3)


@pytest.mark.parametrize("key", READY_CHAINS)
def test_drawing_agrees_with_the_slopes_where_play_is_small(key):
    chain = READY_CHAINS[key]
    found = chain_figures(chain, AIM, **PLAYED, draws=100_000, seed=4)
    for name in ("overhang", "effective_length_error", "zenith_error"):
        figure = found.figures[name]
        # Every interval of the draws lies within what the tolerances allow, save the tails of normal errors.
        worst = figure.worst_case[1] - figure.value
        assert figure.interval[1] - figure.value <= 1.05 * worst
        square = figure.root_sum_square[1] - figure.value
        assert square <= worst * (1 + 1e-12)
        # Root sum square of tolerances lies at 1.7 to 2 standard deviations for these distributions.
        assert 1.7 <= square / figure.standard_uncertainty <= 2.05
    for name in ("peak_tracking_error", "peak_distortion"):
        assert found.figures[name].value <= found.figures[name].interval[1] <= found.figures[name].worst_case[1]
    for shares in ([line.length_share for line in found.budget], [line.zenith_share for line in found.budget]):
        assert sum(shares) == pytest.approx(1.0, rel=1e-9)


def test_curves_hold_the_share_of_set_ups_they_claim():
    chain = READY_CHAINS["beam"]
    curves = chain_figures(chain, AIM, **PLAYED, draws=30_000, seed=4).curves
    arms = set_ups(chain, AIM, draw_errors(chain, 50_000, np.random.default_rng(99)), 50_000)
    errors = tracking_errors_deg(arms, curves.radius_mm)
    inside = ((errors >= curves.lowest_error_deg) & (errors <= curves.highest_error_deg)).mean(axis=0)
    # Other draws of 50,000 against ends known from 10,000: both scatter by a few thousandths.
    assert np.all(np.abs(inside - 0.95) < 0.015)


def test_the_same_seed_gives_the_same_draws():
    first, again, other = (
        chain_figures(READY_CHAINS["beam"], AIM, **PLAYED, draws=2000, seed=seed).figures["overhang"].interval
        for seed in (1, 1, 2)
    )
    assert first == again != other


def test_play_that_loses_the_groove_is_refused():
    chain = GaugeChain("Loose", "mark", (Joint("a", 50.0, "effective_length"),), mark="overhang")
    far = GaugeAim(Geometry(222, 239.3, 22.99), 60.325, 146.05)
    with pytest.raises(ValueError, match=r"Loose: in .* % of its set-ups"):
        chain_figures(chain, far, **PLAYED, draws=5000, seed=1)


def test_an_aim_without_nulls_cannot_be_set_at_one():
    straight = GaugeAim(Geometry(222, 205, 0.0), 60.325, 146.05)
    with pytest.raises(ValueError, match="two null radii, and this one has 1"):
        chain_figures(READY_CHAINS["two-null-plate"], straight, **PLAYED, draws=1000, seed=1)
    with pytest.raises(ValueError, match="does not pass its mark"):
        chain_figures(mark_chain(400.0 + 222), AIM, **PLAYED, draws=1000, seed=1)


def test_too_few_draws_are_refused():
    with pytest.raises(ValueError, match="at least 1000"):
        chain_figures(READY_CHAINS["beam"], AIM, **PLAYED, draws=10, seed=1)
