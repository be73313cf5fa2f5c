"""The worked examples of JCGM 101, clause 9, to first order, to second order and by Monte Carlo."""

import functools
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from groovewright.measurement.coverage import coverage_interval, validate
from groovewright.measurement.distributions import Arcsine, CurvilinearTrapezoid, Normal, Rectangular, StudentT
from groovewright.measurement.model import Measurement

PUBLISHED = tomllib.loads(
    (Path(__file__).parents[1] / "published" / "measurement_jcgm101.toml").read_text(encoding="utf-8")
)
MASS, LOSS, BLOCK, LOGARITHM = (
    PUBLISHED[name] for name in ("mass_calibration", "comparison_loss", "gauge_block", "logarithm")
)
TRIALS = 1_000_000


def of_shape(shape, u):
    return Normal(0, u) if shape == "normal" else Rectangular(-math.sqrt(3) * u, math.sqrt(3) * u)


@pytest.mark.parametrize("row", PUBLISHED["additive"], ids=lambda row: row["clause"])
def test_sum_of_four_inputs(row):
    shapes = zip(row["inputs"], row["standard_uncertainties"], strict=True)
    measurement = Measurement(
        lambda a, b, c, d: {"sum": a + b + c + d},
        dict(zip("abcd", (of_shape(shape, u) for shape, u in shapes), strict=True)),
        units={"sum": "1"},
    )
    first_order = measurement.first_order()["sum"]
    draws = measurement.monte_carlo(trials=TRIALS, seed=1)["sum"]
    assert draws.standard_uncertainty == pytest.approx(
        row["standard_uncertainty"], abs=row["standard_uncertainty_tolerance"]
    )
    np.testing.assert_allclose(
        coverage_interval(first_order),
        [-row["first_order_end"], row["first_order_end"]],
        rtol=0,
        atol=row["end_tolerance"],
    )
    expected = [-row["drawn_end"], row["drawn_end"]]
    np.testing.assert_allclose(draws.symmetric_interval(), expected, rtol=0, atol=row["end_tolerance"])
    assert validate(first_order, draws).is_valid is row["first_order_is_valid"]


def mass_calibration():
    return Measurement(
        lambda m_rc, dm_rc, air, weight, reference: {
            "mass": (m_rc + dm_rc) * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 100_000
        },
        {
            "m_rc": Normal(100_000, 0.050),
            "dm_rc": Normal(1.234, 0.020),
            "air": Rectangular(1.10, 1.30),
            "weight": Rectangular(7000, 9000),
            "reference": Rectangular(7950, 8050),
        },
        units={"mass": "mg"},
    )


@functools.cache
def mass_draws():
    return mass_calibration().monte_carlo(trials=TRIALS, seed=3)["mass"]


@pytest.mark.parametrize("order", ["first_order", "second_order"])
def test_mass_calibration_by_the_series(order):
    mass, row = getattr(mass_calibration(), order)()["mass"], MASS[order]
    assert mass.value == pytest.approx(row["mean"], abs=MASS["mean_tolerance"])
    # Half of the last printed digit is enough here, as nothing is drawn.
    assert mass.standard_uncertainty == pytest.approx(row["standard_uncertainty"], abs=0.00006)
    np.testing.assert_allclose(coverage_interval(mass), row["interval"], rtol=0, atol=0.00015)


def test_mass_calibration_by_monte_carlo():
    row = MASS["monte_carlo"]
    assert mass_draws().mean == pytest.approx(row["mean"], abs=MASS["mean_tolerance"])
    assert mass_draws().standard_uncertainty == pytest.approx(
        row["standard_uncertainty"], abs=MASS["standard_uncertainty_tolerance"]
    )
    np.testing.assert_allclose(mass_draws().shortest_interval(), row["interval"], rtol=0, atol=MASS["end_tolerance"])


def test_monte_carlo_refutes_the_first_order_mass_and_bears_out_the_second_order():
    first, second = mass_calibration().first_order()["mass"], mass_calibration().second_order()["mass"]
    assert not validate(first, mass_draws(), significant_digits=1).is_valid
    assert validate(second, mass_draws(), significant_digits=1).is_valid


def comparison_loss(x1, correlation=0.0):
    u = LOSS["input_standard_uncertainty"]
    return Measurement(
        lambda x1, x2: {"loss": 1e6 * (x1**2 + x2**2)},
        {"x1": Normal(x1, u), "x2": Normal(0, u)},
        units={"loss": "1e-6"},
        correlation={("x1", "x2"): correlation} if correlation else {},
    )


@pytest.mark.parametrize("row", LOSS["row"], ids=lambda row: f"x1={row['x1']}")
def test_comparison_loss_by_the_series(row):
    for order in ("first_order", "second_order"):
        loss = getattr(comparison_loss(row["x1"]), order)()["loss"]
        assert loss.standard_uncertainty == pytest.approx(
            row[f"{order}_standard_uncertainty"], abs=LOSS["tolerance"] / 2
        )
        np.testing.assert_allclose(coverage_interval(loss), row[f"{order}_interval"], rtol=0, atol=LOSS["tolerance"])


@pytest.mark.parametrize("row", LOSS["row"], ids=lambda row: f"x1={row['x1']}")
def test_comparison_loss_by_monte_carlo(row):
    draws = comparison_loss(row["x1"]).monte_carlo(trials=TRIALS, seed=4)["loss"]
    assert draws.mean == pytest.approx(row["mean"], abs=LOSS["tolerance"])
    assert draws.standard_uncertainty == pytest.approx(row["standard_uncertainty"], abs=LOSS["tolerance"])
    np.testing.assert_allclose(
        draws.shortest_interval(), row["drawn_interval"], rtol=0, atol=row["drawn_end_tolerance"]
    )


def test_comparison_loss_of_correlated_inputs_has_its_exact_moments():
    x1, u, r = 0.010, LOSS["input_standard_uncertainty"], 0.9
    draws = comparison_loss(x1, correlation=r).monte_carlo(trials=TRIALS, seed=5)["loss"]
    exact = 1e6 * math.sqrt(4 * u**2 * x1**2 + 4 * u**4 * (1 + r**2))
    assert draws.mean == pytest.approx(1e6 * (x1**2 + 2 * u**2), abs=LOSS["tolerance"])
    assert draws.standard_uncertainty == pytest.approx(exact, abs=LOSS["tolerance"])


def test_second_order_is_refused_for_correlated_inputs():
    with pytest.raises(ValueError, match="not correlated"):
        comparison_loss(0.010, correlation=0.9).second_order()


def gauge_block():
    def model(*, standard, repeats, random, systematic, expansion, mean, cycle, expansion_difference, difference):
        thermal = expansion_difference * (mean + cycle) + expansion * difference
        return {"deviation": standard - 5e7 + repeats + random + systematic - standard * thermal}

    return Measurement(
        model,
        {
            "standard": StudentT(50_000_623, 25, 18),
            "repeats": StudentT(215, 6, 24),
            "random": StudentT(0, 4, 5),
            "systematic": StudentT(0, 7, 8),
            "expansion": Rectangular(9.5e-6, 13.5e-6),
            "mean": Normal(-0.1, 0.2),
            "cycle": Arcsine(-0.5, 0.5),
            "expansion_difference": CurvilinearTrapezoid(-1e-6, 1e-6, 1e-7),
            "difference": CurvilinearTrapezoid(-0.050, 0.050, 0.025),
        },
        units={"deviation": "nm"},
    )


def test_gauge_block_to_first_order():
    deviation = gauge_block().first_order()["deviation"]
    assert deviation.value == pytest.approx(BLOCK["mean"], abs=0.5)
    assert deviation.standard_uncertainty == pytest.approx(BLOCK["first_order_standard_uncertainty"], abs=0.5)
    np.testing.assert_allclose(
        coverage_interval(deviation, 0.99),
        BLOCK["first_order_interval_99_percent"],
        rtol=0,
        atol=BLOCK["end_tolerance"],
    )


def test_gauge_block_by_monte_carlo():
    draws = gauge_block().monte_carlo(trials=TRIALS, seed=6)["deviation"]
    assert draws.mean == pytest.approx(BLOCK["mean"], abs=BLOCK["mean_tolerance"])
    assert draws.standard_uncertainty == pytest.approx(
        BLOCK["drawn_standard_uncertainty"], abs=BLOCK["standard_uncertainty_tolerance"]
    )
    np.testing.assert_allclose(
        draws.shortest_interval(0.99), BLOCK["drawn_interval_99_percent"], rtol=0, atol=BLOCK["end_tolerance"]
    )


def test_logarithm_of_a_wide_input():
    measurement = Measurement(lambda x: {"y": np.log(x)}, {"x": Rectangular(0.1, 1.1)}, units={"y": "1"})
    first_order = measurement.first_order()["y"]
    draws = measurement.monte_carlo(trials=TRIALS, seed=7)["y"]
    half_digit = LOGARITHM["first_order_printed_to"] / 2
    assert first_order.value == pytest.approx(LOGARITHM["first_order_mean"], abs=half_digit)
    assert first_order.standard_uncertainty == pytest.approx(
        LOGARITHM["first_order_standard_uncertainty"], abs=half_digit
    )
    assert draws.mean == pytest.approx(LOGARITHM["mean"], abs=LOGARITHM["tolerance"])
    assert draws.standard_uncertainty == pytest.approx(LOGARITHM["standard_uncertainty"], abs=LOGARITHM["tolerance"])
    np.testing.assert_allclose(
        draws.shortest_interval(), LOGARITHM["drawn_interval"], rtol=0, atol=LOGARITHM["tolerance"]
    )
    assert not validate(first_order, draws).is_valid
