"""From the rows of a job to what it is judged by besides its readings and moves."""

from __future__ import annotations

from groovewright.bench.estimate.job_facts import ArmFacts, CartridgeFacts, JobFacts
from groovewright.bench.job_steps import IssuedPlate as PlateFacts
from groovewright.bench.job_steps import IssuedReport as ReportFacts
from groovewright.bench.targets.target_request import TargetRequest
from groovewright.bench.targets.targets import Targets
from groovewright.gauges.check_weights import CheckWeight
from groovewright.gauges.scale_calibration import ScaleCheck as GaugeScaleCheck
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Arm, Cartridge, IssuedPlate, Reading, ScaleCheck, TargetChoice
from groovewright.jobbook.plate_files import request_from_record
from groovewright.jobbook.stretches import distances_that_hold
from groovewright.measurement.conformity import DecisionRule, Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.geometry import Geometry


def facts_of(record: JobRecord) -> JobFacts:
    """Return what a job is judged by besides its readings and moves."""
    facts = {}
    intake = record.intake
    if intake is not None:
        facts = {
            "arm": None if intake.arm is None else arm_facts(intake.arm.current()),
            "cartridge": None if intake.cartridge is None else cartridge_facts(intake.cartridge.current()),
            "record_thickness": intake.record_thickness,
            "height_slope": intake.height_slope,
            "mistracking_reported": intake.mistracking_reported,
            "length_tolerance": Tolerance(intake.length_tolerance_lower_mm, intake.length_tolerance_upper_mm, "mm"),
            "rule": DecisionRule(intake.decision_rule, intake.guard_factor, intake.maximum_risk),
        }
    return JobFacts(
        pivot_to_spindle=tuple(reading.quantity for reading in distances_that_hold(record)),
        target_request=None if record.choice is None else target_request(record.choice),
        scale_check_before=_scale_check(record, ScaleCheck.When.BEFORE),
        scale_check_after=_scale_check(record, ScaleCheck.When.AFTER),
        **facts,
    )


def plates_of(record: JobRecord) -> tuple[PlateFacts, ...]:
    """Return the plates issued for a job, in order."""
    return tuple(_plate_facts(plate, record) for plate in record.plates)


def reports_of(record: JobRecord) -> tuple[ReportFacts, ...]:
    """Return the reports issued for a job, in order."""
    return tuple(
        ReportFacts(report.number, record.entries_since_report if report is record.reports[-1] else 0)
        for report in record.reports
    )


def target_request(choice: TargetChoice) -> TargetRequest:
    """Return what was asked for when targets were chosen."""
    return TargetRequest(
        pivot_to_spindle=choice.pivot_to_spindle,
        criterion=choice.criterion,
        innermost_mm=choice.innermost_mm,
        outermost_mm=choice.outermost_mm,
        effective_length_limits_mm=_pair(choice.effective_length_limits_mm),
        offset_angle_limits_deg=_pair(choice.offset_angle_limits_deg),
        hold_effective_length=choice.hold_effective_length,
        hold_offset_angle=choice.hold_offset_angle,
        peak_velocity_cm_s=choice.peak_velocity_cm_s,
        speed_rpm=choice.speed_rpm,
        arm_kind=choice.arm_kind,
    )


def targets_of(choice: TargetChoice) -> Targets:
    """Return the targets as they were entered, not computed anew."""
    geometry = None
    if None not in (choice.pivot_to_spindle, choice.effective_length, choice.offset_angle):
        geometry = Geometry(
            pivot_to_spindle_mm=choice.pivot_to_spindle.value,
            effective_length_mm=choice.effective_length.value,
            offset_angle_deg=choice.offset_angle.value,
        )
    return Targets(
        request=target_request(choice),
        geometry=geometry,
        effective_length=choice.effective_length,
        overhang=choice.overhang,
        offset_angle=choice.offset_angle,
        linear_offset=choice.linear_offset,
        null_radii=tuple(Quantity.from_record(radius) for radius in choice.null_radii),
        peak_tracking_error=choice.peak_tracking_error,
        peak_distortion=choice.peak_distortion,
        rms_distortion=choice.rms_distortion,
        notes=tuple(choice.notes),
    )


def arm_facts(arm: Arm) -> ArmFacts:
    """Return an arm as the bench knows one; what is fixed has two equal limits."""
    length, angle = arm.effective_length_limits_mm, arm.offset_angle_limits_deg
    if arm.effective_length_fixed and arm.drawn_effective_length is not None:
        length = (arm.drawn_effective_length.value, arm.drawn_effective_length.value)
    if arm.offset_angle_fixed and arm.drawn_offset_angle is not None:
        angle = (arm.drawn_offset_angle.value, arm.drawn_offset_angle.value)
    return ArmFacts(arm.kind, arm.effective_mass, length, angle)


def cartridge_facts(cartridge: Cartridge) -> CartridgeFacts:
    """Return a cartridge as the bench knows one."""
    return CartridgeFacts(
        force_minimum=cartridge.tracking_force_lower,
        force_maximum=cartridge.tracking_force_upper,
        compliance=cartridge.compliance,
        compliance_quoted_at_hz=None if cartridge.compliance_at is None else cartridge.compliance_at.value,
        mass=cartridge.mass,
        fastener_mass=cartridge.fasteners_mass,
    )


def scale_check_facts(check: ScaleCheck) -> GaugeScaleCheck:
    """Return a check of a scale as the calibration reads it."""
    repeatability = check.scale.repeatability
    return GaugeScaleCheck(
        scale=check.scale.description,
        occasion=f"{check.when} the readings",
        resolution_mn=check.scale.resolution.value,
        readings=tuple(
            WeightReading(
                weights=tuple(
                    CheckWeight(weight["name"], Quantity.from_record(weight["mass"]), weight["basis"])
                    for weight in load["weights"]
                ),
                indication_mn=load["indication_mn"],
            )
            for load in check.readings
        ),
        stated_repeatability_mn=None if repeatability is None else repeatability.value,
    )


def _scale_check(record: JobRecord, when: str) -> GaugeScaleCheck | None:
    # The scale that was read last decides; its newest check counts for the job.
    used = [r.scale_id for r in record.readings_of(Reading.Kind.TRACKING_FORCE) if r.scale_id is not None]
    checks = [check for check in record.scale_checks if check.when == when and used[-1:] in ([], [check.scale_id])]
    return scale_check_facts(checks[-1]) if checks else None


def _plate_facts(plate: IssuedPlate, record: JobRecord) -> PlateFacts:
    bars = {reading.kind: reading.quantity.value for reading in record.readings if reading.plate_id == plate.pk}
    return PlateFacts(
        number=plate.number,
        geometry=request_from_record(plate.request).geometry,
        bar_x_mm=bars.get(Reading.Kind.PRINT_BAR_X),
        bar_y_mm=bars.get(Reading.Kind.PRINT_BAR_Y),
    )


def _pair(limits: list[float] | None) -> tuple[float, float] | None:
    return None if limits is None else (limits[0], limits[1])
