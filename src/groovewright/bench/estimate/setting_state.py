"""What the bench can say of each of the seven settings, and of all together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from groovewright.bench.estimate.observations import ObservationKind
from groovewright.bench.estimate.settings import SettingKey
from groovewright.measurement.conformity import Tolerance, Verdict
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


@dataclass(frozen=True)
class SettingState:
    """One of the seven as it stands.

    Attributes
    ----------
    key : str
        Of `SETTING_KEYS`.
    quantity : Quantity or None
        In the setting's unit; None where no reading tells more than what is usual, so that it counts as not read.
    aim : float or None
        What to set it to; None where that is not known, such as the force of a cartridge without a maker's range.
    tolerance : Tolerance or None
    verdict : Verdict or None
        None without a quantity or a tolerance.
    rests_on : tuple of Share
        Largest first.
    dominated_by : str
        The source with the largest part of its variance; empty where it is not read.
    dominating_share : float
        That part. [1]
    stale : bool
        Whether a move changed it and it has not been read since.
    why_stale : str
        One sentence; empty where it is not.
    helps_most : str
        One sentence; empty where no further reading would help by a twentieth.
    further : FurtherReading or None
        The same as numbers.
    """

    key: SettingKey
    quantity: Quantity | None
    aim: float | None
    tolerance: Tolerance | None
    verdict: Verdict | None
    rests_on: tuple[Share, ...] = ()
    dominated_by: str = ""
    dominating_share: float = 0.0
    stale: bool = False
    why_stale: str = ""
    helps_most: str = ""
    further: FurtherReading | None = None

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        verdict, limits, further = self.verdict, self.tolerance, self.further
        return {
            "key": self.key,
            "quantity": None if self.quantity is None else self.quantity.as_json(),
            "aim": self.aim,
            "tolerance": None
            if limits is None
            else {"lower": limits.lower, "upper": limits.upper, "unit": limits.unit},
            "verdict": None if verdict is None else verdict.outcome,
            "probability_of_conformity": None if verdict is None else verdict.probability_of_conformity,
            "reason": None if verdict is None else verdict.reason,
            "rests_on": [{"label": share.label, "share": share.share} for share in self.rests_on],
            "dominated_by": self.dominated_by,
            "dominating_share": self.dominating_share,
            "stale": self.stale,
            "why_stale": self.why_stale,
            "helps_most": self.helps_most,
            "further_reading": None if further is None else further.as_json(),
        }


@dataclass(frozen=True)
class Residual:
    """What a reading shows beside what all readings together say it should show.

    Attributes
    ----------
    label, kind : str
        Of the reading.
    measured : Quantity
        As read.
    fitted : float
        By the estimate, at the time of the reading.
    by_the_rest, by_the_rest_uncertainty : float
        What the other readings say of it, and the standard uncertainty of that.
    in_uncertainties : float
        Measured less `by_the_rest`, in standard uncertainties of that difference; 0 where both are exact and agree.
    """

    label: str
    kind: ObservationKind
    measured: Quantity
    fitted: float
    by_the_rest: float
    by_the_rest_uncertainty: float
    in_uncertainties: float

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        return {
            "label": self.label,
            "kind": self.kind,
            "measured": self.measured.as_json(),
            "fitted": self.fitted,
            "by_the_rest": {
                "value": self.by_the_rest,
                "unit": self.measured.unit,
                "standard_uncertainty": self.by_the_rest_uncertainty,
            },
            "in_uncertainties": self.in_uncertainties,
        }


@dataclass(frozen=True)
class BenchState:
    """How a deck stands, by all readings together.

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
    outliers : tuple of str
        Readings that disagree with the rest, and a scale that changed, one sentence each.
    residuals : tuple of Residual
        In the order of the readings.
    notes : tuple of str
        What to mind.
    """

    settings: tuple[SettingState, ...]
    state: Mapping[str, Quantity]
    probability_all_conform: float | None
    probability_error: float | None
    outliers: tuple[str, ...]
    residuals: tuple[Residual, ...]
    notes: tuple[str, ...]

    def setting(self, key: SettingKey) -> SettingState:
        """Return one of the seven."""
        return next(setting for setting in self.settings if setting.key == key)

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        return {
            "settings": [setting.as_json() for setting in self.settings],
            "state": {name: quantity.as_json() for name, quantity in self.state.items()},
            "probability_all_conform": self.probability_all_conform,
            "probability_error": self.probability_error,
            "outliers": list(self.outliers),
            "residuals": [residual.as_json() for residual in self.residuals],
            "notes": list(self.notes),
        }
