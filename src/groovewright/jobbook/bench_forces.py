"""From a job's scale readings and side-force readings to what the joint estimate weighs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from groovewright.bench.estimate.job_facts import CartridgeFacts, JobFacts
from groovewright.bench.estimate.observations import Observation
from groovewright.bench.forces.bearing_friction import BearingFriction, bearing_friction
from groovewright.bench.forces.force import ForceReading, ForceResult, ForceSession, force_result
from groovewright.bench.forces.friction_coefficient import ReadAt, friction_coefficient_from_levels
from groovewright.gauges.scale_calibration import ScaleCheck
from groovewright.jobbook.models import Reading
from groovewright.jobbook.stretches import Stretch
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_bands import ladders
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.tonearm.geometry import Geometry

Kind = Reading.Kind


@dataclass(frozen=True)
class Forces:
    """What the forces of one stretch say.

    Attributes
    ----------
    observations : tuple of Observation
    tracking_force : ForceResult or None
        Of the scale readings of the stretch.
    bearings : BearingFriction or None
        Of the forces at start of motion.
    notes : tuple of str
        What could not be used, and why.
    """

    observations: tuple[Observation, ...] = ()
    tracking_force: ForceResult | None = None
    bearings: BearingFriction | None = None
    notes: tuple[str, ...] = ()


def forces_of(stretch: Stretch, inputs: JobFacts, *, job: int, geometry: Geometry) -> Forces:
    """Return what the forces of one stretch say of the tracking force, the compensation and the friction."""
    observations: list[Observation] = []
    notes: list[str] = []
    force = bearings = None
    session = _session(stretch, inputs, job)
    if session.readings:
        try:
            force = force_result(session, inputs.rule)
        except ValueError as refusal:
            notes.append(f"The tracking force {stretch.name} is not used: {refusal}")
        else:
            count = len(session.readings)
            label = f"tracking force {stretch.name}, {count} reading{'s' if count > 1 else ''}"
            read = _of_this_job(force.tracking_force, job)
            observations.append(Observation("tracking_force", read, stretch.order, label))
    try:
        bearings = _bearings(stretch)
    except ValueError as refusal:
        notes.append(f"The forces at start of motion {stretch.name} are not used: {refusal}.")
    if bearings is not None:
        drawn_outward = propagate(
            lambda **at: -at["stray force"],
            {"stray force": bearings.stray_force},
            unit="mN",
            how="forces at start of motion both ways, with the compensation as set",
        )
        label = f"side-force compensation {stretch.name}, from forces at start of motion"
        observations.append(Observation("compensation_force", drawn_outward, stretch.order, label))
    by_ladder, why_not = _friction_by_ladder(stretch, observations, bearings, geometry)
    return Forces((*observations, *by_ladder), force, bearings, (*notes, *why_not))


def _session(stretch: Stretch, inputs: JobFacts, job: int) -> ForceSession:
    cartridge = inputs.cartridge or CartridgeFacts()
    return ForceSession(
        readings=tuple(
            ForceReading(reading.quantity.value, reading.place, reading.platform_height, reading.surface)
            for reading in stretch.readings
            if reading.kind == Kind.TRACKING_FORCE
        ),
        check_before=_of_job(inputs.scale_check_before, job),
        check_after=_of_job(inputs.scale_check_after, job),
        record_height=inputs.record_thickness,
        height_slope=inputs.height_slope,
        maker_minimum=cartridge.force_minimum,
        maker_maximum=cartridge.force_maximum,
        mistracking_reported=inputs.mistracking_reported,
        stage=f"{stretch.name}, job {job}",
    )


def _of_job(check: ScaleCheck | None, job: int) -> ScaleCheck | None:
    # Checks of one scale in two jobs are two readings of it, and only the weights are the same.
    return None if check is None else replace(check, occasion=f"{check.occasion} of job {job}")


def _of_this_job(force: Quantity, job: int) -> Quantity:
    if force.components is None:
        return force
    return replace(
        force,
        components={
            replace(source, label=f"{source.label}, job {job}")
            if source.label.startswith("drift of ")
            else source: part
            for source, part in force.components.items()
        },
    )


def _bearings(stretch: Stretch) -> BearingFriction | None:
    ways = {
        kind: [reading.quantity for reading in stretch.readings if reading.kind == kind]
        for kind in (Kind.START_FORCE_OUTWARD, Kind.START_FORCE_INWARD)
    }
    outward, inward = ways[Kind.START_FORCE_OUTWARD], ways[Kind.START_FORCE_INWARD]
    if not outward and not inward:
        return None
    if not outward or not inward:
        raise ValueError(f"there is none {'inward' if outward else 'outward'}; read both ways, one after the other")
    return bearing_friction(outward=_mean(outward), inward=_mean(inward))


def _mean(forces: Sequence[Quantity]) -> Quantity:
    named = {f"force at start, reading {k}": force for k, force in enumerate(forces, start=1)}
    return propagate(lambda **at: sum(at.values()) / len(at), named, unit="mN", how=f"mean of {len(forces)}")


def _friction_by_ladder(
    stretch: Stretch, observations: Sequence[Observation], bearings: BearingFriction | None, geometry: Geometry
) -> tuple[list[Observation], list[str]]:
    """Return the friction coefficient by each capture that shows at which level either channel breaks down."""
    levels: dict[str, dict[str, Reading]] = {}
    for reading in stretch.readings:
        if reading.kind in (Kind.TRACKING_ABILITY_LEFT, Kind.TRACKING_ABILITY_RIGHT) and reading.analysis is not None:
            levels.setdefault(str(reading.analysis.sheet.capture), {})[reading.kind] = reading
    both = {capture: shown for capture, shown in levels.items() if len(shown) == 2}
    if not both:
        return [], []
    at_hand: dict[str, Quantity] = {reading.kind: reading.quantity for reading in observations}
    at_hand |= {r.kind: r.quantity for r in stretch.readings if r.kind == Kind.COMPENSATION_FORCE}
    if not {"tracking_force", "compensation_force"} <= set(at_hand):
        return [], [
            f"The levels at which both channels break down {stretch.name} would tell the friction coefficient; read "
            "the tracking force and the compensation too before anything is moved."
        ]
    found: list[Observation] = []
    notes: list[str] = []
    for capture, shown in both.items():
        left, right = shown[Kind.TRACKING_ABILITY_LEFT], shown[Kind.TRACKING_ABILITY_RIGHT]
        try:
            where = ReadAt(
                radius_mm=_ladder_radius_mm(left.analysis.sheet.text),
                pivot_to_spindle=Quantity.exact(geometry.pivot_to_spindle_mm, "mm"),
                effective_length=Quantity.exact(geometry.effective_length_mm, "mm"),
                tracking_force=at_hand["tracking_force"],
                compensation=at_hand["compensation_force"],
                bearing_friction=None if bearings is None else bearings.friction,
            )
            coefficient = friction_coefficient_from_levels(left=left.quantity, right=right.quantity, where=where)
        except ValueError as refusal:
            notes.append(f"The friction coefficient by {capture} is not used: {refusal}.")
            continue
        label = f"friction coefficient {stretch.name}, by the levels of {capture}"
        found.append(Observation("friction_coefficient", coefficient, stretch.order, label))
    return found, notes


def _ladder_radius_mm(sheet_text: str) -> float:
    """Return the middle radius of the ladder that a capture is analysed by, the longest lateral one of its sheet."""
    placed = [LocatedBand(band, 0.0, 0.0, "from the sheet") for band in read_band_sheet(sheet_text).bands]
    lateral = [steps for steps in ladders(placed) if steps[0].band.cut == "lateral"]
    if not lateral:
        raise ValueError("its band sheet has no ladder of rising levels")
    radii = [radius for step in max(lateral, key=len) for radius in step.band.radius_mm]
    return (min(radii) + max(radii)) / 2
