"""The report as a file: what it claims, what it embeds, what can be read in it, and what it refuses."""

from __future__ import annotations

import dataclasses
import datetime
import io
import json
import re

import pytest
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTChar, LTContainer
from pdfminer.pdfdocument import PDFDocument
from pdfminer.pdfpage import PDFPage
from pdfminer.pdfparser import PDFParser
from pdfminer.pdftypes import PDFStream, resolve1

from groovewright.measurement.conformity import UNDECIDED, DecisionRule, Tolerance, decide
from groovewright.measurement.formatting import format_force, split_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.report.parts import AS_FOUND, AS_LEFT, DETAILS_DELETED, Equipment, Judgement, ReadingLine
from groovewright.report.pdf import compile_template, report_pdf, template_source

MARKUP = '#read("x") *a* $x$ <b> _i_ `c` @ref \\ // [y] ~'


def pages_of(document: bytes) -> list[PDFPage]:
    return list(PDFPage.get_pages(io.BytesIO(document)))


def characters(item: object) -> list[LTChar]:
    if isinstance(item, LTChar):
        return [item]
    return [c for child in item for c in characters(child)] if isinstance(item, LTContainer) else []


def headings_at_the_foot(document: bytes) -> list[str]:
    """Return the lowest letter above the footer of each page where it is that of a heading."""
    found = []
    for page in extract_pages(io.BytesIO(document)):
        body = [c for c in characters(page) if c.y0 > 66 and c.get_text().strip()]
        lowest = min(body, key=lambda c: c.y0)
        if lowest.size > 10.4 and re.search("Bold|Semibold", lowest.fontname):
            found.append(lowest.get_text())
    return found


def many_readings(count: int) -> tuple[ReadingLine, ...]:
    return tuple(
        ReadingLine(
            number=k,
            stage=AS_FOUND if k <= count // 2 else AS_LEFT,
            what="tracking force, as the scale showed",
            quantity=Quantity.measured(18 + k / 100, "mN", standard_uncertainty=0.1, source=f"reading {k}"),
            gauge="Scale 2 with a rather long description",
            where="outer, on the platter, stylus at 2.00 mm",
            read_at=datetime.datetime(2031, 5, 4, 10, k % 60, tzinfo=datetime.UTC),
        )
        for k in range(1, count + 1)
    )


def test_every_font_is_embedded(full_contents):
    fonts = {}
    for page in pages_of(report_pdf(full_contents)):
        for reference in (resolve1(page.resources.get("Font")) or {}).values():
            font = resolve1(reference)
            inner = resolve1(resolve1(font["DescendantFonts"])[0]) if "DescendantFonts" in font else font
            fonts[str(font["BaseFont"])] = resolve1(inner["FontDescriptor"])
    assert fonts
    for name, descriptor in fonts.items():
        files = [resolve1(descriptor[key]) for key in ("FontFile", "FontFile2", "FontFile3") if key in descriptor]
        assert files, name
        assert all(isinstance(file, PDFStream) and file.get_data() for file in files), name
        assert "SourceSansPro" in name


def test_the_file_says_that_it_is_archivable_tagged_and_in_which_language(full_contents):
    document = report_pdf(dataclasses.replace(full_contents, title="Set-up report 47-R1", language="de"))
    catalog = PDFDocument(PDFParser(io.BytesIO(document))).catalog
    metadata = resolve1(catalog["Metadata"]).get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in metadata
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in metadata
    assert "<pdfuaid:part>1</pdfuaid:part>" in metadata
    assert "Set-up report 47-R1" in metadata
    assert "2031-05-06" in metadata
    assert resolve1(catalog["MarkInfo"])["Marked"] is True
    assert bytes(resolve1(catalog["Lang"])).decode() == "de"


def test_the_same_contents_give_the_same_bytes(full_contents):
    assert report_pdf(full_contents) == report_pdf(full_contents)


def test_every_part_of_the_job_can_be_read(full_contents, words_of):
    words = words_of(report_pdf(full_contents))
    for expected in (
        "Tern Lane Record Bench",
        "Job 47",
        "4 May 2031",
        "Ottilie Brandt",
        "belt drive in ash",
        "Esses spit on the last track",
        "60.325 to 146.05 mm from the spindle",
        "Löfgren 1938, Baerwald 1941",
        "In tolerance as left: effective length error and tracking force.",
        "as found: out of tolerance",
        "bearing has play",
        "Side force: not measured.",
        "steel rule 3",
        "class M1",
        "47-B",
        "1.0025",
        "10.3 Hz ± 0.6 Hz",
        "Mains voltage can kill",
        "A bare stylus pierces skin",
        "Test tones into an open amplifier",
        "one standard uncertainty",
        "9f3c" * 4,
        "Page 1 of",
    ):
        assert expected in words, expected


def test_numbers_are_those_of_the_assessment(full_contents, words_of):
    words = words_of(report_pdf(full_contents))
    for judgement in full_contents.judgements:
        measured = judgement.verdict.measured
        value, uncertainty, unit = split_quantity(measured, "g" if measured.unit == "mN" else None)
        assert f"{value.replace('-', '−')} {unit} ± {uncertainty} {unit}" in words
        assert judgement.verdict.outcome in words
    assert f"{full_contents.judgements[1].verdict.probability_of_conformity * 100:.1f} %" in words
    for fact in full_contents.targets.quantities:
        assert split_quantity(fact.value)[0] in words
    assert format_force(full_contents.readings[2].quantity).split()[0] in words


def test_each_verdict_names_its_rule(full_contents, words_of):
    rules = [DecisionRule("simple acceptance"), DecisionRule("guarded rejection", 2.0)]
    quantity = Quantity.measured(0.1, "mm", standard_uncertainty=0.05, source="rule")
    judged = tuple(
        Judgement(f"setting {k}", AS_LEFT, "", decide(quantity, Tolerance(-1, 1, "mm"), rule))
        for k, rule in enumerate(rules)
    )
    words = words_of(report_pdf(dataclasses.replace(full_contents, judgements=judged)))
    for rule in rules:
        assert rule.describe() in words


def test_texts_of_clients_come_out_as_they_were_typed(full_contents, words_of):
    marked = dataclasses.replace(
        full_contents,
        workshop=f"W {MARKUP}",
        owner=f"O {MARKUP}",
        complaint=f"C {MARKUP} end",
        faults=(f"F {MARKUP}",),
        done=(f"D {MARKUP}",),
        equipment=(Equipment("Deck", f"E {MARKUP}"),),
        readings=(dataclasses.replace(full_contents.readings[0], gauge=f"G {MARKUP}", note=f"N {MARKUP}"),),
    )
    words = words_of(report_pdf(marked))
    for letter in "WOCFDEGN":
        assert f"{letter} {MARKUP}" in words, letter


def test_a_character_without_a_glyph_is_named_not_dropped(full_contents, words_of):
    odd = dataclasses.replace(full_contents, owner="中 \x00\x07 \U0001f600 \ue000 \ufeff Ωmega Ж ő")
    words = words_of(report_pdf(odd))
    for shown in ("‹U+4E2D›", "‹U+0000›", "‹U+0007›", "‹U+1F600›", "‹U+E000›", "‹U+FEFF›", "Ωmega Ж ő"):
        assert shown in words


def test_what_is_not_known_is_said(empty_contents, words_of):
    words = words_of(report_pdf(empty_contents))
    for expected in (
        "There is no verdict yet: nothing was measured that could be judged.",
        "not recorded",
        "No targets were chosen.",
        "No readings as found: not measured.",
        "No gauge is on record.",
        "No plate was issued.",
        "No curves can be drawn",
        "Not worked out: not measured.",
        "No fault was noted.",
    ):
        assert expected in words, expected


def test_a_setting_read_once_says_that_the_other_stage_is_missing(full_contents, words_of):
    only_left = dataclasses.replace(full_contents, judgements=full_contents.judgements[3:])
    assert "not measured" in words_of(report_pdf(only_left)).split("Found faulty")[0]


def test_an_unknown_uncertainty_is_named_and_never_a_number(full_contents, words_of):
    unknown = Quantity.unknown_uncertainty(0.1, "mm", why="typed without one")
    verdict = decide(unknown, Tolerance(-0.5, 0.5, "mm"), DecisionRule())
    assert verdict.outcome == UNDECIDED
    judged = (Judgement("effective length error", AS_LEFT, "", verdict),)
    words = words_of(report_pdf(dataclasses.replace(full_contents, judgements=judged)))
    assert "The uncertainty is not known: typed without one." in words
    assert "uncertainty not known" in words


def test_an_erased_owner_is_shown_as_such(full_contents, words_of):
    assert DETAILS_DELETED in words_of(report_pdf(dataclasses.replace(full_contents, owner=DETAILS_DELETED)))


def test_a_corrected_reading_stays_readable_with_what_replaced_it(full_contents, words_of):
    withdrawn = dataclasses.replace(full_contents.readings[4], number=7, quantity=None, corrects=5, note="wrong disc")
    readings = (*full_contents.readings, withdrawn)
    words = words_of(report_pdf(dataclasses.replace(full_contents, readings=readings)))
    assert "16.468" in words
    assert "does not count, see no. 3" in words
    assert "corrects no. 2" in words
    assert "withdraws no. 5" in words


@pytest.mark.parametrize("count", [60, 61, 63, 66, 70])
def test_a_huge_job_keeps_its_headings_with_their_text_and_stays_short(full_contents, count):
    huge = dataclasses.replace(
        full_contents,
        complaint="It hums, then it clicks, and esses spit. " * 49,
        readings=many_readings(count),
        faults=tuple(f"Fault {k}: the bearing has play. " * 4 for k in range(8)),
    )
    document = report_pdf(huge)
    assert len(pages_of(document)) <= 12
    assert headings_at_the_foot(document) == []


@pytest.mark.parametrize("lines", [0, 20, 28, 36, 43, 45])
def test_no_heading_is_left_at_the_foot_of_a_page(full_contents, lines):
    """With headings that do not hold on to their text, each of these would leave one behind."""
    document = report_pdf(dataclasses.replace(full_contents, complaint="\n".join(["A line."] * lines)))
    assert headings_at_the_foot(document) == []


@pytest.mark.parametrize("count", range(12, 28))
def test_a_first_page_that_just_fits_or_just_does_not_is_laid_out(full_contents, count):
    many = dataclasses.replace(full_contents, faults=tuple(f"Fault {k}." for k in range(count)))
    text = [page for page in extract_pages(io.BytesIO(report_pdf(many)), page_numbers=[0, 1])]
    assert any("Fault 0." in "".join(c.get_text() for c in characters(page)) for page in text)


def test_nothing_is_printed_outside_the_margins(full_contents):
    wide = dataclasses.replace(
        full_contents,
        owner="x" * 300,
        complaint="y" * 2000,
        done=("https" + "z" * 400,),
        equipment=(Equipment("Deck", "D" * 200), *full_contents.equipment[1:]),
        readings=(dataclasses.replace(full_contents.readings[0], gauge="g" * 120, note="n" * 200),),
    )
    for page in extract_pages(io.BytesIO(report_pdf(wide))):
        for character in characters(page):
            assert character.x1 <= page.width - 52, character
            assert character.x0 >= 54, character


def test_letter_paper_is_as_large_as_letter_paper(full_contents):
    pages = pages_of(report_pdf(dataclasses.replace(full_contents, paper="us-letter")))
    assert [round(side) for side in pages[0].mediabox[2:]] == [612, 792]


def test_an_unknown_paper_is_refused(full_contents):
    with pytest.raises(ValueError, match="not on 'a5'"):
        dataclasses.replace(full_contents, paper="a5")


def test_the_template_fetches_and_reads_nothing():
    source = template_source().decode()
    for word in ("@preview", "http", "#import", "#include", "read(", "eval(", "datetime.today"):
        assert word not in source, word


def test_a_warning_of_the_compiler_is_an_error():
    source = b'#set document(title: "t")\n#set text(font: "No Such Family")\nx'
    with pytest.raises(RuntimeError, match="no such family"):
        compile_template(source, {})


def test_a_faulty_template_is_an_error():
    with pytest.raises(RuntimeError, match="unknown variable"):
        compile_template(b"#nothing-of-that-name", {})


def test_data_that_is_no_json_is_refused():
    with pytest.raises(ValueError, match="JSON"):
        compile_template(b"x", {"value": float("nan")})
    assert json.dumps({"value": None}) == '{"value": null}'
