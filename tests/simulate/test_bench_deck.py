import numpy as np
import pytest

from groovewright.simulate.bench_deck import (
    USUAL_GAUGES,
    BenchDeck,
    bad_set_up,
    gauges_of,
    made_by_hand,
)
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_state import Adjustments
from groovewright.tonearm.geometry import Geometry

# The worked geometry of D = 222 mm: L = 239.2961 mm, offset angle 22.9855 degrees, nulls 65.998 and 120.891 mm.
WORKED = Geometry(222.0, 239.2961, 22.9855)


def test_perfect_gauges_read_the_worked_geometry():
    deck = BenchDeck(usual_build(WORKED, tracking_force_mn=20.0, compensation_mn=2.0, friction_coefficient=0.3))
    assert deck.shows("overhang", 100) == pytest.approx(17.2961)
    assert deck.shows("null_angle", 65.998) == pytest.approx(0, abs=5e-4)
    assert deck.shows("null_angle", 60.325) == pytest.approx(0.7428, abs=5e-4)
    # sin of the groove angle is 0.3757 at 100 mm.
    assert deck.shows("side_force_rest", 100) == pytest.approx(0.3 * 20 * 0.3757 - 2.0, abs=5e-4)
    assert deck.shows("tracking_force", 100) == pytest.approx(20.0)


def test_moves_add_up_and_leave_the_deck_before_them_as_it_was():
    deck = BenchDeck(usual_build(WORKED))
    moved = deck.moved(Adjustments(slide_mm=1.0)).moved(Adjustments(slide_mm=-0.4, compensation_mn=0.2))
    assert moved.adjusted == Adjustments(slide_mm=0.6, compensation_mn=0.2)
    assert deck.adjusted == Adjustments()
    assert moved.state.compensation_mn == pytest.approx(deck.state.compensation_mn + 0.2)


def test_readings_err_as_they_say():
    rng = np.random.default_rng(5)
    deck = BenchDeck(usual_build(WORKED))
    off = []
    for _ in range(400):
        gauge = next(gauge for gauge in gauges_of(rng) if gauge.kind == "overhang")
        pair = [gauge.read(deck, 100.0, number, rng) for number in (1, 2)]
        off.append([reading.value - deck.shows("overhang", 100.0) for reading in pair])
    usual = next(gauge for gauge in USUAL_GAUGES if gauge.kind == "overhang")
    covariance = np.cov(np.array(off).T)
    # A standard deviation from 400 draws is known to 3.5 %; four times that.
    assert np.sqrt(covariance[0, 0]) == pytest.approx(np.hypot(usual.own, usual.scatter), rel=0.14)
    assert covariance[0, 1] == pytest.approx(usual.own**2, abs=4 * usual.own**2 / 400**0.5 * 2.6)
    shared = set(pair[0].components) & set(pair[1].components)
    assert [source.label for source in shared] == ["gauge of the overhang"]


def test_a_hand_touches_only_what_it_is_asked_to():
    rng = np.random.default_rng(6)
    asked, fine = Adjustments(slide_mm=1.0), Adjustments(slide_mm=0.1)
    made = np.array([made_by_hand(asked, fine, rng).as_array() for _ in range(400)])
    assert (made[:, 1:] == 0).all()
    assert made[:, 0].mean() == pytest.approx(1.0, abs=4 * 0.1 / 20)
    assert made[:, 0].std() == pytest.approx(0.1, rel=0.14)


def test_the_same_seed_gives_the_same_bad_set_up():
    first, second = (bad_set_up(WORKED, (15.0, 20.0), np.random.default_rng(7)) for _ in range(2))
    assert first == second
    deck, known = first
    assert known.geometry == WORKED
    assert deck.build.geometry != WORKED
    assert (deck.build.axis, deck.build.bearing, deck.build.turn_about) == (
        known.axis,
        known.bearing,
        known.turn_about,
    )
