"""Logos and photos as they are printed: checked, upright, without hidden data, and no larger than paper needs."""

from __future__ import annotations

import io
import re
import warnings
from xml.etree import ElementTree

MAX_PIXELS = 60_000_000
"""Larger than any camera of today takes; a file that claims more is one made to exhaust the memory."""

PHOTO_PIXELS, LOGO_PIXELS = 1400, 1200
"""On the longer side: 300 to the inch at the width at which they are printed."""

JPEG_QUALITY = 85
"""No difference is seen on paper above this."""

PICTURE_TYPES = ("image/jpeg", "image/png", "image/webp")
LOGO_TYPES = ("image/jpeg", "image/png", "image/svg+xml")

LOGO_RULE = "a logo is a PNG, a JPEG or an SVG"


def printable_photo(content: bytes, name: str) -> bytes:
    """Return a photo as a JPEG that stands upright and tells nothing of where it was taken.

    Raises
    ------
    ValueError
        In one sentence, if it is no picture that can be read.
    """
    return _reduced(content, name, longer_side=PHOTO_PIXELS, with_transparency=False)


def printable_logo(content: bytes, name: str) -> tuple[bytes, str]:
    """Return a logo as it is kept and printed, with its media type.

    Raises
    ------
    ValueError
        In one sentence, if it is no logo that can be printed as it is.
    """
    if content[:1] == b"<" or content[:4] == b"\xef\xbb\xbf<":
        return _checked_svg(content, name), "image/svg+xml"
    return _reduced(content, name, longer_side=LOGO_PIXELS, with_transparency=True), "image/png"


def _reduced(content: bytes, name: str, *, longer_side: int, with_transparency: bool) -> bytes:
    from PIL import Image, ImageOps, UnidentifiedImageError

    out = io.BytesIO()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=("JPEG", "PNG", "WEBP")) as picture:
                if picture.width * picture.height > MAX_PIXELS:
                    raise ValueError(
                        f"{name} has {picture.width} x {picture.height} pixels; {MAX_PIXELS // 10**6} million are "
                        "allowed. Save it smaller."
                    )
                upright = ImageOps.exif_transpose(picture).convert("RGBA")
    except (UnidentifiedImageError, OSError, SyntaxError, Image.DecompressionBombError) as error:
        raise ValueError(f"{name} cannot be read as a picture: {LOGO_RULE}, or a photo. Save it anew.") from error
    upright.thumbnail((longer_side, longer_side))
    if with_transparency:
        upright.save(out, "PNG", optimize=True)
        return out.getvalue()
    paper = Image.new("RGB", upright.size, "white")
    paper.paste(upright, mask=upright.getchannel("A"))
    paper.save(out, "JPEG", quality=JPEG_QUALITY)
    return out.getvalue()


def _checked_svg(content: bytes, name: str) -> bytes:
    if re.search(rb"<!(DOCTYPE|ENTITY)", content, re.IGNORECASE):
        raise ValueError(f"{name} declares entities, which a logo needs none of; save it as plain SVG.")
    try:
        root = ElementTree.fromstring(content)
    except ElementTree.ParseError as error:
        raise ValueError(f"{name} is no SVG that can be read ({error}); save it as plain SVG.") from error
    if root.tag != "{http://www.w3.org/2000/svg}svg":
        raise ValueError(f"{name} is no SVG; {LOGO_RULE}.")
    for element in root.iter():
        kind = element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""
        if kind in ("text", "image", "script", "foreignObject", "style"):
            remedy = {"text": "turn its text into outlines", "style": "save it with presentation attributes"}
            raise ValueError(
                f"{name} holds a <{kind}> element, which is not printed alike everywhere; "
                f"{remedy.get(kind, 'save it as plain SVG')} or use a PNG."
            )
        for attribute, value in element.attrib.items():
            if attribute.endswith("href") and not value.startswith("#"):
                raise ValueError(f"{name} points at another file; save it as plain SVG with all parts inside.")
    return content
