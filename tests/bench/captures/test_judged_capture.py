"""Limits and verdicts of what a capture shows, and what to do next."""

import pytest

from groovewright.bench.captures.capture_advice import ACTIONS
from groovewright.bench.captures.capture_limits import (
    RULE_OF_THUMB,
    SETTING_OF,
    UNITS,
    USUAL_LIMITS,
    CaptureLimit,
    capture_limits,
)
from groovewright.bench.captures.judged_capture import judge_capture, verdicts_json, what_next
from groovewright.bench.captures.limit_sheet import limits_of, read_limit_sheet, tables_of
from groovewright.bench.captures.to_mind import MAX_TO_MIND, to_mind
from groovewright.bench.estimate.limits import DEFAULT_TOLERANCES
from groovewright.measurement.conformity import DecisionRule, Tolerance, decide, decide_upper_bound
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_result import ListedQuantity
from groovewright.testtone.tones.faint_level import FaintLevel

RULE = DecisionRule.of_maximum_risk(0.05)


def told(value, unit, u=0.01):
    return Quantity.measured(value, unit, standard_uncertainty=u, source="this capture")


def bound(value):
    return Quantity.unknown_uncertainty(value, "dB", why="the noise hides it", how="upper bound from bands")


def judged(quantities, **limits):
    return judge_capture(quantities, limits=capture_limits(**limits), rule=RULE)


def test_every_limit_has_the_unit_of_its_quantity_and_something_to_do_beyond_it():
    for name, limit in capture_limits().items():
        assert limit.tolerance.unit == UNITS[name]
        assert limit.source
        assert ACTIONS[name]
        if limit.aim is not None:
            assert decide(Quantity.exact(limit.aim, UNITS[name]), limit.tolerance, RULE).outcome == "in tolerance"


def test_published_limits_name_their_source_and_the_others_say_rule_of_thumb():
    published = {name for name, limit in USUAL_LIMITS.items() if limit.source != RULE_OF_THUMB}
    assert published == {"speed_error", "eccentricity"}
    # NAB, and IEC 98 of 1958 to 1987, as the lists of check values restate them.
    assert USUAL_LIMITS["speed_error"].tolerance == Tolerance(-0.3, 0.3, "%")
    assert USUAL_LIMITS["eccentricity"].tolerance == Tolerance(None, 0.2, "mm")


def test_settings_of_the_bench_have_the_limits_of_the_bench():
    limits = capture_limits()
    for name in ("effective_length_error", "zenith_error", "azimuth_rotation"):
        assert limits[name].tolerance is DEFAULT_TOLERANCES[SETTING_OF[name]]
    mine = CaptureLimit(0.1, Tolerance(-0.2, 0.4, "deg"), "set for this job")
    assert capture_limits(job={"azimuth": mine})["azimuth_rotation"] is mine


@pytest.mark.parametrize(
    ("value", "u", "outcome"),
    [(0.1, 0.01, "in tolerance"), (0.4, 0.01, "out of tolerance"), (0.29, 0.02, "undecided")],
)
def test_a_value_is_judged_by_the_one_conformity_code(value, u, outcome):
    (one,) = judged({"speed_error": told(value, "%", u)})
    assert one.outcome == outcome
    assert one.verdict == decide(one.quantity, USUAL_LIMITS["speed_error"].tolerance, RULE)


def test_what_has_no_limit_has_no_verdict():
    (one,) = judged({"crosstalk_leak": told(-30, "dB")})
    assert (one.outcome, one.limit, one.verdict) == ("", None, None)


def test_entries_of_a_list_are_judged_one_by_one_and_say_where():
    hum = tuple(
        ListedQuantity(told(level, "dB"), Quantity.exact(hz, "Hz"), "Silence", "lateral")
        for hz, level in ((50, -62), (150, -40))
    )
    first, second = judged({"hum": hum})
    assert (first.outcome, second.outcome) == ("in tolerance", "out of tolerance")
    assert second.where == "at 150 Hz, Silence, lateral"


def test_a_ladder_names_the_lateral_velocity_and_that_of_the_channel():
    (one,) = judged({"tracking_ability_left": told(14.14, "cm/s", 0.5)})
    assert one.where == "lateral peak velocity; 10 cm/s in the channel itself"


def test_a_bound_below_the_limit_is_in_tolerance_and_one_above_is_undecided():
    (low,) = judged({"crosstalk_left_into_right": bound(-31)})
    (high,) = judged({"crosstalk_left_into_right": bound(-12)})
    assert (low.outcome, high.outcome) == ("in tolerance", "undecided")
    assert low.verdict.probability_of_conformity == 0.95


def test_a_bound_is_not_sure_enough_for_a_stricter_rule():
    strict = DecisionRule.of_maximum_risk(0.01)
    assert decide_upper_bound(bound(-31), 0.95, Tolerance(None, -20, "dB"), strict).outcome == "undecided"
    between = Tolerance(-40, -20, "dB")
    assert decide_upper_bound(bound(-31), 0.95, between, RULE).outcome == "undecided"


def test_the_channels_call_a_bound_what_the_verdict_looks_for():
    from groovewright.bench.captures.judged_capture import BOUND
    from groovewright.testtone.channels.channels import _bound

    assert FaintLevel.__annotations__["is_bound"] == "bool"
    assert _bound(told(-30, "dB")).how.startswith(BOUND)


def test_what_is_out_comes_first_and_says_which_setting_or_what_else():
    found = judged(
        {
            "effective_length_error": told(0.1, "mm"),
            "zenith_error": told(2.0, "deg"),
            "resonance_lateral": told(15, "Hz"),
            "speed_error": told(1, "%"),
        }
    )
    what = what_next(found)
    assert what.settings == ("zenith", "effective_length")
    assert what.actions == (ACTIONS["speed_error"], ACTIONS["resonance_lateral"])


def test_json_has_value_limits_verdict_chance_and_rule():
    found = verdicts_json(judged({"zenith_error": told(2.0, "deg"), "crosstalk_leak": told(-30, "dB")}), RULE)
    (row,) = found["verdicts"]
    assert row["name"] == "zenith_error"
    assert row["tolerance"] == {"lower": -0.5, "upper": 0.5, "unit": "deg"}
    assert (row["aim"], row["source"], row["setting"]) == (0.0, RULE_OF_THUMB, "zenith")
    assert (row["outcome"], row["probability_of_conformity"]) == ("out of tolerance", pytest.approx(0, abs=1e-9))
    assert "5 %" in found["rule"]
    assert found["next"] == {"settings": ["zenith"], "actions": []}


# Limits of the workshop


def test_a_sheet_of_limits_reads_back():
    sheet = (
        '[total_harmonic_distortion]\nupper = 3\nsource = "our own"\n[channel_balance]\nlower = -1\nupper = 1\naim = 0'
    )
    limits = read_limit_sheet(sheet)
    assert limits["total_harmonic_distortion"] == CaptureLimit(None, Tolerance(None, 3.0, "%"), "our own")
    assert limits["channel_balance"].source == "set by the workshop"
    assert limits_of(tables_of(limits)) == limits
    assert capture_limits(workshop=limits)["channel_balance"].tolerance.upper == 1


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[chanel_balance]\nupper = 1", "did you mean 'channel_balance'"),
        ("[channel_balance]\naim = 0", "needs a lower limit"),
        ("[channel_balance]\nlower = 2\nupper = 1", "must be below"),
        ('[channel_balance]\nupper = "1"', "channel_balance"),
        ("channel_balance = 3", "must be a table"),
        ("[channel_balance", "no TOML"),
        ("[channel_balance]\nupper = 1\nsource = ''", "source"),
        ("[channel_balance]\nuper = 1", "did you mean 'upper'"),
    ],
)
def test_a_wrong_sheet_is_refused_in_one_sentence(text, sentence):
    with pytest.raises(ValueError, match=r"^[^\n]*$") as refusal:
        read_limit_sheet(text)
    assert sentence in str(refusal.value)


# Things to mind


def test_at_most_three_things_to_mind_and_none_is_lost():
    notes = (
        "Speed is told against the recorder's clock.",
        "A tick burst at 12.0 s is cut out.",
        "Clipped in 3 places (11 samples).",
        "Noise is the band level 10-315 Hz.",
        "The channels have opposite polarity: the leads are swapped.",
        "Something new that nobody sorted.",
    )
    found = to_mind(notes)
    assert found.first[:2] == (notes[2], notes[4])
    assert len(found.first) == MAX_TO_MIND
    assert set(found.first) | set(found.others) == set(notes)
    assert notes[0] in found.others
