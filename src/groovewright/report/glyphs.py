"""Which characters the report's typeface can print, and what stands in for the others."""

from __future__ import annotations

import functools
import importlib.resources
import re
import unicodedata
from pathlib import Path

FONT_FAMILY = "Source Sans Pro"
FONT_FILES = ("SourceSansPro-Regular.ttf", "SourceSansPro-Semibold.ttf", "SourceSansPro-Bold.ttf")

# Characters that word processors put in and that look like another one the typeface has.
LOOKALIKES = str.maketrans(
    {"\u2010": "-", "\u2011": "-", "\u2012": "–", "\u2015": "—", "\u2028": "\n", "\u2029": "\n\n", "\t": "    "}
)

# A longer run of letters without a space may be broken, without a hyphen that is not in the text.
LONGEST_WORD = 18


def font_folder() -> Path:
    """Return the folder of the font package that holds the report's typeface."""
    return Path(str(importlib.resources.files("font_source_sans_pro"))) / "files"


@functools.cache
def printable_code_points() -> frozenset[int]:
    """Return the code points that every weight used in the report can print."""
    from reportlab.pdfbase.ttfonts import TTFontFile

    covered = [set(TTFontFile(str(font_folder() / name)).charToGlyph) for name in FONT_FILES]
    hidden = ("Cc", "Cf", "Co")
    visible = {point for point in set.intersection(*covered) if unicodedata.category(chr(point)) not in hidden}
    return frozenset(visible)


def printable(text: str) -> str:
    """Return the text with each character that cannot be printed shown as its code point.

    Nothing is dropped in silence: a letter the typeface lacks becomes ``‹U+4E2D›``. Line ends stay line ends,
    and a run of spaces keeps its width.

    Examples
    --------
    >>> printable("a *b* #c")
    'a *b* #c'
    >>> printable("maker 中")
    'maker ‹U+4E2D›'
    """
    lines = unicodedata.normalize("NFC", text).replace("\r\n", "\n").replace("\r", "\n").translate(LOOKALIKES)
    known = printable_code_points()
    shown = "".join(c if c == "\n" or ord(c) in known else f"‹U+{ord(c):04X}›" for c in lines)
    breakable = re.sub(rf"\S{{{LONGEST_WORD + 1},}}", _with_places_to_break, shown)
    return breakable.replace("  ", "\u00a0 ")


def _with_places_to_break(word: re.Match[str]) -> str:
    letters = word[0]
    return "\u200b".join(letters[k : k + LONGEST_WORD] for k in range(0, len(letters), LONGEST_WORD))
