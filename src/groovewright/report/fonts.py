"""The typefaces of the report: which are installed, what they can print, and what is printed in place of the rest."""

from __future__ import annotations

import functools
import importlib.resources
import re
import shutil
import unicodedata
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

FONT_FAMILY = "Source Sans Pro"

MAIN_FILES = ("SourceSansPro-Regular.ttf", "SourceSansPro-Semibold.ttf", "SourceSansPro-Bold.ttf")

SCRIPTS = (
    "", "Arabic", "Hebrew", "Devanagari", "Thai", "Armenian", "Georgian", "Bengali", "Ethiopic", "Gujarati", "Gurmukhi",
    "Kannada", "Khmer", "Lao", "Malayalam", "Myanmar", "Oriya", "Sinhala", "Tamil", "Telugu", "Symbols",
)  # fmt: skip
"""Of the family Noto Sans, asked in this order for what the main typeface lacks."""

CJK_FILE, CJK_FAMILY = "NotoSansCJK-Regular.ttc", "Noto Sans CJK JP"
"""Japanese, Chinese and Korean; in one file, whose Japanese face holds the signs of all three."""

LOOKALIKES = str.maketrans(
    {"\u2010": "-", "\u2011": "-", "\u2012": "–", "\u2015": "—", "\u2028": "\n", "\u2029": "\n\n", "\t": "    "}
)
"""Characters that word processors put in, and those that look alike and that the typeface has."""

CJK_NAMES = re.compile("CJK|HIRAGANA|KATAKANA|HANGUL")
"""How Unicode names the signs of these scripts."""

UNSEEN = frozenset("\u00ad\u200b\u200c\u200d\u200e\u200f\u061c\u2060\u2066\u2067\u2068\u2069\u202a\u202b\u202c\ufe0f")
"""Marks that join, part or turn letters: printed by no font, and needed to write Arabic, Persian or Hindi."""

MAX_UNBROKEN = 18
"""A longer run of letters without a space may be broken, without a hyphen that is not in the text."""


def _folder(package: str) -> Path | None:
    return Path(str(importlib.resources.files(package))) if find_spec(package) else None


@functools.cache
def font_files() -> dict[str, tuple[Path, ...]]:
    """Return the font files by family, in the order in which they are asked for a character."""
    main, noto, cjk = (_folder(name) for name in ("font_source_sans_pro", "manimgx_fonts", "noto_cjk_sans_otc"))
    assert main is not None
    assert noto is not None
    families = {FONT_FAMILY: tuple(main / "files" / name for name in MAIN_FILES)}
    for script in SCRIPTS:
        families[f"Noto Sans {script}".rstrip()] = (noto / f"NotoSans{script}[wght].ttf",)
    if cjk is not None:
        families[CJK_FAMILY] = (cjk / CJK_FILE,)
    return families


def lay_out_fonts(folder: Path) -> None:
    """Put the font files into a folder: each once, so that nothing depends on the order of another folder."""
    for files in font_files().values():
        for file in files:
            try:
                (folder / file.name).symlink_to(file)
            except OSError:
                shutil.copyfile(file, folder / file.name)


@functools.cache
def _code_points(family: str) -> frozenset[int]:
    """Return the code points that every weight of a family can print."""
    from fontTools.ttLib import TTFont

    covered = []
    for file in font_files()[family]:
        with TTFont(file, lazy=True, fontNumber=0) as font:
            covered.append(set(font.getBestCmap()))
    return frozenset(set.intersection(*covered))


@functools.lru_cache(maxsize=4096)
def can_print(character: str) -> bool:
    """Return whether an installed font holds a character, or it needs none."""
    if character in UNSEEN or character == "\n":
        return True
    if unicodedata.category(character) in ("Cc", "Cf", "Co", "Cs"):
        return False
    return any(ord(character) in _code_points(family) for family in font_files())


def unprintable(text: str) -> tuple[str, ...]:
    r"""Return the characters of a text that no installed font holds, each once.

    >>> unprintable("maker \U0001e900"), unprintable("Ωμέγα, שלום, محمد")
    (('𞤀',), ())
    """
    return tuple(dict.fromkeys(character for character in _plain(text) if not can_print(character)))


def printable(text: str) -> str:
    r"""Return a text with each character that cannot be printed shown as its code point.

    Nothing is dropped in silence. Line ends stay, and a run of spaces keeps its width.

    >>> printable("a *b* #c"), printable("maker \U0001e900")
    ('a *b* #c', 'maker ‹U+1E900›')
    """
    shown = "".join(c if can_print(c) else f"‹U+{ord(c):04X}›" for c in _plain(text))
    shown = "\n".join(f"\u2067{line}\u2069" if _runs_leftwards(line) else line for line in shown.split("\n"))
    breakable = re.sub(rf"[!-~]{{{MAX_UNBROKEN + 1},}}", _with_places_to_break, shown)
    return breakable.replace("  ", "\u00a0 ")


def _runs_leftwards(line: str) -> bool:
    """Return whether a line begins in a script that is written from right to left, so that its marks follow at left."""
    first = next((way for way in map(unicodedata.bidirectional, line) if way in ("L", "R", "AL")), "L")
    return first != "L"


def name_of(character: str) -> str:
    r"""Return how a character is named to whoever must replace it.

    >>> name_of("\u4e2d")
    '“中” (U+4E2D, cjk unified ideograph-4e2d)'
    """
    shown = f"“{character}” " if character.isprintable() else ""
    return f"{shown}(U+{ord(character):04X}, {unicodedata.name(character, 'without a name').lower()})"


def not_printed(texts: dict[str, str]) -> Iterator[str]:
    """Return one sentence for each field that holds what no installed font can print.

    Parameters
    ----------
    texts : dict of str to str
        Name of the field to what was typed in it.
    """
    for field, text in texts.items():
        found = unprintable(text)
        if found:
            named = ", ".join(map(name_of, found))
            remedy = ""
            if CJK_FAMILY not in font_files() and any(CJK_NAMES.match(unicodedata.name(c, "")) for c in found):
                remedy = " Install the extra “cjk” for Japanese, Chinese and Korean."
            yield f"{field[:1].upper()}{field[1:]} holds {named}, which no installed font can print.{remedy}"


def _plain(text: str) -> str:
    return unicodedata.normalize("NFC", text).replace("\r\n", "\n").replace("\r", "\n").translate(LOOKALIKES)


def _with_places_to_break(word: re.Match[str]) -> str:
    letters = word[0]
    return "\u200b".join(letters[k : k + MAX_UNBROKEN] for k in range(0, len(letters), MAX_UNBROKEN))
