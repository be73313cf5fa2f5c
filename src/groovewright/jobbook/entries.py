"""The writer of the job book, with `capture_entries`. Each function is one entry: once it returns, it is on the disk.

All of them add rows; a correction names the row it corrects. Each raises `EntryRefused` when an entry contradicts
the record, and `NotWritten` when the disk or the database fails. Several entries that only make sense together go
into one ``with writing():`` block.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from datetime import date
from typing import TYPE_CHECKING, Any, TypeVar

from django.db.models import Max

from groovewright.bench.estimate.job_facts import DEFAULT_RULE
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import content_store
from groovewright.jobbook.bench_facts import (
    adjuster_limits,
    adjustments,
    amounts_in_words,
    known_build,
    setting_limits,
)
from groovewright.jobbook.erasure import leave_no_remains
from groovewright.jobbook.job_record import complaint_of
from groovewright.jobbook.ledger import append, writing
from groovewright.jobbook.models import (
    AdjustmentMade,
    Arm,
    Attachment,
    Cartridge,
    ComplaintCorrection,
    Correctable,
    Deck,
    Fault,
    Gauge,
    Intake,
    IssuedPlate,
    IssuedReport,
    Job,
    Letterhead,
    Owner,
    OwnerDetails,
    OwnerDetailsChange,
    Reading,
    Record,
    Scale,
    ScaleCheck,
    TargetChoice,
)
from groovewright.jobbook.not_written import NotWritten
from groovewright.jobbook.reading_kinds import READING_UNITS, TYPED_KINDS, what_is_missing
from groovewright.measurement.conformity import DecisionRule
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments
from groovewright.tonearm.input_ranges import STYLUS_HOURS

if TYPE_CHECKING:
    from groovewright.bench.targets.targets import Targets
    from groovewright.plates.plate import PlateRequest

__all__ = ["EntryRefused", "NotWritten", "writing"]

LARGEST_ATTACHMENT_BYTES = 64 * 1024**2
"""Held in memory while it is hashed; a photo has some 10 MB. Recordings are captures, which are streamed."""

C = TypeVar("C", bound=Correctable)
T = TypeVar("T")


class EntryRefused(ValueError):  # noqa: N818 - says what happened to the entry
    """The entry contradicts what the record already holds; the message says what and what to do."""


# Owners ---------------------------------------------------------------------------------------------------------


def add_owner(*, name: str = "", contact: str = "") -> Owner:
    """Add an owner. Only the number enters the record; name and contact can be erased later."""
    with writing():
        owner = append(Owner(number=_next_number(Owner)))
        if name or contact:
            OwnerDetails.objects.create(owner=owner, name=name, contact=contact)
        return owner


def replace_owner_details(owner: Owner, *, name: str, contact: str) -> None:
    """Put new details in the place of the old ones; the record keeps only that it was done."""
    with writing():
        OwnerDetails.objects.update_or_create(owner=owner, defaults={"name": name, "contact": contact})
        append(OwnerDetailsChange(owner=owner, what=OwnerDetailsChange.What.REPLACED))
    leave_no_remains()


def erase_owner_details(owner: Owner) -> None:
    """Erase name and contact for good. Decks, jobs and readings stay, under the owner's number."""
    with writing():
        OwnerDetails.objects.filter(owner=owner).delete()
        append(OwnerDetailsChange(owner=owner, what=OwnerDetailsChange.What.ERASED))
    leave_no_remains()


def set_letterhead(
    *, name: str, address: str = "", logo: bytes | None = None, logo_media_type: str = "", keep_logo: bool = False
) -> Letterhead:
    """Enter the letterhead that reports bear from now on; those issued before keep theirs.

    Parameters
    ----------
    logo, logo_media_type : bytes and str, optional
        A picture (PNG, JPEG or SVG), checked by whoever reads the upload.
    keep_logo : bool
        Keep the logo that the letterhead has now, where none is given.
    """
    if not name.strip():
        raise EntryRefused("a letterhead needs the name of the workshop")
    before = Letterhead.objects.order_by("-pk").first() if keep_logo else None
    sha256, media_type = ("", "") if before is None else (before.logo_sha256, before.logo_media_type)
    if logo is not None:
        sha256, media_type = content_store.keep(logo), logo_media_type
    with writing():
        return append(Letterhead(name=name, address=address, logo_sha256=sha256, logo_media_type=media_type))


# What a workshop works on and with ------------------------------------------------------------------------------


def add_deck(owner: Owner, *, description: str, note: str = "") -> Deck:
    """Add a deck under the next deck number."""
    with writing():
        return append(Deck(number=_next_number(Deck), owner=owner, description=description, note=note))


def correct_deck(deck: Deck, *, description: str, note: str = "") -> Deck:
    """Describe a deck anew; it keeps its number."""
    row = Deck(number=deck.number, owner_id=deck.owner_id, description=description, note=note)
    return _append_correctable(row, deck)


def add_arm(deck: Deck, *, description: str, corrects: Arm | None = None, **facts: Any) -> Arm:
    """Add an arm to a deck. `facts` are further fields of `Arm`: kind, effective_mass, drawn_..., build and limits."""
    _checked(lambda: known_build(facts.get("build")))
    _checked(lambda: adjuster_limits(facts.get("adjuster_limits")))
    return _append_correctable(Arm(deck=deck, description=description, **facts), corrects)


def add_cartridge(*, description: str, corrects: Cartridge | None = None, **facts: Any) -> Cartridge:
    """Add a cartridge. `facts` are further fields of `Cartridge`."""
    return _append_correctable(Cartridge(description=description, **facts), corrects)


def add_gauge(
    *,
    description: str,
    certificate: str = "",
    standard_uncertainty: Quantity | None = None,
    note: str = "",
    corrects: Gauge | None = None,
) -> Gauge:
    """Add a gauge for lengths or angles."""
    row = Gauge(description=description, certificate=certificate, standard_uncertainty=standard_uncertainty, note=note)
    return _append_correctable(row, corrects)


def add_scale(
    *,
    description: str,
    resolution: Quantity,
    repeatability: Quantity | None = None,
    platform_height: Quantity | None = None,
    note: str = "",
    corrects: Scale | None = None,
) -> Scale:
    """Add a scale for the tracking force; resolution and repeatability in mN, platform height in mm."""
    _check_unit(resolution, "mN", "the resolution of a scale")
    _check_unit(repeatability, "mN", "the repeatability of a scale")
    _check_unit(platform_height, "mm", "the platform height of a scale")
    row = Scale(
        description=description,
        resolution=resolution,
        repeatability=repeatability,
        platform_height=platform_height,
        note=note,
    )
    return _append_correctable(row, corrects)


def check_scale(
    scale: Scale,
    *,
    readings: Sequence[WeightReading],
    job: Job | None = None,
    when: str = ScaleCheck.When.BEFORE,
    texts: Sequence[str] = (),
    note: str = "",
    corrects: ScaleCheck | None = None,
) -> ScaleCheck:
    """Enter what a scale showed under known weights; `texts` are the indications as typed, in the same order."""
    if not readings:
        raise EntryRefused("a check of a scale needs at least one weight that was read")
    typed = texts or [""] * len(readings)
    loads = [
        {
            "weights": [{"name": w.name, "mass": w.mass.as_record(), "basis": w.basis} for w in reading.weights],
            "indication_mn": reading.indication_mn,
            "text": text,
        }
        for reading, text in zip(readings, typed, strict=True)
    ]
    return _append_correctable(ScaleCheck(scale=scale, job=job, when=when, readings=loads, note=note), corrects)


# A job ----------------------------------------------------------------------------------------------------------


def open_job(deck: Deck, *, opened: date, complaint: str = "") -> Job:
    """Open a job under the next job number."""
    with writing():
        return append(Job(number=_next_number(Job), deck=deck, opened=opened, complaint=complaint))


def correct_complaint(job: Job, *, text: str) -> ComplaintCorrection:
    """Put the complaint of a job anew; how it was put before stays readable."""
    if text == complaint_of(job):
        raise EntryRefused("this is the complaint as it stands; change its words first")
    with writing():
        return append(ComplaintCorrection(job=job, text=text))


def record_intake(
    job: Job,
    *,
    innermost_mm: float,
    outermost_mm: float,
    arm: Arm | None = None,
    cartridge: Cartridge | None = None,
    groove_disc: str = "",
    groove_standard: str = "",
    record_thickness: Quantity | None = None,
    height_slope: Quantity | None = None,
    mistracking_reported: bool = False,
    speed_rpm: float = 100 / 3,
    length_tolerance_lower_mm: float = -0.5,
    length_tolerance_upper_mm: float = 0.5,
    rule: DecisionRule = DEFAULT_RULE,
    tolerances: Mapping[str, Mapping[str, float | None]] | None = None,
    stylus_hours: float | None = None,
) -> Intake:
    """Enter the facts a job rests on, as its next version; what stood before stays readable.

    Parameters
    ----------
    tolerances : mapping, optional
        Setting to its `aim`, `lower` and `upper`, in the setting's unit; what is left out or None is as usual. The
        limits of the effective length are the two arguments of their own.
    stylus_hours : float, optional
        That the stylus had played when the deck came in. [h]
    """
    _check_unit(record_thickness, "mm", "the thickness of a record")
    _check_unit(height_slope, "mN/mm", "the change of force with height")
    wanted = _checked(lambda: setting_limits(tolerances))
    if stylus_hours is not None and not STYLUS_HOURS.holds(stylus_hours):
        raise EntryRefused(
            f"a stylus has played {STYLUS_HOURS.lowest:g} to {STYLUS_HOURS.highest:g} hours, not {stylus_hours:g}"
        )
    if arm is not None and arm.deck.number != job.deck.number:
        raise EntryRefused(
            f"the arm {arm.description!r} is on deck {arm.deck.number}, job {job.number} is for deck "
            f"{job.deck.number}; choose an arm of that deck or add it there"
        )
    with writing():
        version = (job.intakes.aggregate(highest=Max("version"))["highest"] or 0) + 1
        return append(
            Intake(
                job=job,
                version=version,
                arm=arm,
                cartridge=cartridge,
                groove_disc=groove_disc,
                groove_standard=groove_standard,
                innermost_mm=innermost_mm,
                outermost_mm=outermost_mm,
                record_thickness=record_thickness,
                height_slope=height_slope,
                mistracking_reported=mistracking_reported,
                speed_rpm=speed_rpm,
                length_tolerance_lower_mm=length_tolerance_lower_mm,
                length_tolerance_upper_mm=length_tolerance_upper_mm,
                decision_rule=rule.kind,
                guard_factor=rule.guard_factor,
                maximum_risk=rule.maximum_risk,
                tolerances=None if not wanted else {key: limits.as_record() for key, limits in wanted.items()},
                stylus_hours=stylus_hours,
            )
        )


def record_targets(job: Job, targets: Targets) -> TargetChoice:
    """Enter the targets chosen for a job, with what they were chosen under."""
    request = targets.request
    with writing():
        return append(
            TargetChoice(
                job=job,
                criterion=request.criterion,
                arm_kind=request.arm_kind,
                pivot_to_spindle=request.pivot_to_spindle,
                innermost_mm=request.innermost_mm,
                outermost_mm=request.outermost_mm,
                hold_effective_length=request.hold_effective_length,
                hold_offset_angle=request.hold_offset_angle,
                effective_length_limits_mm=request.effective_length_limits_mm,
                offset_angle_limits_deg=request.offset_angle_limits_deg,
                peak_velocity_cm_s=request.peak_velocity_cm_s,
                speed_rpm=request.speed_rpm,
                effective_length=targets.effective_length,
                overhang=targets.overhang,
                offset_angle=targets.offset_angle,
                linear_offset=targets.linear_offset,
                null_radii=[radius.as_record() for radius in targets.null_radii],
                peak_tracking_error=targets.peak_tracking_error,
                peak_distortion=targets.peak_distortion,
                rms_distortion=targets.rms_distortion,
                notes=list(targets.notes),
            )
        )


def record_reading(
    job: Job,
    *,
    kind: str,
    stage: str,
    text: str,
    quantity: Quantity,
    place: str = "",
    surface: str = Reading.Surface.PLATTER,
    platform_height: Quantity | None = None,
    gauge: Gauge | None = None,
    scale: Scale | None = None,
    plate: IssuedPlate | None = None,
    radius_mm: float | None = None,
    bearing_deg: float | None = None,
    laying: int | None = None,
    note: str = "",
    corrects: Reading | None = None,
) -> Reading:
    """Enter one reading: the text as typed and the quantity it stands for, in the canonical unit of its kind.

    The source label of the quantity is the reading's own unless two readings truly share one error;
    `queries.next_reading_source` gives a label that no other reading has.

    Parameters
    ----------
    radius_mm : float, optional
        Groove radius: needed by a tracking error, and by a reading beside the arc unless its bearing is given. [mm]
    bearing_deg : float, optional
        Of a reading beside the arc, seen from the arc's centre from the line to the spindle. [deg]
    laying : int, optional
        Of a reading beside the arc: counts how often the plate was laid on anew; 1 where left out.
    """
    if kind not in READING_UNITS:
        raise EntryRefused(f"{kind!r} is no kind of reading; the kinds are {', '.join(READING_UNITS)}")
    kind = Reading.Kind(kind)
    _check_unit(quantity, READING_UNITS[kind], f"a reading of the {kind.label}")
    _check_unit(platform_height, "mm", "a platform height")
    if kind not in TYPED_KINDS:
        raise EntryRefused(f"the {kind.label} is read from a capture: enter the capture into the job")
    missing = what_is_missing(kind, place=place, plate=plate is not None, radius_mm=radius_mm, bearing_deg=bearing_deg)
    if missing:
        raise EntryRefused(missing)
    if plate is not None and plate.job_id != job.pk:
        raise EntryRefused(f"plate {plate.number} belongs to another job than job {job.number}")
    if corrects is not None and (corrects.job_id, corrects.kind) != (job.pk, kind):
        raise EntryRefused(
            f"a correction stays with its job and its kind: the reading to correct is a {corrects.get_kind_display()} "
            f"of job {corrects.job.number}. Withdraw it and enter a new one instead."
        )
    row = Reading(
        job=job,
        kind=kind,
        stage=stage,
        place=place,
        surface=surface,
        text=text,
        quantity=quantity,
        platform_height=platform_height,
        gauge=gauge,
        scale=scale,
        plate=plate,
        radius_mm=radius_mm,
        bearing_deg=bearing_deg,
        laying=(laying or 1) if kind is Reading.Kind.ARC_TRACE else None,
        note=note,
    )
    return _append_correctable(row, corrects)


def record_readings(job: Job, readings: Sequence[Mapping[str, Any]]) -> tuple[Reading, ...]:
    """Enter readings that belong together, such as the places of an arc trace: all of them, or none.

    `readings` are the arguments of `record_reading` for each.
    """
    with writing():
        return tuple(record_reading(job, **facts) for facts in readings)


def withdraw_reading(reading: Reading, *, note: str) -> Reading:
    """Take a reading out of all results; it stays readable, with the reason."""
    if not note.strip():
        raise EntryRefused("say why the reading is withdrawn; the record keeps both")
    row = Reading(
        job_id=reading.job_id,
        kind=reading.kind,
        stage=reading.stage,
        place=reading.place,
        surface=reading.surface,
        plate_id=reading.plate_id,
        analysis_id=reading.analysis_id,
        radius_mm=reading.radius_mm,
        bearing_deg=reading.bearing_deg,
        laying=reading.laying,
        quantity=None,
        withdrawn=True,
        note=note,
    )
    return _append_correctable(row, reading)


def record_adjustment(
    job: Job,
    *,
    amounts: Adjustments,
    uncertainties: Adjustments,
    unknown: frozenset[str] = frozenset(),
    text: str = "",
    note: str = "",
    corrects: AdjustmentMade | None = None,
) -> AdjustmentMade:
    """Enter a move that was made, in the order in which it was made among the readings as left.

    Parameters
    ----------
    amounts : Adjustments
        How far each adjuster was moved; 0 where it was not touched.
    uncertainties : Adjustments
        Standard uncertainty of each, none below 0. An adjuster touched without being moved on purpose has one too.
    unknown : frozenset of str
        Adjusters, of `ADJUSTERS`, that were moved by an amount that nobody knows.
    text : str
        As typed or proposed; else the amounts stand there in words.
    """
    if corrects is not None and corrects.job_id != job.pk:
        raise EntryRefused(f"the move to correct belongs to another job than job {job.number}")
    moved: dict[str, tuple[float | None, float | None]] = {
        name: (None, None) if name in unknown else (float(amount), float(u))
        for name, amount, u in zip(ADJUSTERS, amounts.as_array(), uncertainties.as_array(), strict=True)
        if amount != 0 or u != 0 or name in unknown
    }
    if not moved:
        raise EntryRefused("say which adjuster was moved, and by how much if that is known")
    row = AdjustmentMade(
        job=job,
        amounts={name: amount for name, (amount, _) in moved.items()},
        uncertainties={name: u for name, (_, u) in moved.items()},
        text=text.strip() or amounts_in_words(amounts, unknown),
        note=note,
    )
    _checked(lambda: adjustments(row))
    return _append_correctable(row, corrects)


def withdraw_adjustment(move: AdjustmentMade, *, note: str) -> AdjustmentMade:
    """Take a move back that was never made, with the reason; it stays readable."""
    if not note.strip():
        raise EntryRefused("say why the move is withdrawn; the record keeps both")
    row = AdjustmentMade(job_id=move.job_id, amounts={}, uncertainties={}, withdrawn=True, note=note)
    return _append_correctable(row, move)


def record_fault(job: Job, *, text: str, found: str = "as found", corrects: Fault | None = None) -> Fault:
    """Enter something faulty that setting up cannot mend."""
    if not text.strip():
        raise EntryRefused("say what is faulty")
    return _append_correctable(Fault(job=job, text=text, found=found), corrects)


def withdraw_fault(fault: Fault, *, note: str) -> Fault:
    """Take a fault back, with the reason."""
    if not note.strip():
        raise EntryRefused("say why the fault is withdrawn; the record keeps both")
    return _append_correctable(Fault(job_id=fault.job_id, text=note, found=fault.found, withdrawn=True), fault)


def issue_plate(
    job: Job,
    request: PlateRequest,
    *,
    choice: TargetChoice | None = None,
    replaces: IssuedPlate | None = None,
) -> IssuedPlate:
    """Issue a plate under the job's next plate number.

    Parameters
    ----------
    request : PlateRequest
        What to draw; its number is put in here.
    choice : TargetChoice, optional
        The targets it is drawn for.
    replaces : IssuedPlate, optional
        The plate whose print was measured and which this one corrects.

    Raises
    ------
    ValueError
        If the plate cannot be drawn on its paper, in one sentence.
    """
    from groovewright.jobbook.plate_files import plate_files

    if replaces is not None and replaces.job_id != job.pk:
        raise EntryRefused(f"plate {replaces.number} belongs to another job than job {job.number}")
    with writing():
        numbered = replace(request, number=_next_paper_number(job, IssuedPlate, "P"))
        files = {kind: content_store.keep(content) for kind, content in plate_files(numbered).items()}
        return append(
            IssuedPlate(
                job=job,
                number=numbered.number,
                kind=numbered.kind,
                choice=choice,
                request=asdict(numbered),
                paper=numbered.paper,
                scale_x=numbered.scale_x,
                scale_y=numbered.scale_y,
                replaces=replaces,
                files=files,
            )
        )


def issue_report(job: Job, *, write: Callable[[str], bytes], assessment: Mapping[str, Any]) -> IssuedReport:
    """Issue a report under the job's next report number; `write` is given the number and returns the PDF."""
    with writing():
        number = _next_paper_number(job, IssuedReport, "R")
        sha256 = content_store.keep(write(number))
        return append(IssuedReport(job=job, number=number, file_sha256=sha256, assessment=dict(assessment)))


def attach_file(job: Job, *, name: str, media_type: str, content: bytes) -> Attachment:
    """Keep a file with a job."""
    if not content:
        raise EntryRefused(f"{name} is empty; choose the file again")
    if len(content) > LARGEST_ATTACHMENT_BYTES:
        raise EntryRefused(
            f"{name} has {len(content) / 1024**2:.0f} MB; a job keeps files of up to "
            f"{LARGEST_ATTACHMENT_BYTES // 1024**2} MB. Shorten it or split it."
        )
    sha256 = content_store.keep(content)
    with writing():
        return append(Attachment(job=job, name=name, media_type=media_type, size=len(content), file_sha256=sha256))


def _append_correctable(row: C, corrects: C | None) -> C:
    with writing():
        if corrects is not None and type(corrects).objects.filter(corrects=corrects).exists():
            raise EntryRefused(
                f"this {row._meta.verbose_name} was corrected already; load the page again and correct the newest"
            )
        row.corrects = corrects
        return append(row)


def _next_number(model: type[Record]) -> int:
    return (model.objects.aggregate(highest=Max("number"))["highest"] or 0) + 1


def _next_paper_number(job: Job, model: type[Record], letter: str) -> str:
    # An imported job may hold papers under the number it had elsewhere; those keep theirs.
    taken = set(model.objects.filter(job=job).values_list("number", flat=True))
    count = len(taken) + 1
    while f"{job.number}-{letter}{count}" in taken:
        count += 1
    return f"{job.number}-{letter}{count}"


def _checked(read: Callable[[], T]) -> T:
    try:
        return read()
    except ValueError as error:
        raise EntryRefused(str(error)) from error


def _check_unit(quantity: Quantity | None, unit: str, what: str) -> None:
    if quantity is not None and quantity.unit != unit:
        raise EntryRefused(f"{what} is kept in {unit}, not in {quantity.unit or 'no unit'}")
