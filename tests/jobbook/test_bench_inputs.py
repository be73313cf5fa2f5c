"""From the rows of a job to the joint estimate: order of work, moves, forces, traces, captures and limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from groovewright.jobbook.bench_states import deck_as_found, next_step_of, standing_deck

from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.arc_trace import bearing_on_arc_deg, deviation_from_arc_mm
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import capture_entries, content_store, entries, queries
from groovewright.jobbook.bench_inputs import WITHOUT_A_RECORD, bench_inputs, job_bench
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.models import Arm, Cartridge
from groovewright.jobbook.reading_kinds import READING_UNITS
from groovewright.jobbook.stretches import stretches
from groovewright.measurement.quantity import Quantity, covariance
from groovewright.plates.plate import PlateRequest
from groovewright.tonearm.arm_state import Adjustments
from groovewright.tonearm.geometry import Geometry

pytestmark = pytest.mark.django_db

TURN = {"amounts": Adjustments(turn_deg=1.0), "uncertainties": Adjustments(slide_mm=0.1, turn_deg=0.15)}
LADDER = """equalised = true
speed_rpm = "33 1/3"
""" + "".join(
    f"""[[bands]]
name = "step {level}"
kind = "tone"
cut = "lateral"
frequency_hz = 315
peak_velocity_cm_s = {level}
radius_mm = [100, 99]
"""
    for level in (10, 15, 20, 25)
)


@pytest.fixture
def job(db):
    deck = entries.add_deck(entries.add_owner(), description="belt-drive deck")
    arm = entries.add_arm(deck, description="nine-inch arm")
    cartridge = entries.add_cartridge(
        description="moving-magnet cartridge",
        tracking_force_lower=Quantity.exact(15.0, "mN"),
        tracking_force_upper=Quantity.exact(20.0, "mN"),
        mass=Quantity.measured(6.5, "g", standard_uncertainty=0.1, source="parcel scale"),
        fasteners_mass=Quantity.measured(1.0, "g", standard_uncertainty=0.1, source="parcel scale too"),
    )
    job = entries.open_job(deck, opened=date(2026, 3, 2))
    entries.record_intake(job, arm=arm, cartridge=cartridge, innermost_mm=60.325, outermost_mm=146.05)
    read(job, "pivot_to_spindle", 222.0)
    choose(job, 222.0)
    return job


def choose(job, distance_mm, criterion="minimax"):
    distance = Quantity.measured(distance_mm, "mm", standard_uncertainty=0.2, source="distance")
    return entries.record_targets(job, choose_targets(TargetRequest(distance, criterion, 60.325, 146.05)))


def read(job, kind, value, stage="as found", u=0.2, **facts):
    source = queries.next_reading_source(job, kind)
    unit = READING_UNITS[kind]
    quantity = Quantity.measured(value, unit, standard_uncertainty=u, source=source)
    return entries.record_reading(job, kind=kind, stage=stage, text=f"{value:g}", quantity=quantity, **facts)


def observed(job, kind):
    return [reading for reading in bench_inputs(job_record(job)).observations if reading.kind == kind]


def test_a_job_without_targets_or_without_a_pivot_is_refused_in_one_sentence(job):
    bare = entries.open_job(job.deck, opened=date(2026, 4, 1))
    with pytest.raises(ValueError, match="job 2 has no targets yet"):
        job_bench(job_record(bare))
    entries.record_targets(bare, choose_targets(TargetRequest(None, "minimax", 60.325, 146.05, arm_kind="tangential")))
    with pytest.raises(ValueError, match="job 2 is for a tangential arm"):
        job_bench(job_record(bare))


def test_readings_stand_between_the_moves_that_they_were_made_between(job):
    read(job, "azimuth_rotation", 1.0)
    entries.record_adjustment(job, **TURN)
    read(job, "azimuth_rotation", 0.9, stage="as left")
    entries.record_adjustment(job, **TURN)
    read(job, "azimuth_rotation", 0.8, stage="as left")
    # Entered late, and yet read before anything was moved.
    read(job, "azimuth_rotation", 1.1)
    inputs = bench_inputs(job_record(job))
    orders = {reading.quantity.value: reading.order for reading in observed(job, "azimuth_rotation")}
    first, second = (move.order for move in inputs.moves)
    assert orders[1.0] == orders[1.1] < first < orders[0.9] < second < orders[0.8]
    assert [move.uncertainty.slide_mm for move in inputs.moves] == [0.1, 0.1]
    assert len({reading.label for reading in inputs.observations}) == len(inputs.observations)


def test_a_correction_stands_where_what_it_corrects_stood(job):
    slip = read(job, "azimuth_rotation", 5.0, stage="as left")
    move = entries.record_adjustment(job, **TURN)
    read(job, "azimuth_rotation", 0.9, stage="as left")
    read(job, "azimuth_rotation", 0.5, stage="as left", corrects=slip)
    entries.record_adjustment(job, **TURN | {"corrects": move})
    found = {reading.quantity.value: reading.order for reading in observed(job, "azimuth_rotation")}
    (only,) = bench_inputs(job_record(job)).moves
    assert found[0.5] < only.order < found[0.9]


def test_the_distance_stands_where_it_was_entered_since_it_has_no_stage(job):
    entries.record_adjustment(
        job, amounts=Adjustments(base_position_mm=1.0), uncertainties=Adjustments(base_position_mm=0.1)
    )
    read(job, "pivot_to_spindle", 223.0)
    (move,) = bench_inputs(job_record(job)).moves
    assert [reading.order > move.order for reading in observed(job, "pivot_to_spindle")] == [False, True]
    state = standing_deck(job_record(job)).state
    assert state.state["pivot_to_spindle_mm"].value == pytest.approx(223.0, abs=0.1)


def test_a_move_is_carried_into_the_state_and_a_withdrawn_one_is_not(job):
    read(job, "zenith_error", -1.0)
    entries.record_adjustment(job, **TURN)
    state = standing_deck(job_record(job)).state
    assert state.setting("zenith").quantity.value == pytest.approx(0.0, abs=0.05)
    assert state.setting("zenith").stale
    found = deck_as_found(job_record(job)).state
    assert found.setting("zenith").quantity.value == pytest.approx(-1.0, abs=0.05)
    entries.withdraw_adjustment(job.adjustments.get(), note="never made")
    state = standing_deck(job_record(job)).state
    assert state.setting("zenith").quantity.value == pytest.approx(-1.0, abs=0.05)
    assert not state.setting("zenith").stale


def test_without_a_move_on_record_what_was_read_only_as_found_is_stale_and_the_notes_say_so(job):
    read(job, "azimuth_rotation", 0.1)
    read(job, "stylus_rake_angle", 92.0)
    assert not bench_inputs(job_record(job)).moves
    read(job, "stylus_rake_angle", 92.1, stage="as left")
    (move,) = bench_inputs(job_record(job)).moves
    assert move.uncertainty == WITHOUT_A_RECORD
    state = standing_deck(job_record(job)).state
    assert state.setting("azimuth").stale
    assert not state.setting("stylus_rake_angle").stale
    assert state.setting("stylus_rake_angle").quantity.value == pytest.approx(92.1, abs=0.02)
    (note,) = [note for note in state.notes if "no move is on record" in note]
    assert "azimuth rotation as found" in note
    assert "stylus rake angle" not in note
    assert "pivot-to-spindle" not in note
    # The base is taken to stay.
    assert state.state["pivot_to_spindle_mm"].standard_uncertainty < 0.3


def forces(job, stage, value, scale):
    for _ in range(2):
        read(job, "tracking_force", value, stage=stage, place="middle", scale=scale)


def checked_scale(job):
    scale = entries.add_scale(description="Scale 1", resolution=Quantity.exact(0.0980665, "mN"))
    weights = [weight_of_class(f"{g:g} g", nominal_g=g, accuracy_class="M1") for g in (1.0, 2.0, 5.0)]
    loads = [WeightReading((), 0.0), *(WeightReading((w,), w.mass.value * 9.80665) for w in weights)]
    entries.check_scale(scale, job=job, readings=loads * 2)
    return scale


def test_each_stretch_has_its_force_session_and_all_share_the_checks_of_the_scale(job):
    scale = checked_scale(job)
    forces(job, "as found", 18.0, scale)
    entries.record_adjustment(
        job, amounts=Adjustments(counterweight_mm=-0.5), uncertainties=Adjustments(counterweight_mm=0.05)
    )
    forces(job, "as left", 17.0, scale)
    before, after = observed(job, "tracking_force")
    assert (before.quantity.value, after.quantity.value) == pytest.approx((18.0, 17.0), abs=0.1)
    assert "2 readings" in before.label
    u = before.quantity.standard_uncertainty
    assert 0 < covariance(before.quantity, after.quantity) < u**2
    assert standing_deck(job_record(job)).state.setting("tracking_force").quantity.value == pytest.approx(17.0, abs=0.1)


def test_a_force_by_a_scale_that_was_never_checked_is_left_out_with_its_reason(job):
    forces(job, "as found", 18.0, entries.add_scale(description="Scale 2", resolution=Quantity.exact(0.1, "mN")))
    state = standing_deck(job_record(job)).state
    assert state.setting("tracking_force").quantity is None
    assert any("not checked with known weights" in note for note in state.notes)


def test_forces_at_start_of_motion_tell_the_compensation_and_one_way_alone_does_not(job):
    read(job, "start_force_outward", 0.3, u=0.02)
    notes = job_bench(job_record(job)).notes
    assert any("read both ways" in note for note in notes)
    read(job, "start_force_inward", 2.3, u=0.02)
    (compensation,) = observed(job, "compensation_force")
    # Half their difference draws outward, half their sum is what the bearings hold.
    assert compensation.quantity.value == pytest.approx(1.0)
    assert job_bench(job_record(job)).forces[0].bearings.friction.value == pytest.approx(1.3)


def test_an_arc_trace_is_joined_with_the_distance_by_its_laying(job):
    geometry = queries.targets_of(job.target_choices.get()).geometry
    request = PlateRequest("arc", geometry, 60.325, 146.05, "Least peak", paper="A3")
    plate = entries.issue_plate(job, request, choice=job.target_choices.get())
    true = Geometry(222.1, geometry.effective_length_mm + 1.0, geometry.offset_angle_deg)
    for radius_mm in (62.0, 80.0, 100.0, 120.0, 144.0):
        bearing_deg = float(bearing_on_arc_deg(radius_mm, geometry))
        beside_mm = deviation_from_arc_mm(
            bearing_deg,
            length_error_mm=true.effective_length_mm - geometry.effective_length_mm,
            distance_error_mm=true.pivot_to_spindle_mm - geometry.pivot_to_spindle_mm,
            plate_turn_deg=0.3,
            plate=geometry,
        )
        place = {"radius_mm": radius_mm} if radius_mm < 110 else {"bearing_deg": bearing_deg}
        read(job, "arc_trace", float(beside_mm), u=0.05, plate=plate, **place)
    (length,) = observed(job, "effective_length")
    assert length.quantity.value == pytest.approx(true.effective_length_mm, abs=1e-6)
    state = standing_deck(job_record(job)).state
    assert state.setting("effective_length").quantity.value == pytest.approx(1.0, abs=0.2)
    assert state.setting("effective_length").quantity.standard_uncertainty < 0.3
    read(job, "arc_trace", 0.1, plate=plate, bearing_deg=20.0, laying=2)
    assert any("laid on anew 2 is not used" in note for note in job_bench(job_record(job)).notes)


def captured(job, quantities, stage="as found", sheet_text=LADDER):
    sheet = capture_entries.add_capture(
        job, stage=stage, name="a.wav", size=4, file_sha256=content_store.keep(b"tone"), sheet_text=sheet_text
    )
    result = {
        "recording": {"form": "WAV", "sample_rate_hz": 48e3, "channel_count": 2, "duration_s": 9.0, "peak": 0.5},
        "quantities": {name: quantity.as_record() for name, quantity in quantities.items()},
        "not_shown": {},
        "notes": [],
        "bands": [],
    }
    capture_entries.enter_capture(capture_entries.record_analysis(sheet, result=result, refusal="", pictures=None))


def of_noise(value, unit):
    return Quantity.measured(value, unit, standard_uncertainty=0.1, source="noise of bands 1 and 2")


def test_two_captures_of_one_file_name_have_two_noises(job):
    captured(job, {"azimuth_rotation": of_noise(1.0, "deg")})
    captured(job, {"azimuth_rotation": of_noise(1.1, "deg")})
    first, second = observed(job, "azimuth_rotation")
    assert covariance(first.quantity, second.quantity) == 0.0
    assert "capture 1-C1" in first.label


def test_an_error_from_former_targets_counts_from_those_that_stand(job):
    captured(job, {"effective_length_error": of_noise(0.4, "mm"), "zenith_error": of_noise(0.3, "deg")})
    before = queries.targets_of(job.target_choices.get()).geometry
    choose(job, 222.0, criterion="inner-null")
    after = queries.targets_of(job.target_choices.latest("pk")).geometry
    (length,), (zenith,) = observed(job, "effective_length_error"), observed(job, "zenith_error")
    # The arm stands where it stood, whatever it is compared with.
    assert length.quantity.value + after.effective_length_mm == pytest.approx(0.4 + before.effective_length_mm)
    assert zenith.quantity.value + after.offset_angle_deg == pytest.approx(0.3 + before.offset_angle_deg)
    # The same rule for the distance read again is the same target for the true one.
    choose(job, 222.3, criterion="inner-null")
    (length,) = observed(job, "effective_length_error")
    assert length.quantity.value + after.effective_length_mm == pytest.approx(
        0.4 + before.effective_length_mm, abs=1e-3
    )


def test_a_ladder_tells_the_friction_coefficient_where_force_and_compensation_are_known(job):
    # The walls' loads N -+ F stand to each other as the levels at which left and right break down, so F = N (20-19)/39;
    # with the compensation it is all of the drag's part square to the arm line, whose sine is 0.3757 at 100 mm.
    levels = {
        "tracking_ability_left": Quantity.measured(20.0, "cm/s", standard_uncertainty=0.2, source="left rung"),
        "tracking_ability_right": Quantity.measured(19.0, "cm/s", standard_uncertainty=0.2, source="right rung"),
    }
    forces(job, "as found", 17.5, checked_scale(job))
    read(job, "compensation_force", 1.5)
    captured(job, levels)
    (friction,) = observed(job, "friction_coefficient")
    assert friction.quantity.value == pytest.approx((17.5 / 39 + 1.5) / (17.5 * 0.3757), abs=0.01)
    assert friction.quantity.standard_uncertainty > 0
    assert "capture 1-C1" in friction.label


def test_a_ladder_without_force_and_compensation_says_what_it_would_tell(job):
    levels = {
        "tracking_ability_left": Quantity.measured(20.0, "cm/s", standard_uncertainty=0.2, source="left rung"),
        "tracking_ability_right": Quantity.measured(19.0, "cm/s", standard_uncertainty=0.2, source="right rung"),
    }
    captured(job, levels)
    assert observed(job, "friction_coefficient") == []
    assert any("would tell the friction coefficient" in note for note in job_bench(job_record(job)).notes)


def test_the_limits_are_the_arms_own_where_they_are_known(job):
    drawn = Quantity.exact(238.0, "mm")
    arm = entries.add_arm(
        job.deck,
        description="fixed headshell",
        drawn_effective_length=drawn,
        effective_length_fixed=True,
        offset_angle_lower_deg=21.0,
        offset_angle_upper_deg=24.0,
        adjuster_limits={"arm_height_mm": (-2.0, 3.0)},
        corrects=Arm.objects.get(),
    )
    read(job, "offset_angle", 22.0)
    assert arm.is_current
    limits = job_bench(job_record(job)).limits
    assert limits.is_fixed("slide_mm")
    assert limits.ranges["turn_deg"] == pytest.approx((-1.0, 2.0))
    assert limits.ranges["arm_height_mm"] == (-2.0, 3.0)
    assert (limits.force.lower, limits.force.upper) == (15.0, 20.0)


def test_the_arm_is_built_from_what_is_known_of_it(job):
    read(job, "effective_length", 238.5)
    read(job, "stylus_rake_angle", 90.5)
    build = bench_inputs(job_record(job)).build
    assert build.geometry.effective_length_mm == 238.5
    assert build.cartridge_mass_g == 7.5
    assert build.stylus_rake_angle_deg == 90.5
    assert build.tracking_force_mn == 17.5
    assert Cartridge.objects.count() == 1


def test_limits_and_aims_of_the_job_are_those_of_the_estimate(job):
    arm, cartridge = Arm.objects.get(), Cartridge.objects.get()
    entries.record_intake(
        job,
        arm=arm,
        cartridge=cartridge,
        innermost_mm=60.325,
        outermost_mm=146.05,
        length_tolerance_lower_mm=-0.3,
        length_tolerance_upper_mm=0.3,
        tolerances={
            "azimuth": {"lower": -0.2, "upper": 0.2},
            "stylus_rake_angle": {"aim": 91.0},
            "vertical_tracking_angle": {"aim": 20.0},
            "tracking_force": {"aim": 18.0},
        },
    )
    wanted = bench_inputs(job_record(job)).targets
    assert (wanted.tolerances["effective_length"].lower, wanted.tolerances["azimuth"].upper) == (-0.3, 0.2)
    assert (wanted.tolerances["stylus_rake_angle"].lower, wanted.tolerances["stylus_rake_angle"].upper) == (90.0, 92.0)
    assert (wanted.aims["stylus_rake_angle"], wanted.aims["vertical_tracking_angle"]) == (91.0, 20.0)
    assert wanted.aims["tracking_force"] == 18.0
    assert (wanted.tolerances["tracking_force"].lower, wanted.tolerances["tracking_force"].upper) == (15.0, 20.0)


def test_the_same_record_is_estimated_once_and_a_new_entry_anew(job):
    read(job, "azimuth_rotation", 0.1)
    first = standing_deck(job_record(job))
    assert standing_deck(job_record(job)) is first
    assert next_step_of(job_record(job)) is next_step_of(job_record(job))
    read(job, "azimuth_rotation", 0.2)
    second = standing_deck(job_record(job))
    assert second is not first
    assert deck_state(second.bench.inputs).setting("azimuth") == second.state.setting("azimuth")
    assert replace(second.state, notes=()).notes == ()


def test_the_stretches_of_a_job_are_named_by_what_came_before(job):
    assert [stretch.name for stretch in stretches(job_record(job))] == ["as found"]
    for _ in range(2):
        entries.record_adjustment(job, **TURN)
    assert [stretch.name for stretch in stretches(job_record(job))] == ["as found", "after 1 move", "after 2 moves"]


def test_a_length_or_force_read_before_a_move_that_disturbs_it_has_no_verdict_any_more(job):
    scale = checked_scale(job)
    read(job, "effective_length", 238.0)
    read(job, "effective_length", 239.0, stage="as left")
    forces(job, "as left", 17.5, scale)
    entries.record_adjustment(
        job, amounts=Adjustments(counterweight_mm=-0.5), uncertainties=Adjustments(counterweight_mm=0.05)
    )
    left = queries.job_inputs(job).as_left
    assert (len(left.lengths), len(left.forces)) == (1, 0)
    entries.record_adjustment(job, amounts=Adjustments(slide_mm=0.5), uncertainties=Adjustments(slide_mm=0.1))
    forces(job, "as left", 17.4, scale)
    inputs = queries.job_inputs(job)
    assert (len(inputs.as_left.lengths), len(inputs.as_left.forces)) == (0, 2)
    assert len(inputs.as_found.lengths) == 1
    read(job, "effective_length", 239.3, stage="as left")
    assert [length.quantity.value for length in queries.job_inputs(job).as_left.lengths] == [239.3]
