"""From the rows of a job to the contents of its report."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
from groovewright.bench.estimate.consequence import consequence_of_length

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import entries
from groovewright.jobbook.models import Job, LedgerEntry, Reading
from groovewright.jobbook.queries import assess_job
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.report.contents import contents_of_job
from groovewright.report.findings import consequence_sentence
from groovewright.report.parts import AS_FOUND, AS_LEFT, DETAILS_DELETED, TARGET
from groovewright.report.pdf import report_pdf

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


def test_verdicts_are_those_of_the_assessment(finished):
    contents, assessment = contents_of_job(finished), assess_job(finished)
    by_key = {(j.setting, j.stage): j.verdict for j in contents.judgements}
    for stage, result in ((AS_FOUND, assessment.as_found), (AS_LEFT, assessment.as_left)):
        assert by_key["effective length error", stage] == result.length.verdict
        assert by_key["tracking force", stage] == result.force.verdict
    assert by_key["effective length error", AS_FOUND].outcome == OUT_OF_TOLERANCE
    assert by_key["effective length error", AS_LEFT].outcome == IN_TOLERANCE
    assert contents.resonance.verdict == assessment.resonance.verdict


def test_the_report_says_what_the_length_as_left_does(finished):
    contents, assessment = contents_of_job(finished), assess_job(finished)
    said = {(j.setting, j.stage): j.consequence for j in contents.judgements}["effective length error", AS_LEFT]
    assert said == consequence_of_length(assessment.targets, assessment.as_left.length).describe("as left")
    assert "With the length as left" in said
    assert "(95 %)" in said


def test_a_length_that_no_groove_can_bear_is_told_and_breaks_no_page(finished):
    assessment = assess_job(finished)
    fast = replace(assessment.targets, request=replace(assessment.targets.request, peak_velocity_cm_s=2000.0))
    said = consequence_sentence(replace(assessment, targets=fast), assessment.as_found)
    assert said.startswith("What the length as found does cannot be told: ")
    assert "steeper than a groove can be read" in said


def test_curves_end_where_the_assessment_says(finished):
    contents, assessment = contents_of_job(finished), assess_job(finished)
    curves = {curve.stage: curve for curve in contents.curves}
    assert set(curves) == {AS_FOUND, AS_LEFT, TARGET}
    for stage, result in ((AS_FOUND, assessment.as_found), (AS_LEFT, assessment.as_left)):
        # Half a step of the plot away from the true peak at most.
        assert max(map(abs, curves[stage].tracking_error_deg)) == pytest.approx(
            consequence_of_length(assessment.targets, result.length).peak_tracking_error.value, abs=0.01
        )
    assert max(curves[TARGET].distortion_percent) == pytest.approx(assessment.targets.peak_distortion.value, abs=0.01)
    assert "offset angle was not measured" in contents.curves_note


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
    assert contents_of_job(finished) == contents
    entries.record_fault(finished, text="One more.")
    assert int(contents_of_job(finished).record_number) > int(contents.record_number)


def test_a_job_makes_a_report_that_can_be_read(finished, words_of):
    words = words_of(report_pdf(contents_of_job(finished, workshop="Tern Lane Record Bench", report_number="1-R1")))
    for expected in (
        "Set-up report 1-R1",
        "In tolerance as left: effective length error and tracking force.",
        "Ottilie Brandt",
        "The arm lift drops too fast.",
        "The effective length was brought from",
        "does not count, see no. 3",
        "side force, azimuth",
        "Second-harmonic distortion",
    ):
        assert expected in words, expected


def test_making_it_again_gives_the_same_file(finished):
    assert report_pdf(contents_of_job(finished)) == report_pdf(contents_of_job(finished))


def test_a_new_job_says_what_is_missing(opened, words_of):
    contents = contents_of_job(opened)
    assert contents.judgements == ()
    assert contents.targets is None
    assert "Effective length as found: not measured." in contents.missing
    words = words_of(report_pdf(contents))
    assert "There is no verdict yet" in words
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
    assert "A tangential arm has no effective length, so no verdict on one applies." in contents.missing
    assert not any(sentence.startswith("Effective length as") for sentence in contents.missing)
    assert next(fact.label for fact in contents.targets.quantities).startswith("Largest tracking error")
    assert [curve.stage for curve in contents.curves] == [TARGET]
    assert report_pdf(contents).startswith(b"%PDF")
