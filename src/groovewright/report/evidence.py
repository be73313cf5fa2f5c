"""What the record holds of a job, as the report lists it: equipment, readings, gauges, plates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from groovewright.gauges.scale_calibration import ScaleCalibration, calibrate
from groovewright.gauges.scale_drift import scale_drift
from groovewright.jobbook.job_facts import scale_check_facts
from groovewright.jobbook.job_record import JobRecord
from groovewright.jobbook.models import Arm, Cartridge, Intake, LedgerEntry, Reading, ScaleCheck
from groovewright.measurement.formatting import format_quantity, split_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.report.parts import Equipment, Fact, GaugeLine, NullReading, PlateLine, ReadingLine
from groovewright.report.wording import listed, speed

NO_LIMIT = "no limit given"


@dataclass(frozen=True)
class LastEntry:
    """The newest ledger line among all that a report rests on, and the day of that entry at the bench."""

    sequence: int
    digest: str
    day: date


def last_entry(record: JobRecord) -> LastEntry:
    """Return the newest entry of the job; reports that were issued from it do not count."""
    job = record.job
    rows = [
        job,
        record.deck,
        *job.complaint_corrections.all(),
        *job.intakes.all(),
        *job.target_choices.all(),
        *record.all_readings,
        *record.all_adjustments,
        *job.scale_checks.all(),
        *record.plates,
        *job.faults.all(),
    ]
    keys_by_table: dict[str, list[int]] = {}
    for row in rows:
        keys_by_table.setdefault(row._meta.db_table, []).append(row.pk)
    lines = [
        LedgerEntry.objects.filter(table=table, row_key__in=keys).order_by("-sequence").first()
        for table, keys in keys_by_table.items()
    ]
    newest = max((line for line in lines if line is not None), key=lambda line: line.sequence)
    return LastEntry(newest.sequence, newest.digest, max(row.recorded_local for row in rows).date())


def last_read(record: JobRecord, stage: str) -> date | None:
    """Return the day of the last reading of a stage that stands."""
    days = [reading.recorded_local.date() for reading in record.readings if reading.stage == stage]
    return max(days, default=None)


def records_played(intake: Intake) -> str:
    """Return which records the job is for."""
    parts = [intake.groove_disc, intake.groove_standard]
    if intake.record_thickness is not None:
        parts.append(f"{format_quantity(intake.record_thickness)} thick")
    parts.append(speed(intake.speed_rpm))
    return ", ".join(part for part in parts if part)


def stylus_hours_of(record: JobRecord) -> float | None:
    """Return how long the stylus had played when the deck came in. [h]"""
    intake = record.intake
    if intake is None or intake.stylus_hours is not None:
        return None if intake is None else intake.stylus_hours
    return None if intake.cartridge is None else intake.cartridge.current().stylus_hours


def equipment_of(record: JobRecord) -> tuple[Equipment, ...]:
    """Return deck, arm and cartridge as they are described now."""
    deck = record.deck
    facts = (Fact("Deck number", str(deck.number)), *_note(deck.note))
    intake = record.intake
    arm = None if intake is None or intake.arm is None else intake.arm.current()
    cartridge = None if intake is None or intake.cartridge is None else intake.cartridge.current()
    return (Equipment("Deck", deck.description, facts), _arm(arm), _cartridge(cartridge, stylus_hours_of(record)))


def _note(note: str) -> tuple[Fact, ...]:
    return (Fact("Note", note),) if note else ()


def _arm(arm: Arm | None) -> Equipment:
    if arm is None:
        return Equipment("Arm", None)
    drawn = (
        ("Effective length by the maker", arm.drawn_effective_length),
        ("Overhang by the maker", arm.drawn_overhang),
        ("Offset angle by the maker", arm.drawn_offset_angle),
        ("Pivot to spindle by the maker", arm.drawn_pivot_to_spindle),
    )
    return Equipment(
        "Arm",
        arm.description,
        (
            Fact("Kind", arm.get_kind_display().lower()),
            Fact("Effective mass", arm.effective_mass),
            *(Fact(label, quantity) for label, quantity in drawn if quantity is not None),
            *_note(arm.note),
        ),
    )


def _cartridge(cartridge: Cartridge | None, hours: float | None) -> Equipment:
    if cartridge is None:
        return Equipment("Cartridge", None)
    limits = (cartridge.tracking_force_lower, cartridge.tracking_force_upper)
    low, high = (None if limit is None else split_quantity(limit, "g")[0] for limit in limits)
    force = f"{low or NO_LIMIT} to {high or NO_LIMIT} g" if low or high else None
    compliance = None if cartridge.compliance is None else format_quantity(cartridge.compliance)
    if compliance and cartridge.compliance_at is not None:
        compliance += f" at {cartridge.compliance_at.value:g} Hz"
    optional = (
        ("Fasteners", cartridge.fasteners_mass),
        ("Recommended loading", cartridge.recommended_loading or None),
        ("Hours on the stylus", None if hours is None else f"{hours:g} h"),
    )
    return Equipment(
        "Cartridge",
        cartridge.description,
        (
            Fact("Maker's tracking force", force),
            Fact("Compliance", compliance),
            Fact("Mass", cartridge.mass),
            *(Fact(label, value) for label, value in optional if value is not None),
            *_note(cartridge.note),
        ),
    )


def readings_of(record: JobRecord) -> tuple[ReadingLine, ...]:
    """Return all readings, the corrected and the withdrawn too, numbered in the order of the record."""
    number_of = {reading.pk: number for number, reading in enumerate(record.all_readings, start=1)}
    replaced_by = {r.corrects_id: number_of[r.pk] for r in record.all_readings if r.corrects_id is not None}
    return tuple(
        ReadingLine(
            number=number_of[reading.pk],
            stage=reading.stage,
            what=_what(reading),
            quantity=reading.quantity,
            gauge=_gauge_name(reading),
            where=_where(reading),
            read_at=reading.recorded_local,
            typed="" if reading.analysis is not None else reading.text,
            is_indication=reading.kind == Reading.Kind.TRACKING_FORCE,
            corrects=number_of.get(reading.corrects_id),
            corrected_by=replaced_by.get(reading.pk),
            note=reading.note,
            is_of_capture=reading.analysis is not None,
        )
        for reading in record.all_readings
    )


def null_readings_of(record: JobRecord) -> tuple[NullReading, ...]:
    """Return the tracking errors that were read at a radius, of the readings that count."""
    return tuple(
        NullReading(reading.stage, reading.radius_mm, reading.quantity)
        for reading in record.readings_of(Reading.Kind.NULL_ANGLE)
    )


def _what(reading: Reading) -> str:
    label = str(reading.get_kind_display())
    return f"{label}, as the scale showed" if reading.kind == Reading.Kind.TRACKING_FORCE else label


def _gauge_name(reading: Reading) -> str:
    used = [row.description for row in (reading.gauge, reading.scale) if row is not None]
    if reading.plate is not None:
        used.append(f"plate {reading.plate.number}")
    if reading.analysis is not None:
        capture = reading.analysis.sheet.capture
        used.append(f"capture {capture.number}, {capture.name}")
    return ", ".join(used)


def _where(reading: Reading) -> str:
    parts = []
    if reading.place:
        parts.append(f"{reading.place}, on the {reading.surface}")
    if reading.platform_height is not None:
        parts.append(f"stylus at {format_quantity(reading.platform_height)}")
    if reading.radius_mm is not None:
        parts.append(f"at a radius of {reading.radius_mm:g} mm")
    if reading.bearing_deg is not None:
        parts.append(f"at a bearing of {reading.bearing_deg:.4g}°")
    if reading.laying is not None and reading.laying > 1:
        parts.append(f"plate laid on anew, {reading.laying}")
    return ", ".join(parts)


def gauges_of(record: JobRecord) -> tuple[GaugeLine, ...]:
    """Return what was read with, each gauge once, with what is known of its calibration."""
    gauges = {r.gauge.pk: r.gauge for r in record.all_readings if r.gauge is not None}
    scales = {r.scale.pk: r.scale for r in record.all_readings if r.scale is not None}
    scales |= {check.scale.pk: check.scale for check in record.scale_checks}
    lines = [
        GaugeLine(
            gauge.description,
            gauge.certificate or None,
            () if gauge.standard_uncertainty is None else (_own_uncertainty(gauge.standard_uncertainty),),
            gauge.note,
        )
        for gauge in gauges.values()
    ]
    for key, scale in scales.items():
        checks = [check for check in record.scale_checks if check.scale_id == key]
        facts, sentences = _scale_facts(checks)
        resolution = Fact("Smallest step", f"{split_quantity(scale.resolution, 'g')[0]} g")
        note = " ".join(part for part in (scale.note, *sentences) if part)
        lines.append(GaugeLine(scale.description, "checked with known weights" if facts else None,
                               (resolution, *facts), note))  # fmt: skip
    return tuple(lines)


def _own_uncertainty(error: Quantity) -> Fact:
    # A gauge's own error is kept as 0 with its uncertainty; what is printed is that uncertainty.
    _, uncertainty, unit = split_quantity(error)
    return Fact("Standard uncertainty", f"{uncertainty} {unit}")


def _scale_facts(checks: list[ScaleCheck]) -> tuple[list[Fact], list[str]]:
    facts: list[Fact] = []
    sentences: list[str] = []
    newest: dict[str, ScaleCalibration] = {}
    for check in checks:
        weights = {w["name"]: w["basis"] for load in check.readings for w in load["weights"]}
        named = "; ".join(f"{name} ({basis})" if basis else name for name, basis in weights.items())
        if named not in (fact.value for fact in facts):
            facts.append(Fact(f"Weights, {check.when} the readings", named))
        try:
            calibration = calibrate(scale_check_facts(check))
        except ValueError as error:
            sentences.append(f"The check {check.when} the readings gives no calibration: {error}.")
            continue
        newest[check.when] = calibration
        facts.append(Fact(f"Gain, {check.when}", calibration.gain))
        facts.append(Fact(f"Offset, {check.when}", calibration.offset))
        sentences += [*calibration.faults, *calibration.notes]
    before, after = newest.get(ScaleCheck.When.BEFORE), newest.get(ScaleCheck.When.AFTER)
    if before is not None and after is not None:
        middle = (max(before.lowest_mn, after.lowest_mn) + min(before.highest_mn, after.highest_mn)) / 2
        drift = scale_drift(before, after, indication_mn=middle)
        facts.append(Fact("Drift, after minus before", drift.change))
        sentences.append(drift.sentence)
    elif checks:
        sentences.append("Drift: not measured, as the scale was not checked both before and after the readings.")
    return facts, list(dict.fromkeys(sentences))


def plates_of(record: JobRecord) -> tuple[PlateLine, ...]:
    """Return the plates issued for the job."""
    return tuple(
        PlateLine(
            number=plate.number,
            kind=f"{plate.kind}, {plate.paper}",
            issued=plate.recorded_local.date(),
            scale_x=plate.scale_x,
            scale_y=plate.scale_y,
            note="" if plate.replaces is None else f"replaces {plate.replaces.number}",
        )
        for plate in record.plates
    )


def work_of(record: JobRecord) -> tuple[str, ...]:
    """Return what the record shows was done besides the moves."""
    sentences = []
    if record.plates:
        numbers = ", ".join(plate.number for plate in record.plates)
        sentences.append(f"Plates were drawn for this player: {numbers}.")
    for scale in dict.fromkeys(check.scale.description for check in record.scale_checks):
        times = dict.fromkeys(check.when for check in record.scale_checks if check.scale.description == scale)
        sentences.append(f"{scale} was checked with known weights {listed(list(times))} the force was read.")
    return tuple(sentences)
