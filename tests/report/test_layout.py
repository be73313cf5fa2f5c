"""Rounding, columns and sentences before they reach the page."""

from __future__ import annotations

import dataclasses
import datetime
import json

import pytest

from groovewright.measurement.conformity import DecisionRule, Tolerance, decide
from groovewright.measurement.formatting import split_quantity
from groovewright.measurement.quantity import Quantity, Source
from groovewright.report.glyphs import printable
from groovewright.report.layout import MAIN_SOURCES, align_decimals, budget, lay_out, quantity_cell, verdict_row
from groovewright.report.parts import AS_FOUND, AS_LEFT, GrooveCurve, Judgement, SettingLine
from groovewright.report.wording import headline


def judged(quantity: Quantity, tolerance: Tolerance, stage: str = AS_LEFT, setting: str = "setting") -> Judgement:
    return Judgement(setting, stage, "", decide(quantity, tolerance, DecisionRule()))


def exact(value: float) -> Quantity:
    return Quantity.measured(value, "mm", standard_uncertainty=0.01, source="gauge")


def test_layout_is_plain_json(full_contents):
    tree = lay_out(full_contents)
    assert json.loads(json.dumps(tree, allow_nan=False)) == tree


def test_decimal_points_stand_under_each_other():
    cells = [{"value": text} for text in ("239.30", "17.296", "221", "not recorded", "")]
    align_decimals(cells, "value")
    lengths = {len((c["value"] + c["value_pad"]).partition(".")[2]) for c in cells[:3]}
    assert lengths == {3}
    assert cells[2]["value_pad"] == ".000"
    assert [c["value_pad"] for c in cells[3:]] == ["", ""]


def test_a_force_is_in_grams_with_millinewtons_beside():
    force = Quantity.measured(18.142, "mN", standard_uncertainty=0.118, source="scale")
    cell = quantity_cell(force)
    assert (cell["value"], cell["spread"], cell["unit"], cell["also"]) == ("1.850", "± 0.012", "g", "18.14 mN")
    assert cell["value"] == split_quantity(force, "g")[0]


def test_the_reason_of_a_force_verdict_is_in_grams():
    force = Quantity.measured(18.6, "mN", standard_uncertainty=0.1, source="scale")
    row = verdict_row(judged(force, Tolerance(16.671305, 20.593965, "mN")))
    assert "inside 1.7 to 2.1 g" in row["reason"]
    assert "mN" not in row["reason"]


def test_the_budget_names_the_largest_sources_and_loses_none():
    components = {Source(f"source {k}"): (-1) ** k * 0.1 / k for k in range(1, 12)}
    measured = Quantity(0.2, "mm", components)
    laid = budget(judged(measured, Tolerance(-1, 1, "mm")))
    assert [row["source"] for row in laid["rows"][:2]] == ["source 1", "source 2"]
    assert len(laid["rows"]) == MAIN_SOURCES + 1
    assert laid["rows"][-1]["source"] == "5 smaller sources together"
    assert sum(row["fraction"] for row in laid["rows"]) == pytest.approx(1, abs=0.001)


def test_an_exact_value_has_no_budget():
    laid = budget(judged(Quantity.exact(0.2, "mm"), Tolerance(-1, 1, "mm")))
    assert laid["none"] == "The value is exact, so it has no uncertainty."


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([], "There is no verdict yet: nothing was measured that could be judged."),
        ([(AS_FOUND, 0.0)], "There are verdicts as found only: nothing shows yet how the player was left."),
        ([(AS_FOUND, 5.0), (AS_LEFT, 0.0)], "In tolerance as left: s1."),
        (
            [(AS_LEFT, 0.0), (AS_LEFT, 5.0), (AS_LEFT, 1.0)],
            "Out of tolerance as left: s1. Undecided: s2. In tolerance as left: s0.",
        ),
    ],
)
def test_the_headline_answers_first_what_matters_most(values, expected):
    tolerance = Tolerance(-1, 1, "mm")
    judgements = [judged(exact(v), tolerance, stage, f"s{k}") for k, (stage, v) in enumerate(values)]
    assert headline(judgements) == expected


def other(value, name="Zenith error", note=""):
    tolerance = Tolerance(-0.5, 0.5, "deg")
    quantity = None if value is None else Quantity.measured(value, "deg", standard_uncertainty=0.1, source="gauge")
    verdict = None if quantity is None else decide(quantity, tolerance, DecisionRule())
    return SettingLine(name, quantity, Quantity.exact(0.0, "deg"), tolerance, verdict, note)


def test_the_headline_counts_the_other_settings_and_leaves_out_what_was_not_read():
    judgements = [judged(exact(0.0), Tolerance(-1, 1, "mm"), AS_LEFT, "tracking force")]
    others = [other(1.2), other(0.0, "Azimuth"), other(None, "Stylus rake angle")]
    assert headline(judgements, others, joint_stage=AS_LEFT) == (
        "Out of tolerance as left: zenith error. In tolerance as left: tracking force and azimuth."
    )


def test_the_first_page_has_the_other_settings_at_their_stage(full_contents):
    contents = dataclasses.replace(
        full_contents,
        settings=(other(1.2), other(None, "Azimuth")),
        settings_as_found=(other(2.4), other(None, "Azimuth")),
        settings_stage=AS_LEFT,
    )
    rows = {row["setting"]: row for row in lay_out(contents)["glance"]}
    assert rows["Zenith error"]["left"]["outcome"] == "out of tolerance"
    assert rows["Zenith error"]["found"]["measured"]["value"] == "2.40"
    assert rows["Azimuth"]["left"] is None
    assert next(iter(rows)) == "Effective length error"


def test_all_readings_together_outweigh_a_judgement_by_some_of_them(full_contents):
    line = dataclasses.replace(other(0.3, "Effective length error"), quantity=exact(-0.9))
    line = dataclasses.replace(line, verdict=decide(exact(-0.9), Tolerance(-0.5, 0.5, "mm"), DecisionRule()))
    tree = lay_out(dataclasses.replace(full_contents, settings=(line,), settings_stage=AS_LEFT))
    row = next(row for row in tree["glance"] if row["setting"] == "Effective length error")
    assert row["left"]["outcome"] == "out of tolerance"
    assert row["found"]["measured"]["value"] == "−1.92"
    assert tree["headline"].startswith("Out of tolerance as left: effective length error.")
    left = next(row for row in tree["verdicts"][0]["rows"] if row["stage"] == AS_LEFT)
    assert left["notes"][-1].endswith("All readings of the job together give −0.90 mm ± 0.01 mm, out of tolerance.")


def test_as_found_comes_before_as_left(full_contents):
    turned = dataclasses.replace(full_contents, judgements=full_contents.judgements[::-1])
    for section in lay_out(turned)["verdicts"]:
        assert [row["stage"] for row in section["rows"]] == [AS_FOUND, AS_LEFT]


def test_pictures_say_in_words_what_they_show(full_contents):
    tree = lay_out(full_contents)
    assert tree["verdicts"][0]["picture"]["alt"] == (
        "Effective length error, tolerance −0.5 to 0.5 mm: as found −1.92 mm ± 0.14 mm, out of tolerance; "
        "as left 0.07 mm ± 0.14 mm, in tolerance."
    )
    assert tree["curves"][0]["alt"].startswith("Tracking error, degrees over the groove radius: as found up to")


def test_line_ends_and_runs_of_spaces_are_kept():
    assert printable("a\r\nb\rc\n\nd") == "a\nb\nc\n\nd"
    assert printable("a  b\tc") == "a\u00a0 b\u00a0 \u00a0 c"


def test_a_long_word_may_be_broken_and_loses_no_letter():
    word = "".join(chr(97 + k % 26) for k in range(100))
    assert printable(word).replace("\u200b", "") == word
    assert max(map(len, printable(word).split("\u200b"))) <= 18


def test_a_date_is_printed_in_words(empty_contents):
    tree = lay_out(dataclasses.replace(empty_contents, report_date=datetime.date(2031, 12, 1)))
    assert (tree["date_text"], tree["date"]) == ("1 December 2031", [2031, 12, 1])


def test_a_curve_with_unequal_columns_is_refused():
    with pytest.raises(ValueError, match="as many errors and distortions as radii"):
        GrooveCurve(AS_LEFT, (60.0, 70.0), (0.1,), (0.2, 0.3))


def test_a_curve_of_no_stage_is_refused():
    with pytest.raises(ValueError, match="not 'later'"):
        GrooveCurve("later", (60.0, 70.0), (0.1, 0.2), (0.2, 0.3))
