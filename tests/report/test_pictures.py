"""Logos and photos: upright, small, without what they do not need, and refused in one sentence."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from groovewright.report.pictures import MAX_PIXELS, PHOTO_PIXELS, printable_logo, printable_photo

SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9">{}</svg>'


def test_a_photo_is_turned_upright_made_smaller_and_keeps_no_place(picture):
    exif = Image.Exif()
    exif[0x0112] = 6  # held on its side
    exif[0x010E] = "by the canal"
    made = printable_photo(picture(3000, 2000, exif=exif), "stylus.jpg")
    with Image.open(io.BytesIO(made)) as shown:
        assert shown.size == (round(PHOTO_PIXELS * 2 / 3), PHOTO_PIXELS)
        assert dict(shown.getexif()) == {}
    assert b"canal" not in made


def test_a_photo_with_transparency_lies_on_white():
    out = io.BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(io.BytesIO(printable_photo(out.getvalue(), "p.png"))) as shown:
        assert shown.getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("form", ["PNG", "JPEG"])
def test_a_logo_of_pixels_becomes_a_png(picture, form):
    content, media_type = printable_logo(picture(2000, 1000, form), "logo")
    assert media_type == "image/png"
    with Image.open(io.BytesIO(content)) as shown:
        assert shown.size == (1200, 600)


def test_a_plain_svg_is_kept_as_it_is():
    content = SVG.format('<path d="M0 0h9v9z"/>').encode()
    assert printable_logo(content, "logo.svg") == (content, "image/svg+xml")


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (SVG.format("<text>Bench</text>"), "turn its text into outlines"),
        (SVG.format("<script>1</script>"), "holds a <script> element"),
        (SVG.format('<use xlink:href="http://elsewhere/x"/>'), "points at another file"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]>' + SVG.format(""), "declares entities"),
        ("<svg><unclosed></svg>", "no SVG that can be read"),
        ("<html></html>", "is no SVG"),
    ],
)
def test_an_svg_that_would_not_print_alike_is_refused(content, sentence):
    with pytest.raises(ValueError, match=sentence):
        printable_logo(content.encode(), "logo.svg")


@pytest.mark.parametrize("content", [b"%PDF-1.7", b"\xff\xd8\xff not a picture", b"", b"\x89PNG\r\n\x1a\n\x00"])
def test_what_is_no_picture_is_refused_in_one_sentence(content):
    with pytest.raises(ValueError, match=r"^x cannot be read as a picture"):
        printable_photo(content, "x")


def test_a_picture_made_to_exhaust_the_memory_is_refused():
    out = io.BytesIO()
    side = int(MAX_PIXELS**0.5) + 10
    Image.new("1", (side, side)).save(out, "PNG")
    with pytest.raises(ValueError, match="60 million are allowed"):
        printable_photo(out.getvalue(), "huge.png")
