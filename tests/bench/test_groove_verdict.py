"""One verdict over the groove, and the risk that it keeps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.bench.forces.groove_verdict import AtRadius, decide_over_groove
from groovewright.bench.forces.side_force import GivenConstant, GivenTable, SideForceRequest, side_force_result
from groovewright.measurement.conformity import (
    IN_TOLERANCE,
    OUT_OF_TOLERANCE,
    UNDECIDED,
    DecisionRule,
    Tolerance,
    decide,
)
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import side_force_mn

LIMITS = Tolerance(-1.0, 1.0, "mN")
RULE = DecisionRule.of_maximum_risk(0.05)


def at(radius_mm, value, u, source):
    return AtRadius(radius_mm, Quantity.measured(value, "mN", standard_uncertainty=u, source=source))


def verdict(*curve, rule=RULE):
    return decide_over_groove(curve, LIMITS, rule, name="rest")


@settings(max_examples=40, deadline=None)
@given(st.floats(-2, 2), st.floats(0.05, 1), st.sampled_from(["guarded acceptance", "simple acceptance"]))
def test_one_radius_is_judged_as_by_itself(value, u, kind):
    point, rule = at(100.0, value, u, "gauge"), DecisionRule(kind)
    found, where = verdict(point, rule=rule)
    alone = decide(point.quantity, LIMITS, rule)
    assert found.outcome == alone.outcome
    assert where == 100.0
    # Four standard errors of the draws.
    assert found.probability_of_conformity == pytest.approx(alone.probability_of_conformity, abs=0.015)
    assert found.probability_of_conformity <= alone.probability_of_conformity


def test_shared_error_costs_nothing_and_separate_errors_do():
    values = [(60.0 + 5 * k, 0.5) for k in range(12)]
    shared, _ = verdict(*(at(radius, value, 0.3, "one gauge") for radius, value in values))
    apart, _ = verdict(*(at(radius, value, 0.3, f"reading at {radius:g}") for radius, value in values))
    # P(Z < 0.5 / 0.3) = 0.95221 once, and to the 12th power; the other limit is 5 standard uncertainties away.
    assert shared.probability_of_conformity == pytest.approx(0.9522, abs=0.006)
    assert apart.probability_of_conformity == pytest.approx(0.9522**12, abs=0.015)
    assert shared.outcome == IN_TOLERANCE
    assert apart.outcome == UNDECIDED
    assert "together they leave the limits in 44 %" in apart.reason or "in 45 %" in apart.reason


def test_one_radius_out_puts_the_curve_out_and_is_named():
    found, where = verdict(at(60.0, 0.0, 0.1, "a"), at(120.0, 1.5, 0.1, "b"), at(140.0, 0.2, 0.1, "c"))
    assert (found.outcome, where) == (OUT_OF_TOLERANCE, 120.0)
    assert found.reason.startswith("At 120 mm, where the rest stands worst: 1.50 mN ± 0.10 mN lies outside")


def test_one_radius_in_doubt_leaves_the_curve_in_doubt():
    found, where = verdict(at(60.0, 0.0, 0.1, "a"), at(120.0, 0.95, 0.1, "b"))
    assert (found.outcome, where) == (UNDECIDED, 120.0)


def test_an_unknown_uncertainty_leaves_the_curve_in_doubt_unless_another_radius_is_out():
    unknown = AtRadius(80.0, Quantity.unknown_uncertainty(0.0, "mN", why="none was stated"))
    found, where = verdict(at(60.0, 0.0, 0.1, "a"), unknown)
    assert (found.outcome, found.probability_of_conformity, where) == (UNDECIDED, None, 80.0)
    assert "not known" in found.reason
    out, where = verdict(at(60.0, 3.0, 0.1, "a"), unknown)
    assert (out.outcome, where) == (OUT_OF_TOLERANCE, 60.0)


def test_exact_values_on_the_limit_keep_it():
    found, _ = verdict(*(AtRadius(radius, Quantity.exact(1.0, "mN")) for radius in (60.0, 100.0)))
    assert (found.outcome, found.probability_of_conformity) == (IN_TOLERANCE, 1.0)


def test_one_limit_alone_will_do():
    tolerance = Tolerance(None, 1.0, "mN")
    found, where = decide_over_groove([at(60.0, -9.0, 0.1, "a"), at(80.0, 0.5, 0.1, "b")], tolerance, RULE, name="rest")
    assert (found.outcome, where) == (IN_TOLERANCE, 80.0)
    low = Tolerance(0.0, None, "mN")
    found, where = decide_over_groove([at(60.0, -9.0, 0.1, "a"), at(80.0, 0.5, 0.1, "b")], low, RULE, name="rest")
    assert (found.outcome, where) == (OUT_OF_TOLERANCE, 60.0)


def test_no_curve_and_another_unit_are_refused():
    with pytest.raises(ValueError, match="at one radius at least"):
        verdict()
    with pytest.raises(ValueError, match="one unit"):
        verdict(AtRadius(60.0, Quantity.exact(0.0, "g")))


DECKS = 400


def test_false_verdicts_on_simulated_grooves_keep_their_risk():
    # True states about the limit, where errors are likeliest; readings scatter about them as they state.
    rng = np.random.default_rng(20_261_125)
    falsely_in = falsely_out = shown_in = shown_out = 0
    arm, limit = Geometry(222.0, 239.2961, 0.0), 0.9
    radii = np.linspace(60.325, 146.05, 121)
    knots = (60.0, 105.0, 147.0)
    for deck in range(DECKS):
        coefficient, force = rng.uniform(0.25, 0.4), rng.uniform(15, 22)
        side = side_force_mn(radii, geometry=arm, tracking_force_mn=force, friction_coefficient=coefficient)
        given_mn = side.mean() + rng.uniform(-1.3, 1.3)
        u_coefficient, u_force, u_given = 0.02, 0.1, 0.15
        truths = np.full(3, given_mn) if deck % 2 else given_mn + rng.uniform(-0.2, 0.2, 3)
        rest = side - np.interp(radii, knots, truths)
        conforms = np.abs(rest).max() <= limit

        def read(true, u, unit, source):
            return Quantity.measured(true + u * rng.standard_normal(), unit, standard_uncertainty=u, source=source)

        if deck % 2:
            compensation = GivenConstant(read(given_mn, u_given, "mN", "compensation"))
        else:
            compensation = GivenTable(
                knots, tuple(read(true, u_given, "mN", f"at {k}") for k, true in enumerate(truths))
            )
        request = SideForceRequest(
            pivot_to_spindle=Quantity.exact(222.0, "mm"),
            effective_length=Quantity.exact(239.2961, "mm"),
            tracking_force=read(force, u_force, "mN", "scale"),
            friction_coefficient=read(coefficient, u_coefficient, "1", "friction"),
            innermost_mm=60.325,
            outermost_mm=146.05,
            compensation=compensation,
            limit_mn=limit,
        )
        outcome = side_force_result(request, RULE).verdict.outcome
        shown_in += outcome == IN_TOLERANCE
        shown_out += outcome == OUT_OF_TOLERANCE
        falsely_in += outcome == IN_TOLERANCE and not conforms
        falsely_out += outcome == OUT_OF_TOLERANCE and conforms
    # Each verdict is given often enough to be tested, and wrong in at most 5 % of the times that it is given.
    assert min(shown_in, shown_out) > 60
    assert falsely_in <= 0.05 * shown_in
    assert falsely_out <= 0.05 * shown_out
