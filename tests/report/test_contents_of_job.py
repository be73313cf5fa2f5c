"""From the rows of a job to the contents of its report."""

from __future__ import annotations

import datetime

import pytest

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import entries
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.job_states import job_state
from groovewright.jobbook.models import Job, LedgerEntry, Reading
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.report.contents import COME_BACK_HOURS, contents_of_job, head_of, proposal
from groovewright.report.parts import AS_FOUND, AS_LEFT, DETAILS_DELETED, HandOver
from groovewright.report.pdf import report_pdf
from groovewright.web.report_page.issuing import issue

pytestmark = pytest.mark.django_db


def length(value_mm: float, label: str, uncertainty_mm: float = 0.1) -> Quantity:
    return Quantity.measured(value_mm, "mm", standard_uncertainty=uncertainty_mm, source=label)


def grams(value_g: float) -> Quantity:
    return Quantity.exact(value_g * GRAM_FORCE_MN, "mN")


@pytest.fixture
def opened() -> Job:
    """A job of which nothing is known but the deck and the complaint."""
    owner = entries.add_owner(name="Ottilie Brandt", contact="by the canal")
    deck = entries.add_deck(owner, description="belt drive in ash")
    return entries.open_job(deck, opened=datetime.date(2031, 5, 4), complaint="Esses spit on the last track.")


@pytest.fixture
def finished(opened: Job) -> Job:
    """A job that was read as found and as left, with a correction and a withdrawal on the way."""
    arm = entries.add_arm(
        opened.deck,
        description="nine-inch arm with slots",
        effective_mass=Quantity.measured(11.5, "g", standard_uncertainty=0.5, source="maker, arm"),
    )
    cartridge = entries.add_cartridge(
        description="moving coil",
        tracking_force_lower=grams(1.7),
        tracking_force_upper=grams(2.1),
        compliance=Quantity.measured(12, "um/mN", standard_uncertainty=1.0, source="maker, compliance"),
        compliance_at=Quantity.exact(10, "Hz"),
        mass=Quantity.measured(8.5, "g", standard_uncertainty=0.1, source="kitchen scale"),
    )
    entries.record_intake(opened, innermost_mm=60.325, outermost_mm=146.05, arm=arm, cartridge=cartridge)
    rule = entries.add_gauge(description="steel rule 3", certificate="letter of 2030")
    distance = length(222.0, "pivot to spindle", 0.3)

    def read(kind: str, stage: str, text: str, quantity: Quantity, **more: object) -> Reading:
        return entries.record_reading(opened, kind=kind, stage=stage, text=text, quantity=quantity, **more)

    read("pivot_to_spindle", AS_FOUND, "222 mm +- 0.3 mm", distance, gauge=rule)
    targets = choose_targets(TargetRequest(distance, "minimax", 60.325, 146.05))
    entries.record_targets(opened, targets)
    overhang = targets.overhang.value
    slip = read("overhang", AS_FOUND, "51", length(51.0, "overhang, first"), gauge=rule)
    read(
        "overhang", AS_FOUND, "15.4", length(overhang - 1.9, "overhang, corrected"), gauge=rule, corrects=slip,
        note="typed with a slip",
    )  # fmt: skip
    read("overhang", AS_LEFT, "17.3", length(overhang + 0.05, "overhang, as left"), gauge=rule)

    scale = entries.add_scale(description="Scale 2", resolution=grams(0.01), repeatability=grams(0.004))
    weights = [weight_of_class(f"{n} g, box 1", nominal_g=n, accuracy_class="M1") for n in (1.0, 2.0, 5.0)]
    for when in ("before", "after"):
        entries.check_scale(
            scale,
            job=opened,
            when=when,
            readings=[WeightReading((), 0.0)]
            + [WeightReading((w,), w.mass.value * GRAM_FORCE_MN) for w in weights for _ in range(2)],
        )
    for stage, shown in ((AS_FOUND, 1.5), (AS_LEFT, 1.9)):
        for place in ("outer", "inner"):
            for _ in range(2):
                read("tracking_force", stage, f"{shown} g", grams(shown), place=place, scale=scale)
    stray = read("tracking_force", AS_LEFT, "9 g", grams(9.0), place="outer", scale=scale)
    entries.withdraw_reading(stray, note="wrong job")
    entries.record_fault(opened, text="The arm lift drops too fast.")
    return opened


def test_the_report_has_the_state_of_the_job_and_no_other(finished):
    contents, state = contents_of_job(finished), job_state(job_record(finished))
    assert contents.state == state
    assert contents.state.as_found.setting("effective_length").outcome == OUT_OF_TOLERANCE
    assert contents.state.as_left.setting("effective_length").outcome == IN_TOLERANCE
    assert contents.resonance.verdict.measured.unit == "Hz"


def test_curves_end_where_the_estimate_says(finished):
    contents = contents_of_job(finished)
    assert set(contents.grooves) == {AS_FOUND, AS_LEFT}
    for course in contents.grooves.values():
        peak = max(map(abs, course.tracking_error_deg))
        assert peak == pytest.approx(course.peak_tracking_error.value, abs=0.01)
    assert max(contents.target_curves.distortion_percent) < contents.grooves[AS_FOUND].peak_distortion.value


def test_every_reading_is_listed_with_what_became_of_it(finished):
    readings = {reading.number: reading for reading in contents_of_job(finished).readings}
    assert len(readings) == Reading.objects.filter(job=finished).count()
    assert readings[2].corrected_by == 3
    assert readings[3].corrects == 2
    withdrawal = readings[len(readings)]
    assert withdrawal.quantity is None
    assert withdrawal.corrects == len(readings) - 1
    assert readings[4].gauge == "steel rule 3"


def test_the_scale_is_listed_with_weights_gain_offset_and_drift(finished):
    (rule, scale) = contents_of_job(finished).gauges
    assert (rule.name, rule.certificate) == ("steel rule 3", "letter of 2030")
    facts = {fact.label: fact.value for fact in scale.calibration}
    assert "class M1 of OIML R 111-1:2004" in facts["Weights, before the readings"]
    assert facts["Gain, before"].value == pytest.approx(1, abs=1e-6)
    assert facts["Offset, after"].standard_uncertainty > 0
    assert facts["Drift, after minus before"].value == pytest.approx(0, abs=1e-6)


def test_the_report_rests_on_the_last_entry_of_its_job_alone(finished):
    contents = contents_of_job(finished)
    last = LedgerEntry.objects.get(sequence=int(contents.record_number))
    assert contents.record_hash == last.digest
    assert last.table.endswith("fault")
    entries.add_owner(name="someone else")
    assert contents_of_job(finished).record_hash == contents.record_hash
    assert report_pdf(contents_of_job(finished)) == report_pdf(contents)
    entries.record_fault(finished, text="One more.")
    assert int(contents_of_job(finished).record_number) > int(contents.record_number)


def test_a_job_makes_a_report_that_can_be_read(finished, words_of):
    words = words_of(report_pdf(contents_of_job(finished, report_number="1-R1")))
    for expected in (
        "Set-up report 1-R1",
        "As left: 2 in tolerance; not read: side force, zenith, azimuth, stylus rake angle, vertical tracking angle.",
        "Ottilie Brandt",
        "The arm lift drops too fast.",
        "as the player came in, and is",
        "does not count, see no. 3",
        "Not read as found: side force",
        "Second-harmonic distortion",
    ):
        assert expected in words, expected


def test_making_it_again_gives_the_same_file(finished):
    assert report_pdf(contents_of_job(finished)) == report_pdf(contents_of_job(finished))


def test_a_new_job_says_what_is_missing(opened, words_of):
    contents = contents_of_job(opened)
    assert contents.state.as_left is None
    assert contents.targets is None
    assert any(sentence.startswith("Not read as found: effective length") for sentence in contents.missing)
    words = words_of(report_pdf(contents))
    assert "nothing was changed or read as left yet" in words
    assert "Esses spit on the last track." in words


def test_an_erased_owner_is_gone_from_the_report(finished, words_of):
    entries.erase_owner_details(finished.deck.owner)
    contents = contents_of_job(Job.objects.get(pk=finished.pk))
    assert contents.owner == DETAILS_DELETED
    assert "Ottilie" not in words_of(report_pdf(contents))


def test_the_complaint_is_told_as_it_stands_now(opened):
    before = contents_of_job(opened)
    entries.correct_complaint(opened, text="Esses spit on every track.")
    after = contents_of_job(opened)
    assert (before.complaint, after.complaint) == ("Esses spit on the last track.", "Esses spit on every track.")
    assert int(after.record_number) == int(before.record_number) + 1


def test_a_targets_choice_that_no_reading_backs_is_still_told(opened):
    tangential = TargetRequest(None, "minimax", 60.325, 146.05, arm_kind="tangential")
    entries.record_targets(opened, choose_targets(tangential))
    contents = contents_of_job(opened)
    assert contents.targets.criterion == "Tangential arm: no tracking error anywhere, so no criterion to choose"
    assert contents.targets.why.startswith("Chosen for a tangential arm and the groove from 60.325 to 146.05 mm.")
    assert next(fact.label for fact in contents.targets.quantities).startswith("Largest tracking error")
    assert contents.target_curves is None
    assert contents.state.as_found.setting("zenith").basis == "does not apply"
    assert report_pdf(contents).startswith(b"%PDF")


def test_a_new_report_begins_with_what_the_last_one_said(finished):
    today = datetime.date(2031, 5, 6)
    first = proposal(job_record(finished), today=today)
    assert first == HandOver(come_back_hours=COME_BACK_HOURS, come_back_on=datetime.date(2032, 5, 5))
    said = HandOver(
        done=("Cleaned.",), parts_fitted=("Belt",), time_spent="1 h", come_back_hours=300, come_back_on=today
    )
    issue(finished, said, workshop="Tern Lane Record Bench")
    assert proposal(job_record(finished), today=today) == said
    assert head_of().name == "Tern Lane Record Bench"
    assert head_of("Another").name == "Another"


def test_the_letterhead_is_used_from_then_on_and_old_reports_keep_theirs(finished, words_of, picture):
    from groovewright.jobbook import content_store

    old = issue(finished, workshop="Tern Lane Record Bench")
    kept = content_store.read(old.file_sha256)
    logo = picture(form="PNG")
    entries.set_letterhead(
        name="Otter & Reed", address="2 Weir Walk\n Alderby ", logo=logo, logo_media_type="image/png"
    )
    new = issue(finished)
    assert content_store.read(old.file_sha256) == kept
    assert "Tern Lane Record Bench" in words_of(kept)
    words = words_of(content_store.read(new.file_sha256))
    assert "Otter & Reed" in words
    assert "2 Weir Walk" in words
    assert new.assessment["workshop"] == "Otter & Reed"
    assert head_of().logo == logo
    entries.set_letterhead(name="Otter & Reed", keep_logo=True)
    assert head_of().logo == logo
    entries.set_letterhead(name="Otter & Reed")
    assert head_of().logo is None


def test_a_letterhead_without_a_name_is_refused(db):
    with pytest.raises(entries.EntryRefused, match="needs the name of the workshop"):
        entries.set_letterhead(name=" ")


def test_a_photo_of_another_job_is_refused(finished):
    with pytest.raises(ValueError, match="is not among the files of this job"):
        contents_of_job(finished, words=HandOver(photos={"0" * 8: "x"}))


def test_an_issued_report_keeps_its_settings_and_what_was_said(finished, picture):
    photo = entries.attach_file(finished, name="stylus.jpg", media_type="image/jpeg", content=picture())
    row = issue(finished, HandOver(done=("Cleaned.",), photos={str(photo.uid): "Clean"}), workshop="Bench")
    assert row.assessment["settings"] == job_state(job_record(finished)).settings_json()
    assert row.assessment["words"]["photos"] == {str(photo.uid): "Clean"}
