"""The report as a PDF: its templates, the data beside them, no network and no clock."""

from __future__ import annotations

import datetime
import functools
import importlib.resources
import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from groovewright.report.fonts import lay_out_fonts
from groovewright.report.layout import lay_out, picture_files, with_short_texts
from groovewright.report.parts import ReportContents

PDF_STANDARDS = ("a-2a", "ua-1")
"""Archivable with its structure (PDF/A-2a), and readable aloud (PDF/UA-1)."""

TEMPLATES = ("report.typ", "style.typ", "customer.typ", "technical.typ")

MAX_CUSTOMER_PAGES = 2
"""One sheet of paper, front and back."""

DENSITIES = (0, 1, 2, 3)
"""How closely the customer's part is set. Texts are shortened from 2 on."""

SHORT_TEXTS = {2: (420, 8), 3: (160, 4)}
"""Density to the letters a text may have and the items of a list: what two pages hold beside six photos."""


def template_source(name: str = "report.typ") -> bytes:
    """Return a typst template as it is packaged."""
    return importlib.resources.files("groovewright.report").joinpath(name).read_bytes()


@functools.cache
def _fonts() -> tuple[tempfile.TemporaryDirectory[str], Any]:
    """Return the fonts as the compiler takes them, with the folder that must last as long."""
    import typst

    folder = tempfile.TemporaryDirectory(prefix="groovewright-fonts-")
    lay_out_fonts(Path(folder.name))
    return folder, typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[folder.name])


def compile_template(source: bytes, data: dict[str, object], *, files: Mapping[str, bytes] | None = None) -> bytes:
    """Return the PDF of a template with its data; refuse one about which the compiler warns.

    Parameters
    ----------
    source : bytes
        Typst source. It reads its data from ``sys.inputs.contents``; nothing is formatted into it.
    data : dict
        JSON types only.
    files : mapping of name to bytes, optional
        What the source may name.

    Raises
    ------
    RuntimeError
        If the template cannot be compiled, or compiles with a warning, such as a missing font.
    """
    import typst

    with tempfile.TemporaryDirectory() as folder:
        for name, content in (files or {}).items():
            (Path(folder) / name).write_bytes(content)
        # Its types want source and folders alike, all bytes or all text; it takes them apart as well.
        document, warnings = typst.compile_with_warnings(  # type: ignore[call-overload]
            source,
            format="pdf",
            root=folder,
            font_paths=_fonts()[1],
            ignore_system_fonts=True,
            sys_inputs=_inputs(data),
            pdf_standards=list(PDF_STANDARDS),
            timestamp=datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC),
        )
    if warnings:
        raise RuntimeError(f"the report template is faulty: {'; '.join(w.message for w in warnings)}")
    return bytes(document)


def customer_pages(data: dict[str, Any], files: Mapping[str, bytes]) -> tuple[int, int, int]:
    """Return on which pages the drawn settings end, all but the photos is said, and the customer's part ends."""
    import typst

    with tempfile.TemporaryDirectory() as folder:
        for name, content in files.items():
            (Path(folder) / name).write_bytes(content)
        found = typst.query(
            template_source(),
            "<ends-on>",
            field="value",
            root=folder,
            font_paths=_fonts()[1],
            ignore_system_fonts=True,
            sys_inputs=_inputs(data | {"technical": None}),
        )
    drawn, said, ends = json.loads(found)
    return int(drawn), int(said), int(ends)


def report_pdf(contents: ReportContents) -> bytes:
    """Return the report as a tagged PDF/A with its fonts inside; equal contents give equal bytes."""
    data = lay_out(contents)
    files = {name: template_source(name) for name in TEMPLATES} | picture_files(contents)
    if data["customer"] is not None:
        data = _fitting(data, files)
    return compile_template(template_source(), data, files=files)


def _fitting(data: dict[str, Any], files: Mapping[str, bytes]) -> dict[str, Any]:
    """Return the data set no closer than it takes to have all but the photos on the first page.

    What that asks too much of has at least its settings there, and ends on the second page.
    """
    found = []
    for density in DENSITIES:
        trial = data | {"density": density}
        if density in SHORT_TEXTS:
            letters, items = SHORT_TEXTS[density]
            trial = with_short_texts(trial, max_length=letters, max_items=items)
        drawn, said, ends = customer_pages(trial, files)
        found.append(((ends > MAX_CUSTOMER_PAGES, drawn > 1, said > 1), trial))
        if not any(found[-1][0]):
            break
    return min(found, key=lambda pair: pair[0])[1]


def _inputs(data: dict[str, Any]) -> dict[str, str]:
    return {"contents": json.dumps(data, ensure_ascii=False, allow_nan=False)}
