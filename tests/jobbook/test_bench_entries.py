"""Typed readings of all seven settings, moves, limits and the arm's build: what goes in, and what is refused."""

from __future__ import annotations

import pytest

from groovewright.jobbook import entries
from groovewright.jobbook.bench_facts import AmountsMoved, adjuster_limits, adjustments, known_build, setting_limits
from groovewright.jobbook.deck_visits import visit_of
from groovewright.jobbook.entries import EntryRefused
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.reading_kinds import AT_A_RADIUS, READING_UNITS, TYPED_KINDS
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

pytestmark = pytest.mark.django_db


def read(bench, kind, unit=None, **facts):
    unit = unit or READING_UNITS[kind]
    quantity = Quantity.measured(1.5, unit, standard_uncertainty=0.2, source=f"reading of {kind}")
    return entries.record_reading(bench.job, kind=kind, stage="as found", text="1.5", quantity=quantity, **facts)


@pytest.mark.parametrize("kind", TYPED_KINDS)
def test_every_typed_kind_can_be_entered_and_withdrawn(bench, kind):
    facts = {"tracking_force": {"place": "outer"}, "null_angle": {"radius_mm": 66.0}}.get(kind, {})
    if kind in ("print_bar_x", "print_bar_y", "arc_trace"):
        facts["plate"] = bench.plate
    if kind == "arc_trace":
        facts["radius_mm"] = 90.0
    reading = read(bench, kind, **facts)
    withdrawn = entries.withdraw_reading(reading, note="slipped")
    assert (withdrawn.radius_mm, withdrawn.laying) == (reading.radius_mm, reading.laying)
    assert reading.uid not in {row.uid for row in job_record(bench.job).readings}


@pytest.mark.parametrize(
    ("kind", "facts", "words"),
    [
        ("null_angle", {}, "needs the groove radius"),
        ("null_angle", {"radius_mm": 3.0}, "lies between 20 and 200 mm"),
        ("null_angle", {"radius_mm": float("nan")}, "lies between 20 and 200 mm"),
        ("null_angle", {"radius_mm": 66.0, "bearing_deg": 20.0}, "a bearing belongs to a reading beside the arc"),
        ("arc_trace", {"radius_mm": 66.0}, "name the plate by its number"),
        ("stylus_rake_angle", {"radius_mm": 66.0}, "the same at every groove radius"),
        ("offset_angle", {"unit": "mm"}, "is kept in deg, not in mm"),
        ("friction_coefficient", {"unit": "%"}, "is kept in 1, not in %"),
        ("speed_error", {}, "is read from a capture"),
    ],
)
def test_a_reading_that_lacks_its_place_or_is_no_such_thing_is_refused(bench, kind, facts, words):
    with pytest.raises(EntryRefused, match=words):
        read(bench, kind, **facts)


def test_a_trace_needs_a_place_on_the_arc(bench):
    with pytest.raises(EntryRefused, match="the groove radius, or the bearing"):
        read(bench, "arc_trace", plate=bench.plate)
    with pytest.raises(EntryRefused, match="below 180"):
        read(bench, "arc_trace", plate=bench.plate, bearing_deg=190.0)
    assert read(bench, "arc_trace", plate=bench.plate, bearing_deg=20.0).laying == 1
    assert read(bench, "arc_trace", plate=bench.plate, bearing_deg=20.0, laying=2).laying == 2


def test_the_forces_of_side_force_may_hold_in_the_middle_of_the_groove(bench):
    assert "side_force_rest" in AT_A_RADIUS
    assert read(bench, "side_force_rest").radius_mm is None
    assert read(bench, "side_force_rest", radius_mm=100.0).radius_mm == 100.0


def test_a_move_is_kept_by_adjuster_and_worded_where_nobody_did(bench):
    amounts = Adjustments(slide_mm=-0.34, turn_deg=0.4)
    uncertainties = Adjustments(slide_mm=0.1, turn_deg=0.15)
    move = entries.record_adjustment(bench.job, amounts=amounts, uncertainties=uncertainties)
    assert adjustments(move) == AmountsMoved(amounts, uncertainties)
    assert move.text == "cartridge slid forward -0.34 mm, cartridge turned inward 0.4°"
    assert set(move.amounts) == {"slide_mm", "turn_deg"}


def test_a_move_is_corrected_and_withdrawn_as_a_reading_is(bench):
    (first,) = job_record(bench.job).adjustments
    half = entries.record_adjustment(
        bench.job, amounts=Adjustments(slide_mm=0.2), uncertainties=Adjustments(slide_mm=0.1), corrects=first
    )
    assert job_record(bench.job).adjustments == (half,)
    with pytest.raises(EntryRefused, match="corrected already"):
        entries.withdraw_adjustment(first, note="never made")
    with pytest.raises(EntryRefused, match="say why"):
        entries.withdraw_adjustment(half, note=" ")
    entries.withdraw_adjustment(half, note="never made")
    record = job_record(bench.job)
    assert record.adjustments == ()
    assert len(record.all_adjustments) == 3


@pytest.mark.parametrize(
    ("amounts", "uncertainties", "words"),
    [
        (Adjustments(), Adjustments(), "say which adjuster was moved"),
        (Adjustments(slide_mm=1.0), Adjustments(slide_mm=-0.1), "0 or more"),
        (Adjustments(slide_mm=float("inf")), Adjustments(), "cannot be inf"),
        (Adjustments(slide_mm=float("nan")), Adjustments(), "cannot be nan"),
    ],
)
def test_an_impossible_move_is_refused(bench, amounts, uncertainties, words):
    with pytest.raises(EntryRefused, match=words):
        entries.record_adjustment(bench.job, amounts=amounts, uncertainties=uncertainties)


def test_a_move_counts_as_an_entry_after_the_report(bench):
    before = job_record(bench.job).entries_since_report
    entries.record_adjustment(bench.job, amounts=Adjustments(roll_deg=1.0), uncertainties=Adjustments(roll_deg=0.1))
    assert job_record(bench.job).entries_since_report == before + 1


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"tolerances": {"effective_length": {"lower": -1.0}}}, "not for 'effective_length'"),
        ({"tolerances": {"azimuth": {"width": 1.0}}}, "aim, lower, upper, not 'width'"),
        ({"tolerances": {"azimuth": {"lower": 0.5, "upper": 0.5}}}, "from low to high"),
        ({"tolerances": {"azimuth": {"lower": -0.5, "aim": 2.0, "upper": 0.5}}}, "with the aim between them"),
        ({"tolerances": {"azimuth": {"lower": "x"}}}, "is a number"),
        ({"stylus_hours": -1.0}, "0 to 20000 hours"),
        ({"stylus_hours": float("nan")}, "0 to 20000 hours"),
    ],
)
def test_impossible_limits_and_hours_are_refused(bench, facts, words):
    with pytest.raises(EntryRefused, match=words):
        entries.record_intake(bench.job, innermost_mm=60.0, outermost_mm=146.0, **facts)


def test_limits_left_empty_are_as_usual(bench):
    empty = {"azimuth": {"aim": None, "lower": None, "upper": None}}
    assert entries.record_intake(bench.job, innermost_mm=60.0, outermost_mm=146.0, tolerances=empty).tolerances is None
    assert setting_limits(None) == {}


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"build": {"colour": "black"}}, "not 'colour'"),
        ({"build": {"bearing": 3.0}}, "bearing of the arm cannot be"),
        ({"build": {"pivot_height_mm": "high"}}, "pivot_height_mm of the arm cannot be 'high'"),
        ({"build": {"bearing": "magic"}}, "bearing must be 'gimbal' or 'unipivot'"),
        ({"build": {"pivot_height_mm": 900.0}}, "not below the effective length"),
        ({"adjuster_limits": {"slide_mm": [1.0, 2.0]}}, "so 0 lies between them"),
        ({"adjuster_limits": {"slide_mm": [1.0]}}, "has two limits"),
        ({"adjuster_limits": {"volume": [0.0, 1.0]}}, "is none of them"),
    ],
)
def test_an_arm_that_cannot_be_is_refused(bench, facts, words):
    with pytest.raises(EntryRefused, match=words):
        entries.add_arm(bench.deck, description="odd arm", **facts)


def test_what_is_known_of_an_arm_comes_back(bench):
    arm = entries.add_arm(
        bench.deck,
        description="unipivot arm",
        build={"bearing": "unipivot", "pivot_height_mm": 25.0},
        adjuster_limits={name: [-1.0, 1.0] for name in ADJUSTERS},
    )
    arm.refresh_from_db()
    assert known_build(arm.build) == {"bearing": "unipivot", "pivot_height_mm": 25.0}
    assert adjuster_limits(arm.adjuster_limits)["roll_deg"] == (-1.0, 1.0)


def test_a_visit_without_hours_of_its_own_keeps_those_of_the_cartridge_as_it_was_described_then(bench):
    cartridge = entries.add_cartridge(description="moving coil", stylus_hours=120.0)
    job = entries.open_job(bench.deck, opened=bench.job.opened)
    entries.record_intake(job, cartridge=cartridge, innermost_mm=60.325, outermost_mm=146.05)
    assert visit_of(job_record(job)).visit.stylus_hours == 120.0
    entries.add_cartridge(description="moving coil", stylus_hours=465.0, corrects=cartridge)
    assert visit_of(job_record(job)).visit.stylus_hours == 120.0
