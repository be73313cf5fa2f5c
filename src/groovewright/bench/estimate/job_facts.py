"""What a job is judged by besides its readings and moves, as plain objects."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.bench.estimate.joined_readings import JoinedReadings, join_readings
from groovewright.bench.estimate.limits import DEFAULT_LENGTH_TOLERANCE
from groovewright.bench.targets.targets import TargetRequest
from groovewright.gauges.scale_calibration import ScaleCheck
from groovewright.measurement.conformity import DecisionRule, Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.resonance import Resonance, moving_mass, resonance

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


@dataclass(frozen=True)
class JobFacts:
    """What a job is judged by besides its readings and moves; whatever is not known yet is None or empty.

    Parameters
    ----------
    pivot_to_spindle : tuple of Quantity
        All valid readings of it that hold now, each with a source label of its own. [mm]
    target_request : TargetRequest or None
        What was asked for when the targets were chosen, with the pivot-to-spindle distance of that moment.
    record_thickness : Quantity or None
        Of the records to be played; platform heights are counted from the platter. [mm]
    height_slope : Quantity or None
        Known change of tracking force with stylus height. [mN/mm]
    scale_check_before, scale_check_after : ScaleCheck or None
        Checks of the tracking-force scale before and after the readings.
    mistracking_reported : bool
        Whether the complaint is mistracking.
    length_tolerance : Tolerance
        On effective length minus target. [mm]
    rule : DecisionRule
        By which every verdict of the job is given.
    """

    arm: ArmFacts | None = None
    cartridge: CartridgeFacts | None = None
    pivot_to_spindle: tuple[Quantity, ...] = ()
    target_request: TargetRequest | None = None
    record_thickness: Quantity | None = None
    height_slope: Quantity | None = None
    scale_check_before: ScaleCheck | None = None
    scale_check_after: ScaleCheck | None = None
    mistracking_reported: bool = False
    length_tolerance: Tolerance = DEFAULT_LENGTH_TOLERANCE
    rule: DecisionRule = DEFAULT_RULE

    @property
    def is_tangential(self) -> bool:
        """Whether the arm has no pivot, so that no length and no plate apply to it."""
        if self.target_request is not None:
            return self.target_request.arm_kind == "tangential"
        return self.arm is not None and self.arm.kind == "tangential"

    def joined_distance(self) -> JoinedReadings | None:
        """Return all readings of the pivot-to-spindle distance joined, from which targets are chosen; None without."""
        if not self.pivot_to_spindle:
            return None
        return join_readings(self.pivot_to_spindle, name="pivot-to-spindle distance")

    def resonance(self) -> Resonance | None:
        """Return the resonance of arm and cartridge; None where masses or compliance are not known.

        Raises
        ------
        ValueError
            In one sentence, if a mass or the compliance is impossible.
        """
        arm, cartridge = self.arm, self.cartridge
        if arm is None or cartridge is None:
            return None
        if arm.effective_mass is None or cartridge.mass is None or cartridge.compliance is None:
            return None
        mass = moving_mass(arm=arm.effective_mass, cartridge=cartridge.mass, fasteners=cartridge.fastener_mass)
        return resonance(
            mass, cartridge.compliance, compliance_quoted_at_hz=cartridge.compliance_quoted_at_hz, rule=self.rule
        )
