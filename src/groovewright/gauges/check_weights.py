"""Known weights: what class or certificate says about their mass (OIML R 111)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from groovewright.measurement.quantity import Quantity, Source

ACCURACY_CLASSES = ("E1", "E2", "F1", "F2", "M1", "M2", "M3")

# OIML R 111-1:2004, table 1: maximum permissible errors in mg, by nominal mass in g, in the order of the classes.
_TABLE_1_MG: Mapping[float, tuple[float | None, ...]] = MappingProxyType(
    {
        0.5: (0.008, 0.025, 0.08, 0.25, 0.8, 2.5, None),
        1.0: (0.010, 0.03, 0.10, 0.3, 1.0, 3.0, 10.0),
        2.0: (0.012, 0.04, 0.12, 0.4, 1.2, 4.0, 12.0),
        5.0: (0.016, 0.05, 0.16, 0.5, 1.6, 5.0, 16.0),
        10.0: (0.020, 0.06, 0.20, 0.6, 2.0, 6.0, 20.0),
        20.0: (0.025, 0.08, 0.25, 0.8, 2.5, 8.0, 25.0),
    }
)
NOMINAL_MASSES_G = tuple(_TABLE_1_MG)


@dataclass(frozen=True, slots=True)
class CheckWeight:
    """One weight, told from all others by its name.

    Parameters
    ----------
    name : str
        What is written on it or its box, for example ``"2 g, box 1"``. The same name is the same weight, so
        the same error wherever it is used.
    mass : Quantity
        Its conventional mass. [g]
    basis : str
        Where the mass is known from: class or certificate, in words for the report.
    """

    name: str
    mass: Quantity
    basis: str


def maximum_permissible_error_mg(accuracy_class: str, nominal_g: float) -> float:
    """Return how far a weight of this class may be from its nominal mass.

    Parameters
    ----------
    accuracy_class : str
        One of `ACCURACY_CLASSES`.
    nominal_g : float
        One of `NOMINAL_MASSES_G`. [g]

    Returns
    -------
    float
        Maximum permissible error, to be read as plus or minus. [mg]

    Raises
    ------
    ValueError
        If the table has no such class or nominal mass; nothing is interpolated.

    References
    ----------
    .. [1] OIML R 111-1:2004, table 1.

    Examples
    --------
    >>> maximum_permissible_error_mg("M1", 2.0)
    1.2
    """
    if accuracy_class not in ACCURACY_CLASSES:
        raise ValueError(
            f"weight class {accuracy_class!r} is not in OIML R 111; its classes are {', '.join(ACCURACY_CLASSES)}"
        )
    if nominal_g not in _TABLE_1_MG:
        listed = ", ".join(f"{nominal:g}" for nominal in NOMINAL_MASSES_G)
        raise ValueError(
            f"a nominal mass of {nominal_g:g} g is not in our part of OIML R 111 ({listed} g). "
            f"Use one of these, or give the weight's certified mass and uncertainty."
        )
    error_mg = _TABLE_1_MG[nominal_g][ACCURACY_CLASSES.index(accuracy_class)]
    if error_mg is None:
        raise ValueError(f"OIML R 111 has no class {accuracy_class} for {nominal_g:g} g")
    return error_mg


def weight_of_class(name: str, *, nominal_g: float, accuracy_class: str) -> CheckWeight:
    """Return a weight of which only its class is known: nominal mass, rectangular within the permissible error."""
    half_width_g = maximum_permissible_error_mg(accuracy_class, nominal_g) / 1000
    mass = Quantity.measured(
        nominal_g,
        "g",
        standard_uncertainty=half_width_g / math.sqrt(3),
        source=_source_label(name),
        rectangular=True,
        how=f"nominal mass, class {accuracy_class}",
    )
    basis = f"class {accuracy_class} of OIML R 111-1:2004, ± {half_width_g * 1000:g} mg, rectangular"
    return CheckWeight(name, mass, basis)


def certified_weight(
    name: str, *, mass_g: float, expanded_uncertainty_mg: float, coverage_factor: float = 2.0, certificate: str = ""
) -> CheckWeight:
    """Return a weight with its own certificate.

    Parameters
    ----------
    mass_g : float
        Conventional mass on the certificate. [g]
    expanded_uncertainty_mg : float
        Expanded uncertainty on the certificate. [mg]
    coverage_factor : float
        The k it is stated for.
    certificate : str
        Its number, for the report.
    """
    if not (mass_g > 0 and math.isfinite(mass_g)):
        raise ValueError(f"weight {name!r} has a certified mass of {mass_g:g} g; it must be above 0 g")
    if not (expanded_uncertainty_mg > 0 and math.isfinite(expanded_uncertainty_mg)):
        raise ValueError(
            f"weight {name!r} has a certified uncertainty of {expanded_uncertainty_mg:g} mg; it must be above 0"
        )
    if not (coverage_factor >= 1 and math.isfinite(coverage_factor)):
        raise ValueError(f"weight {name!r} has k = {coverage_factor:g}; a certificate states 1 or more, mostly 2")
    if expanded_uncertainty_mg / 1000 >= mass_g:
        raise ValueError(
            f"weight {name!r}: {expanded_uncertainty_mg:g} mg of uncertainty on {mass_g:g} g is no known weight; "
            f"check the unit"
        )
    mass = Quantity.measured(
        mass_g,
        "g",
        standard_uncertainty=expanded_uncertainty_mg / 1000 / coverage_factor,
        source=_source_label(name),
        how="certified mass",
    )
    number = f"certificate {certificate}" if certificate else "its certificate"
    return CheckWeight(name, mass, f"{number}, ± {expanded_uncertainty_mg:g} mg (k = {coverage_factor:g})")


def total_mass(weights: tuple[CheckWeight, ...]) -> Quantity:
    """Return the mass of weights lying on the pan together, each with its own error. [g]

    Raises
    ------
    ValueError
        If a name comes twice: one weight cannot lie there twice.
    """
    names = [weight.name for weight in weights]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise ValueError(
            f"weight {twice!r} is named twice in one load; give two weights of the same nominal mass two names"
        )
    components: dict[Source, float] = {}
    for weight in weights:
        for source, contribution in (weight.mass.components or {}).items():
            components[source] = components.get(source, 0.0) + contribution
    return Quantity(math.fsum(weight.mass.value for weight in weights), "g", components, how="sum of check weights")


def _source_label(name: str) -> str:
    if not name.strip():
        raise ValueError("a check weight needs a name that tells it from the others")
    return f"mass of check weight {name}"
