"""What the pages read: few queries, what stands now, and the bench's view of a job."""

from __future__ import annotations

import math
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from groovewright.bench.estimate.joined_readings import join_readings
from groovewright.bench.targets.targets import choose_targets
from groovewright.jobbook import entries, queries
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.job_states import progress_of, steps_of
from groovewright.jobbook.ledger import append
from groovewright.jobbook.models import Cartridge, Gauge, Intake, Job
from groovewright.measurement.conformity import IN_TOLERANCE, UNDECIDED, DecisionRule, Tolerance, decide
from groovewright.measurement.quantity import Quantity, Source, covariance

pytestmark = pytest.mark.django_db


def length(value: float, source: str) -> Quantity:
    return Quantity.measured(value, "mm", standard_uncertainty=0.2, source=source)


def test_a_page_of_jobs_takes_four_queries_however_many_jobs_there_are(bench):
    for day in range(1, 29):
        owner = entries.add_owner(name=f"Owner of day {day}")
        entries.open_job(entries.add_deck(owner, description=f"deck {day}"), opened=date(2026, 2, day))
    with CaptureQueriesContext(connection) as asked:
        page = queries.job_page(1)
        names = [(row.job.number, row.job.deck.owner.name, row.deck.description, row.reached) for row in page.jobs]
    assert len(asked) == 4
    assert names[0] == (29, "Owner of day 28", "deck 28", "opened")
    assert (len(names), page.total, page.last_number, page.has_previous, page.has_next) == (25, 29, 2, False, True)
    last = queries.job_page(2).jobs[-1]
    assert (last.job, last.reached) == (bench.job, "report issued")


@pytest.mark.parametrize(
    ("search", "found"),
    [("marwitz", 1), ("WALNUT", 1), ("harsh side", 1), ("1", 1), ("walnut 1", 1), ("nobody", 0), ("99999999999999", 0)],
)
def test_jobs_are_found_by_owner_deck_complaint_and_number(bench, search, found):
    assert queries.job_page(1, search=search).total == found


def test_a_page_beyond_the_last_is_the_last():
    assert queries.job_page(40).number == 1


def test_the_list_shows_a_deck_as_it_is_described_now(bench):
    entries.correct_deck(bench.deck, description="belt-drive deck, cherry plinth")
    assert queries.job_page().jobs[0].deck.description == "belt-drive deck, cherry plinth"
    assert queries.deck_now(bench.job).description == "belt-drive deck, cherry plinth"


def test_a_whole_job_takes_one_query_a_table_and_its_inputs_none(bench):
    job = Job.objects.select_related("deck").get(pk=bench.job.pk)
    with CaptureQueriesContext(connection) as asked:
        queries.facts_of(queries.job_record(job))
    # One a table that belongs to the job, and one for each table that its readings name.
    assert len(asked) <= 17


def test_corrected_and_withdrawn_readings_do_not_count(bench):
    second = entries.record_reading(
        bench.job, kind="pivot_to_spindle", stage="as found", text="x", quantity=length(222.8, "second")
    )
    corrected = entries.record_reading(
        bench.job,
        kind="pivot_to_spindle",
        stage="as found",
        text="y",
        quantity=length(222.6, "second again"),
        corrects=second,
    )
    entries.withdraw_reading(bench.reading, note="rule slipped")
    assert queries.facts_of(queries.job_record(bench.job)).pivot_to_spindle == (corrected.quantity,)
    record = queries.job_record(bench.job)
    assert len(record.all_readings) == len(record.readings) + 3
    assert [reading.kind for reading in queries.current_readings(bench.job)] == [r.kind for r in record.readings]


def test_the_bench_sees_what_was_entered(bench):
    record = queries.job_record(bench.job)
    facts, progress = queries.facts_of(record), progress_of(record)
    choice = bench.job.target_choices.get()
    assert queries.targets_of(choice) == choose_targets(facts.target_request)
    assert progress.plates[0].number == "1-P1"
    assert (progress.plates[0].bar_x_mm, progress.plates[0].bar_y_mm) == (99.8, None)
    assert facts.scale_check_before.readings[1].weights[0].name == "2 g, box 1"
    assert facts.scale_check_after is None
    assert "play in the horizontal bearing" in progress.state.now.faults
    assert [report.entries_since for report in progress.reports] == [0]
    assert [step.key for step in steps_of(record)] == ["take in", "choose", "plate", "bench", "report"]


def test_entries_after_a_report_are_counted(bench):
    entries.record_fault(bench.job, text="hum")
    entries.record_intake(bench.job, innermost_mm=60, outermost_mm=146)
    assert progress_of(queries.job_record(bench.job)).reports[-1].entries_since == 2


def test_an_empty_job_has_inputs(bench):
    job = entries.open_job(bench.deck, opened=date(2026, 4, 1))
    assert queries.facts_of(queries.job_record(job)).target_request is None
    assert list(queries.jobs_of_deck(bench.deck)) == [job, bench.job]


def test_a_fixed_headshell_has_equal_limits(bench):
    drawn = Quantity.exact(239.3, "mm")
    arm = entries.add_arm(
        bench.deck,
        description="fixed",
        drawn_effective_length=drawn,
        effective_length_fixed=True,
        offset_angle_lower_deg=20.0,
        offset_angle_upper_deg=25.0,
    )
    entries.record_intake(bench.job, innermost_mm=60, outermost_mm=146, arm=arm)
    facts = queries.facts_of(queries.job_record(bench.job)).arm
    assert facts.effective_length_limits_mm == (239.3, 239.3)
    assert facts.offset_angle_limits_deg == (20.0, 25.0)


def test_only_rows_that_stand_are_offered(bench):
    old = Cartridge.objects.get()
    new = entries.add_cartridge(description="the same, by its right name", corrects=old)
    assert list(queries.current_rows(Cartridge)) == [new]


def test_source_labels_of_new_readings_differ(bench):
    first = queries.next_reading_source(bench.job, "overhang")
    entries.record_reading(bench.job, kind="overhang", stage="as found", text="17", quantity=length(17, first))
    assert first == "job 1, overhang, reading 1"
    assert queries.next_reading_source(bench.job, "overhang") == "job 1, overhang, reading 2"


def test_a_gauge_lends_its_uncertainty_and_correlates_what_it_reads(bench):
    gauge = Gauge.objects.get()
    first, second = (
        with_gauge_uncertainty(Quantity.unknown_uncertainty(value, "mm", why="none was typed"), gauge)
        for value in (222.0, 17.0)
    )
    assert first.standard_uncertainty == 0.1
    assert covariance(first, second) == pytest.approx(0.01)


def test_a_typed_uncertainty_keeps_its_size_and_shares_what_is_the_gauge_s(bench):
    gauge = Gauge.objects.get()
    first, second = (
        with_gauge_uncertainty(Quantity.measured(222, "mm", standard_uncertainty=u, source=f"typed {u}"), gauge)
        for u in (0.3, 0.2)
    )
    assert first.standard_uncertainty == pytest.approx(0.3)
    assert second.standard_uncertainty == pytest.approx(0.2)
    assert covariance(first, second) == pytest.approx(0.1**2)


def test_an_uncertainty_typed_below_the_gauge_s_is_the_gauge_s_wholly(bench):
    small = Quantity.measured(222, "mm", standard_uncertainty=0.04, source="typed")
    found = with_gauge_uncertainty(small, Gauge.objects.get())
    assert found.standard_uncertainty == pytest.approx(0.04)
    assert Source("typed") not in found.components


def test_two_readings_lent_one_gauge_keep_its_error_whole(bench):
    readings = [
        with_gauge_uncertainty(Quantity.unknown_uncertainty(value, "mm", why="none was typed"), Gauge.objects.get())
        for value in (222.0, 222.05)
    ]
    joined = join_readings(readings, name="distance")
    assert joined.agree
    # The gauge's 0.1, and half of 0.05 from the scatter of two.
    assert joined.quantity.standard_uncertainty == pytest.approx(math.hypot(0.1, 0.025))


@pytest.mark.parametrize(
    "quantity",
    [
        Quantity.exact(222, "mm", how="typed as exact"),
        Quantity.unknown_uncertainty(18, "mN", why="none was typed"),
    ],
)
def test_a_gauge_lends_nothing_to_what_is_exact_or_in_another_unit(bench, quantity):
    assert with_gauge_uncertainty(quantity, Gauge.objects.get()) == quantity
    assert with_gauge_uncertainty(quantity, None) == quantity


def test_the_risk_of_the_rule_holds_beyond_both_limits_of_a_narrow_tolerance(bench):
    narrow = Tolerance(-0.34, 0.34, "mm")
    entries.record_intake(
        bench.job,
        innermost_mm=60.325,
        outermost_mm=146.05,
        length_tolerance_lower_mm=narrow.lower,
        length_tolerance_upper_mm=narrow.upper,
        rule=DecisionRule.of_maximum_risk(0.05),
    )
    inputs = queries.facts_of(queries.job_record(bench.job))
    assert inputs.rule == DecisionRule.of_maximum_risk(0.05)
    # Inside by 1.7 standard uncertainties on either side: 2 x 4.5 % risk, though each limit alone keeps 5 %.
    centred = Quantity.measured(0.0, "mm", standard_uncertainty=0.2, source="length")
    assert decide(centred, inputs.length_tolerance, inputs.rule).outcome == UNDECIDED
    assert decide(centred, narrow, DecisionRule(guard_factor=inputs.rule.guard_factor)).outcome == IN_TOLERANCE


def test_an_intake_from_before_the_risk_was_kept_still_gives_its_rule(bench):
    old = bench.job.intakes.get()
    append(
        Intake(
            job=bench.job,
            version=old.version + 1,
            innermost_mm=old.innermost_mm,
            outermost_mm=old.outermost_mm,
            speed_rpm=old.speed_rpm,
            length_tolerance_lower_mm=-0.5,
            length_tolerance_upper_mm=0.5,
            decision_rule="guarded acceptance",
            guard_factor=2.0,
        )
    )
    assert queries.facts_of(queries.job_record(bench.job)).rule == DecisionRule("guarded acceptance", 2.0)
