"""Jobs out of this book into an archive, and from an archive into this book."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import DataError, IntegrityError
from django.db.models import Max, QuerySet

from groovewright.files.archive import Archive, ArchiveRefused, pack, unpack
from groovewright.jobbook import content_store
from groovewright.jobbook.archive_rows import TABLES, plain_row, row_from_plain
from groovewright.jobbook.bench_facts import adjuster_limits, adjustments, known_build, setting_limits
from groovewright.jobbook.capture_record import result_from_record
from groovewright.jobbook.job_facts import facts_of, plates_of, targets_of
from groovewright.jobbook.job_record import JobRecord, job_record
from groovewright.jobbook.ledger import append, append_all, writing
from groovewright.jobbook.models import (
    ArchiveImport,
    Attachment,
    CaptureAnalysis,
    Correctable,
    Deck,
    IssuedPlate,
    IssuedReport,
    Job,
    Owner,
    OwnerDetails,
    Reading,
    Record,
)
from groovewright.jobbook.reading_kinds import READING_UNITS, what_is_missing

OWNER_DETAILS = "ownerdetails"
NUMBERED = (Owner, Deck, Job)


@dataclass(frozen=True)
class ImportResult:
    """Which jobs an archive added, and which of its jobs were here already."""

    added: tuple[Job, ...]
    known: tuple[Job, ...]


def export_jobs(jobs: Sequence[Job], *, with_owner_details: bool = False) -> bytes:
    """Return an archive of jobs with all that they rest on.

    Owners go out as numbers. Their names and contacts go along only when `with_owner_details` is set.
    """
    chosen = {model: list(_with_references(rows)) for model, rows in _rows_to_export(jobs)}
    rows = {table: [plain_row(row) for row in chosen[model]] for table, model in TABLES.items()}
    if with_owner_details:
        details = OwnerDetails.objects.filter(owner__in=chosen[Owner]).select_related("owner")
        rows[OWNER_DETAILS] = [{"owner": str(d.owner.uid), "name": d.name, "contact": d.contact} for d in details]
    every_row = [row for rows_of_table in chosen.values() for row in rows_of_table]
    return pack(Archive(rows, {sha256: content_store.read(sha256) for sha256 in _files_of(every_row)}))


def import_jobs(content: bytes) -> ImportResult:
    """Bring the jobs of an archive into this book.

    A number that is taken here is replaced by the next free one; papers keep the number that is printed on them.
    A job that is here already, with all that the archive holds of it, is recognised and left alone.

    Raises
    ------
    ArchiveRefused
        If anything is wrong with the archive or contradicts this book. Nothing of it is then kept.
    """
    archive = unpack(content)
    kept: list[str] = []
    try:
        with writing():
            return _write(archive, hashlib.sha256(content).hexdigest(), kept)
    except (IntegrityError, DataError, OverflowError) as error:
        _remove(kept)
        raise ArchiveRefused(f"the rows of the archive contradict each other or this book ({error})") from error
    except BaseException:
        _remove(kept)
        raise


def _rows_to_export(jobs: Sequence[Job]) -> Iterable[tuple[type[Record], QuerySet[Any]]]:
    keys = [job.pk for job in jobs]
    owned = {table: model.objects.filter(job__in=keys) for table, model in TABLES.items() if _belongs_to_job(model)}
    numbers = Deck.objects.filter(jobs__in=keys).values_list("number", flat=True)
    decks = Deck.objects.filter(number__in=set(numbers))
    used = {
        "arm": owned["intake"].values_list("arm", flat=True),
        "cartridge": owned["intake"].values_list("cartridge", flat=True),
        "gauge": owned["reading"].values_list("gauge", flat=True),
        "scale": [
            *owned["reading"].values_list("scale", flat=True),
            *owned["scalecheck"].values_list("scale", flat=True),
        ],
    }
    for table, model in TABLES.items():
        if table in owned:
            yield model, owned[table]
        elif table in used:
            yield model, _with_corrections(model, set(used[table]) - {None})
        elif model is Owner:
            yield model, Owner.objects.filter(decks__in=decks).distinct()
        elif model is Deck:
            yield model, decks
        else:
            yield model, Job.objects.filter(pk__in=keys)


def _with_references(rows: QuerySet[Any]) -> QuerySet[Any]:
    references = [field.name for field in rows.model._meta.concrete_fields if field.is_relation]
    return rows.select_related(*references).order_by("pk") if references else rows.order_by("pk")


def _belongs_to_job(model: type[Record]) -> bool:
    return any(field.name == "job" for field in model._meta.concrete_fields)


def _with_corrections(model: type[Correctable], keys: set[int]) -> QuerySet[Any]:
    found: set[int] = set()
    while keys - found:
        found |= keys
        earlier = model.objects.filter(pk__in=found, corrects__isnull=False).values_list("corrects", flat=True)
        later = model.objects.filter(corrects__in=found).values_list("pk", flat=True)
        keys = found | set(earlier) | set(later)
    return model.objects.filter(pk__in=found)


def _files_of(rows: Iterable[Record]) -> set[str]:
    files: set[str] = set()
    for row in rows:
        if isinstance(row, IssuedPlate):
            files |= set(row.files.values())
        elif isinstance(row, IssuedReport | Attachment):
            files.add(row.file_sha256)
        elif isinstance(row, CaptureAnalysis) and row.pictures_sha256:
            # The recording of a capture is far too long for an archive; it stays where it was made.
            files.add(row.pictures_sha256)
    return files


def _write(archive: Archive, archive_sha256: str, kept: list[str]) -> ImportResult:
    strangers = set(archive.rows) - set(TABLES) - {OWNER_DETAILS}
    if strangers:
        raise ArchiveRefused(f"the archive holds rows of {min(strangers)!r}, which this Groovewright does not know")
    if not archive.rows.get("job"):
        raise ArchiveRefused("the archive holds no job")
    incoming = _Incoming()
    for table, model in TABLES.items():
        for row in archive.rows.get(table, []):
            incoming.take(model, row)
        incoming.flush()
    incoming.take_owner_details(archive.rows.get(OWNER_DETAILS, []))
    _check_files(incoming.new_rows, archive.files)
    for content in archive.files.values():
        sha256 = hashlib.sha256(content).hexdigest()
        if not content_store.path_of(sha256).exists():
            kept.append(sha256)
            content_store.keep(content)
    added = tuple(row for row in incoming.new_rows if isinstance(row, Job))
    for job in added:
        _check_that_it_can_be_read(job)
        append(ArchiveImport(job=job, archive_sha256=archive_sha256, number_there=incoming.numbers_there[str(job.uid)]))
    return ImportResult(added, tuple(incoming.known_jobs))


class _Incoming:
    """The rows of one archive on their way in: each is checked, recognised or written."""

    def __init__(self) -> None:
        self.by_uid: dict[str, Record] = {}
        self.new_rows: list[Record] = []
        self.known_jobs: list[Job] = []
        self.numbers_there: dict[str, int] = {}
        self._deck_numbers: dict[int, int] = {}
        self._waiting: list[Record] = []

    def take(self, model: type[Record], plain: dict[str, Any]) -> None:
        row = row_from_plain(model, plain, self._row_named)
        uid = str(row.uid)
        if uid in self.by_uid:
            raise ArchiveRefused(f"the archive holds two rows with the identity {uid}")
        known = model.objects.filter(uid=row.uid).first()
        if known is not None:
            self._recognise(known, row)
            return
        job = getattr(row, "job", None)
        if job is not None and any(job.pk == known_job.pk for known_job in self.known_jobs):
            raise ArchiveRefused(
                f"job {job.number} is in this book already, and the archive holds other entries of it; "
                "nothing was brought in"
            )
        if isinstance(row, NUMBERED):
            self.numbers_there[uid] = row.number
            row.number = self._free_number(row)
        self.by_uid[uid] = row
        self._waiting.append(row)
        self.new_rows.append(row)

    def flush(self) -> None:
        append_all(self._waiting)
        self._waiting = []

    def take_owner_details(self, rows: list[dict[str, Any]]) -> None:
        for plain in rows:
            texts = [plain.get("name"), plain.get("contact")]
            owner = self.by_uid.get(str(plain.get("owner")))
            if not isinstance(owner, Owner) or not all(isinstance(text, str) for text in texts):
                raise ArchiveRefused("the owner's details in the archive belong to no owner in it")
            # Details of an owner who is known here are not replaced by those of an archive.
            if owner in self.new_rows:
                OwnerDetails.objects.create(owner=owner, name=texts[0][:200], contact=texts[1])

    def _row_named(self, uid: str) -> Record:
        row = self.by_uid.get(uid)
        if row is None:
            raise ArchiveRefused(f"a row of the archive names another ({uid[:40]}) that does not stand before it")
        if row.pk is None:
            self.flush()
        return row

    def _recognise(self, known: Record, row: Record) -> None:
        here, there = plain_row(known), plain_row(row)
        if isinstance(known, NUMBERED):
            here["number"] = there["number"] = None
        if here != there:
            raise ArchiveRefused(
                f"{known} is in this book already, and the archive tells something else of it; nothing was brought in"
            )
        self.by_uid[str(known.uid)] = known
        if isinstance(known, Deck):
            self._deck_numbers[row.number] = known.number
        if isinstance(known, Job):
            self.known_jobs.append(known)

    def _free_number(self, row: Owner | Deck | Job) -> int:
        if isinstance(row, Deck) and row.number in self._deck_numbers:
            return self._deck_numbers[row.number]
        model = type(row)
        taken = {r.number for r in self._waiting if isinstance(r, model)}
        wanted = row.number
        if wanted in taken or model.objects.filter(number=wanted).exists():
            highest = model.objects.aggregate(highest=Max("number"))["highest"] or 0
            row.number = max(highest, *taken, 0) + 1
        if isinstance(row, Deck):
            self._deck_numbers[wanted] = row.number
        return row.number


def _check_files(rows: Sequence[Record], files: dict[str, bytes]) -> None:
    for row in rows:
        if isinstance(row, IssuedPlate) and not _names_files(row.files):
            raise ArchiveRefused(f"{row} in the archive does not name its files by their format")
    missing = _files_of(rows) - set(files)
    if missing:
        raise ArchiveRefused(f"the archive names the file {min(missing)[:12]}… and does not hold it; export it again")
    for row in rows:
        if isinstance(row, Attachment) and row.size != len(files[row.file_sha256]):
            raise ArchiveRefused(f"the attached file {row.name!r} has another size than the archive says")


def _names_files(files: Any) -> bool:
    return isinstance(files, dict) and all(isinstance(sha256, str) for sha256 in files.values())


def _check_that_it_can_be_read(job: Job) -> None:
    record = job_record(job)
    for reading in record.all_readings:
        unit = None if reading.quantity is None else reading.quantity.unit
        if unit != (None if reading.withdrawn else READING_UNITS[reading.kind]):
            raise ArchiveRefused(f"a reading of job {job.number} in the archive has no quantity in its unit")
    try:
        facts_of(record)
        plates_of(record)
        _read_bench_facts(record)
        if record.choice is not None:
            targets_of(record.choice)
        for analysis in job.capture_analyses.exclude(result=None):
            result_from_record(analysis.result)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise ArchiveRefused(f"what the archive holds of job {job.number} makes no job ({error})") from error


def _read_bench_facts(record: JobRecord) -> None:
    for move in record.all_adjustments:
        adjustments(move)
    for intake in record.job.intakes.select_related("arm"):
        setting_limits(intake.tolerances)
        if intake.arm is not None:
            known_build(intake.arm.build)
            adjuster_limits(intake.arm.adjuster_limits)
    for reading in record.readings:
        needed = what_is_missing(
            Reading.Kind(reading.kind),
            place=reading.place,
            plate=reading.plate is not None,
            radius_mm=reading.radius_mm,
            bearing_deg=reading.bearing_deg,
        )
        if needed:
            raise ValueError(needed)


def _remove(kept: Sequence[str]) -> None:
    for sha256 in kept:
        content_store.path_of(sha256).unlink(missing_ok=True)
