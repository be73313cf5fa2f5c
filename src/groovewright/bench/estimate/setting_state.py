"""What is known of each of the seven settings on one occasion, and of all together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from groovewright.bench.estimate.disagreement import Disagreement
from groovewright.bench.estimate.observations import ObservationKind
from groovewright.bench.estimate.residuals import Residual
from groovewright.bench.estimate.settings import SettingKey
from groovewright.measurement.conformity import IN_TOLERANCE, Tolerance, Verdict
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Share:
    """A reading, or what was taken for granted, and how much of what is known of a setting is owed to it. [1]"""

    label: str
    share: float


@dataclass(frozen=True, slots=True)
class FurtherReading:
    """The one further reading that would help a setting most.

    Attributes
    ----------
    kind : str
        Of `OBSERVATION_KINDS`.
    typical_uncertainty : float
        Standard uncertainty that it was taken to have, in `unit`.
    unit : str
    radius_mm : float or None
        Where to read it. [mm]
    leaves : float
        Standard uncertainty that the setting would have then, in the setting's unit.
    """

    kind: ObservationKind
    typical_uncertainty: float
    unit: str
    radius_mm: float | None
    leaves: float

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        return {
            "kind": self.kind,
            "typical_uncertainty": self.typical_uncertainty,
            "unit": self.unit,
            "radius_mm": self.radius_mm,
            "leaves": self.leaves,
        }


Basis = Literal["read", "calculated", "not read", "does not apply"]
"""Read: by readings since the last move that touched it. Calculated: carried over such a move. Not read: neither."""


@dataclass(frozen=True)
class SettingState:
    """One of the seven, as all readings together give it.

    Attributes
    ----------
    key : str
        Of `SETTING_KEYS`.
    basis : str
        Of `Basis`.
    quantity : Quantity or None
        In the setting's unit; None where it is not read.
    aim : float or None
        What to set it to; None where that is not known, such as the force of a cartridge without a maker's range.
    tolerance : Tolerance or None
    verdict : Verdict or None
        None without a quantity or a tolerance. What is calculated is never in tolerance, and where readings disagree
        it is in tolerance only if it is with either of them left out.
    reason : str
        Why it is calculated, not read, does not apply, or is undecided since readings disagree; one sentence, else
        empty.
    based_on : tuple of Share
        Largest first.
    dominated_by : str
        The source with the largest part of its variance; empty where it is not read.
    dominating_share : float
        That part. [1]
    helps_most : str
        One sentence; empty where no further reading would help by a twentieth.
    further : FurtherReading or None
        The same as numbers.
    """

    key: SettingKey
    basis: Basis
    quantity: Quantity | None
    aim: float | None
    tolerance: Tolerance | None
    verdict: Verdict | None
    reason: str = ""
    based_on: tuple[Share, ...] = ()
    dominated_by: str = ""
    dominating_share: float = 0.0
    helps_most: str = ""
    further: FurtherReading | None = None

    @property
    def is_in_tolerance(self) -> bool:
        """Whether it was read, and is in tolerance."""
        return self.verdict is not None and self.verdict.outcome == IN_TOLERANCE

    @property
    def outcome(self) -> str:
        """The verdict in words; "not read", "does not apply" or "no limits" where there is none."""
        if self.verdict is not None:
            return self.verdict.outcome
        return self.basis if self.quantity is None else "no limits"

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        verdict, limits, further = self.verdict, self.tolerance, self.further
        return {
            "key": self.key,
            "basis": self.basis,
            "quantity": None if self.quantity is None else self.quantity.as_json(),
            "interval_95": _interval(self.quantity),
            "aim": self.aim,
            "tolerance": None
            if limits is None
            else {"lower": limits.lower, "upper": limits.upper, "unit": limits.unit},
            "verdict": None if verdict is None else verdict.outcome,
            "probability_of_conformity": None if verdict is None else verdict.probability_of_conformity,
            "reason": self.reason or (None if verdict is None else verdict.reason),
            "based_on": [{"label": share.label, "share": share.share} for share in self.based_on],
            "dominated_by": self.dominated_by,
            "dominating_share": self.dominating_share,
            "helps_most": self.helps_most,
            "further_reading": None if further is None else further.as_json(),
        }


def _interval(quantity: Quantity | None) -> dict[str, Any] | None:
    if quantity is None or quantity.components is None:
        return None
    low, high = coverage_interval(quantity)
    return {"low": low, "high": high, "unit": quantity.unit}


@dataclass(frozen=True)
class DeckState:
    """A deck's seven settings on one occasion, by all readings together.

    Attributes
    ----------
    settings : tuple of SettingState
        In the order of `SETTING_KEYS`.
    state : mapping of str to Quantity
        By `STATE`; what no reading tells is there with what is usual.
    probability_all_conform : float or None
        Probability that all seven keep their tolerances; None while one is not read or has no tolerance.
    probability_error : float or None
        How far that may be off by its computation (three standard errors).
    disagreements : tuple of Disagreement
        Readings that disagree beyond chance, the worst first.
    residuals : tuple of Residual
        In the order of the readings.
    faults : tuple of str
        What is broken, one sentence each: written down by hand, then shown by the readings.
    notes : tuple of str
        What else the reader should know.
    """

    settings: tuple[SettingState, ...]
    state: Mapping[str, Quantity]
    probability_all_conform: float | None
    probability_error: float | None
    disagreements: tuple[Disagreement, ...]
    residuals: tuple[Residual, ...]
    faults: tuple[str, ...]
    notes: tuple[str, ...]

    def setting(self, key: SettingKey) -> SettingState:
        """Return one of the seven."""
        return next(setting for setting in self.settings if setting.key == key)

    @property
    def unresolved(self) -> tuple[Disagreement, ...]:
        """Disagreements on which a setting depends and that no majority settles."""
        return tuple(one for one in self.disagreements if not one.is_outvoted and one.settings)

    def settings_json(self) -> list[dict[str, Any]]:
        """Return the seven settings as plain JSON types."""
        return [setting.as_json() for setting in self.settings]

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        return {
            "settings": self.settings_json(),
            "state": {name: quantity.as_json() for name, quantity in self.state.items()},
            "probability_all_conform": self.probability_all_conform,
            "probability_error": self.probability_error,
            "disagreements": [one.as_json() for one in self.disagreements],
            "residuals": [residual.as_json() for residual in self.residuals],
            "faults": list(self.faults),
            "notes": list(self.notes),
        }
