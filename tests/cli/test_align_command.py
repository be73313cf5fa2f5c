import json

import pytest
from click.testing import CliRunner

from groovewright.cli.main import main
from groovewright.cli.values import CRITERION_KEYS
from groovewright.measurement.parsing import parse_quantity

ASKED_FOR = {
    "effective_length": "mm",
    "overhang": "mm",
    "offset_angle": "deg",
    "linear_offset": "mm",
    "peak_tracking_error": "deg",
    "peak_distortion": "%",
    "rms_distortion": "%",
}


def found(*words):
    result = CliRunner().invoke(main, ["align", *words, "--json"])
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    return json.loads(result.stdout)


def quantities_in(tree):
    if isinstance(tree, dict):
        if "value" in tree:
            yield tree
        for branch in tree.values():
            yield from quantities_in(branch)
    if isinstance(tree, list):
        for branch in tree:
            yield from quantities_in(branch)


def test_worked_row_for_222_mm():
    # Derived by hand for D = 222 mm and the closed-form minimax; half of each last digit.
    answer = found("--pivot-to-spindle", "222 mm +- 0.3 mm")
    for name, value, half_digit in [
        ("effective_length", 239.2961, 5e-5),
        ("overhang", 17.2961, 5e-5),
        ("offset_angle", 22.9855, 5e-5),
        ("peak_tracking_error", 1.8056, 5e-5),
        ("peak_distortion", 0.618, 5e-4),
    ]:
        assert answer[name]["value"] == pytest.approx(value, abs=half_digit)
    assert [radius["value"] for radius in answer["null_radii"]] == pytest.approx([65.998, 120.891], abs=5e-4)


@pytest.mark.parametrize("criterion", CRITERION_KEYS)
def test_every_criterion_gives_every_quantity_with_exactly_three_keys(criterion):
    answer = found("--pivot-to-spindle", "222 mm +- 0.3 mm", "--criterion", criterion)
    assert answer["criterion"] == criterion
    assert {name: answer[name]["unit"] for name in ASKED_FOR} == ASKED_FOR
    assert len(answer["null_radii"]) == 2
    assert len(list(quantities_in(answer))) >= len(ASKED_FOR) + 3
    for quantity in quantities_in(answer):
        assert set(quantity) == {"value", "unit", "standard_uncertainty"}
        assert quantity["standard_uncertainty"] >= 0


def test_uncertainty_of_the_distance_reaches_the_targets():
    once = found("--pivot-to-spindle", "222 mm +- 0.3 mm")
    twice = found("--pivot-to-spindle", "222 mm +- 0.6 mm")
    halved = found("--pivot-to-spindle", "222 mm +- 0.6 mm (k=2)")
    # L = sqrt(D^2 + n1 n2), so dL/dD = D / L.
    slope = 222 / once["effective_length"]["value"]
    assert once["effective_length"]["standard_uncertainty"] == pytest.approx(0.3 * slope, rel=1e-6)
    assert once["overhang"]["standard_uncertainty"] == pytest.approx(0.3 * (1 - slope), rel=1e-5)
    assert twice["effective_length"]["standard_uncertainty"] == pytest.approx(0.6 * slope, rel=1e-6)
    assert halved == once


def test_unknown_uncertainty_stays_unknown_and_is_said():
    answer = found("--pivot-to-spindle", "222mm")
    assert answer["effective_length"]["standard_uncertainty"] is None
    assert any("not known" in note for note in answer["notes"])


@pytest.mark.parametrize("typed", ["22.2cm", "222,0 mm", "8.740157480315 in"])
def test_other_units_and_the_decimal_comma_give_the_same(typed):
    value = found("--pivot-to-spindle", typed)["effective_length"]["value"]
    assert value == pytest.approx(found("--pivot-to-spindle", "222mm")["effective_length"]["value"], abs=1e-9)


def test_held_dimensions_are_held():
    held_length = found("--pivot-to-spindle", "222mm", "--hold-effective-length", "240mm")
    assert held_length["effective_length"]["value"] == 240
    held_angle = found("--pivot-to-spindle", "222mm", "--hold-offset-angle", "23deg")
    assert held_angle["offset_angle"]["value"] == pytest.approx(23)


def test_groove_range_velocity_and_speed_change_what_they_should():
    plain = found("--pivot-to-spindle", "222mm")
    louder = found("--pivot-to-spindle", "222mm", "--peak-velocity", "20cm/s")
    faster = found("--pivot-to-spindle", "222mm", "--speed", "45rpm")
    wider = found("--pivot-to-spindle", "222mm", "--groove-range", "57.5:146.3")
    assert louder["peak_distortion"]["value"] == pytest.approx(2 * plain["peak_distortion"]["value"], rel=1e-3)
    assert faster["peak_distortion"]["value"] == pytest.approx(
        plain["peak_distortion"]["value"] * (100 / 3) / 45, rel=1e-3
    )
    assert wider["peak_distortion"]["value"] > plain["peak_distortion"]["value"]
    assert [end["value"] for end in wider["groove_range"]] == [57.5, 146.3]


def test_table_shows_what_the_json_holds():
    result = CliRunner().invoke(main, ["align", "--pivot-to-spindle", "222 mm +- 0.3 mm"])
    assert result.exit_code == 0
    assert "\x1b" not in result.stdout
    rows = (line.strip().split("   ", 1) for line in result.stdout.splitlines())
    lines = dict(row for row in rows if len(row) == 2)
    shown = parse_quantity(lines["overhang"].strip(), "length", source="table")
    answer = found("--pivot-to-spindle", "222 mm +- 0.3 mm")["overhang"]
    assert shown.value == pytest.approx(answer["value"], abs=5e-3)
    assert 0 <= shown.standard_uncertainty - answer["standard_uncertainty"] < 0.01
    for name in ("effective length", "offset angle", "null radius", "peak distortion", "rms distortion"):
        assert name in lines
