"""The report as a PDF: one template, the data beside it, no network and no clock."""

from __future__ import annotations

import datetime
import importlib.resources
import json
import shutil
import tempfile
from pathlib import Path

from groovewright.report.glyphs import FONT_FILES, font_folder
from groovewright.report.layout import lay_out
from groovewright.report.parts import ReportContents

# Archivable with its structure (PDF/A-2a), and readable aloud (PDF/UA-1).
PDF_STANDARDS = ("a-2a", "ua-1")


def template_source() -> bytes:
    """Return the typst template as it is packaged."""
    return importlib.resources.files("groovewright.report").joinpath("report.typ").read_bytes()


def compile_template(source: bytes, data: dict[str, object]) -> bytes:
    """Return the PDF of a template with its data; refuse one about which the compiler warns.

    Parameters
    ----------
    source : bytes
        Typst source. It reads its data from ``sys.inputs.contents``; nothing is formatted into it.
    data : dict
        JSON types only.

    Raises
    ------
    RuntimeError
        If the template cannot be compiled, or compiles with a warning, such as a missing font.
    """
    import typst

    # The font package holds each face twice; which copy is taken must not depend on the order of a folder.
    with tempfile.TemporaryDirectory() as folder:
        for name in FONT_FILES:
            shutil.copyfile(font_folder() / name, Path(folder) / name)
        # Its types want source and folders alike, all bytes or all text; it takes them apart as well.
        document, warnings = typst.compile_with_warnings(  # type: ignore[call-overload]
            source,
            format="pdf",
            root=folder,
            font_paths=[folder],
            ignore_system_fonts=True,
            sys_inputs={"contents": json.dumps(data, ensure_ascii=False, allow_nan=False)},
            pdf_standards=list(PDF_STANDARDS),
            timestamp=datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC),
        )
    if warnings:
        raise RuntimeError(f"the report template is faulty: {'; '.join(w.message for w in warnings)}")
    return bytes(document)


def report_pdf(contents: ReportContents) -> bytes:
    """Return the report as a tagged PDF/A with its fonts inside; equal contents give equal bytes."""
    return compile_template(template_source(), lay_out(contents))
