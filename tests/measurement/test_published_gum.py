"""The worked examples of JCGM 100, annex H."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from groovewright.measurement.budget import uncertainty_budget
from groovewright.measurement.coverage import coverage_factor
from groovewright.measurement.distributions import Arcsine, Normal, Rectangular, StudentT
from groovewright.measurement.line_fit import fit_line
from groovewright.measurement.model import Measurement
from groovewright.measurement.propagation import propagate, propagate_all
from groovewright.measurement.quantity import Quantity, correlated_quantities, covariance

PUBLISHED = Path(__file__).parents[1] / "published"


def published(name):
    return tomllib.loads((PUBLISHED / name).read_text(encoding="utf-8"))


H1 = published("measurement_gum_h1.toml")
H2 = published("measurement_gum_h2.toml")
H3 = published("measurement_gum_h3.toml")


def end_gauge():
    def model(*, standard, repeats, random, systematic, expansion_difference, mean, cycle, expansion, difference):
        temperature = mean + cycle
        comparator = repeats + random + systematic
        thermal = standard * (expansion_difference * temperature + expansion * difference)
        return {"length": standard + comparator - thermal}

    inputs = {
        "standard": StudentT(50_000_623, 25, 18),
        "repeats": StudentT(215, 5.8, 24),
        "random": StudentT(0, 3.9, 5),
        "systematic": StudentT(0, 6.7, 8),
        "expansion_difference": StudentT(0, 1e-6 / math.sqrt(3), 50),
        "mean": Normal(-0.1, 0.2),
        "cycle": Arcsine(-0.5, 0.5),
        "expansion": Rectangular(9.5e-6, 13.5e-6),
        "difference": StudentT(0, 0.05 / math.sqrt(3), 2),
    }
    return Measurement(model, inputs, units={"length": "nm"})


def test_end_gauge_has_the_printed_length_and_uncertainty():
    length = end_gauge().first_order()["length"]
    output = H1["output"]
    assert length.value == pytest.approx(output["length_nm"], abs=output["length_printed_to_nm"] / 2)
    assert length.standard_uncertainty == pytest.approx(
        output["standard_uncertainty_nm"], abs=output["standard_uncertainty_printed_to_nm"] / 2
    )


def test_end_gauge_budget_has_the_printed_contributions():
    rows = {row.source: row.contribution for row in uncertainty_budget(end_gauge().first_order()["length"])}
    comparator = math.hypot(rows["repeats"], rows["random"], rows["systematic"])
    printed = H1["contributions_nm"]
    half_digit = printed["printed_to_nm"] / 2
    assert rows["standard"] == pytest.approx(printed["standard"], abs=half_digit)
    assert rows["difference"] == pytest.approx(printed["temperature_difference"], abs=half_digit)
    assert comparator == pytest.approx(printed["comparator"], abs=half_digit)
    assert rows["expansion_difference"] == pytest.approx(printed["expansion_difference"], abs=half_digit)


def test_end_gauge_has_the_printed_degrees_of_freedom_and_expanded_uncertainty():
    length = end_gauge().first_order()["length"]
    output = H1["output"]
    assert math.floor(length.degrees_of_freedom) == output["effective_degrees_of_freedom_truncated"]
    factor = coverage_factor(length, 0.99)
    assert factor == pytest.approx(output["coverage_factor_99_percent"], abs=output["coverage_factor_printed_to"] / 2)
    assert factor * length.standard_uncertainty == pytest.approx(
        output["expanded_uncertainty_99_percent_nm"], abs=output["expanded_uncertainty_tolerance_nm"]
    )


def test_end_gauge_with_second_order_terms_has_the_printed_uncertainty():
    output = H1["output"]
    assert end_gauge().second_order()["length"].standard_uncertainty == pytest.approx(
        output["second_order_standard_uncertainty_nm"], abs=output["second_order_printed_to_nm"] / 2
    )


def impedance(volts, milliamperes, radians):
    ohms = 1000 * volts / milliamperes
    return {"resistance": ohms * np.cos(radians), "reactance": ohms * np.sin(radians), "impedance": ohms}


OHMS = {"resistance": "ohm", "reactance": "ohm", "impedance": "ohm"}


def impedance_inputs():
    names = list(H2["observations"])
    observed = np.array([H2["observations"][name] for name in names])
    repeats = observed.shape[1]
    quantities = correlated_quantities(
        observed.mean(axis=1),
        np.cov(observed) / repeats,
        units=["V", "mA", "rad"],
        source="five sets of observations",
        degrees_of_freedom=repeats - 1,
    )
    return dict(zip(names, quantities, strict=True))


def correlation(first, second):
    return covariance(first, second) / (first.standard_uncertainty * second.standard_uncertainty)


@pytest.mark.parametrize("row", H2["input"], ids=lambda row: row["name"])
def test_observed_means_match_the_printed_ones(row):
    quantity = impedance_inputs()[row["name"]]
    assert quantity.value == pytest.approx(row["mean"], abs=row["printed_to"] / 2)
    assert quantity.standard_uncertainty == pytest.approx(row["standard_uncertainty"], abs=row["printed_to"] / 2)


@pytest.mark.parametrize("row", H2["input_correlation"], ids=lambda row: "-".join(row["pair"]))
def test_observed_correlations_match_the_printed_ones(row):
    inputs = impedance_inputs()
    half_digit = H2["tolerance"]["input_correlation_printed_to"] / 2
    assert correlation(*(inputs[name] for name in row["pair"])) == pytest.approx(row["coefficient"], abs=half_digit)


@pytest.mark.parametrize("row", H2["output"], ids=lambda row: row["name"])
def test_resistance_and_reactance_match_the_printed_ones(row):
    result = propagate_all(impedance, impedance_inputs(), units=OHMS)[row["name"]]
    tolerance = H2["tolerance"]["ohms"]
    assert result.value == pytest.approx(row["ohms"], abs=tolerance)
    assert result.standard_uncertainty == pytest.approx(row["standard_uncertainty_ohms"], abs=tolerance)
    assert result.degrees_of_freedom == pytest.approx(H2["degrees_of_freedom"]["outputs"], abs=1e-6)


@pytest.mark.parametrize("row", H2["output_correlation"], ids=lambda row: "-".join(row["pair"]))
def test_correlations_of_the_outputs_match_the_printed_ones(row):
    results = propagate_all(impedance, impedance_inputs(), units=OHMS)
    tolerance = H2["tolerance"]["output_correlation"]
    assert correlation(*(results[name] for name in row["pair"])) == pytest.approx(row["coefficient"], abs=tolerance)


@pytest.mark.parametrize("row", H2["output"], ids=lambda row: row["name"])
def test_dropping_the_correlations_gives_the_printed_wrong_uncertainties(row):
    independent = {
        name: Quantity.measured(q.value, q.unit, standard_uncertainty=q.standard_uncertainty, source=name)
        for name, q in impedance_inputs().items()
    }
    result = propagate_all(impedance, independent, units=OHMS)[row["name"]]
    assert result.standard_uncertainty == pytest.approx(row["without_correlation_ohms"], abs=H2["tolerance"]["ohms"])


@pytest.mark.parametrize("row", H2["output"], ids=lambda row: row["name"])
def test_the_description_of_a_measurement_takes_the_same_correlations(row):
    inputs = impedance_inputs()
    names = list(inputs)
    measurement = Measurement(
        impedance,
        {name: Normal(q.value, q.standard_uncertainty) for name, q in inputs.items()},
        units=OHMS,
        correlation={
            (first, second): correlation(inputs[first], inputs[second])
            for i, first in enumerate(names)
            for second in names[i + 1 :]
        },
        degrees_of_freedom=H2["degrees_of_freedom"]["outputs"],
    )
    first_order = measurement.first_order()[row["name"]]
    drawn = measurement.monte_carlo(trials=200_000, seed=2)[row["name"]]
    assert first_order.standard_uncertainty == pytest.approx(
        row["standard_uncertainty_ohms"], abs=H2["tolerance"]["ohms"]
    )
    assert first_order.degrees_of_freedom == pytest.approx(4, abs=1e-6)
    # Five sets of observations leave 4 degrees of freedom, whose t-distribution the draws follow: to four standard
    # errors of an end that has 2.5 % of 200 000 draws beyond it, 2 % of the reach.
    low, high = drawn.symmetric_interval()
    reach = coverage_factor(first_order) * first_order.standard_uncertainty
    assert (first_order.value - low, high - first_order.value) == pytest.approx((reach, reach), rel=0.02)


def thermometer():
    observed = H3["observations"]
    return fit_line(
        observed["thermometer_celsius"],
        observed["correction_celsius"],
        x_unit="°C",
        y_unit="°C",
        source="thermometer fit",
        about=observed["about_celsius"],
    )


def test_thermometer_line_matches_the_printed_one():
    fit, output = thermometer(), H3["output"]
    half_digit = output["intercept_printed_to"] / 2
    assert fit.intercept.value == pytest.approx(output["intercept_celsius"], abs=half_digit)
    assert fit.intercept.standard_uncertainty == pytest.approx(output["intercept_uncertainty_celsius"], abs=half_digit)
    half_digit = output["slope_printed_to"] / 2
    assert fit.slope.value == pytest.approx(output["slope"], abs=half_digit)
    assert fit.slope.standard_uncertainty == pytest.approx(output["slope_uncertainty"], abs=half_digit)
    assert correlation(fit.intercept, fit.slope) == pytest.approx(
        output["correlation"], abs=output["correlation_printed_to"] / 2
    )
    assert fit.residual_standard_deviation == pytest.approx(
        output["residual_standard_deviation_celsius"], abs=output["residual_printed_to"] / 2
    )


def test_correction_at_30_degrees_matches_the_printed_one():
    correction, output = thermometer().predict(30), H3["output"]
    half_digit = output["correction_at_30_printed_to"] / 2
    assert correction.value == pytest.approx(output["correction_at_30_celsius"], abs=half_digit)
    assert correction.standard_uncertainty == pytest.approx(
        output["correction_at_30_uncertainty_celsius"], abs=half_digit
    )
    assert correction.degrees_of_freedom == pytest.approx(output["degrees_of_freedom"], abs=1e-9)


def test_without_the_covariance_the_correction_would_be_far_less_certain():
    fit, wrong = thermometer(), H3["without_covariance"]
    assert math.hypot(fit.intercept.standard_uncertainty, 10 * fit.slope.standard_uncertainty) == pytest.approx(
        wrong["correction_at_30_uncertainty_celsius"], abs=wrong["printed_to"] / 2
    )


def test_an_offset_common_to_all_points_widens_the_intercept_and_not_the_slope():
    fit, common = thermometer(), H3["common_offset"]
    offset = Quantity.measured(
        0, "°C", standard_uncertainty=common["standard_uncertainty_celsius"], source="certificate of the standard"
    )
    intercept = propagate(lambda a, b: a + b, {"a": fit.intercept, "b": offset}, unit="°C")
    slope = propagate(lambda a, b: a + 0 * b, {"a": fit.slope, "b": offset}, unit="")
    assert intercept.standard_uncertainty == pytest.approx(
        common["intercept_uncertainty_celsius"], abs=common["printed_to"] / 2
    )
    assert slope.standard_uncertainty == pytest.approx(fit.slope.standard_uncertainty, rel=1e-9)
