"""Glossary and bibliography cover what the program uses."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from groovewright.measurement.units import KINDS, printed_unit

ROOT = Path(__file__).parents[2]
GLOSSARY = (ROOT / "docs/glossary.md").read_text(encoding="utf-8")
BIBLIOGRAPHY = (ROOT / "docs/bibliography.md").read_text(encoding="utf-8").replace("ö", "oe").replace("\n  ", " ")
STANDARD = re.compile(r"\b(?:JCGM|OIML R|IEC|ISO|DIN|RIAA|AES|NPL report) ?(?:[A-Z-]+)?\d+(?:-\d+)*")
AUTHOR = re.compile(r"^(?:[A-Z]\. )+([A-Z]\w+)")


def cited() -> list[str]:
    """Return every reference that stands in a docstring of the program."""
    lines = []
    for file in sorted((ROOT / "src/groovewright").rglob("*.py")):
        lines += re.findall(r"^\s*\.\. \[\d+\] (.+)$", file.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return sorted(set(lines))


@pytest.mark.parametrize("reference", cited())
def test_every_reference_is_in_the_bibliography(reference):
    names = STANDARD.findall(reference) + AUTHOR.findall(reference)
    assert names, "a reference starts with its author or names its standard"
    for name in names:
        assert name in BIBLIOGRAPHY, name


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_every_kind_and_unit_is_in_the_glossary(kind):
    row = next(line for line in GLOSSARY.splitlines() if line.startswith(f"| {kind.name} |"))
    assert kind.canonical in row
    assert printed_unit(kind.canonical) in row
    for unit in kind.shown:
        assert re.search(rf"(?<![\w/]){re.escape(unit)}(?![\w/])", row), unit
