"""Captures in the record: kinds of reading, corrections by a later analysis, archives, thinned pictures."""

from datetime import date

import numpy as np
import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from groovewright.files.archive import unpack
from groovewright.jobbook import content_store, entries
from groovewright.jobbook.capture_entries import add_capture_sheet, enter_capture, record_analysis
from groovewright.jobbook.chain_check import verify_chain
from groovewright.jobbook.entries import EntryRefused, record_reading, withdraw_reading
from groovewright.jobbook.job_archive import export_jobs
from groovewright.jobbook.models import LedgerEntry, Reading
from groovewright.jobbook.picture_arrays import extremes, peaks, read_pictures
from groovewright.jobbook.queries import current_readings, job_record
from groovewright.jobbook.reading_kinds import CAPTURE_UNITS
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES


def analysed_again(bench, **quantities):
    capture = bench.analysis.sheet.capture
    sheet = add_capture_sheet(capture, text="speed_rpm = 45\n", origin="bands moved by hand")
    result = {**bench.analysis.result, "quantities": {name: q.as_record() for name, q in quantities.items()}}
    return record_analysis(sheet, result=result, refusal="", pictures=None)


def of_captures(job):
    return {reading.kind: reading for reading in current_readings(job) if reading.analysis_id}


def test_every_single_quantity_of_a_capture_is_a_kind_of_reading_with_its_words_and_unit():
    single = {known.name: known for known in CAPTURE_NAMES if not known.listed_by}
    assert {str(kind): unit for kind, unit in CAPTURE_UNITS.items()} == {n: k.unit for n, k in single.items()}
    assert {kind: kind.label for kind in CAPTURE_UNITS} == {n: k.label for n, k in single.items()}


def test_an_entered_capture_names_recording_and_sheet_and_leaves_the_bench_as_it_was(bench):
    (reading,) = of_captures(bench.job).values()
    assert (reading.kind, reading.stage, reading.text) == ("speed_error", "as found", "0.120 % ± 0.010 %")
    sheet = reading.analysis.sheet
    assert sheet.text_sha256[:12] in reading.note
    assert sheet.capture.file_sha256[:12] in reading.note
    assert "effective_length" not in {reading.kind for reading in job_record(bench.job).readings}


def test_a_later_analysis_corrects_what_it_shows_and_withdraws_what_it_does_not(bench):
    earlier = of_captures(bench.job)["speed_error"]
    enter_capture(analysed_again(bench, eccentricity=Quantity.exact(0.2, "mm")))
    assert set(of_captures(bench.job)) == {"eccentricity"}
    withdrawn = Reading.objects.get(corrects=earlier)
    assert withdrawn.withdrawn
    third = enter_capture(analysed_again(bench, speed_error=Quantity.exact(0.1, "%")))
    assert [reading.corrects for reading in third] == [withdrawn]
    assert set(of_captures(bench.job)) == {"speed_error"}
    assert verify_chain().fault == ""


def test_the_same_analysis_is_entered_once_and_analysed_once(bench):
    with pytest.raises(EntryRefused, match="entered already"):
        enter_capture(bench.analysis)
    with pytest.raises(EntryRefused, match="analysed already"):
        record_analysis(bench.analysis.sheet, result=None, refusal="silent", pictures=None)


def test_what_showed_nothing_is_not_entered(bench):
    with pytest.raises(EntryRefused, match="no quantity"):
        enter_capture(analysed_again(bench))


def test_a_reading_of_a_capture_is_not_typed_in_and_can_be_withdrawn(bench):
    with pytest.raises(EntryRefused, match="enter the capture"):
        record_reading(bench.job, kind="speed_error", stage="as left", text="0.1 %", quantity=Quantity.exact(0.1, "%"))
    (reading,) = of_captures(bench.job).values()
    withdraw_reading(reading, note="the wrong side was played")
    assert of_captures(bench.job) == {}


def test_an_archive_takes_the_pictures_along_and_leaves_the_recording(bench):
    files = {
        content_store.hashlib.sha256(content).hexdigest() for content in unpack(export_jobs([bench.job])).files.values()
    }
    assert bench.analysis.pictures_sha256 in files
    assert bench.analysis.sheet.capture.file_sha256 not in files


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the migration makes the table anew on SQLite alone")
def test_a_book_from_before_captures_keeps_its_rows_and_its_chain():
    deck = entries.add_deck(entries.add_owner(), description="belt-drive deck")
    job = entries.open_job(deck, opened=date(2026, 3, 2))
    quantity = Quantity.exact(222.4, "mm")
    record_reading(job, kind="pivot_to_spindle", stage="as found", text="222.4 mm", quantity=quantity)
    before = verify_chain()
    MigrationExecutor(connection).migrate([("jobbook", "0005_complaint_correction")])
    call_command("migrate", verbosity=0)
    assert verify_chain() == before
    assert before.lines == LedgerEntry.objects.count() == 4
    with pytest.raises(IntegrityError, match="only added to"), transaction.atomic():
        Reading.objects.update(text="better")


def test_thinning_keeps_the_extremes_and_the_peaks():
    rng = np.random.default_rng(1)
    values = rng.normal(size=50_000)
    values[31_234], values[17] = 40.0, -40.0
    kept = extremes(values, most=400)
    assert len(kept) <= 400
    assert {31_234, 17} <= set(kept.tolist())
    frequency_hz = np.linspace(0, 20_000, 30_001)
    level = np.zeros(30_001)
    level[75] = level[22_222] = 60.0
    kept = peaks(frequency_hz, level, most=300)
    assert len(kept) <= 300
    assert {75, 22_222} <= set(kept.tolist())


@pytest.mark.parametrize("content", [b"", b"\xff", b"[]", b'{"overview": 1}', b"[" * 100_000])
def test_pictures_that_are_none_are_refused(content):
    with pytest.raises(ValueError, match=r".+"):
        read_pictures(content)


def test_a_file_is_kept_by_moving_it_and_checked_in_blocks(settings, tmp_path):
    settings.CONTENT_DIR = tmp_path
    for name in ("first", "second"):
        draft = tmp_path / name
        draft.write_bytes(b"tone" * 5000)
        kept = content_store.keep_file(draft)
        assert not draft.exists()
    shares = []
    assert content_store.check(kept, shares.append).read_bytes() == b"tone" * 5000
    assert shares[-1] == 1.0
    content_store.path_of(kept).write_bytes(b"other")
    with pytest.raises(content_store.ContentDamaged, match="changed"):
        content_store.check(kept, shares.append)
    with pytest.raises(content_store.ContentDamaged, match="is not in"):
        content_store.check("0" * 64, shares.append)
