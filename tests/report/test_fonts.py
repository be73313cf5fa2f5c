"""Names print in their own script; what no font holds is named with its field."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from pdfminer.pdfpage import PDFPage
from pdfminer.pdftypes import resolve1

from groovewright.report import fonts
from groovewright.report.customer import full_texts
from groovewright.report.fonts import can_print, name_of, not_printed, printable, unprintable
from groovewright.report.parts import HandOver
from groovewright.report.pdf import report_pdf

pytestmark = pytest.mark.django_db

NAMES = {
    "Cyrillic": ("Любовь Ёлкина", "SourceSansPro"),
    "Greek": ("Ωραία Παπαδοπούλου", "SourceSansPro"),
    "Arabic": ("محمد عبد الله", "NotoSansArabic"),
    "Hebrew": ("שלומית כהן", "NotoSansHebrew"),
    "Japanese": ("山田 花子", "NotoSansCJK"),
    "Korean": ("김서연", "NotoSansCJK"),
    "Thai": ("สมหญิง", "NotoSansThai"),
    "Devanagari": ("नमिता शर्मा", "NotoSansDevanagari"),
}


def fonts_of(document):
    found = set()
    for page in PDFPage.get_pages(io.BytesIO(document)):
        for reference in (resolve1(page.resources.get("Font")) or {}).values():
            font = resolve1(reference)
            descriptor = resolve1(resolve1(resolve1(font["DescendantFonts"])[0])["FontDescriptor"])
            assert any(key in descriptor for key in ("FontFile", "FontFile2", "FontFile3"))
            found.add(str(font["BaseFont"]).strip("/'").partition("+")[2])
    return found


@pytest.mark.parametrize("script", NAMES)
def test_a_name_in_any_script_prints_from_a_font_that_holds_it(demo, script):
    name, family = NAMES[script]
    assert unprintable(name) == ()
    contents = replace(demo.empty, owner=name, words=HandOver(part="customer"))
    assert any(font.startswith(family) for font in fonts_of(report_pdf(contents)))


@pytest.mark.parametrize("script", ["Cyrillic", "Greek", "Hebrew", "Japanese", "Korean"])
def test_a_name_can_be_read_out_of_the_file_as_it_was_written(demo, script, words_of):
    name, _ = NAMES[script]
    words = words_of(report_pdf(replace(demo.empty, owner=name, words=HandOver(part="customer"))))
    # Text is taken out in the order in which it is seen.
    seen = name[::-1] if script == "Hebrew" else name
    assert seen.replace(" ", "") in words.replace(" ", "")


def test_a_report_without_foreign_names_embeds_one_family(demo):
    assert {font.partition("-")[0] for font in fonts_of(report_pdf(demo.empty))} == {"SourceSansPro"}


def test_a_character_that_no_font_holds_is_named_with_its_field(demo):
    contents = replace(demo.empty, owner="Ada \U0001e900", words=HandOver(done=("Fitted \U0001f600.",)))
    assert list(not_printed(full_texts(contents))) == [
        "The owner's name holds “\U0001e900” (U+1E900, adlam capital letter alif), which no installed font can print.",
        "What was done holds “\U0001f600” (U+1F600, grinning face), which no installed font can print.",
    ]


def test_it_is_printed_as_its_code_in_the_end(demo, words_of):
    contents = replace(demo.empty, owner="Ada \U0001e900", words=HandOver(part="customer"))
    assert "Ada ‹U+1E900›" in words_of(report_pdf(contents))


def test_without_the_extra_for_japanese_the_extra_is_named(monkeypatch):
    without = {family: files for family, files in fonts.font_files().items() if family != fonts.CJK_FAMILY}
    monkeypatch.setattr(fonts, "font_files", lambda: without)
    can_print.cache_clear()
    try:
        assert next(not_printed({"the owner's name": "山"})).endswith(
            "Install the extra “cjk” for Japanese, Chinese and Korean."
        )
    finally:
        can_print.cache_clear()


def test_every_family_is_installed_and_none_but_the_listed_is_asked():
    import typst

    from groovewright.report.pdf import _fonts

    families = _fonts()[1].families()
    assert set(fonts.font_files()) <= set(families)
    assert not [font for font in typst.Fonts(False, False, []).families()]


@pytest.mark.parametrize("mark", ["\u200c", "\u200d", "\u200f", "\u00ad", "\ufe0f"])
def test_marks_that_no_font_needs_do_no_harm(demo, mark):
    contents = replace(demo.empty, owner=f"می{mark}خواهم", words=HandOver(part="customer"))
    assert report_pdf(contents).startswith(b"%PDF")


@pytest.mark.parametrize("character", ["\x0c", "\ufeff", "\ue000"])
def test_what_cannot_be_seen_is_not_dropped_in_silence(demo, character, words_of):
    assert name_of(character).startswith("(U+")
    assert printable(character) == f"‹U+{ord(character):04X}›"
    contents = replace(demo.empty, complaint=f"a{character}b", words=HandOver(part="customer"))
    assert f"a‹U+{ord(character):04X}›b" in words_of(report_pdf(contents))


def test_a_line_from_right_to_left_keeps_its_marks_at_its_end():
    assert printable("שלום.\nGood day.") == "\u2067שלום.\u2069\nGood day."


def test_line_ends_and_runs_of_spaces_are_kept():
    assert printable("a\r\nb  c\td") == "a\nb\u00a0 c\u00a0 \u00a0 d"


def test_a_long_word_may_be_broken_and_loses_no_letter():
    word = "x" * 100
    assert printable(word).replace("\u200b", "") == word
    assert "\u200b" in printable(word)
