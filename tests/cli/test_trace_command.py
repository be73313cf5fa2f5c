"""`groovewright trace`: the consequence first, JSON, and refusals with line numbers."""

import json

import pytest
from click.testing import CliRunner

from groovewright.cli.main import main

READINGS = (
    "radius_mm,deviation_mm,deviation_uncertainty_mm,angle_deg,angle_uncertainty_deg\n"
    "60.5,0.10,0.1,,\n66,,,0.2,0.2\n75,0.20,0.1,,\n90,0.20,0.1,,\n105,0.30,0.1,,\n120,0.25,0.1,0.1,0.2\n146,0.20,0.1,,\n"
)
DISTANCE = ["--pivot-to-spindle", "222.3 mm +- 0.3 mm"]


@pytest.fixture
def readings(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text(READINGS, encoding="utf-8")
    return str(path)


def trace(*words):
    return CliRunner().invoke(main, ["trace", *words])


def found(*words):
    result = trace(*words, "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def test_the_table_has_the_consequence_then_the_coordinates_then_what_it_cannot_tell(readings):
    result = trace(readings, *DISTANCE)
    assert result.exit_code == 0, result.stderr
    order = [
        "tracking error stays below",
        "peak distortion",
        "Over the groove",
        "How the arm stands",
        "Alone, this trace",
    ]
    places = [result.stdout.index(words) for words in order]
    assert places == sorted(places)
    assert "not read" not in result.stdout


def test_the_json_object_has_every_quantity_in_the_established_form(readings):
    shown = found(readings, *DISTANCE)
    for name in ("effective_length_error", "offset_angle_error", "effective_length", "pivot_to_spindle", "plate_turn"):
        assert set(shown[name]) == {"value", "unit", "standard_uncertainty"}
    assert shown["pivot_to_spindle"]["standard_uncertainty"] == pytest.approx(0.3, abs=0.005)
    assert [row["radius"]["value"] for row in shown["curves"]][:: len(shown["curves"]) - 1] == [60.325, 146.05]
    interval = shown["peak_tracking_error"]["interval_95"]
    assert interval["low"] < shown["peak_tracking_error"]["value"] < interval["high"]
    assert interval["unit"] == "deg"


def test_a_distance_without_uncertainty_is_not_joined(readings):
    shown = found(readings, "--pivot-to-spindle", "222.3mm")
    assert shown["pivot_to_spindle"]["standard_uncertainty"] > 2
    assert "not joined" in shown["notes"][0]


def test_another_arc_and_a_shared_uncertainty_change_what_is_found(readings):
    plain = found(readings, *DISTANCE)
    arc = found(readings, *DISTANCE, "--arc", "222.8 mm")
    # The same deviations from an arc that is 0.5 mm farther from the pivot.
    assert arc["effective_length_error"]["value"] != pytest.approx(plain["effective_length_error"]["value"], abs=0.01)
    shared = found(readings, *DISTANCE, "--shared-uncertainty", "0.5 mm")
    grown = shared["effective_length_error"]["standard_uncertainty"]
    assert grown > 2 * plain["effective_length_error"]["standard_uncertainty"]


def test_velocity_and_speed_change_the_distortion_alone(readings):
    plain, loud = found(readings, *DISTANCE), found(readings, *DISTANCE, "--peak-velocity", "20cm/s")
    assert loud["peak_distortion"]["value"] == pytest.approx(2 * plain["peak_distortion"]["value"], rel=0.01)
    assert loud["peak_tracking_error"]["value"] == plain["peak_tracking_error"]["value"]
    fast = found(readings, *DISTANCE, "--speed", "45rpm")
    assert fast["peak_distortion"]["value"] < plain["peak_distortion"]["value"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "readings.csv: the file is empty"),
        ("radius_mm,deviation_mm,deviation_uncertainty_mm\n60,x,0.1\n", "readings.csv: line 2, deviation_mm"),
        ("radius_mm,deviation_mm,deviation_uncertainty_mm\n60,0.1,0.1\n90,0,0.1\n", "2 readings beside the arc"),
        ("radius_mm,deviation_mm,deviation_uncertainty_mm\n" + "90,0.1,0.1\n" * 5, "all 5 readings are at one place"),
        (
            "radius_mm,deviation_mm,deviation_uncertainty_mm\n5,0.1,0.1\n90,0,0.1\n",
            "line 2, radius_mm: 5 is no groove radius in mm; write one from 20 to 200",
        ),
    ],
)
def test_a_refusal_is_one_sentence_and_exit_code_2(tmp_path, content, words):
    path = tmp_path / "readings.csv"
    path.write_text(content, encoding="utf-8")
    result = trace(str(path), *DISTANCE)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
