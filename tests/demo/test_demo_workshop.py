"""The invented workshop: made once, whole, and in the states it was made for."""

from __future__ import annotations

import pytest

from groovewright.bench.visits.comparison import compare_visits
from groovewright.demo.book import make_demo_workshop
from groovewright.jobbook import queries
from groovewright.jobbook.chain_check import verify_chain
from groovewright.jobbook.job_states import next_step_of, progress_of, steps_of
from groovewright.jobbook.models import Job, LedgerEntry
from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(db):
    handed_over = []
    make_demo_workshop(hand_over=handed_over.append)
    assert [job.number for job in handed_over] == [1]
    return {job.number: queries.job_record(job) for job in Job.objects.all()}


def states(record) -> dict[str, str]:
    return {step.key: step.state for step in steps_of(record)}


def test_each_job_is_in_the_state_it_is_there_to_show(workshop):
    progress = {number: progress_of(record) for number, record in workshop.items()}
    state = {number: one.state for number, one in progress.items() if one.state is not None}
    assert state[1].as_found.setting("effective_length").outcome == OUT_OF_TOLERANCE
    assert state[1].as_left.setting("effective_length").outcome == IN_TOLERANCE
    assert state[1].as_left.setting("tracking_force").outcome == IN_TOLERANCE
    assert any("at the outer platter than at the inner" in fault for fault in state[2].now.faults)
    assert any("drift" in fault.lower() for fault in state[3].now.faults)
    assert state[4].as_found.setting("effective_length").outcome == OUT_OF_TOLERANCE
    assert state[4].as_found.setting("tracking_force").outcome == OUT_OF_TOLERANCE
    assert states(workshop[5])["plate"] == "done"
    assert states(workshop[5])["bench"] == "next"
    assert states(workshop[6])["plate"] == "next"
    assert states(workshop[7])["choose"] == "next"


def test_the_record_is_whole_and_making_it_again_changes_nothing(workshop):
    lines = LedgerEntry.objects.count()
    make_demo_workshop()
    assert verify_chain().fault == ""
    assert LedgerEntry.objects.count() == lines


def test_a_workshop_broken_off_before_its_report_is_made_whole_at_the_next_start(db):
    def killed(job):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        make_demo_workshop(hand_over=killed)
    assert not Job.objects.exists()
    handed_over = []
    make_demo_workshop(hand_over=handed_over.append)
    assert [job.number for job in handed_over] == [1]


def test_every_text_that_was_typed_is_the_quantity_it_stands_for(workshop):
    from groovewright.jobbook.models import Reading
    from groovewright.measurement.parsing import parse_quantity

    for reading in Reading.objects.filter(analysis=None):
        kind = {"mN": "force", "mm": "length", "deg": "angle"}[reading.quantity.unit]
        typed = parse_quantity(reading.text, kind, source="any")
        assert typed.value == reading.quantity.value
        assert typed.why_unknown == reading.quantity.why_unknown
        # A part of what was typed is the gauge's, so the sum of both may differ by rounding.
        assert (typed.standard_uncertainty or 0) == pytest.approx(reading.quantity.standard_uncertainty or 0, rel=1e-12)


def test_a_deck_that_was_set_up_in_all_seven_comes_back_with_its_counterweight_crept(workshop):
    first, second = queries.visits_of(Job.objects.get(number=8).deck)
    assert [visit.job.number for visit in (first, second)] == [8, 9]
    assert [visit.reason for visit in (first, second)] == ["", ""]
    assert len(first.visit.moves) == 5
    as_found, as_left = first.visit.as_found, first.visit.as_left
    assert as_found.setting("effective_length").verdict.outcome == OUT_OF_TOLERANCE
    assert [setting.key for setting in as_left.settings if setting.verdict.outcome != IN_TOLERANCE] == []
    compared = compare_visits(first.visit, second.visit)
    assert (compared.days, compared.stylus_hours) == (185, 145.0)
    assert {drift.key for drift in compared.changed} == {"tracking_force", "side_force"}


def test_a_deck_half_way_through_its_moves_is_told_what_to_do_next(workshop):
    record = queries.job_record(Job.objects.get(number=10))
    state = progress_of(record).state.now
    assert any("arc trace as found" in residual.label for residual in state.residuals)
    assert state.setting("tracking_force").basis == "calculated"
    assert next_step_of(record).kind == "move"


def test_the_capture_shows_the_deck_it_is_of(workshop):
    readings = Job.objects.get(number=1).readings.exclude(analysis=None)
    shown = {reading.kind: reading.quantity for reading in readings}
    truth = {"azimuth_rotation": 1.4, "speed_error": 0.18, "eccentricity": 0.05, "zenith_error": -0.7}
    for kind, value in truth.items():
        assert shown[kind].value == pytest.approx(value, abs=max(3 * shown[kind].standard_uncertainty, 0.01))
