"""A quantity: value, unit, standard uncertainty and the sources of that uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

NO_COMPONENTS: Mapping[Source, float]


@dataclass(frozen=True, slots=True)
class Source:
    """One cause of uncertainty. Quantities that name the same source share its error.

    Parameters
    ----------
    label : str
        What the cause is, for example ``"steel rule, certificate 4411"``. Equal labels mean the same error.
    degrees_of_freedom : float
        How well its standard uncertainty is itself known; infinite when it was stated, not estimated.
    ensemble : str
        Name of the fit or set of repeats that this source is an independent part of, if it is. The parts of one
        ensemble have one estimate of scatter behind them, so together they have its degrees of freedom once.
    rectangular : bool
        True where the error may lie anywhere alike within the root of 3 times its standard uncertainty, as that of a
        figure that somebody rounded does, and not beyond. It makes no other source of it.
    """

    label: str
    degrees_of_freedom: float = math.inf
    ensemble: str = ""
    rectangular: bool = field(default=False, compare=False)

    def __post_init__(self) -> None:
        if not self.label.strip():
            raise ValueError("a source of uncertainty needs a label that tells it from the others")
        if not self.degrees_of_freedom > 0:
            raise ValueError(f"source {self.label!r}: degrees of freedom must be above 0")


NO_COMPONENTS = MappingProxyType({})


@dataclass(frozen=True)
class Quantity:
    """A value with its unit and what is known of its uncertainty.

    Parameters
    ----------
    value : float
        Best estimate, in `unit`.
    unit : str
        Unit as printed, for example ``"mm"``.
    components : mapping of Source to float, or None
        Signed standard uncertainty that each source contributes, in `unit`. Two quantities that share a
        source are correlated through it. None: the uncertainty is unknown, and `why_unknown` says why.
    why_unknown : str
        Why no uncertainty can be given; empty exactly when `components` is given.
    how : str
        How the quantity was measured or computed, in a few words.

    Raises
    ------
    ValueError
        If the value or a component is not finite, or an unknown uncertainty has no reason.

    References
    ----------
    .. [1] JCGM 100:2008, clauses 5.1.2 and 5.2.2, annex F.1.2.3 (shared sources).
    """

    value: float
    unit: str
    # A mapping has no hash; quantities that differ in it alone may share theirs, and still compare as different.
    components: Mapping[Source, float] | None = field(default_factory=lambda: NO_COMPONENTS, hash=False)
    why_unknown: str = ""
    how: str = ""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueError(f"a quantity needs a finite value, not {self.value}")
        if (self.components is None) != bool(self.why_unknown):
            raise ValueError("an unknown uncertainty needs a reason, and a known one must not carry any")
        if self.components is not None:
            for source, contribution in self.components.items():
                if not math.isfinite(contribution):
                    raise ValueError(f"source {source.label!r} contributes {contribution}, which is not finite")
            _refuse_two_of_one_label(self.components)
            object.__setattr__(self, "components", MappingProxyType(dict(self.components)))

    def __reduce__(self) -> tuple[type[Quantity], tuple[Any, ...]]:
        # A read-only mapping cannot be pickled, and quantities pass between processes.
        components = None if self.components is None else dict(self.components)
        return Quantity, (self.value, self.unit, components, self.why_unknown, self.how)

    @classmethod
    def measured(
        cls,
        value: float,
        unit: str,
        *,
        standard_uncertainty: float,
        source: str,
        degrees_of_freedom: float = math.inf,
        rectangular: bool = False,
        how: str = "",
    ) -> Quantity:
        """Return a quantity whose uncertainty comes from one source.

        Parameters
        ----------
        value, standard_uncertainty : float
            Both in `unit`; the uncertainty is one standard deviation and must not be negative.
        source : str
            Label of the cause. Give two readings the same label only if they share the same error.
        degrees_of_freedom, rectangular
            As of a `Source`.
        """
        if not standard_uncertainty >= 0 or math.isinf(standard_uncertainty):
            raise ValueError(f"a standard uncertainty must be 0 or more and finite, not {standard_uncertainty}")
        cause = Source(source, degrees_of_freedom, rectangular=rectangular)
        return cls(value, unit, {cause: standard_uncertainty}, how=how)

    @classmethod
    def unknown_uncertainty(cls, value: float, unit: str, *, why: str, how: str = "") -> Quantity:
        """Return a quantity whose uncertainty nobody knows, with the reason."""
        return cls(value, unit, None, why, how)

    @classmethod
    def exact(cls, value: float, unit: str, *, how: str = "by definition") -> Quantity:
        """Return a quantity that has no uncertainty because it was chosen or defined, such as a target."""
        return cls(value, unit, NO_COMPONENTS, how=how)

    @property
    def standard_uncertainty(self) -> float | None:
        """Combined standard uncertainty in `unit`; None if unknown."""
        if self.components is None:
            return None
        return math.sqrt(math.fsum(c * c for c in self.components.values()))

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom (Welch-Satterthwaite, JCGM 100 G.4); infinite if every source is stated.

        The parts of one ensemble enter as one variance, which the formula needs: R, X and Z of JCGM 100 H.2 keep
        the 4 degrees of freedom of their five sets of observations.
        """
        u = self.standard_uncertainty
        if not u or self.components is None:
            return math.inf
        shares: dict[tuple[str, float], float] = {}
        for source, contribution in self.components.items():
            group = (source.ensemble or f"source {source.label}", source.degrees_of_freedom)
            shares[group] = shares.get(group, 0.0) + (contribution / u) ** 2
        spread = math.fsum(share**2 / dof for (_, dof), share in shares.items() if math.isfinite(dof))
        return 1 / spread if spread > 0 else math.inf

    def as_json(self) -> dict[str, Any]:
        """Return the three keys that every output format uses for a quantity."""
        return {"value": self.value, "unit": self.unit, "standard_uncertainty": self.standard_uncertainty}

    def as_record(self) -> dict[str, Any]:
        """Return everything, sources included, as plain JSON types; `from_record` reads it back."""
        components = None
        if self.components is not None:
            components = [
                {
                    "source": s.label,
                    "degrees_of_freedom": s.degrees_of_freedom if math.isfinite(s.degrees_of_freedom) else None,
                    "ensemble": s.ensemble,
                    "rectangular": s.rectangular,
                    "contribution": c,
                }
                for s, c in self.components.items()
            ]
        return {
            "value": self.value,
            "unit": self.unit,
            "components": components,
            "why_unknown": self.why_unknown,
            "how": self.how,
        }

    @classmethod
    def from_record(cls, record: Mapping[str, Any]) -> Quantity:
        """Return the quantity that `as_record` wrote.

        Anything else raises KeyError, TypeError, AttributeError or ValueError; whoever reads records that strangers
        wrote must expect all four.
        """
        components: dict[Source, float] | None = None
        if record["components"] is not None:
            components = {}
            for row in record["components"]:
                dof = math.inf if row["degrees_of_freedom"] is None else float(row["degrees_of_freedom"])
                source = Source(row["source"], dof, row.get("ensemble", ""), row.get("rectangular", False) is True)
                components[source] = float(row["contribution"])
        return cls(float(record["value"]), record["unit"], components, record["why_unknown"], record["how"])


_ROOT = "the uncertainty of the "


def unknown_through(name: str, quantity: Quantity) -> str:
    """Return the reason for a result that rests on an input of unknown uncertainty: the first such input, named once.

    >>> compliance = Quantity.unknown_uncertainty(12, "um/mN", why="none was stated with the entry")
    >>> unknown_through("compliance", compliance)
    'the uncertainty of the compliance is not known: none was stated with the entry'
    """
    why = quantity.why_unknown
    return why if why.startswith(_ROOT) else f"{_ROOT}{name.replace('_', ' ')} is not known: {why}"


def unknown_sentence(quantity: Quantity) -> str:
    """Return why the uncertainty of a quantity is unknown as a sentence without its full stop."""
    why = quantity.why_unknown
    return f"T{why[1:]}" if why.startswith(_ROOT) else f"The uncertainty is not known: {why}"


def covariance(first: Quantity, second: Quantity) -> float:
    """Return the covariance that two quantities have through the sources they share.

    The unit is the product of both units. ValueError if the uncertainty of either is unknown.
    """
    if first.components is None or second.components is None:
        reason = first.why_unknown or second.why_unknown
        raise ValueError(f"no covariance: the uncertainty is unknown ({reason})")
    _refuse_two_of_one_label({**first.components, **second.components})
    return math.fsum(c * second.components.get(s, 0.0) for s, c in first.components.items())


def _refuse_two_of_one_label(sources: Iterable[Source]) -> None:
    """Refuse one label with two degrees of freedom or ensembles: it would be taken for two errors in silence."""
    known: dict[str, Source] = {}
    for source in sources:
        other = known.setdefault(source.label, source)
        if other != source:
            raise ValueError(
                f"source {source.label!r} comes with {other.degrees_of_freedom:g} and with "
                f"{source.degrees_of_freedom:g} degrees of freedom; one error has one, so give two errors two labels"
            )


def correlated_quantities(
    values: ArrayLike,
    covariance_matrix: ArrayLike,
    *,
    units: Sequence[str],
    source: str,
    degrees_of_freedom: float = math.inf,
    how: str = "",
) -> list[Quantity]:
    """Return quantities that keep the covariance of one fit or calibration.

    Parameters
    ----------
    values : array_like, shape (n,)
        Estimates, each in its entry of `units`.
    covariance_matrix : array_like, shape (n, n)
        Their covariance, symmetric and without negative eigenvalues beyond rounding.
    units : sequence of str, length n
        Unit of each estimate.
    source : str
        Label of the common calibration; its independent parts are numbered after it.

    Returns
    -------
    list of Quantity
        `covariance` of any two of them gives back the matrix.
    """
    estimates = np.asarray(values, dtype=float)
    matrix = np.asarray(covariance_matrix, dtype=float)
    if matrix.shape != (estimates.size, estimates.size) or len(units) != estimates.size:
        raise ValueError(f"{estimates.size} values need a square covariance of that size and as many units")
    # Scaled to correlations first, so that quantities of very different size keep their precision.
    scale = np.sqrt(np.clip(np.diag(matrix), 0.0, None))
    safe = np.where(scale > 0, scale, 1.0)
    eigenvalues, vectors = np.linalg.eigh(matrix / np.outer(safe, safe))
    if eigenvalues.min(initial=0.0) < -1e-9:
        raise ValueError("the covariance matrix has a negative eigenvalue, so it is not a covariance")
    parts = safe[:, None] * vectors * np.sqrt(np.clip(eigenvalues, 0.0, None))
    sources = [Source(f"{source}, part {k + 1}", degrees_of_freedom, source) for k in range(estimates.size)]
    return [
        Quantity(float(value), unit, dict(zip(sources, map(float, row), strict=True)), how=how)
        for value, unit, row in zip(estimates, units, parts, strict=True)
    ]
