"""The report as a file: what it claims, what it embeds, what can be read in it, and what it refuses."""

from __future__ import annotations

import dataclasses
import io
import json
import re

import pytest
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTChar, LTContainer, LTCurve, LTImage
from pdfminer.pdfdocument import PDFDocument
from pdfminer.pdfpage import PDFPage
from pdfminer.pdfparser import PDFParser
from pdfminer.pdftypes import PDFStream, resolve1

from groovewright.report.parts import DETAILS_DELETED, HandOver, Head
from groovewright.report.pdf import TEMPLATES, compile_template, report_pdf, template_source

pytestmark = pytest.mark.django_db

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


def test_every_font_is_embedded(demo):
    fonts = {}
    for page in pages_of(report_pdf(demo.full)):
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


def test_the_file_says_that_it_is_archivable_tagged_and_in_which_language(demo):
    document = report_pdf(dataclasses.replace(demo.full, report_number="47-R1"))
    catalog = PDFDocument(PDFParser(io.BytesIO(document))).catalog
    metadata = resolve1(catalog["Metadata"]).get_data().decode()
    assert "<pdfaid:part>2</pdfaid:part>" in metadata
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in metadata
    assert "<pdfuaid:part>1</pdfuaid:part>" in metadata
    assert "Set-up report 47-R1" in metadata
    assert demo.full.report_date.isoformat() in metadata
    assert resolve1(catalog["MarkInfo"])["Marked"] is True
    assert bytes(resolve1(catalog["Lang"])).decode() == "en"


def test_the_same_contents_give_the_same_bytes(demo):
    assert report_pdf(demo.full) == report_pdf(demo.full)


def test_texts_of_clients_come_out_as_they_were_typed(demo, words_of):
    contents = dataclasses.replace(
        demo.empty,
        complaint=MARKUP,
        owner=MARKUP,
        head=Head(MARKUP, (MARKUP,)),
        words=HandOver(done=(MARKUP,), parts_fitted=(MARKUP,), time_spent=MARKUP),
    )
    assert words_of(report_pdf(contents)).count(MARKUP) >= 7


def test_what_is_not_known_is_said(demo, words_of):
    words = words_of(report_pdf(demo.empty))
    for expected in ("not read", "not recorded", "No targets were chosen.", "No readings.", "No gauge is on record."):
        assert expected in words, expected


def test_an_erased_owner_is_shown_as_such(demo, words_of):
    words = words_of(report_pdf(dataclasses.replace(demo.full, owner=DETAILS_DELETED)))
    assert "Owner" in words
    assert DETAILS_DELETED in words


@pytest.mark.parametrize("lines", [1, 9, 17, 23, 31])
def test_no_heading_is_left_at_the_foot_of_a_page(demo, lines):
    contents = dataclasses.replace(demo.contents[10], complaint="A line of the complaint.\n" * lines)
    assert headings_at_the_foot(report_pdf(contents)) == []


@pytest.mark.parametrize(("paper", "size"), [("a4", [595, 842]), ("us-letter", [612, 792])])
def test_paper_has_its_size(demo, paper, size):
    pages = pages_of(report_pdf(dataclasses.replace(demo.full, words=HandOver(paper=paper))))
    assert {tuple(round(side) for side in page.mediabox[2:]) for page in pages} == {tuple(size)}


def drawn(item: object, kind: type) -> list:
    if isinstance(item, kind):
        return [item]
    return [one for child in item for one in drawn(child, kind)] if isinstance(item, LTContainer) else []


def test_the_letterhead_has_the_logo_of_the_workshop(demo, picture):
    svg = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0h9v9z" fill="#ff0000"/></svg>'
    heads = (Head("Bench"), Head("Bench", (), picture(form="PNG"), "png"), Head("Bench", (), svg, "svg"))
    images, red = [], []
    for head in heads:
        page = next(iter(extract_pages(io.BytesIO(report_pdf(dataclasses.replace(demo.empty, head=head))))))
        images.append(len(drawn(page, LTImage)))
        red.append(sum(curve.non_stroking_color == (1, 0, 0) for curve in drawn(page, LTCurve)))
    assert images == [0, 1, 0]
    assert red == [0, 0, 1]


def test_the_template_fetches_and_reads_nothing():
    for name in TEMPLATES:
        source = template_source(name).decode()
        for word in ("@preview", "http", "read(", "eval(", "datetime.today", "plugin("):
            assert word not in source, (name, word)
        for fetched in re.findall(r'(?:import|include) "([^"]+)"', source):
            assert fetched.removeprefix("/") in TEMPLATES


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
