"""From the contents of a report to what its templates print: texts, aligned columns and pictures, as JSON types."""

from __future__ import annotations

from typing import Any

from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED
from groovewright.report.cells import minus
from groovewright.report.customer import customer_part
from groovewright.report.drawing import PALETTE
from groovewright.report.fonts import font_files, printable
from groovewright.report.parts import ReportContents
from groovewright.report.technical import technical_part
from groovewright.report.tracks_svg import legend_dot, verdict_shape
from groovewright.report.wording import day

__all__ = ["lay_out", "minus", "with_short_texts"]

ELSEWHERE = {
    "both": "… (in full in the technical part)",
    "customer": "… (in full in the job's record)",
}


def lay_out(contents: ReportContents) -> dict[str, Any]:
    """Return everything the templates print, as JSON types; pictures are files named by `picture_files`."""
    part, date, head = contents.words.part, contents.report_date, contents.head
    tree = {
        "fonts": list(font_files()),
        "palette": dict(PALETTE),
        "title": contents.title,
        "language": "en",
        "paper": contents.words.paper,
        "date": [date.year, date.month, date.day],
        "date_text": day(date),
        "head": {
            "name": head.name,
            "lines": list(head.lines),
            "logo": None if head.logo is None else f"logo.{head.logo_suffix}",
        },
        "job_number": contents.job_number,
        "record_number": contents.record_number,
        "record_hash": contents.record_hash,
        "density": 0,
        "customer": customer_part(contents) if part != "technical" else None,
        "technical": technical_part(contents) if part != "customer" else None,
        "photos": [
            {"file": f"photo-{number}.jpg", "caption": photo.caption, "alt": photo.caption or f"Photo {number}"}
            for number, photo in enumerate(contents.photos, start=1)
        ],
        "shapes": {w: {"svg": verdict_shape(w)} for w in (IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED)},
        "dots": {"found": {"svg": legend_dot(is_left=False)}, "left": {"svg": legend_dot(is_left=True)}},
    }
    return {name: printable_tree(branch) for name, branch in tree.items()}


def picture_files(contents: ReportContents) -> dict[str, bytes]:
    """Return the pictures that the templates name, by file name."""
    files = {f"photo-{number}.jpg": photo.content for number, photo in enumerate(contents.photos, start=1)}
    if contents.head.logo is not None:
        files[f"logo.{contents.head.logo_suffix}"] = contents.head.logo
    return files


def with_short_texts(tree: dict[str, Any], *, max_length: int, max_items: int) -> dict[str, Any]:
    """Return the tree with long texts and lists of the customer's part shortened, saying where they are in full."""
    customer = tree["customer"]
    if customer is None:
        return tree
    more = ELSEWHERE["customer" if tree["technical"] is None else "both"]

    def short(text: str) -> str:
        return text if len(text) <= max_length else text[:max_length].rsplit(" ", 1)[0].rstrip(",;:. ") + more

    rest = more.replace("… (", "More (")
    shortened = {}
    for name in ("done", "parts_fitted", "faults", "open"):
        items = customer[name]
        shortened[name] = [*map(short, items[:max_items]), *([rest] if len(items) > max_items else [])]
    texts = {name: short(customer[name]) for name in ("complaint", "time_spent")}
    facts = [{"label": fact["label"], "text": short(fact["text"])} for fact in customer["facts"]]
    photos = [photo | {"caption": short(photo["caption"])} for photo in tree["photos"]]
    return tree | {"customer": customer | shortened | texts | {"facts": facts}, "photos": photos}


def printable_tree(tree: Any) -> Any:
    """Return JSON data with every text made printable; pictures, which hold only our own words, are left alone."""
    if isinstance(tree, str):
        return printable(tree)
    if isinstance(tree, list):
        return [printable_tree(branch) for branch in tree]
    if isinstance(tree, dict):
        return {key: branch if key == "svg" else printable_tree(branch) for key, branch in tree.items()}
    return tree
