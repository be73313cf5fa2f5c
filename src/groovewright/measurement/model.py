"""One description of a measurement, propagated to first order, to second order and by Monte Carlo alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.distributions import Distribution, Normal
from groovewright.measurement.monte_carlo import Draws, run_model
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity, Source, correlated_quantities

SECOND_ORDER = Source("second-order terms of the model")

# Step of the second and third differences in standard uncertainties: wide enough that rounding stays below 1e-10 of
# a term, narrow enough that the next order of a smooth model does too.
STEP = 0.05


@dataclass(frozen=True)
class Measurement:
    """A model with its inputs.

    Parameters
    ----------
    model : callable
        Called with one keyword for each input, all floats or all arrays of one shape; returns a mapping with the
        keys of `units`.
    inputs : mapping of str to Distribution
    units : mapping of str to str
        Unit of each output.
    correlation : mapping of pairs of names to float
        Correlation coefficients of normal inputs; pairs that are not named are not correlated.
    degrees_of_freedom : float
        Behind the correlated inputs together, if they come from one set of repeats.

    Raises
    ------
    ValueError
        If a correlation names an unknown input or one that is not normal, or is no correlation.

    Examples
    --------
    >>> power = Measurement(
    ...     lambda volt, ampere: {"power": volt * ampere},
    ...     {"volt": Normal(10.0, 0.03), "ampere": Normal(2.0, 0.02)},
    ...     units={"power": "W"},
    ... )
    >>> round(power.first_order()["power"].standard_uncertainty, 4)
    0.2088
    """

    model: Callable[..., Mapping[str, ArrayLike]]
    inputs: Mapping[str, Distribution]
    units: Mapping[str, str]
    correlation: Mapping[tuple[str, str], float] = field(default_factory=lambda: MappingProxyType({}))
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        for pair, coefficient in self.correlation.items():
            for name in pair:
                if not isinstance(self.inputs.get(name), Normal):
                    raise ValueError(f"only normal inputs can be correlated here, and {name!r} is none")
            if pair[0] == pair[1] or not -1 <= coefficient <= 1:
                raise ValueError(f"{coefficient} is no correlation of {pair[0]} with {pair[1]}")

    def quantities(self) -> dict[str, Quantity]:
        """Return the inputs as quantities, as JCGM 100 takes them."""
        together = self._correlated_names()
        found = {
            name: Quantity(d.mean, "", {Source(name, d.degrees_of_freedom): d.standard_uncertainty})
            for name, d in self.inputs.items()
            if name not in together
        }
        if together:
            correlated = correlated_quantities(
                [self.inputs[name].mean for name in together],
                self._covariance(together),
                units=[""] * len(together),
                source="correlated inputs",
                degrees_of_freedom=self.degrees_of_freedom,
            )
            found |= dict(zip(together, correlated, strict=True))
        return {name: found[name] for name in self.inputs}

    def first_order(self) -> dict[str, Quantity]:
        """Return every output with its first-order uncertainty (JCGM 100, 5.1.2 and 5.2.2)."""
        return propagate_all(self._scalar_model, self.quantities(), units=self.units, how="first order")

    def second_order(self) -> dict[str, Quantity]:
        """Return every output with the next terms of the series as one more source (JCGM 100, note to 5.1.2).

        Raises
        ------
        ValueError
            If inputs are correlated: the note's terms hold for independent ones.
        """
        if self.correlation:
            raise ValueError("the second-order terms of JCGM 100 hold for inputs that are not correlated")
        first, variances = self.first_order(), self._second_order_variances()
        return {
            name: Quantity(
                quantity.value,
                quantity.unit,
                {**(quantity.components or {}), SECOND_ORDER: math.sqrt(variances[name])},
                how="second order",
            )
            for name, quantity in first.items()
        }

    def monte_carlo(self, *, trials: int = 200_000, seed: int = 0) -> dict[str, Draws]:
        """Return draws of every output, the inputs drawn from their distributions.

        Correlated inputs with finite `degrees_of_freedom` are drawn from the joint t-distribution of these, so that
        each by itself has the t-distribution of JCGM 101, 6.4.9, and the correlations stay.
        """
        generator = np.random.default_rng(seed)
        together = self._correlated_names()
        drawn: dict[str, NDArray[np.float64]] = {}
        if together:
            centre = np.zeros(len(together))
            errors = generator.multivariate_normal(centre, self._covariance(together), trials, check_valid="raise")
            if math.isfinite(self.degrees_of_freedom):
                # One estimate of scatter stands behind all of them, so they are jointly t-distributed.
                chi_square = generator.chisquare(self.degrees_of_freedom, trials)
                errors *= np.sqrt(self.degrees_of_freedom / chi_square)[:, None]
            means = np.array([self.inputs[name].mean for name in together])
            drawn |= dict(zip(together, (means + errors).T, strict=True))
        for name, distribution in self.inputs.items():
            if name not in drawn:
                drawn[name] = distribution.draw(generator, trials)
        return run_model(self.model, drawn, self.units)

    def _scalar_model(self, **at: float) -> dict[str, float]:
        return {name: float(np.asarray(result)) for name, result in self.model(**at).items()}

    def _correlated_names(self) -> list[str]:
        named = {name for pair in self.correlation for name in pair}
        return [name for name in self.inputs if name in named]

    def _covariance(self, names: list[str]) -> NDArray[np.float64]:
        spread = np.array([self.inputs[name].standard_uncertainty for name in names])
        coefficients = np.eye(len(names))
        for (first, second), coefficient in self.correlation.items():
            i, j = names.index(first), names.index(second)
            coefficients[i, j] = coefficients[j, i] = coefficient
        return np.asarray(coefficients * np.outer(spread, spread), dtype=float)

    def _second_order_variances(self) -> dict[str, float]:
        """Sum over i, j of f_ij^2 / 2 + f_i f_ijj, times u_i^2 u_j^2, by central differences in units of u."""
        names = [name for name, d in self.inputs.items() if d.standard_uncertainty > 0]
        variances = dict.fromkeys(self.units, 0.0)
        for i, first in enumerate(names):
            slope = self._difference({first: (-1, 1)}, (-0.5, 0.5))
            for j, second in enumerate(names):
                if i == j:
                    curvature = self._difference({first: (-1, 0, 1)}, (1, -2, 1))
                    third = self._difference({first: (-2, -1, 1, 2)}, (-0.5, 1, -1, 0.5))
                else:
                    curvature = self._difference(
                        {first: (-1, -1, 1, 1), second: (-1, 1, -1, 1)}, (0.25, -0.25, -0.25, 0.25)
                    )
                    third = self._difference(
                        {first: (-1, -1, -1, 1, 1, 1), second: (-1, 0, 1, -1, 0, 1)},
                        (-0.5, 1, -0.5, 0.5, -1, 0.5),
                    )
                for output in variances:
                    variances[output] += (
                        0.5 * (curvature[output] / STEP**2) ** 2 + slope[output] / STEP * third[output] / STEP**3
                    )
        # A negative sum means that the series does not help; the first order then stands alone.
        return {output: max(variance, 0.0) for output, variance in variances.items()}

    def _difference(self, moves: Mapping[str, tuple[float, ...]], weights: tuple[float, ...]) -> dict[str, float]:
        at = {name: np.full(len(weights), d.mean) for name, d in self.inputs.items()}
        for name, multiples in moves.items():
            at[name] = at[name] + STEP * self.inputs[name].standard_uncertainty * np.array(multiples)
        results = self.model(**at)
        return {output: float(np.dot(weights, np.asarray(results[output], dtype=float))) for output in self.units}
