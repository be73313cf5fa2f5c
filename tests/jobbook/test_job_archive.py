"""A job taken from one book to another arrives whole, or not at all."""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from groovewright.files.archive import Archive, ArchiveRefused, pack, unpack
from groovewright.jobbook import content_store, entries
from groovewright.jobbook.archive_rows import TABLES, plain_row
from groovewright.jobbook.bench_inputs import job_bench
from groovewright.jobbook.chain_check import verify_chain
from groovewright.jobbook.job_archive import export_jobs, import_jobs
from groovewright.jobbook.job_facts import facts_of
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.models import Deck, Job, LedgerEntry, Owner, OwnerDetails, Reading
from groovewright.measurement.quantity import Quantity

pytestmark = pytest.mark.django_db


def forget_everything(settings: Any, folder: Path, export: Callable[[], Any]) -> Any:
    """Return what `export` gives, and take back all that it wrote: the book is another one afterwards."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(settings, "CONTENT_DIR", folder / "there")
        with transaction.atomic():
            result = export()
            transaction.set_rollback(True)
    return result


@pytest.fixture(scope="module")
def exported(django_db_setup, django_db_blocker, tmp_path_factory, fill_the_book) -> dict[str, Any]:
    """A full job of another book: its archive, with and without the owner's details, its inputs and its rows."""

    def export() -> dict[str, Any]:
        bench = fill_the_book()
        entries.withdraw_reading(bench.reading, note="rule slipped")
        return {
            "archive": export_jobs([bench.job]),
            "with details": export_jobs([bench.job], with_owner_details=True),
            "inputs": facts_of(job_record(bench.job)),
            "bench inputs": job_bench(job_record(bench.job)).inputs,
            "rows": {t: [plain_row(row) for row in m.objects.order_by("pk")] for t, m in TABLES.items()},
        }

    with django_db_blocker.unblock():
        return forget_everything(django_settings, tmp_path_factory.mktemp("books"), export)


@pytest.fixture
def elsewhere(db, settings, tmp_path, exported) -> dict[str, Any]:
    settings.CONTENT_DIR = tmp_path / "here"
    return exported


def test_a_job_arrives_with_all_that_it_rests_on(elsewhere):
    result = import_jobs(elsewhere["archive"])
    (job,) = result.added
    assert result.known == ()
    assert facts_of(job_record(job)) == elsewhere["inputs"]
    assert {t: [plain_row(row) for row in m.objects.order_by("pk")] for t, m in TABLES.items()} == elsewhere["rows"]
    assert content_store.read(job.reports.get().file_sha256) == b"report 1-R1"
    assert content_store.read(job.attachments.get().file_sha256) == b"picture"
    assert job.archive_import.archive_sha256 == hashlib.sha256(elsewhere["archive"]).hexdigest()
    assert verify_chain().fault == ""


def test_an_archive_from_before_a_column_was_added_arrives_with_it_empty(elsewhere):
    older = tampered(elsewhere["archive"], lambda rows, files: [row.pop("maximum_risk") for row in rows["intake"]])
    (job,) = import_jobs(older).added
    rule, now = facts_of(job_record(job)).rule, elsewhere["inputs"].rule
    assert (rule.kind, rule.guard_factor, rule.maximum_risk) == (now.kind, now.guard_factor, None)
    assert verify_chain().fault == ""


def test_an_archive_from_before_the_bench_arrives_with_nothing_of_it(elsewhere):
    def before_the_bench(rows, files):
        del rows["adjustmentmade"]
        rows["reading"] = [row for row in rows["reading"] if row["kind"] not in ("null_angle", "arc_trace")]
        for table, columns in {
            "reading": ("radius_mm", "bearing_deg", "laying"),
            "intake": ("tolerances", "stylus_hours"),
            "arm": ("build", "adjuster_limits"),
        }.items():
            for row in rows[table]:
                for column in columns:
                    del row[column]

    (job,) = import_jobs(tampered(elsewhere["archive"], before_the_bench)).added
    record = job_record(job)
    assert (record.adjustments, record.intake.tolerances, record.intake.stylus_hours) == ((), None, None)
    assert record.intake.arm.build is None
    assert job_bench(record).inputs.moves == ()
    assert verify_chain().fault == ""


def test_moves_typed_angles_and_limits_arrive_as_they_were(elsewhere):
    (job,) = import_jobs(elsewhere["archive"]).added
    assert job_bench(job_record(job)).inputs == elsewhere["bench inputs"]


def test_personal_data_travels_only_when_asked_for(elsewhere):
    assert b"Marwitz" not in elsewhere["archive"]
    assert set(unpack(elsewhere["archive"]).rows) == set(TABLES)
    import_jobs(elsewhere["archive"])
    assert not OwnerDetails.objects.exists()


def test_personal_data_arrives_when_it_was_asked_for(elsewhere):
    import_jobs(elsewhere["with details"])
    assert Owner.objects.get().name == "Ilse Marwitz"


def test_the_same_archive_twice_is_recognised(elsewhere):
    (job,) = import_jobs(elsewhere["archive"]).added
    lines = LedgerEntry.objects.count()
    again = import_jobs(elsewhere["archive"])
    assert (again.added, again.known) == ((), (job,))
    assert LedgerEntry.objects.count() == lines


def test_an_older_archive_of_a_job_that_went_on_is_recognised(elsewhere):
    (job,) = import_jobs(elsewhere["archive"]).added
    entries.record_fault(job, text="hum on the left")
    assert import_jobs(elsewhere["archive"]).known == (job,)
    newer = export_jobs([job])
    assert import_jobs(newer).known == (job,)


def test_numbers_that_are_taken_here_are_replaced_and_papers_keep_theirs(elsewhere):
    owner = entries.add_owner()
    here = entries.open_job(entries.add_deck(owner, description="another deck"), opened=date(2026, 1, 1))
    (job,) = import_jobs(elsewhere["archive"]).added
    assert (here.number, job.number, job.deck.number, job.deck.owner.number) == (1, 2, 2, 2)
    assert job.plates.get().number == "1-P1"
    assert job.archive_import.number_there == 1
    plate = entries.issue_plate(job, entries_request(job))
    assert plate.number == "2-P2"


def entries_request(job: Job) -> Any:
    from groovewright.jobbook.plate_files import request_from_record

    return request_from_record(job.plates.get().request)


def test_two_jobs_of_one_deck_share_it_on_arrival(settings, tmp_path, fill_the_book):
    def export() -> list[bytes]:
        bench = fill_the_book()
        deck = entries.correct_deck(bench.deck, description="belt-drive deck, oiled walnut plinth")
        second = entries.open_job(deck, opened=date(2026, 5, 1))
        return [export_jobs([bench.job]), export_jobs([second])]

    first, second = forget_everything(settings, tmp_path, export)
    settings.CONTENT_DIR = tmp_path / "here"
    entries.add_deck(entries.add_owner(), description="deck 1 of this book")
    (one,) = import_jobs(first).added
    (two,) = import_jobs(second).added
    assert Deck.objects.filter(number=2).count() == 2
    assert one.deck.current() == two.deck


def tampered(archive: bytes, change: Callable[[dict[str, Any], dict[str, bytes]], None]) -> bytes:
    whole = unpack(archive)
    rows, files = copy.deepcopy(dict(whole.rows)), dict(whole.files)
    change(rows, files)
    return pack(Archive(rows, files))


def _set(table: str, field: str, value: Any) -> Callable[[dict[str, Any], dict[str, bytes]], None]:
    def change(rows: dict[str, Any], files: dict[str, bytes]) -> None:
        rows[table][0][field] = value

    return change


def _null_reading(rows: dict[str, Any]) -> dict[str, Any]:
    return next(row for row in rows["reading"] if row["kind"] == "null_angle")


TAMPERINGS = {
    "no job": (lambda rows, files: rows.update(job=[]), "holds no job"),
    "strange table": (lambda rows, files: rows.update(user=[]), "rows of 'user'"),
    "field missing": (lambda rows, files: rows["deck"][0].pop("note"), "lacks or adds the field 'note'"),
    "field added": (_set("deck", "id", 1), "lacks or adds the field 'id'"),
    "text for a number": (_set("intake", "innermost_mm", "60"), "innermost_mm cannot be '60'"),
    "truth for a number": (_set("intake", "innermost_mm", True), "innermost_mm cannot be 'True'"),
    "huge number": (_set("intake", "innermost_mm", 10**400), "innermost_mm cannot be"),
    "negative number": (_set("job", "number", -4), "number cannot be '-4'"),
    "nothing where something must be": (_set("reading", "text", None), "text cannot be 'None'"),
    "no date": (_set("job", "opened", "2026-13-40"), "opened cannot be"),
    "time without zone": (_set("job", "recorded_at", "2026-01-01T10:00:00"), "recorded_at cannot be"),
    "no zone": (_set("job", "recorded_zone", "../../etc"), "time zone '../../etc'"),
    "no identity": (_set("job", "uid", "x"), "impossible uid"),
    "unknown kind": (_set("reading", "kind", "zenith"), "impossible kind"),
    "text too long": (_set("deck", "description", "x" * 301), "impossible description"),
    "NUL in a text": (_set("deck", "description", "x\0"), "description cannot be"),
    "no quantity": (_set("reading", "quantity", {"value": 1}), "quantity cannot be"),
    "quantity in inches": (_set("reading", "quantity", Quantity.exact(9, "in").as_record()), "in its unit"),
    "reading without quantity": (lambda rows, files: rows["reading"][1].update(quantity=None), "in the archive"),
    "row of nowhere": (_set("job", "deck", "00000000-0000-0000-0000-000000000001"), "does not stand before it"),
    "row of another table": (
        lambda rows, files: rows["job"][0].update(deck=rows["owner"][0]["uid"]),
        "deck in the archive names a owner",
    ),
    "same identity twice": (lambda rows, files: rows["deck"].append(dict(rows["deck"][0])), "two rows with"),
    "odd request of a plate": (_set("issuedplate", "request", {"geometry": 3}), "makes no job"),
    "odd check of a scale": (_set("scalecheck", "readings", [1]), "makes no job"),
    "odd null radii": (_set("targetchoice", "null_radii", [{}]), "makes no job"),
    "unknown decision rule": (_set("intake", "decision_rule", "hope"), "makes no job"),
    "odd files of a plate": (_set("issuedplate", "files", [1]), "in the archive"),
    "path for a file": (_set("issuedreport", "file_sha256", "../../evil"), "does not hold it"),
    "move of no adjuster": (_set("adjustmentmade", "amounts", {"volume": 1.0}), "makes no job"),
    "move without its uncertainty": (_set("adjustmentmade", "uncertainties", {}), "makes no job"),
    "move by a word": (_set("adjustmentmade", "amounts", {"slide_mm": "far", "turn_deg": 0.0}), "makes no job"),
    "limits of no setting": (_set("intake", "tolerances", {"loudness": {"lower": 1}}), "makes no job"),
    "limits upside down": (_set("intake", "tolerances", {"azimuth": {"lower": 1, "upper": -1}}), "makes no job"),
    "no arm's build": (_set("arm", "build", {"bearing": "magic"}), "makes no job"),
    "limits of no adjuster": (_set("arm", "adjuster_limits", {"slide_mm": [1, 2]}), "makes no job"),
    "radius of no groove": (lambda rows, files: _null_reading(rows).update(radius_mm=-3.0), "makes no job"),
    "tracking error at no radius": (lambda rows, files: _null_reading(rows).update(radius_mm=None), "makes no job"),
    "file missing": (lambda rows, files: files.clear(), "does not hold it"),
    "wrong size": (_set("attachment", "size", 3), "another size"),
    "two plates of one number": (
        lambda rows, files: rows["issuedplate"].append(
            {**rows["issuedplate"][0], "uid": "00000000-0000-0000-0000-000000000002"}
        ),
        "contradict each other",
    ),
}


@pytest.mark.parametrize("name", TAMPERINGS)
def test_a_tampered_archive_is_refused_and_leaves_nothing(elsewhere, settings, name):
    change, words = TAMPERINGS[name]
    with pytest.raises(ArchiveRefused, match=words) as refusal:
        import_jobs(tampered(elsewhere["archive"], change))
    assert "\n" not in str(refusal.value)
    assert LedgerEntry.objects.count() == Owner.objects.count() == Reading.objects.count() == 0
    assert [path for path in Path(settings.CONTENT_DIR).rglob("*") if path.is_file()] == []


def test_an_archive_that_contradicts_this_book_is_refused(elsewhere):
    import_jobs(elsewhere["archive"])
    lines = LedgerEntry.objects.count()
    with pytest.raises(ArchiveRefused, match="tells something else of it"):
        import_jobs(tampered(elsewhere["archive"], _set("job", "complaint", "none")))
    fault = {"uid": "00000000-0000-0000-0000-000000000003", "corrects": None}
    with pytest.raises(ArchiveRefused, match="holds other entries of it"):
        import_jobs(
            tampered(elsewhere["archive"], lambda rows, files: rows["fault"].append({**rows["fault"][0], **fault}))
        )
    assert LedgerEntry.objects.count() == lines


JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_value_in_any_field_gets_past_as_an_unforeseen_error(elsewhere, data):
    rows = unpack(elsewhere["archive"]).rows
    table = data.draw(st.sampled_from(sorted(table for table in rows if rows[table])))
    field = data.draw(st.sampled_from(sorted(rows[table][0])))
    with transaction.atomic():
        try:
            result = import_jobs(tampered(elsewhere["archive"], _set(table, field, data.draw(JSON_VALUES))))
        except ArchiveRefused:
            assert LedgerEntry.objects.count() == 0
        else:
            assert len(result.added) == 1
        transaction.set_rollback(True)
