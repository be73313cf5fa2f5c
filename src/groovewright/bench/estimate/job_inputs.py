"""Everything a job knows, as plain objects: what the job book reads out and the bench assesses."""

from __future__ import annotations

from dataclasses import dataclass, field

from groovewright.bench.forces.force import ForceReading
from groovewright.bench.length import DEFAULT_LENGTH_TOLERANCE, LengthReading
from groovewright.bench.targets.targets import TargetRequest
from groovewright.gauges.scale_calibration import ScaleCheck
from groovewright.measurement.conformity import DecisionRule, Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry

DEFAULT_RISK = 0.05
"""How often a guarded verdict may be wrong where nobody has chosen otherwise."""

DEFAULT_RULE = DecisionRule.of_maximum_risk(DEFAULT_RISK)


@dataclass(frozen=True, slots=True)
class ArmFacts:
    """What is known of the arm.

    Parameters
    ----------
    kind : str
        ``"offset"``, ``"straight underhung"`` or ``"tangential"``.
    effective_mass : Quantity or None
        Without cartridge and fasteners. [g]
    effective_length_limits_mm : tuple of two floats or None
        Shortest and longest that the headshell's slots allow. [mm]
    offset_angle_limits_deg : tuple of two floats or None
        Smallest and largest that the headshell allows; both equal when the angle is fixed. [deg]
    """

    kind: str = "offset"
    effective_mass: Quantity | None = None
    effective_length_limits_mm: tuple[float, float] | None = None
    offset_angle_limits_deg: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class CartridgeFacts:
    """What its maker says of the cartridge.

    Parameters
    ----------
    force_minimum, force_maximum : Quantity or None
        The range of tracking force. [mN]
    compliance : Quantity or None
        As quoted. [um/mN]
    compliance_quoted_at_hz : float or None
        10 or 100; None when the maker does not say. [Hz]
    mass, fastener_mass : Quantity or None
        Of the cartridge, and of its screws and nuts. [g]
    """

    force_minimum: Quantity | None = None
    force_maximum: Quantity | None = None
    compliance: Quantity | None = None
    compliance_quoted_at_hz: float | None = None
    mass: Quantity | None = None
    fastener_mass: Quantity | None = None


@dataclass(frozen=True, slots=True)
class IssuedPlate:
    """A plate given out for this job.

    Parameters
    ----------
    number : str
        The number printed on it.
    geometry : Geometry
        What it was drawn for.
    bar_x_mm, bar_y_mm : float or None
        What its check bars of 100 mm measured on the print; None until measured. [mm]
    """

    number: str
    geometry: Geometry
    bar_x_mm: float | None = None
    bar_y_mm: float | None = None


@dataclass(frozen=True, slots=True)
class IssuedReport:
    """A report given out for this job, and how many entries that bear on it were recorded since."""

    number: str
    entries_since: int = 0


@dataclass(frozen=True, slots=True)
class StageReadings:
    """Readings of one stage, corrected ones left out."""

    lengths: tuple[LengthReading, ...] = ()
    forces: tuple[ForceReading, ...] = ()


@dataclass(frozen=True)
class JobInputs:
    """Everything the job knows; whatever is not known yet is None or empty.

    Parameters
    ----------
    pivot_to_spindle : tuple of Quantity
        All valid readings of it, each with a source label of its own. [mm]
    target_request : TargetRequest or None
        What was asked for when the targets were chosen, with the pivot-to-spindle distance of that moment.
    record_thickness : Quantity or None
        Of the records to be played; platform heights are counted from the platter. [mm]
    height_slope : Quantity or None
        Known change of tracking force with stylus height. [mN/mm]
    plates : tuple of IssuedPlate
        In order of issue.
    as_found, as_left : StageReadings
        Readings before anything was moved, and as the deck is handed over.
    scale_check_before, scale_check_after : ScaleCheck or None
        Checks of the tracking-force scale before and after the readings.
    faults_found : tuple of str
        Faults written down by hand.
    mistracking_reported : bool
        Whether the complaint is mistracking.
    length_tolerance : Tolerance
        On effective length minus target. [mm]
    rule : DecisionRule
        By which every verdict of the job is given.
    reports : tuple of IssuedReport
        In order of issue.
    """

    arm: ArmFacts | None = None
    cartridge: CartridgeFacts | None = None
    pivot_to_spindle: tuple[Quantity, ...] = ()
    target_request: TargetRequest | None = None
    record_thickness: Quantity | None = None
    height_slope: Quantity | None = None
    plates: tuple[IssuedPlate, ...] = ()
    as_found: StageReadings = field(default_factory=StageReadings)
    as_left: StageReadings = field(default_factory=StageReadings)
    scale_check_before: ScaleCheck | None = None
    scale_check_after: ScaleCheck | None = None
    faults_found: tuple[str, ...] = ()
    mistracking_reported: bool = False
    length_tolerance: Tolerance = DEFAULT_LENGTH_TOLERANCE
    rule: DecisionRule = DEFAULT_RULE
    reports: tuple[IssuedReport, ...] = ()
