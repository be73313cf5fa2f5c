import json
import math
import re

import pytest
from click.testing import CliRunner

from groovewright.cli.main import main
from groovewright.tonearm.compensation import ThreadCompensation
from groovewright.tonearm.geometry import Geometry

BARE = ["side-force", "--pivot-to-spindle", "222mm", "--tracking-force", "1.8g"]
KNOWN = [
    "side-force",
    *("--pivot-to-spindle", "222 mm +- 0.3 mm"),
    *("--effective-length", "239.2961 mm +- 0.2 mm"),
    *("--tracking-force", "18 mN +- 0.1 mN"),
]
WITH_FRICTION = [*KNOWN, "--friction-coefficient", "0.3 +- 0.01"]
CONSTANT = ["--compensation", "2.1 mN +- 0.1 mN"]
THREAD = [
    *("--thread-weight", "2.5g +- 0.01g"),
    *("--thread-lever", "20mm +- 0.1mm"),
    *("--thread-lever-angle", "-90deg +- 1deg"),
    *("--guide-distance", "40mm +- 0.3mm"),
    *("--guide-angle", "5deg +- 1deg"),
]


def run(*words):
    result = CliRunner().invoke(main, list(words))
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    return result.stdout


def found(*words):
    return json.loads(run(*words, "--json"))


def test_force_over_the_groove_in_the_sin_form():
    shown = found(*WITH_FRICTION)
    assert "sin(groove angle)" in shown["form"]
    # Worked sines: 0.402 at the innermost and 0.419 at the outermost groove, of a drag of 5.4 mN.
    inner, outer = (shown["groove"][k]["side_force"] for k in (0, -1))
    assert inner["value"] == pytest.approx(0.402 * 5.4, abs=0.0005 * 5.4)
    assert outer["value"] == pytest.approx(0.419 * 5.4, abs=0.0005 * 5.4)
    assert set(inner) == {"value", "unit", "standard_uncertainty"}
    assert shown["groove"][0]["radius"]["value"] == 60.325
    assert shown["verdict"] is None
    assert shown["share_of_tracking_force"]["unit"] == "%"


def test_friction_that_is_not_given_is_common_practice_and_says_so():
    shown = found(*BARE)
    assert shown["friction_coefficient"]["value"] == pytest.approx(0.3)
    assert any("0.2 to 0.4 (common practice, no source)" in note for note in shown["notes"])
    assert any("near 10 % of the tracking force is common practice, no source" in note for note in shown["notes"])
    assert any("more of it is no remedy" in note for note in shown["notes"])
    # The length that is not given is the target for the distance.
    assert shown["effective_length"]["value"] == pytest.approx(239.2961, abs=5e-5)


def test_verdict_on_a_constant_with_the_bearings_both_ways():
    words = [*WITH_FRICTION, *CONSTANT]
    alone = found(*words)
    both = found(*words, "--starts-outward", "0.30 mN +- 0.02 mN", "--starts-inward", "0.20 mN +- 0.02 mN")
    assert (alone["verdict"], both["verdict"]) == ("in tolerance", "in tolerance")
    assert both["bearing_friction"]["value"] == pytest.approx(0.25)
    assert both["stray_force"]["value"] == pytest.approx(0.05)
    for a, b in zip(alone["groove"], both["groove"], strict=True):
        assert b["rest"]["value"] - a["rest"]["value"] == pytest.approx(0.05)
        narrow, wide = a["rest_interval_95"], b["rest_interval_95"]
        assert wide["high"] - wide["low"] > narrow["high"] - narrow["low"] + 0.49
    assert any("level the deck" in note for note in both["notes"])
    assert "risk of at most 5 %" in both["rule"]


def test_limit_decides():
    assert found(*WITH_FRICTION, *CONSTANT)["limit"]["value"] == 0.9
    assert found(*WITH_FRICTION, *CONSTANT, "--limit", "0.1 mN")["verdict"] != "in tolerance"
    assert found(*WITH_FRICTION, "--compensation", "0 mN +- 0.01 mN")["verdict"] == "out of tolerance"


def test_a_table_is_read_radius_by_radius():
    rows = ["--compensation-at", "60 mm: 1.9 mN +- 0.1 mN", "--compensation-at", "147mm:2.3mN +- 0.1 mN"]
    shown = found(*WITH_FRICTION, *rows)
    middle = 1.9 + 0.4 * (103.1875 - 60) / 87
    assert shown["compensation_at_middle"]["value"] == pytest.approx(middle)


def test_a_thread_by_its_dimensions():
    shown = found(*WITH_FRICTION, *THREAD)
    level = ThreadCompensation(Geometry(222.0, 239.2961, 0.0), 2.5, 20.0, -90.0, 40.0, 5.0)
    assert shown["compensation_at_middle"]["value"] == pytest.approx(float(level.force_mn(103.1875)))
    above = found(*WITH_FRICTION, *THREAD, "--guide-height", "20mm")
    assert above["compensation_at_middle"]["value"] < shown["compensation_at_middle"]["value"]


def test_a_rest_gives_the_coefficient():
    shown = found(*KNOWN, *CONSTANT, "--rest", "-0.07 mN +- 0.1 mN", "--rest-radius", "100mm")
    assert shown["friction_coefficient"]["value"] == pytest.approx((2.1 - 0.07) / (18 * 0.3757), rel=2e-4)


def test_a_ladder_gives_the_coefficient_and_says_what_it_assumes():
    ladder = [
        *("--ladder-left", "22 cm/s +- 0.5 cm/s"),
        *("--ladder-right", "20 cm/s +- 0.5 cm/s"),
        *("--ladder-radius", "100mm"),
    ]
    words = [*KNOWN, *CONSTANT, *ladder]
    shown = found(*words)
    # (N + W) / (N - W) = 1.1 makes W = N / 21, and the rest that times the cosine of the groove angle.
    assert shown["friction_coefficient"]["value"] == pytest.approx(
        (18 / 21 * (1 - 0.3757**2) ** 0.5 + 2.1) / (18 * 0.3757), rel=2e-4
    )
    assert any("our assumption, no source" in note for note in shown["notes"])
    assert "our assumption, no source" in " ".join(run(*words).split())


def test_table_shows_grams_first_and_the_groove_below():
    table = run(*WITH_FRICTION, *CONSTANT)
    assert re.search(r"tracking force +1\.835 g ± 0\.010 g \(18\.00 mN\)", table)
    assert re.search(r"verdict +in tolerance", table)
    rows = re.findall(
        r"^ +(\d+\.\d)  +\d\.\d+ ± \d\.\d+ +2\.10 ± 0\.10 +[+-]\d\.\d\d +([+-]\S+ to [+-]\S+) +", table, re.M
    )
    assert [rows[0][0], rows[-1][0]] == ["60.3", "146.1"]
    assert len(rows) == 7
    assert max(map(len, table.splitlines())) <= 80


def test_unknown_uncertainties_show_nothing():
    shown = found(*BARE, "--compensation", "2mN")
    assert shown["verdict"] == "undecided"
    assert shown["groove"][0]["rest_interval_95"] is None
    table = run(*BARE, "--compensation", "2mN")
    assert "not known" in table
    assert "probability of conformity" in table


def test_help_says_which_form_and_whose_practice():
    text = " ".join(run("side-force", "--help").split())
    assert "mu N sin(groove angle): the sin form" in text
    assert "near 10 % of the tracking force is common practice, no source" in text
    assert "More tracking force is never a remedy" in text


REFUSED = [
    (["side-force", "--tracking-force", "1.8g"], "Missing option '--pivot-to-spindle'"),
    (["side-force", "--pivot-to-spindle", "222mm"], "Missing option '--tracking-force'"),
    ([*BARE, "--tracking-force", "1.8mm"], "a force such as 1.8 g is needed here"),
    ([*BARE, "--tracking-force", "-1.8g"], "tracking force must be above 0"),
    ([*BARE, "--pivot-to-spindle", "100mm"], "lies inside the outermost groove"),
    ([*BARE, "--effective-length", "23.9mm"], "out of reach"),
    ([*BARE, "--groove-range", "146:60"], "smaller end first"),
    ([*BARE, "--friction-coefficient", "30%"], 'must have no unit, but "%"'),
    ([*BARE, "--friction-coefficient", "30"], "more than a stylus has in any groove"),
    ([*BARE, "--friction-coefficient", "0"], "friction coefficient must be above 0"),
    ([*BARE, "--compensation", "2"], '"2" has no unit; write it like 1.9 mN'),
    ([*BARE, "--compensation", "200g"], "push the stylus up a wall of the groove"),
    ([*BARE, "--compensation-at", "60mm 2mN"], "has no colon; write radius and force like"),
    ([*BARE, "--compensation-at", "60:2mN"], '"60" has no unit'),
    ([*BARE, "--compensation-at", "60mm:2"], '"2" has no unit'),
    ([*BARE, "--compensation-at", "60mm:2mN"], "two radii or more"),
    ([*BARE, "--compensation-at", "90mm:2mN", "--compensation-at", "60mm:2mN"], "60 mm comes after 90 mm"),
    ([*BARE, "--compensation-at", "90mm:2mN", "--compensation-at", "146.05mm:2mN"], "says nothing of 60.325 mm"),
    ([*BARE, *CONSTANT, *THREAD], "the compensation is given in two ways"),
    ([*BARE, *THREAD[:4]], "--thread-weight needs --thread-lever-angle and --guide-distance and --guide-angle"),
    ([*BARE, "--guide-height", "3mm"], "--guide-height belongs to a weight on a thread"),
    ([*BARE, *THREAD, "--thread-weight", "0g"], "mass of the weight must be above 0 g"),
    ([*BARE, *THREAD, "--thread-lever", "-2mm"], "lever of the thread must be above 0 mm"),
    ([*BARE, "--starts-outward", "0.3mN"], "--starts-outward needs --starts-inward beside it"),
    ([*BARE, "--starts-outward", "0.1mN", "--starts-inward", "-0.3mN"], "would make the friction negative"),
    ([*BARE, *CONSTANT, "--rest", "0.2mN"], "--rest needs --rest-radius beside it"),
    ([*BARE, "--rest", "0.2mN", "--rest-radius", "100mm"], "give --compensation 0mN if it was off"),
    ([*BARE, *CONSTANT, "--rest", "-9mN", "--rest-radius", "100mm"], "draws toward the spindle is positive"),
    ([*BARE, *CONSTANT, "--rest", "0.2mN", "--rest-radius", "5mm"], "out of reach"),
    ([*BARE, *CONSTANT, "--rest", "0.2mN", "--rest-radius", "0mm"], "0mm is not above 0"),
    ([*BARE, *CONSTANT, "--ladder-left", "20cm/s"], "--ladder-left needs --ladder-right and --ladder-radius"),
    (
        [*BARE, *CONSTANT, "--friction-coefficient", "0.3", "--rest", "0.2mN", "--rest-radius", "100mm"],
        "the friction coefficient is given in two ways",
    ),
    (
        [*BARE, *CONSTANT, "--ladder-left", "0cm/s", "--ladder-right", "20cm/s", "--ladder-radius", "100mm"],
        "left channel cannot break down at 0 cm/s",
    ),
    ([*BARE, *CONSTANT, "--limit", "0mN"], "0mN is not above 0"),
    ([*BARE, *CONSTANT, "--limit", "0.9mN +- 0.1mN"], "without its uncertainty"),
    ([*BARE, "extra"], "unexpected extra argument"),
]


@pytest.mark.parametrize(("words", "says"), REFUSED, ids=lambda value: value if isinstance(value, str) else "")
def test_bad_input_ends_in_one_sentence(words, says):
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr


def test_share_and_walls_agree_with_the_force():
    shown = found(*WITH_FRICTION, *CONSTANT)
    share = shown["share_of_tracking_force"]["value"]
    assert share == pytest.approx(100 * shown["balancing_compensation"]["value"] / 18)
    for row in shown["groove"]:
        walls = row["inner_wall"]["value"] + row["outer_wall"]["value"]
        assert walls == pytest.approx(math.sqrt(2) * 18)
