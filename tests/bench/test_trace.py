"""A trace joined with the distance: the consequence over the groove, the coordinates, and what is said of both."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import jv

from groovewright.bench.estimate.groove import groove_course
from groovewright.bench.gauging.trace import ArcReading, trace_result, traced_arc
from groovewright.bench.targets.target_request import TargetRequest
from groovewright.bench.targets.targets import choose_targets
from groovewright.gauges.arc_trace import TraceReading, bearing_on_arc_deg, deviation_from_arc_mm, fit_trace
from groovewright.gauges.null_check import NullReading, fit_nulls
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.geometry import Geometry, geometry_from_nulls

RADII_MM = np.linspace(60.325, 146.05, 9)
NULLS_MM = (65.998, 120.891)


def measured(value, unit, u, source):
    return Quantity.measured(float(value), unit, standard_uncertainty=u, source=source)


def request(distance_mm=222.0, u_mm=0.3, **options):
    return TargetRequest(measured(distance_mm, "mm", u_mm, "steel rule"), "minimax", 60.325, 146.05, **options)


def arc_readings(arm, plate, *, turn_deg=0.0, noise=None, u_mm=0.1, radii_mm=RADII_MM):
    deviations = deviation_from_arc_mm(
        bearing_on_arc_deg(radii_mm, plate),
        length_error_mm=arm.effective_length_mm - plate.effective_length_mm,
        distance_error_mm=arm.pivot_to_spindle_mm - plate.pivot_to_spindle_mm,
        plate_turn_deg=turn_deg,
        plate=plate,
    )
    if noise is not None:
        deviations = deviations + u_mm * noise.standard_normal(deviations.size)
    return [
        ArcReading(float(r), measured(e, "mm", u_mm, f"eye at {r:.2f} mm"))
        for r, e in zip(radii_mm, deviations, strict=True)
    ]


def on_the_arc(readings, plate):
    bearings = bearing_on_arc_deg([reading.radius_mm for reading in readings], plate)
    return [TraceReading(float(b), reading.deviation) for b, reading in zip(bearings, readings, strict=True)]


def null_readings(arm, *, noise=None, u_deg=0.2, radii_mm=NULLS_MM):
    return [
        NullReading(r, measured(angle, "deg", u_deg, f"cantilever at {r:g} mm"))
        for r, angle in zip(
            radii_mm,
            arm.tracking_error_deg(radii_mm) + (0 if noise is None else u_deg * noise.standard_normal(len(radii_mm))),
            strict=True,
        )
    ]


def test_readings_without_error_give_back_the_arm_and_what_it_does():
    arm = Geometry(222.4, 239.9, 23.3)
    asked = request(222.4)
    result = trace_result(asked, arc_readings(arm, traced_arc(asked), turn_deg=0.4), null_readings(arm))
    assert result.effective_length.value == pytest.approx(239.9, abs=1e-6)
    assert result.pivot_to_spindle.value == pytest.approx(222.4, abs=1e-6)
    assert result.overhang.value == pytest.approx(17.5, abs=1e-6)
    assert result.offset_angle.value == pytest.approx(23.3, abs=1e-6)
    targets = choose_targets(asked)
    assert result.effective_length_error.value == pytest.approx(239.9 - targets.effective_length.value, abs=1e-6)
    assert result.offset_angle_error.value == pytest.approx(23.3 - targets.offset_angle.value, abs=1e-6)
    curves = result.groove
    np.testing.assert_allclose(curves.tracking_error_deg, arm.tracking_error_deg(curves.radius_mm), rtol=0, atol=1e-7)
    worst = np.abs(curves.tracking_error_deg).max()
    assert result.groove.peak_tracking_error.value == pytest.approx(worst, abs=1e-6)
    assert result.trace.plate_turn.value == pytest.approx(0.4, abs=1e-6)


def test_what_a_trace_cannot_see_scarcely_moves_the_tracking_error():
    """Coordinates open by millimetres leave it open by half a degree; the same errors apart, by eight times more."""
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=NULLS_MM)
    blind = replace(request(), pivot_to_spindle=Quantity.unknown_uncertainty(222.0, "mm", why="none was stated"))
    result = trace_result(blind, arc_readings(arm, traced_arc(blind)))
    assert result.pivot_to_spindle.standard_uncertainty > 4
    assert result.effective_length.standard_uncertainty > 4
    assert result.correlation > 0.999
    half_widths = (result.groove.tracking_error_high_deg - result.groove.tracking_error_low_deg) / 2
    assert half_widths.max() < 0.6
    length, distance = result.effective_length, result.pivot_to_spindle
    apart = groove_course(
        blind,
        measured(length.value, "mm", length.standard_uncertainty, "length"),
        measured(distance.value, "mm", distance.standard_uncertainty, "distance"),
        Quantity.exact(result.offset_angle.value, "deg"),
    )
    assert ((apart.tracking_error_high_deg - apart.tracking_error_low_deg) / 2 > 8 * half_widths).all()
    assert "not joined" in result.notes[0]


def test_the_direct_distance_narrows_the_length_and_its_error_still_more():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=NULLS_MM)
    result = trace_result(request(), arc_readings(arm, traced_arc(request())))
    assert result.pivot_to_spindle.standard_uncertainty < 0.3
    assert result.effective_length.standard_uncertainty < 0.4
    # Target and length move together with the distance.
    assert result.effective_length_error.standard_uncertainty < 0.6 * result.effective_length.standard_uncertainty


def test_a_neighbouring_arc_is_read_as_what_it_was_drawn_for():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.5, null_radii_mm=NULLS_MM)
    asked = request(222.5)
    neighbour = traced_arc(asked, 224.0)
    assert neighbour.null_radii_mm == pytest.approx(choose_targets(asked).geometry.null_radii_mm)
    result = trace_result(asked, arc_readings(arm, neighbour), arc_mm=224.0)
    assert result.effective_length_error.value == pytest.approx(0, abs=1e-3)
    assert result.trace.distance_error.value == pytest.approx(-1.5, abs=1e-5)


def test_without_null_readings_the_cantilever_is_taken_to_follow_the_plate():
    arm = Geometry(222.0, 240.0, 20.0)
    result = trace_result(request(), arc_readings(arm, traced_arc(request())))
    assert not result.offset_angle_is_read
    assert result.as_json()["offset_angle"] is None
    at_nulls = Geometry(222.0, 240.0, result.offset_angle.value).tracking_error_deg(traced_arc(request()).null_radii_mm)
    assert sum(at_nulls) == pytest.approx(0, abs=1e-6)
    assert "set exactly along the groove at the nulls" in result.notes[-1]


def test_a_held_offset_angle_stands_for_readings_of_the_cantilever():
    held = request(hold_offset_angle=measured(23.0, "deg", 0.1, "maker"))
    arm = Geometry(222.0, 239.5, 23.0)
    result = trace_result(held, arc_readings(arm, traced_arc(held)))
    assert result.offset_angle == held.hold_offset_angle
    np.testing.assert_allclose(
        result.groove.tracking_error_deg, arm.tracking_error_deg(result.groove.radius_mm), rtol=0, atol=1e-6
    )


def test_a_held_angle_of_unknown_uncertainty_leaves_no_interval_and_says_why():
    unknown = Quantity.unknown_uncertainty(23.0, "deg", why="the maker states none")
    held = request(hold_offset_angle=unknown)
    result = trace_result(held, arc_readings(Geometry(222.0, 239.5, 23.0), traced_arc(held)))
    assert "the maker states none" in result.groove.why_unknown
    assert "the uncertainty of the offset angle is not known: the maker states none" in result.describe()
    shown = json.loads(json.dumps(result.as_json(), allow_nan=False))
    assert all(row["tracking_error"]["interval_95"] is None for row in shown["curves"])
    assert shown["peak_distortion"]["interval_95"] is None


def test_a_shared_uncertainty_goes_into_the_length():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=NULLS_MM)
    readings = arc_readings(arm, traced_arc(request()))
    own = trace_result(request(), readings)
    shared = trace_result(request(), readings, shared_uncertainty_mm=0.3)
    assert shared.effective_length_error.standard_uncertainty == pytest.approx(
        math.hypot(own.effective_length_error.standard_uncertainty, 0.3), rel=1e-3
    )


def test_disagreements_come_first_and_name_what_to_read_again():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=NULLS_MM)
    readings = arc_readings(arm, traced_arc(request()))
    readings[4] = replace(readings[4], deviation=measured(2.0, "mm", 0.1, "a slip"))
    result = trace_result(request(), readings)
    assert "reading 5 is farthest off" in result.notes[0]

    far = trace_result(request(240.0), arc_readings(arm, traced_arc(request(240.0))))
    assert any("contradict each other" in note for note in far.notes)

    odd = [NullReading(r, measured(a, "deg", 0.2, f"{r}")) for r, a in zip(NULLS_MM, (4.0, -4.0), strict=True)]
    result = trace_result(request(), arc_readings(arm, traced_arc(request())), odd)
    assert any("readings of the cantilever contradict" in note for note in result.notes)


def test_results_keep_the_sources_of_what_was_read():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=NULLS_MM)
    result = trace_result(request(), arc_readings(arm, traced_arc(request())), null_readings(arm))
    labels = {source.label for source in result.offset_angle.components}
    assert {"steel rule", "cantilever at 65.998 mm", "eye at 60.33 mm"} <= labels
    assert Source("steel rule") in result.effective_length.components


def test_json_has_the_consequence_first():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=NULLS_MM)
    shown = trace_result(request(), arc_readings(arm, traced_arc(request())), null_readings(arm)).as_json()
    keys = list(json.loads(json.dumps(shown, allow_nan=False)))
    assert keys.index("curves") < keys.index("cannot_tell") < keys.index("effective_length_error")
    assert "tracking error stays below" in shown["summary"]
    assert set(shown["offset_angle"]) == {"value", "unit", "standard_uncertainty"}


@pytest.mark.parametrize(
    ("asked", "options", "words"),
    [
        (replace(request(), pivot_to_spindle=None, arm_kind="tangential"), {}, "draws no arc"),
        (request(), {"arc_mm": 10.0}, "no arc of this plate is for 10 mm"),
    ],
)
def test_a_plate_that_cannot_be_is_refused(asked, options, words):
    with pytest.raises(ValueError, match=words):
        trace_result(asked, [], **options)


def test_a_short_trace_without_the_distance_is_refused_and_with_it_is_not():
    arm = geometry_from_nulls(pivot_to_spindle_mm=222.0, null_radii_mm=NULLS_MM)
    short = np.linspace(100, 125, 5)
    blind = replace(request(), pivot_to_spindle=Quantity.unknown_uncertainty(222.0, "mm", why="none was stated"))
    with pytest.raises(ValueError, match="leaves the pivot-to-spindle distance open"):
        trace_result(blind, arc_readings(arm, traced_arc(blind), radii_mm=short))
    result = trace_result(request(), arc_readings(arm, traced_arc(request()), radii_mm=short))
    assert result.pivot_to_spindle.standard_uncertainty == pytest.approx(0.3, rel=0.01)


@pytest.fixture(scope="module")
def thousand_traces():
    """How often the intervals of 1,000 simulated decks hold the truth."""
    random = np.random.default_rng(1125)
    held = {"error": [], "distortion": [], "length": 0, "distance": 0, "offset": 0}
    for _ in range(1000):
        distance = random.uniform(205, 240)
        design = geometry_from_nulls(pivot_to_spindle_mm=distance, null_radii_mm=NULLS_MM)
        arm = Geometry(
            distance, design.effective_length_mm + random.normal(0, 0.8), design.offset_angle_deg + random.normal(0, 1)
        )
        asked = request(distance + 0.3 * random.standard_normal())
        plate = traced_arc(asked)
        readings = arc_readings(arm, plate, turn_deg=random.normal(0, 0.5), noise=random)
        # The parts of `trace_result` that give curves and coordinates, without its draws.
        trace = fit_trace(on_the_arc(readings, plate), plate, pivot_to_spindle=asked.distance)
        found = fit_nulls(
            null_readings(arm, noise=random),
            effective_length=trace.effective_length,
            pivot_to_spindle=trace.pivot_to_spindle,
        )
        curves = groove_course(asked, found.effective_length, found.pivot_to_spindle, found.offset_angle)
        truth = arm.tracking_error_deg(curves.radius_mm)
        held["error"].append((curves.tracking_error_low_deg <= truth) & (truth <= curves.tracking_error_high_deg))
        speed_mm_s = 2 * math.pi * (100 / 3) / 60 * curves.radius_mm
        index = 100 / speed_mm_s * np.abs(np.tan(np.radians(truth)))
        percent = 100 * jv(2, 2 * index) / jv(1, index)
        held["distortion"].append(
            (curves.distortion_low_percent <= percent) & (percent <= curves.distortion_high_percent)
        )
        for name, quantity, true in (
            ("length", found.effective_length, arm.effective_length_mm),
            ("distance", found.pivot_to_spindle, distance),
            ("offset", found.offset_angle, arm.offset_angle_deg),
        ):
            held[name] += abs(quantity.value - true) <= 1.959964 * quantity.standard_uncertainty
    return held


def test_intervals_of_the_curves_hold_the_truth(thousand_traces):
    """93 to 97 % of 1,000 decks at every radius for the tracking error, and over all radii for the distortion."""
    at_radius = np.mean(thousand_traces["error"], axis=0)
    assert at_radius.min() >= 0.93
    assert at_radius.max() <= 0.97
    assert 0.93 <= np.mean(thousand_traces["distortion"]) <= 0.97


def test_intervals_of_the_coordinates_hold_the_truth(thousand_traces):
    for name in ("length", "distance", "offset"):
        assert 930 <= thousand_traces[name] <= 970, name
