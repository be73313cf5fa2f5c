"""The technical part: all that the verdicts rest on, rows in one piece, and words for every picture."""

from __future__ import annotations

import datetime
import io
import json
from dataclasses import replace

import pytest
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTChar, LTContainer, LTTextLine

from groovewright.bench.estimate.settings import SETTINGS
from groovewright.measurement.formatting import split_quantity
from groovewright.measurement.quantity import Quantity, Source
from groovewright.report.cells import align_decimals, quantity_cell
from groovewright.report.layout import lay_out
from groovewright.report.parts import AS_FOUND, AS_LEFT, HandOver, ReadingLine
from groovewright.report.pdf import report_pdf
from groovewright.report.technical import MAIN_SOURCES, budget, curve_pictures

pytestmark = pytest.mark.django_db

TECHNICAL = HandOver(part="technical")


def lines_of(item):
    if isinstance(item, LTTextLine):
        return [item]
    return [line for child in item for line in lines_of(child)] if isinstance(item, LTContainer) else []


def characters(item):
    if isinstance(item, LTChar):
        return [item]
    return [c for child in item for c in characters(child)] if isinstance(item, LTContainer) else []


def many_readings(count):
    return tuple(
        ReadingLine(
            number=k,
            stage=AS_FOUND if k <= count // 2 else AS_LEFT,
            what="tracking force, as the scale showed",
            quantity=Quantity.measured(18 + k / 100, "mN", standard_uncertainty=0.1, source=f"reading {k}"),
            gauge=f"begin{k:03} Scale 2 with a rather long description that takes some lines in its column end{k:03}",
            where="outer, on the platter, stylus at 2.00 mm",
            read_at=datetime.datetime(2031, 5, 4, 10, k % 60, tzinfo=datetime.UTC),
        )
        for k in range(1, count + 1)
    )


@pytest.mark.parametrize("number", range(1, 11))
def test_its_values_and_verdicts_are_those_of_the_job_state(demo, number):
    contents = replace(demo.contents[number], words=TECHNICAL)
    state, sections = contents.state, lay_out(contents)["technical"]["settings"]
    for deck, section in zip((state.as_found, state.as_left), sections, strict=True):
        if deck is None:
            assert section["rows"] == []
            continue
        for setting, row in zip(deck.settings, section["rows"], strict=True):
            assert row["setting"] == SETTINGS[setting.key].title
            assert row["outcome"] == ("" if setting.verdict is None else setting.verdict.outcome)
            assert row["basis"] == ("calculated" if setting.basis == "calculated" else "")
            if setting.quantity is not None:
                value, uncertainty, _ = split_quantity(setting.quantity, "g" if row["value"].endswith(" g") else None)
                assert row["value"].startswith(value.replace("-", "−"))
                assert uncertainty in row["spread"]


def test_every_kind_of_evidence_can_be_read(demo, words_of):
    words = words_of(report_pdf(replace(demo.full, words=TECHNICAL)))
    for expected in (
        "Technical part",
        "Set up from the bottom, please.",
        "All readings of the job count together.",
        "chance to be within limits",
        "Over the groove",
        "dots: read at a radius",
        "Shaded: 95 % intervals.",
        "Where the uncertainty comes from",
        "steel rule SR-0417",
        "Targets",
        "Moves made",
        "cartridge slid forward",
        "Resonance of arm and cartridge",
        "Readings as found",
        "Gauges and their calibration",
        "Plates issued",
        "Mains voltage can kill",
        "A bare stylus pierces skin",
        "Test tones into an open amplifier",
        demo.full.record_hash[:18],
    ):
        assert expected in words, expected
    assert "What it means to the ear" not in words


def test_the_visit_before_and_captures_are_told_where_there_are_any(demo, words_of):
    second = words_of(report_pdf(replace(demo.contents[9], words=TECHNICAL)))
    assert "185 days earlier. The stylus has played 145 hours since." in second
    first = words_of(report_pdf(replace(demo.contents[1], words=TECHNICAL)))
    assert "Captures as found" in first
    assert "Since the visit before" not in first


def test_both_parts_follow_each_other_and_either_can_be_left_out(demo, words_of):
    both, customer, technical = (
        words_of(report_pdf(replace(demo.full, words=HandOver(part=part))))
        for part in ("both", "customer", "technical")
    )
    assert both.index("What it means to the ear") < both.index("Technical part")
    assert "Technical part" not in customer
    assert "What it means to the ear" not in technical
    with pytest.raises(ValueError, match="customer, technical or both"):
        HandOver(part="half")
    with pytest.raises(ValueError, match="not on 'a5'"):
        HandOver(paper="a5")


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_no_row_of_a_table_is_split_between_pages(demo, paper):
    contents = replace(demo.contents[10], readings=many_readings(60), words=replace(TECHNICAL, paper=paper))
    begins, ends = {}, {}
    for number, page in enumerate(extract_pages(io.BytesIO(report_pdf(contents)))):
        text = "".join(line.get_text() for line in lines_of(page))
        for k in range(1, 61):
            if f"begin{k:03}" in text:
                begins[k] = number
            if f"end{k:03}" in text.replace(f"begin{k:03}", ""):
                ends[k] = number
    assert len(begins) == 60
    assert begins == ends
    assert len(set(begins.values())) > 1


def test_a_row_that_no_page_can_hold_is_split_and_printed_whole(demo, words_of):
    note = " ".join(f"word{k}" for k in range(900))
    contents = replace(demo.empty, readings=(replace(many_readings(1)[0], note=note),), words=TECHNICAL)
    words = words_of(report_pdf(contents))
    assert all(f"word{k}" in words for k in (0, 450, 899))


def test_nothing_is_printed_outside_the_margins(demo):
    wide = replace(
        demo.full,
        owner="x" * 300,
        complaint="y" * 2000,
        words=HandOver(done=("https" + "z" * 400,)),
        readings=(replace(many_readings(1)[0], gauge="g" * 120, note="n" * 200),),
    )
    for page in extract_pages(io.BytesIO(report_pdf(wide))):
        for character in characters(page):
            assert character.x0 >= 54, character
            assert character.x1 <= page.width - 52, character
            assert character.y0 >= 25, character


def test_bands_and_readings_are_drawn_with_the_curves(demo):
    error, distortion = curve_pictures(demo.full)
    assert error["svg"].count("fill-opacity") == 2
    assert distortion["svg"].count("fill-opacity") == 2
    assert error["svg"].count("<circle") == len(demo.full.null_readings) > 0
    assert distortion["svg"].count("<circle") == 0
    assert "tracking error stays below" in error["alt"]
    assert "As left, tracking error" in distortion["said"]


def test_where_no_curve_can_be_drawn_the_reason_is_told(demo):
    tree = lay_out(replace(demo.contents[5], words=TECHNICAL))["technical"]
    assert tree["curves"] == []
    assert tree["no_curves"] == [
        "As found: tracking error and distortion cannot be told: the effective length is not read."
    ]


def test_the_budget_names_the_largest_sources_and_loses_none():
    components = {Source(f"source {k}"): (-1) ** k * 0.1 / k for k in range(1, 12)}
    measured = Quantity(0.2, "mm", components)
    laid = budget(AS_LEFT, measured, "mm")
    assert [row["source"] for row in laid["rows"][:2]] == ["source 1", "source 2"]
    assert len(laid["rows"]) == MAIN_SOURCES + 1
    assert sum(row["fraction"] for row in laid["rows"]) == pytest.approx(1, abs=1e-3)
    assert laid["total"] == f"± {split_quantity(measured)[1]} mm"


def test_an_exact_or_unknown_value_has_no_budget():
    exact = budget(AS_LEFT, Quantity.exact(1.0, "mm"), "mm")
    unknown = budget(AS_LEFT, Quantity.unknown_uncertainty(1.0, "mm", why="none was stated"), "mm")
    assert (exact["rows"], exact["none"]) == ([], "The value is exact, so it has no uncertainty.")
    assert "none was stated" in unknown["none"]


def test_layout_is_plain_json(demo):
    tree = lay_out(demo.full)
    assert json.loads(json.dumps(tree, allow_nan=False)) == tree


def test_decimal_points_stand_under_each_other():
    cells = [{"value": text} for text in ("239.30", "17.296", "221", "not recorded", "")]
    align_decimals(cells, "value")
    assert {len((c["value"] + c["value_pad"]).partition(".")[2]) for c in cells[:3]} == {3}
    assert [c["value_pad"] for c in cells[2:]] == [".000", "", ""]


def test_a_force_is_in_grams_with_millinewtons_beside():
    cell = quantity_cell(Quantity.measured(18.142, "mN", standard_uncertainty=0.118, source="scale"))
    assert (cell["value"], cell["spread"], cell["unit"], cell["also"]) == ("1.850", "± 0.012", "g", "18.14 mN")
