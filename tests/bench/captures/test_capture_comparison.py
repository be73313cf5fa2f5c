"""Plays joined, and two captures compared: what cancels, what counts, and what is shown."""

import numpy as np
import pytest

from groovewright.bench.captures.capture_comparison import compare_captures
from groovewright.bench.captures.capture_limits import capture_limits
from groovewright.bench.captures.joined_plays import JoinedPlays, join_plays
from groovewright.measurement.conformity import DecisionRule
from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.capture.capture_result import ListedQuantity
from groovewright.testtone.sheet.allowances import CLOCK_SOURCE

RULE = DecisionRule.of_maximum_risk(0.05)
CUT = "azimuth, cut of record"


def azimuth(value, play, *, own=0.03, cut=0.33):
    return Quantity(value, "deg", {Source(CUT): cut, Source(f"noise, {play}"): own})


def speed(value, play):
    return Quantity(value, "%", {Source(CLOCK_SOURCE): 0.003, Source(f"noise, {play}"): 0.0004})


def compare(before, after, **options):
    before, after = (one if isinstance(one, JoinedPlays) else join_plays([one]) for one in (before, after))
    return compare_captures(before, after, limits=capture_limits(), rule=RULE, **options)


def test_what_the_record_is_off_by_cancels_in_the_difference():
    (row,) = compare({"azimuth_rotation": azimuth(1.4, "a")}, {"azimuth_rotation": azimuth(0.0, "b")}).changes
    assert row.change.value == pytest.approx(-1.4)
    assert row.change.standard_uncertainty == pytest.approx(0.03 * np.sqrt(2))
    assert row.shown
    assert row.outcome == "changed"
    assert (row.before.outcome, row.after.outcome) == ("out of tolerance", "undecided")
    assert 0.9 < row.shared_part < 1


def test_the_clock_cancels_unless_another_recorder_was_used():
    before, after = {"speed_error": speed(0.1, "a")}, {"speed_error": speed(0.102, "b")}
    (same,) = compare(before, after).changes
    (other,) = compare(before, after, one_chain=False).changes
    assert same.change.standard_uncertainty == pytest.approx(0.0004 * np.sqrt(2))
    assert other.change.standard_uncertainty == pytest.approx(np.hypot(0.0004, 0.003) * np.sqrt(2))
    assert same.shown
    assert not other.shown


def test_among_many_values_a_change_needs_more_than_its_own_interval():
    u = 0.03 * np.sqrt(2)
    before = {"azimuth_rotation": azimuth(0.0, "a")}
    after = {"azimuth_rotation": azimuth(2.2 * u, "b")}
    assert compare(before, after).changed
    names = ("zenith_error", "vertical_tracking_angle_error", "effective_length_error")
    more = [
        {name: Quantity.measured(0.0, "mm" if "length" in name else "deg", standard_uncertainty=1, source=f"{name} {k}")
         for name in names}
        for k in "ab"
    ]  # fmt: skip
    assert not compare(before | more[0], after | more[1]).changed


def test_what_one_side_lacks_or_only_bounds_cannot_be_told():
    bound = Quantity.unknown_uncertainty(-31, "dB", why="the noise hides it", how="upper bound of bands")
    found = compare(
        {"speed_error": speed(0.1, "a"), "crosstalk_left_into_right": bound},
        {"crosstalk_left_into_right": Quantity.measured(-25, "dB", standard_uncertainty=0.5, source="b")},
    )
    reasons = {row.known.name: (row.outcome, row.reason) for row in found.changes}
    assert reasons["speed_error"] == ("can't tell", "not shown by the capture after")
    assert reasons["crosstalk_left_into_right"] == ("can't tell", "only an upper bound is known before")


def test_lists_are_compared_entry_by_entry():
    def hum(hz, level, play):
        level = Quantity.measured(level, "dB", standard_uncertainty=0.2, source=play)
        return ListedQuantity(level, Quantity.exact(hz, "Hz"), "Silence", "lateral")

    found = compare(
        {"hum": (hum(50.0, -50, "a"), hum(150.1, -60, "a3"))}, {"hum": (hum(50.02, -62, "b"), hum(149.8, -60, "b3"))}
    )
    assert [(round(row.change.value), row.outcome) for row in found.changes] == [
        (-12, "changed"),
        (0, "no change shown"),
    ]
    assert found.as_json()["changes"][0]["band"] == "Silence"


def test_json_gives_the_change_with_its_interval():
    (row,) = compare({"speed_error": speed(0.1, "a")}, {"speed_error": speed(0.4, "b")}).as_json()["changes"]
    assert row["change"]["value"] == pytest.approx(0.3)
    assert row["interval_95"]["low"] < 0.3 < row["interval_95"]["high"]
    assert (row["before"]["outcome"], row["after"]["outcome"]) == ("in tolerance", "out of tolerance")
    assert row["outcome"] == "changed"


# Several plays


def test_plays_keep_what_they_share_and_average_the_rest():
    found = join_plays([{"azimuth_rotation": azimuth(1.0 + k * 0.01, f"play {k}")} for k in (-1, 0, 1)])
    joined = found.quantities["azimuth_rotation"]
    assert found.count == 3
    assert joined.value == pytest.approx(1.0)
    assert joined.standard_uncertainty == pytest.approx(np.hypot(0.33, 0.03 / np.sqrt(3)))
    assert not found.disagreeing


def test_plays_that_scatter_more_than_they_say_count_their_scatter():
    found = join_plays([{"azimuth_rotation": azimuth(v, f"play {v}")} for v in (0.6, 1.0, 1.4)])
    joined = found.quantities["azimuth_rotation"]
    scatter = np.std([0.6, 1.0, 1.4], ddof=1) / np.sqrt(3)
    assert joined.standard_uncertainty == pytest.approx(np.sqrt(0.33**2 + 0.03**2 / 3 + scatter**2), rel=1e-6)
    assert joined.components[Source(CUT)] == pytest.approx(0.33)
    assert len(found.disagreeing) == 1
    compared = compare(found, found)
    assert any("scatter" in note for note in compared.notes)
    assert len(compared.notes) <= 3


def test_the_joined_interval_holds_the_truth_whether_plays_repeat_well_or_badly():
    from groovewright.measurement.coverage import coverage_interval

    rng = np.random.default_rng(17)
    for extra in (0.0, 0.1):
        held = 0
        for _ in range(400):
            cut = 0.33 * rng.standard_normal()
            plays = [
                {"azimuth_rotation": azimuth(cut + np.hypot(0.03, extra) * rng.standard_normal(), f"play {k}")}
                for k in range(4)
            ]
            low, high = coverage_interval(join_plays(plays).quantities["azimuth_rotation"])
            held += low <= 0 <= high
        assert 0.91 < held / 400 < 0.985


def test_one_play_is_taken_as_it_is_and_a_bound_beside_values_is_left_out():
    alone = {"speed_error": speed(0.1, "a")}
    assert join_plays([alone]).quantities is alone
    bound = Quantity.unknown_uncertainty(-31, "dB", why="the noise hides it", how="upper bound of bands")
    told = Quantity.measured(-29, "dB", standard_uncertainty=1, source="b")
    assert join_plays([{"crosstalk_leak": bound}, {"crosstalk_leak": told}]).quantities["crosstalk_leak"] == told
    assert join_plays([{"crosstalk_leak": bound}] * 2).quantities["crosstalk_leak"].how == bound.how
    with pytest.raises(ValueError, match="no play"):
        join_plays([])
