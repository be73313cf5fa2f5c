"""The joint estimate against two independent ways to the same numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from uncertainties import ufloat

from groovewright.bench.estimate.carrying import carried_moves
from groovewright.bench.estimate.joint_estimate import _by_singular_values, _pseudo_inverse, estimate
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation, predict
from groovewright.bench.estimate.priors import complete_priors
from groovewright.bench.estimate.settings import SettingTargets
from groovewright.measurement.quantity import Quantity, Source, covariance
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_state import STATE, Adjustments, ArmState
from groovewright.tonearm.geometry import Geometry

GEOMETRY = Geometry(222.0, 239.2961, 22.9855)
TARGETS = SettingTargets(GEOMETRY, 0.928, -0.094, 60.325, 146.05, {"vertical_tracking_angle": 22.0}, {})
BUILD = usual_build(GEOMETRY)
LENGTH, DISTANCE = STATE.index("effective_length_mm"), STATE.index("pivot_to_spindle_mm")
SHARED = {"mm": 0.2, "deg": 0.2, "mN": 0.1, "1": 0.02}


def reading(kind, value, own, order, *, shared=0.0, gauge="gauge", **more):
    label = f"{kind} {order}"
    quantity = Quantity(value, KINDS_OF_READING[kind].unit, {Source(gauge): shared, Source(label): own})
    return Observation(kind, quantity, order, label, **more)


def priors(**known):
    return list(complete_priors(known, BUILD).values())


def whitened_fit(observations, moves, known):
    """Return state and covariance by an optimiser: state and hands' errors unknown, readings whitened."""
    count = np.cumsum([0, *(len(move.sources) for move in moves)])
    prior, spread = (np.array([getattr(q, name) for q in known]) for name in ("value", "standard_uncertainty"))
    values = [one.quantity for one in observations]
    triangle = np.linalg.cholesky([[covariance(a, b) for b in values] for a in values])

    def state_at(order, now, hands):
        for move, first, last in zip(moves, count, count[1:], strict=False):
            if move.move.order > order:
                now = now - move.shift - move.contributions @ hands[first:last]
        return now

    def residuals(unknown):
        now, hands = unknown[:9], unknown[9:]
        shown = [
            predict(
                one.kind, ArmState.from_array(state_at(one.order, now, hands)), TARGETS, radius_mm=one.radius_mm
            ).value
            for one in observations
        ]
        off = np.array([quantity.value for quantity in values]) - shown
        return np.concatenate([np.linalg.solve(triangle, off), (prior - state_at(-np.inf, now, hands)) / spread, hands])

    start = prior + sum(move.shift for move in moves)
    fit = least_squares(
        residuals,
        np.concatenate([start, np.zeros(count[-1])]),
        jac="3-point",
        x_scale=np.concatenate([spread, np.ones(count[-1])]),
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    return fit.x[:9], np.linalg.inv(fit.jac.T @ fit.jac)[:9, :9]


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_agrees_with_whitened_least_squares(seed):
    generator = np.random.default_rng(seed)
    known = priors()
    truth = np.array([q.value + 0.1 * q.standard_uncertainty * generator.normal() for q in known])
    moves = carried_moves(
        BUILD,
        [
            Move(Adjustments(slide_mm=0.7), Adjustments(slide_mm=0.12), 20, "move 1"),
            Move(Adjustments(turn_deg=-0.5, arm_height_mm=1.0), Adjustments(0, 0.3, 0, 0.2), 40, "move 2"),
        ],
    )
    observations = []
    for order in [*range(1, 16), *range(21, 36), *range(41, 48)]:
        kind = str(generator.choice(list(KINDS_OF_READING)))
        radius = {"radius_mm": float(generator.uniform(62, 140))} if kind == "null_angle" else {}
        passed = sum((move.shift for move in moves if move.move.order < order), np.zeros(9))
        shown = predict(kind, ArmState.from_array(truth + passed), TARGETS, **radius).value
        own = SHARED[KINDS_OF_READING[kind].unit] * float(generator.uniform(0.3, 2))
        shared = SHARED[KINDS_OF_READING[kind].unit] * float(generator.uniform(-1, 1))
        read = shown + own * generator.normal()
        observations.append(reading(kind, read, own, order, shared=shared, gauge=str(generator.integers(3)), **radius))
    ours = estimate(observations, moves, known, TARGETS)
    state, theirs = whitened_fit(observations, moves, known)
    spread = np.sqrt(np.diag(theirs))
    assert ours.is_settled
    # A hundred-thousandth of a standard uncertainty; the optimiser has its slopes from differences.
    unit = np.outer(spread, spread)
    np.testing.assert_allclose(ours.state / spread, state / spread, rtol=0, atol=1e-5)
    np.testing.assert_allclose(ours.errors @ ours.errors.T / unit, theirs / unit, rtol=0, atol=1e-5)


def test_components_are_those_of_the_uncertainties_package():
    # Two lengths by one rule; without a prior worth the name the estimate is their mean by what they do not share.
    vague = Quantity.measured(239.0, "mm", standard_uncertainty=1e5, source="nothing known")
    first = reading("effective_length", 239.5, 0.3, 1, shared=0.2, gauge="rule")
    second = reading("effective_length", 238.9, 0.1, 2, shared=0.2, gauge="rule")
    ours = estimate([first, second], [], priors(effective_length_mm=vague), TARGETS)

    rule, one, two = ufloat(0, 1), ufloat(0, 1), ufloat(0, 1)
    weights = np.array([1 / 0.3**2, 1 / 0.1**2]) / (1 / 0.3**2 + 1 / 0.1**2)
    theirs = weights[0] * (239.5 + 0.2 * rule + 0.3 * one) + weights[1] * (238.9 + 0.2 * rule + 0.1 * two)
    found = {source.label: part for source, part in ours.components(ours.errors[LENGTH]).items()}
    parts = theirs.error_components()
    assert ours.state[LENGTH] == pytest.approx(theirs.nominal_value, abs=1e-9)
    assert abs(found["rule"]) == pytest.approx(parts[rule], rel=1e-6)
    assert abs(found[first.label]) == pytest.approx(parts[one], rel=1e-6)
    assert abs(found[second.label]) == pytest.approx(parts[two], rel=1e-6)


def test_length_and_distance_share_the_error_of_the_distance():
    distance = reading("pivot_to_spindle", 222.4, 0.3, 1)
    overhang = reading("overhang", 17.0, 0.05, 2)
    vague = {
        name: Quantity.measured(value, "mm", standard_uncertainty=1e5, source=f"no {name}")
        for name, value in (("effective_length_mm", 239.0), ("pivot_to_spindle_mm", 222.0))
    }
    ours = estimate([distance, overhang], [], priors(**vague), TARGETS)
    d, o = ufloat(222.4, 0.3), ufloat(17.0, 0.05)
    length = d + o
    found = ours.errors @ ours.errors.T
    assert ours.state[LENGTH] == pytest.approx(length.nominal_value, abs=1e-6)
    assert found[LENGTH, LENGTH] == pytest.approx(length.std_dev**2, rel=1e-6)
    assert found[LENGTH, DISTANCE] == pytest.approx(0.3**2, rel=1e-6)


def test_an_exact_distance_and_exact_readings_are_met_to_the_last_digit():
    known = priors(pivot_to_spindle_mm=Quantity.exact(222.0, "mm"))
    exact = Observation("overhang", Quantity.exact(17.25, "mm"), 1, "overhang")
    twice = Observation("effective_length", Quantity.exact(239.25, "mm"), 2, "length")
    ours = estimate([exact, twice], [], known, TARGETS)
    assert (ours.state[DISTANCE], ours.contradicting) == (222.0, ())
    assert ours.state[LENGTH] == pytest.approx(239.25, abs=1e-10)
    assert np.linalg.norm(ours.errors[LENGTH]) == pytest.approx(0.0, abs=1e-10)


def test_exact_readings_that_cannot_both_be_true_are_named():
    known = priors(pivot_to_spindle_mm=Quantity.exact(222.0, "mm"))
    exact = Observation("overhang", Quantity.exact(17.25, "mm"), 1, "overhang")
    other = Observation("effective_length", Quantity.exact(239.75, "mm"), 2, "length")
    assert estimate([exact, other], [], known, TARGETS).contradicting == (0, 1)


def test_a_shared_error_is_no_smaller_for_being_read_often():
    often = [reading("tracking_force", 18.0, 0.05, k, shared=0.2, gauge="scale") for k in range(1, 26)]
    ours = estimate(often, [], priors(), TARGETS)
    force = STATE.index("tracking_force_mn")
    spread = np.linalg.norm(ours.errors[force])
    assert spread == pytest.approx(np.hypot(0.2, 0.05 / 5), rel=1e-3)


def test_without_readings_the_priors_stand():
    known = priors()
    ours = estimate([], [], known, TARGETS)
    np.testing.assert_array_equal(ours.state, [q.value for q in known])
    np.testing.assert_allclose(np.linalg.norm(ours.errors, axis=1), [q.standard_uncertainty for q in known])


def test_a_reading_after_a_move_tells_how_far_the_hand_went():
    before = reading("overhang", 16.0, 0.05, 1)
    after = reading("overhang", 17.0, 0.05, 3)
    # Asked for 0.5 mm along the cartridge, with a clumsy hand; both readings show that it was more.
    moves = carried_moves(BUILD, [Move(Adjustments(slide_mm=0.5), Adjustments(slide_mm=0.5), 2, "move 1")])
    ours = estimate([before, after], moves, priors(pivot_to_spindle_mm=Quantity.exact(222.0, "mm")), TARGETS)
    assert ours.state[LENGTH] == pytest.approx(239.0, abs=0.01)
    # What it did to the offset angle follows from how far it really went: 1.0 mm / cos(23 degrees), not 0.5 mm.
    turned = ours.state[STATE.index("offset_angle_deg")] - GEOMETRY.offset_angle_deg
    assert turned == pytest.approx(moves[0].shift[2] * 1.0 / moves[0].shift[0], rel=0.03)


@given(seed=st.integers(0, 10_000), shared=st.integers(1, 12), count=st.integers(1, 40))
@settings(deadline=None, max_examples=60)
def test_the_short_way_for_readings_with_errors_of_their_own_is_the_long_one(seed, shared, count):
    chance = np.random.default_rng(seed)
    common = chance.normal(size=(count, shared)) * 10 ** chance.uniform(-2, 1, size=shared)
    # Some readings have two errors of their own.
    twice = np.diag(chance.uniform(0.02, 0.5, count))[:, : count // 2]
    rows = np.hstack([common, np.diag(chance.uniform(0.02, 0.5, count)), twice])
    np.testing.assert_allclose(_pseudo_inverse(rows), _by_singular_values(rows), rtol=1e-6, atol=1e-9)


def test_five_hundred_readings_are_estimated_as_few_are():
    chance = np.random.default_rng(4)
    many = [reading("overhang", 17.3 + 0.1 * chance.normal(), 0.1, k, shared=0.05) for k in range(500)]
    joint = estimate(many, (), priors(), TARGETS)
    mean = np.mean([one.quantity.value for one in many])
    # The gauge's error stays whole, and each reading's own shrinks with their number.
    assert joint.state[LENGTH] - joint.state[DISTANCE] == pytest.approx(mean, abs=1e-3)
    spread = np.linalg.norm(joint.errors[LENGTH] - joint.errors[DISTANCE])
    assert spread == pytest.approx(np.hypot(0.05, 0.1 / np.sqrt(500)), rel=1e-3)
