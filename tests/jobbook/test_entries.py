"""Each entry is whole or not there, and a contradiction is refused in one sentence."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from django.db import connection

from groovewright.jobbook import content_store, entries
from groovewright.jobbook.chain_check import verify_chain
from groovewright.jobbook.entries import EntryRefused
from groovewright.jobbook.models import Job, Owner, OwnerDetails, Reading
from groovewright.measurement.quantity import Quantity

pytestmark = pytest.mark.django_db


def measured(value: float, source: str = "steel rule") -> Quantity:
    return Quantity.measured(value, "mm", standard_uncertainty=0.2, source=source)


def test_numbers_count_up_and_papers_carry_the_number_of_their_job(bench):
    second = entries.open_job(bench.deck, opened=date(2026, 4, 1))
    assert (bench.job.number, second.number) == (1, 2)
    assert bench.plate.number == "1-P1"
    assert bench.job.reports.get().number == "1-R1"
    assert b"1-P1" in content_store.read(bench.plate.files["svg"])


def test_a_quantity_comes_back_with_its_sources(bench):
    stored = Reading.objects.get(pk=bench.reading.pk)
    assert stored.quantity == measured(222.4, source="distance of job 1")
    assert stored.recorded_local.tzinfo is not None


def test_a_correction_names_what_it_corrects_and_stands_alone(bench):
    correction = entries.record_reading(
        bench.job,
        kind="pivot_to_spindle",
        stage="as found",
        text="222.9 mm",
        quantity=measured(222.9),
        corrects=bench.reading,
    )
    assert Reading.objects.get(pk=bench.reading.pk).current() == correction
    with pytest.raises(EntryRefused, match="corrected already; load the page again"):
        entries.withdraw_reading(bench.reading, note="twice")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"kind": "zenith"}, "'zenith' is no kind of reading"),
        ({"quantity": Quantity.exact(22.2, "cm")}, "kept in mm, not in cm"),
        ({"kind": "tracking_force", "quantity": Quantity.exact(18, "mN")}, "needs its place on the platter"),
        ({"kind": "print_bar_x"}, "name the plate by its number"),
        ({"kind": "overhang", "corrects": True}, "stays with its job and its kind"),
    ],
)
def test_a_reading_that_contradicts_the_record_is_refused(bench, changes, words):
    changes = {key: bench.reading if key == "corrects" else value for key, value in changes.items()}
    before = Reading.objects.count()
    entry = {"kind": "pivot_to_spindle", "stage": "as found", "text": "x", "quantity": measured(222.0)}
    with pytest.raises(EntryRefused, match=words):
        entries.record_reading(bench.job, **{**entry, **changes})
    assert Reading.objects.count() == before


def test_a_plate_of_another_job_is_refused(bench):
    other = entries.open_job(bench.deck, opened=date(2026, 4, 1))
    with pytest.raises(EntryRefused, match="plate 1-P1 belongs to another job than job 2"):
        entries.record_reading(
            other, kind="print_bar_x", stage="as found", text="x", quantity=measured(99.8), plate=bench.plate
        )


def test_an_arm_of_another_deck_is_refused(bench):
    deck = entries.add_deck(bench.owner, description="direct-drive deck")
    arm = entries.add_arm(deck, description="ten-inch arm")
    with pytest.raises(EntryRefused, match="is on deck 2, job 1 is for deck 1"):
        entries.record_intake(bench.job, innermost_mm=60, outermost_mm=146, arm=arm)


def test_a_complaint_is_put_anew_and_stays_readable_as_it_was(bench):
    from groovewright.jobbook import queries

    assert bench.job.complaint == "harsh at the end of a side"
    assert (
        queries.complaint_of(bench.job) == queries.job_record(bench.job).complaint == "harsh at the end of every side"
    )
    assert queries.job_page(search="every side").total == 1
    with pytest.raises(EntryRefused, match="as it stands"):
        entries.correct_complaint(bench.job, text="harsh at the end of every side")
    entries.correct_complaint(bench.job, text="")
    assert queries.complaint_of(bench.job) == ""
    assert verify_chain().fault == ""


def test_intakes_are_versions(bench):
    entries.record_intake(bench.job, innermost_mm=57.5, outermost_mm=146.05)
    assert list(bench.job.intakes.values_list("version", flat=True)) == [1, 2]


@pytest.mark.parametrize("content", [b"", b"x" * (entries.LARGEST_ATTACHMENT_BYTES + 1)], ids=["empty", "huge"])
def test_empty_and_huge_files_are_refused(bench, content):
    with pytest.raises(EntryRefused, match=r"scan\.pdf"):
        entries.attach_file(bench.job, name="scan.pdf", media_type="application/pdf", content=content)
    assert bench.job.attachments.count() == 1


def test_a_failure_in_a_joint_entry_takes_all_of_it_back():
    def take_in_with_a_nameless_fault() -> None:
        with entries.writing():
            owner = entries.add_owner(name="Someone")
            deck = entries.add_deck(owner, description="deck")
            entries.record_fault(entries.open_job(deck, opened=date(2026, 4, 1)), text=" ")

    with pytest.raises(EntryRefused, match="say what is faulty"):
        take_in_with_a_nameless_fault()
    assert (Owner.objects.count(), Job.objects.count(), OwnerDetails.objects.count()) == (0, 0, 0)
    assert verify_chain().lines == 0


def test_erasing_an_owner_leaves_the_record_whole(bench):
    before = verify_chain().lines
    entries.erase_owner_details(bench.owner)
    owner = Owner.objects.get(pk=bench.owner.pk)
    assert owner.name == "Owner 1"
    assert not OwnerDetails.objects.exists()
    assert owner.details_changes.get().what == "erased"
    report = verify_chain()
    assert (report.fault, report.lines) == ("", before + 1)


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "sqlite", reason="looks into SQLite's own files")
def test_erased_and_replaced_details_leave_the_disk():
    owner = entries.add_owner(name="Quirinius Obergfell", contact="Marmalade Lane 7")
    entries.replace_owner_details(owner, name="Q. Someone", contact="")
    entries.erase_owner_details(owner)
    book = Path(connection.settings_dict["NAME"])
    remains = b"".join(path.read_bytes() for path in book.parent.glob(f"{book.name}*"))
    assert b"jobbook_ownerdetails" in remains
    for words in (b"Obergfell", b"Marmalade", b"Q. Someone"):
        assert words not in remains


def test_a_damaged_or_missing_file_is_said(bench):
    sha256 = content_store.keep(b"to be damaged")
    content_store.path_of(sha256).write_bytes(b"damaged")
    with pytest.raises(content_store.ContentDamaged, match="was changed since it was kept"):
        content_store.read(sha256)
    content_store.path_of(sha256).unlink()
    with pytest.raises(content_store.ContentDamaged, match="no longer"):
        content_store.read(sha256)


@pytest.mark.parametrize("name", ["../../etc/passwd", "A" * 64, "0" * 63, ""])
def test_only_a_hash_names_a_file(name):
    with pytest.raises(ValueError, match="is not a SHA-256"):
        content_store.path_of(name)
