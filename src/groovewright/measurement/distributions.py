"""Distributions of an input: what is known of it, as JCGM 101 clause 6.4 assigns it.

Each has two standard figures. `standard_uncertainty` with `degrees_of_freedom` is what JCGM 100 propagates to first
order; `standard_deviation` is that of the distribution itself, which Monte Carlo draws from. They differ only where
the uncertainty is itself inexact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class Distribution(Protocol):
    """What a model's input must be able to say of itself. All figures are in the unit of the input."""

    @property
    def mean(self) -> float:
        """Expectation."""
        ...

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty to first order."""
        ...

    @property
    def degrees_of_freedom(self) -> float:
        """How well `standard_uncertainty` is itself known."""
        ...

    @property
    def standard_deviation(self) -> float:
        """Standard deviation of the distribution; infinite where it has none."""
        ...

    def draw(self, generator: np.random.Generator, trials: int) -> NDArray[np.float64]:
        """Return independent draws, shape (trials,)."""
        ...


@dataclass(frozen=True, slots=True)
class Normal:
    """A best estimate with a standard uncertainty that is itself well known (6.4.7)."""

    mean: float
    standard_deviation: float

    def __post_init__(self) -> None:
        _finite(self.mean, self.standard_deviation)
        if self.standard_deviation < 0:
            raise ValueError(f"a standard deviation is never negative, not even {self.standard_deviation}")

    @property
    def standard_uncertainty(self) -> float:
        """Equal to the standard deviation."""
        return self.standard_deviation

    @property
    def degrees_of_freedom(self) -> float:
        """Infinite: the uncertainty is taken as known."""
        return math.inf

    def draw(self, generator: np.random.Generator, trials: int) -> NDArray[np.float64]:
        """Return independent draws, shape (trials,)."""
        return generator.normal(self.mean, self.standard_deviation, trials)


@dataclass(frozen=True, slots=True)
class StudentT:
    """A mean of repeats, or a certificate's estimate, of few degrees of freedom (6.4.9).

    Parameters
    ----------
    mean, scale : float
        Estimate and its standard uncertainty as estimated.
    degrees_of_freedom : float
        Behind `scale`, such as the number of repeats less one.
    """

    mean: float
    scale: float
    degrees_of_freedom: float

    def __post_init__(self) -> None:
        _finite(self.mean, self.scale)
        if self.scale < 0 or not self.degrees_of_freedom > 0:
            raise ValueError(
                f"a t-distribution needs a scale of 0 or more and degrees of freedom above 0, "
                f"not {self.scale} and {self.degrees_of_freedom}"
            )

    @property
    def standard_uncertainty(self) -> float:
        """The estimated scale, as JCGM 100 uses it."""
        return self.scale

    @property
    def standard_deviation(self) -> float:
        """Wider than the scale; infinite at two degrees of freedom or fewer."""
        dof = self.degrees_of_freedom
        if math.isinf(dof):
            return self.scale
        return self.scale * math.sqrt(dof / (dof - 2)) if dof > 2 else math.inf

    def draw(self, generator: np.random.Generator, trials: int) -> NDArray[np.float64]:
        """Return independent draws, shape (trials,)."""
        if math.isinf(self.degrees_of_freedom):
            return generator.normal(self.mean, self.scale, trials)
        return self.mean + self.scale * generator.standard_t(self.degrees_of_freedom, trials)


@dataclass(frozen=True, slots=True)
class _Limits:
    lower: float
    upper: float

    def __post_init__(self) -> None:
        _finite(self.lower, self.upper)
        if not self.lower < self.upper:
            raise ValueError(f"the lower limit {self.lower} must be below the upper limit {self.upper}")

    @property
    def mean(self) -> float:
        """Middle of the limits."""
        return (self.lower + self.upper) / 2

    @property
    def half_width(self) -> float:
        """Half the distance of the limits."""
        return (self.upper - self.lower) / 2


@dataclass(frozen=True, slots=True)
class Rectangular(_Limits):
    """Anything between two limits alike, such as a tolerance or a rounded digit (6.4.2)."""

    @property
    def standard_deviation(self) -> float:
        """Half-width over the root of 3."""
        return self.half_width / math.sqrt(3)

    @property
    def standard_uncertainty(self) -> float:
        """Equal to the standard deviation."""
        return self.standard_deviation

    @property
    def degrees_of_freedom(self) -> float:
        """Infinite: the limits are taken as known."""
        return math.inf

    def draw(self, generator: np.random.Generator, trials: int) -> NDArray[np.float64]:
        """Return independent draws, shape (trials,)."""
        return generator.uniform(self.lower, self.upper, trials)


@dataclass(frozen=True, slots=True)
class Triangular(_Limits):
    """Between two limits and likeliest in the middle, such as the sum of two like rectangular errors (6.4.5)."""

    @property
    def standard_deviation(self) -> float:
        """Half-width over the root of 6."""
        return self.half_width / math.sqrt(6)

    @property
    def standard_uncertainty(self) -> float:
        """Equal to the standard deviation."""
        return self.standard_deviation

    @property
    def degrees_of_freedom(self) -> float:
        """Infinite: the limits are taken as known."""
        return math.inf

    def draw(self, generator: np.random.Generator, trials: int) -> NDArray[np.float64]:
        """Return independent draws, shape (trials,)."""
        return generator.triangular(self.lower, self.mean, self.upper, trials)


@dataclass(frozen=True, slots=True)
class Arcsine(_Limits):
    """A quantity that cycles as a sine between two limits, seen at a moment unknown (6.4.6)."""

    @property
    def standard_deviation(self) -> float:
        """Half-width over the root of 2."""
        return self.half_width / math.sqrt(2)

    @property
    def standard_uncertainty(self) -> float:
        """Equal to the standard deviation."""
        return self.standard_deviation

    @property
    def degrees_of_freedom(self) -> float:
        """Infinite: the limits are taken as known."""
        return math.inf

    def draw(self, generator: np.random.Generator, trials: int) -> NDArray[np.float64]:
        """Return independent draws, shape (trials,)."""
        return self.mean + self.half_width * np.sin(generator.uniform(0, 2 * math.pi, trials))


@dataclass(frozen=True, slots=True)
class CurvilinearTrapezoid(_Limits):
    """Rectangular, but between limits that are themselves inexact (6.4.3).

    Parameters
    ----------
    lower, upper : float
        Best estimates of the limits.
    inexactness : float
        Each limit lies within this of its estimate; above 0 and below the half-width.
    """

    inexactness: float

    def __post_init__(self) -> None:
        _Limits.__post_init__(self)
        if not 0 < self.inexactness < self.half_width:
            raise ValueError(
                f"the limits' inexactness must be above 0 and below the half-width {self.half_width}, "
                f"not {self.inexactness}; without any, use a rectangular distribution"
            )

    @property
    def standard_deviation(self) -> float:
        """Of the distribution, so with the inexactness in it."""
        return math.sqrt(self.half_width**2 / 3 + self.inexactness**2 / 9)

    @property
    def standard_uncertainty(self) -> float:
        """That of the limits as estimated; the inexactness is in the degrees of freedom instead."""
        return self.half_width / math.sqrt(3)

    @property
    def degrees_of_freedom(self) -> float:
        """From the relative inexactness of the uncertainty (JCGM 100, G.4.2)."""
        return (self.half_width / self.inexactness) ** 2 / 2

    def draw(self, generator: np.random.Generator, trials: int) -> NDArray[np.float64]:
        """Return independent draws, shape (trials,)."""
        half_width = self.half_width + self.inexactness * generator.uniform(-1, 1, trials)
        return self.mean + half_width * generator.uniform(-1, 1, trials)


def _finite(*figures: float) -> None:
    if not all(math.isfinite(figure) for figure in figures):
        raise ValueError(f"a distribution needs finite figures, not {', '.join(map(str, figures))}")
