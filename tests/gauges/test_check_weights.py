import math
import tomllib
from pathlib import Path

import pytest

from groovewright.gauges.check_weights import (
    certified_weight,
    maximum_permissible_error_mg,
    total_mass,
    weight_of_class,
)
from groovewright.measurement.quantity import covariance

TABLE = tomllib.loads((Path(__file__).parents[1] / "published" / "force_weights.toml").read_text("utf-8"))


@pytest.mark.parametrize("row", TABLE["row"], ids=lambda row: f"{row['nominal_g']:g} g")
def test_permissible_errors_are_those_of_the_printed_table(row):
    listed = [name for name in TABLE["classes"] if name not in row["without_class"]]
    found = [maximum_permissible_error_mg(name, row["nominal_g"]) for name in listed]
    assert found == row["error_mg"]


@pytest.mark.parametrize("row", TABLE["row"], ids=lambda row: f"{row['nominal_g']:g} g")
def test_a_class_that_the_table_leaves_empty_is_refused(row):
    for name in row["without_class"]:
        with pytest.raises(ValueError, match=f"no class {name} for {row['nominal_g']:g} g"):
            maximum_permissible_error_mg(name, row["nominal_g"])


def test_unknown_class_and_nominal_name_what_exists():
    with pytest.raises(ValueError, match="E1, E2, F1, F2, M1, M2, M3"):
        maximum_permissible_error_mg("M4", 2.0)
    with pytest.raises(ValueError, match=r"3 g is not .* \(0\.5, 1, 2, 5, 10, 20 g\)"):
        maximum_permissible_error_mg("M1", 3.0)


@pytest.mark.parametrize(
    ("accuracy_class", "nominal_g", "u_mg"),
    [("M1", 1.0, 0.577), ("M1", 2.0, 0.693), ("M1", 5.0, 0.924), ("F1", 2.0, 0.0693)],
)
def test_class_uncertainty_is_rectangular(accuracy_class, nominal_g, u_mg):
    weight = weight_of_class("one", nominal_g=nominal_g, accuracy_class=accuracy_class)
    last_digit = 0.0001 if u_mg < 0.1 else 0.001
    assert 1000 * weight.mass.standard_uncertainty == pytest.approx(u_mg, abs=last_digit / 2)


def test_two_weights_together_add_independent_errors():
    two = weight_of_class("2 g", nominal_g=2.0, accuracy_class="M1")
    one = weight_of_class("1 g", nominal_g=1.0, accuracy_class="M1")
    mass = total_mass((two, one))
    assert mass.value == 3.0
    # Root sum of squares of the half-widths is 1.562 mg.
    assert 1000 * mass.standard_uncertainty * math.sqrt(3) == pytest.approx(1.562, abs=0.0005)


def test_one_weight_in_two_loads_carries_the_same_error():
    two = weight_of_class("2 g", nominal_g=2.0, accuracy_class="M1")
    one = weight_of_class("1 g", nominal_g=1.0, accuracy_class="M1")
    shared = covariance(total_mass((two,)), total_mass((two, one)))
    assert shared == pytest.approx((1.2e-3 / math.sqrt(3)) ** 2, rel=1e-12)


def test_a_certificate_is_divided_by_its_k():
    weight = certified_weight("2 g", mass_g=2.0003, expanded_uncertainty_mg=0.6, coverage_factor=2, certificate="4411")
    assert weight.mass.value == 2.0003
    assert weight.mass.standard_uncertainty == pytest.approx(0.3e-3, rel=1e-12)
    assert "4411" in weight.basis


@pytest.mark.parametrize(
    ("mass_g", "expanded_mg", "k", "said"),
    [
        (0.0, 0.3, 2, "above 0 g"),
        (2.0, 0.0, 2, "above 0"),
        (2.0, 0.3, 0.5, "k = 0.5"),
        (0.002, 3.0, 2, "check the unit"),
    ],
)
def test_an_impossible_certificate_is_refused(mass_g, expanded_mg, k, said):
    with pytest.raises(ValueError, match=said):
        certified_weight("2 g", mass_g=mass_g, expanded_uncertainty_mg=expanded_mg, coverage_factor=k)


def test_one_weight_cannot_lie_on_the_pan_twice():
    two = weight_of_class("2 g", nominal_g=2.0, accuracy_class="M1")
    with pytest.raises(ValueError, match="named twice"):
        total_mass((two, two))
    with pytest.raises(ValueError, match="needs a name"):
        weight_of_class(" ", nominal_g=2.0, accuracy_class="M1")
