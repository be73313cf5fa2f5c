"""From the rows of a job to the joint estimate: order of work, moves, forces, traces, captures and limits."""

from __future__ import annotations

from datetime import date

import pytest

from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.arc_trace import bearing_on_arc_deg, deviation_from_arc_mm
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import capture_entries, content_store, entries, queries
from groovewright.jobbook.bench_inputs import UNENTERED, job_bench
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.job_record import job_record
from groovewright.jobbook.job_states import judged_job, next_step_of, steps_of
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
    return [reading for reading in job_bench(job_record(job)).inputs.observations if reading.kind == kind]


def test_a_job_without_targets_is_judged_in_what_needs_none(job):
    bare = entries.open_job(job.deck, opened=date(2026, 4, 1))
    read(bare, "azimuth_rotation", 0.1)
    read(bare, "overhang", 17.0)
    state = judged_job(job_record(bare)).state.now
    assert state.setting("azimuth").is_in_tolerance
    length = state.setting("effective_length")
    assert (length.basis, length.verdict) == ("not read", None)
    assert "No targets are chosen yet" in length.reason


def test_a_tangential_arm_is_judged_in_what_it_has(job):
    bare = entries.open_job(job.deck, opened=date(2026, 4, 1))
    entries.record_targets(bare, choose_targets(TargetRequest(None, "minimax", 60.325, 146.05, arm_kind="tangential")))
    read(bare, "stylus_rake_angle", 92.0)
    state = judged_job(job_record(bare)).state.now
    assert state.setting("stylus_rake_angle").is_in_tolerance
    assert {state.setting(key).outcome for key in ("effective_length", "zenith", "side_force")} == {"does not apply"}
    assert "tangential" in state.setting("zenith").reason


def test_readings_stand_between_the_moves_that_they_were_made_between(job):
    read(job, "azimuth_rotation", 1.0)
    entries.record_adjustment(job, **TURN)
    read(job, "azimuth_rotation", 0.9, stage="as left")
    entries.record_adjustment(job, **TURN)
    read(job, "azimuth_rotation", 0.8, stage="as left")
    # Entered late, and yet read before anything was moved.
    read(job, "azimuth_rotation", 1.1)
    inputs = job_bench(job_record(job)).inputs
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
    unentered, entered = job_bench(job_record(job)).inputs.moves
    # Something was read as left before any move on record, so others came before it.
    assert unentered.unknown == UNENTERED
    assert unentered.order < found[0.5] < entered.order < found[0.9]


def test_the_distance_stands_where_it_was_entered_since_it_has_no_stage(job):
    entries.record_adjustment(
        job, amounts=Adjustments(base_position_mm=1.0), uncertainties=Adjustments(base_position_mm=0.1)
    )
    read(job, "pivot_to_spindle", 223.0)
    (move,) = job_bench(job_record(job)).inputs.moves
    assert [reading.order > move.order for reading in observed(job, "pivot_to_spindle")] == [False, True]
    state = judged_job(job_record(job)).state.now
    assert state.state["pivot_to_spindle_mm"].value == pytest.approx(223.0, abs=0.1)


def test_a_move_is_carried_into_the_state_and_a_withdrawn_one_is_not(job):
    read(job, "zenith_error", -1.0)
    entries.record_adjustment(job, **TURN)
    state = judged_job(job_record(job)).state.now
    assert state.setting("zenith").quantity.value == pytest.approx(0.0, abs=0.05)
    assert state.setting("zenith").basis == "calculated"
    found = judged_job(job_record(job)).state.as_found
    assert found.setting("zenith").quantity.value == pytest.approx(-1.0, abs=0.05)
    entries.withdraw_adjustment(job.adjustments.get(), note="never made")
    state = judged_job(job_record(job)).state.now
    assert state.setting("zenith").quantity.value == pytest.approx(-1.0, abs=0.05)
    assert state.setting("zenith").basis == "read"


def test_without_a_move_on_record_what_was_read_only_as_found_is_not_read_as_left(job):
    read(job, "azimuth_rotation", 0.1)
    read(job, "stylus_rake_angle", 92.0)
    assert not job_bench(job_record(job)).inputs.moves
    assert judged_job(job_record(job)).state.as_left is None
    read(job, "stylus_rake_angle", 92.1, stage="as left")
    (move,) = job_bench(job_record(job)).inputs.moves
    assert move.unknown == UNENTERED
    state = judged_job(job_record(job)).state
    azimuth = state.as_left.setting("azimuth")
    assert (azimuth.basis, azimuth.verdict) == ("not read", None)
    assert "by an amount that is not known" in azimuth.reason
    assert state.as_left.setting("stylus_rake_angle").basis == "read"
    assert state.as_left.setting("stylus_rake_angle").quantity.value == pytest.approx(92.1, abs=0.02)
    assert state.as_found.setting("stylus_rake_angle").quantity.value == pytest.approx(92.0, abs=0.02)
    assert state.as_found.setting("azimuth").is_in_tolerance
    assert any("something was moved that was not entered" in note for note in state.as_left.notes)
    # The base is taken to stay.
    assert state.as_left.state["pivot_to_spindle_mm"].standard_uncertainty < 0.3


def test_what_was_read_as_left_fills_no_other_column(job):
    read(job, "azimuth_rotation", 1.2)
    captured(job, {"azimuth_rotation": of_noise(0.1, "deg"), "zenith_error": of_noise(0.2, "deg")}, stage="as left")
    entries.record_adjustment(job, amounts=Adjustments(), uncertainties=Adjustments(compensation_mn=0.1))
    state = judged_job(job_record(job)).state
    assert state.as_found.setting("azimuth").quantity.value == pytest.approx(1.2, abs=0.05)
    assert state.as_found.setting("zenith").basis == "not read"
    assert state.as_left.setting("azimuth").quantity.value == pytest.approx(0.1, abs=0.05)
    assert state.as_left.setting("azimuth").is_in_tolerance
    assert state.as_left.setting("azimuth").basis == "read"


def test_a_print_check_and_a_capture_of_the_speed_say_nothing_of_how_the_deck_was_left(job):
    read(job, "azimuth_rotation", 0.1)
    request = PlateRequest(
        "arc", queries.targets_of(job.target_choices.get()).geometry, 60.325, 146.05, "Least peak", paper="A3"
    )
    plate = entries.issue_plate(job, request, choice=job.target_choices.get())
    read(job, "print_bar_x", 99.9, stage="as left", plate=plate)
    captured(job, {"speed_error": of_noise(0.2, "%")}, stage="as left")
    state = judged_job(job_record(job)).state
    assert state.as_left is None
    assert state.as_found.setting("azimuth").is_in_tolerance


def test_a_move_of_unknown_amount_is_kept_and_leaves_unread_what_it_touches(job):
    read(job, "azimuth_rotation", 0.1)
    read(job, "stylus_rake_angle", 92.0)
    move = entries.record_adjustment(
        job, amounts=Adjustments(), uncertainties=Adjustments(), unknown=frozenset({"roll_deg"})
    )
    assert move.text == "cartridge rolled by an unknown amount"
    assert (move.amounts, move.uncertainties) == ({"roll_deg": None}, {"roll_deg": None})
    state = judged_job(job_record(job)).state
    assert state.as_left.setting("azimuth").basis == "not read"
    assert state.as_left.setting("stylus_rake_angle").basis == "read"


def repeated(job, kind, values, gauge):
    for value in values:
        plain = Quantity.unknown_uncertainty(value, READING_UNITS[kind], why="none was stated")
        quantity = with_gauge_uncertainty(plain, gauge)
        entries.record_reading(job, kind=kind, stage="as found", text=f"{value:g}", quantity=quantity, gauge=gauge)


def test_repeats_with_one_gauge_are_joined_with_their_scatter(job):
    lent = Quantity.measured(0.0, "mm", standard_uncertainty=0.1, source="beam gauge")
    gauge = entries.add_gauge(description="Beam gauge", standard_uncertainty=lent)
    repeated(job, "overhang", (17.2, 17.3, 17.4), gauge)
    (joined,) = observed(job, "overhang")
    assert "3 readings" in joined.label
    assert joined.quantity.value == pytest.approx(17.3)
    # The gauge's own, and s / sqrt(3) of three repeats a tenth apart.
    assert joined.quantity.standard_uncertainty == pytest.approx((0.1**2 + 0.1**2 / 3) ** 0.5)
    (scatter,) = [source for source in joined.quantity.components if "scatter" in source.label]
    assert scatter.degrees_of_freedom == 2


def test_repeats_that_scatter_beyond_what_the_gauge_explains_are_named_as_a_disagreement(job):
    lent = Quantity.measured(0.0, "mm", standard_uncertainty=0.1, source="beam gauge")
    repeated(job, "overhang", (17.3, 18.3), entries.add_gauge(description="Beam gauge", standard_uncertainty=lent))
    state = judged_job(job_record(job)).state.now
    (one,) = state.disagreements
    assert len(one.labels) == 2
    assert state.setting("effective_length").outcome == "undecided"


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
    assert judged_job(job_record(job)).state.now.setting("tracking_force").quantity.value == pytest.approx(
        17.0, abs=0.1
    )


def test_a_force_by_a_scale_that_was_never_checked_is_undecided_with_its_reason(job):
    forces(job, "as found", 18.0, entries.add_scale(description="Scale 2", resolution=Quantity.exact(0.1, "mN")))
    state = judged_job(job_record(job)).state.now
    force = state.setting("tracking_force")
    assert force.outcome == "undecided"
    assert force.quantity.value == pytest.approx(18.0, abs=0.1)
    assert "not checked with known weights" in force.quantity.why_unknown
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
    state = judged_job(job_record(job)).state.now
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
    build = job_bench(job_record(job)).inputs.build
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
    wanted = job_bench(job_record(job)).inputs.targets
    assert (wanted.tolerances["effective_length"].lower, wanted.tolerances["azimuth"].upper) == (-0.3, 0.2)
    assert (wanted.tolerances["stylus_rake_angle"].lower, wanted.tolerances["stylus_rake_angle"].upper) == (90.0, 92.0)
    assert (wanted.aims["stylus_rake_angle"], wanted.aims["vertical_tracking_angle"]) == (91.0, 20.0)
    assert wanted.aims["tracking_force"] == 18.0
    assert (wanted.tolerances["tracking_force"].lower, wanted.tolerances["tracking_force"].upper) == (15.0, 20.0)


def test_the_same_record_is_estimated_once_and_a_new_entry_anew(job):
    read(job, "azimuth_rotation", 0.1)
    first = judged_job(job_record(job))
    assert judged_job(job_record(job)) is first
    assert next_step_of(job_record(job)) is next_step_of(job_record(job))
    read(job, "azimuth_rotation", 0.2)
    second = judged_job(job_record(job))
    assert second is not first
    assert deck_state(second.bench.inputs).setting("azimuth") == second.state.now.setting("azimuth")


def test_the_stretches_of_a_job_are_named_by_what_came_before(job):
    assert [stretch.name for stretch in stretches(job_record(job))] == ["as found"]
    for _ in range(2):
        entries.record_adjustment(job, **TURN)
    assert [stretch.name for stretch in stretches(job_record(job))] == ["as found", "after 1 move", "after 2 moves"]


def test_a_setting_that_a_move_touched_has_no_good_verdict_before_it_is_read_again(job):
    scale = checked_scale(job)
    read(job, "effective_length", 238.0)
    read(job, "effective_length", 239.3, stage="as left", u=0.05)
    forces(job, "as left", 17.5, scale)
    entries.record_adjustment(
        job, amounts=Adjustments(counterweight_mm=-0.01), uncertainties=Adjustments(counterweight_mm=0.05)
    )
    left = judged_job(job_record(job)).state.as_left
    assert (left.setting("effective_length").basis, left.setting("tracking_force").basis) == ("read", "calculated")
    assert left.setting("tracking_force").outcome == "undecided"
    entries.record_adjustment(job, amounts=Adjustments(slide_mm=0.05), uncertainties=Adjustments(slide_mm=0.1))
    forces(job, "as left", 17.5, scale)
    left = judged_job(job_record(job)).state.as_left
    assert (left.setting("effective_length").basis, left.setting("tracking_force").basis) == ("calculated", "read")
    assert left.setting("tracking_force").is_in_tolerance
    assert not left.setting("effective_length").is_in_tolerance
    read(job, "effective_length", 239.3, stage="as left", u=0.05)
    assert judged_job(job_record(job)).state.as_left.setting("effective_length").basis == "read"


def test_a_distance_that_was_only_typed_when_choosing_counts_as_known(job):
    bare = entries.open_job(job.deck, opened=date(2026, 4, 1))
    choose(bare, 222.0)
    read(bare, "effective_length", 239.3, u=0.1)
    length = judged_job(job_record(bare)).state.now.setting("effective_length")
    assert length.basis == "read"
    # The distance to 0.2 mm, by which the target moves 0.93 mm a millimetre, and the reading's own.
    assert length.quantity.standard_uncertainty == pytest.approx((0.1**2 + (0.93 * 0.2) ** 2) ** 0.5, rel=0.02)


def test_the_bench_is_done_when_all_is_in_tolerance_and_not_before(job):
    def bench_step():
        return next(step for step in steps_of(job_record(job)) if step.key == "bench")

    assert "not read" in bench_step().detail
    forces(job, "as found", 17.5, checked_scale(job))
    for kind, value, u in (
        ("overhang", 17.3, 0.05),
        ("zenith_error", 0.0, 0.1),
        ("side_force_rest", 0.0, 0.05),
        ("friction_coefficient", 0.3, 0.01),
        ("azimuth_rotation", 0.0, 0.1),
        ("stylus_rake_angle", 92.0, 0.2),
    ):
        read(job, kind, value, u=u)
    assert bench_step().state != "done"
    assert "not read: vertical tracking angle" in bench_step().detail
    read(job, "vertical_tracking_angle", 22.0, u=0.3)
    assert bench_step().state == "done"
    assert bench_step().detail == "As found: all seven in tolerance."
