"""What a command prints: one JSON object, or a table to be read."""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.refusal import Refusal

if TYPE_CHECKING:
    from groovewright.measurement.quantity import Quantity


def print_json(found: Mapping[str, Any]) -> None:
    """Print one JSON object on stdout."""
    click.echo(json.dumps(found, ensure_ascii=False, allow_nan=False, indent=2))


def print_table(title: str, rows: Iterable[tuple[str, str]], notes: Iterable[str] = ()) -> None:
    """Print a titled table of two columns and the notes under it, without colour where stdout is no terminal."""
    print_groups(title, [("", rows)], notes)


def print_groups(
    title: str, groups: Iterable[tuple[str, Iterable[tuple[str, str]]]], notes: Iterable[str] = ()
) -> None:
    """Print a title, tables of two columns each under its heading, and notes; see `print_table`."""
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    # A terminal or file that knows no "±" gets a question mark, not a failure.
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")
    console = Console(highlight=False)
    console.print(Text(title, style="bold"))
    for heading, rows in groups:
        table = Table(box=None, show_header=False, padding=(0, 3, 0, 0), pad_edge=False)
        table.add_column()
        table.add_column()
        for name, value in rows:
            table.add_row(Text(name), Text(value, style="bold"))
        if heading:
            console.print(Padding(Text(heading, style="bold"), (1, 0, 0, 2)))
        console.print(Padding(table, (0 if heading else 1, 0, 0, 2)))
    for note in notes:
        console.print(Padding(Text(note), (1, 0, 0, 2)))


def print_columns(heading: str, names: Sequence[str], rows: Iterable[Sequence[str]], notes: Iterable[str] = ()) -> None:
    """Print a heading, a table of named columns set flush right, and notes; see `print_table`."""
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    console.print(Padding(Text(heading, style="bold"), (1, 0, 0, 2)))
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
    for name in names:
        table.add_column(name, justify="right", header_style="")
    for row in rows:
        table.add_row(*(Text(cell, style="bold") for cell in row))
    console.print(Padding(table, (0, 0, 0, 2)))
    for note in notes:
        console.print(Padding(Text(note), (1, 0, 0, 2)))


def quantity_text(quantity: Quantity | None) -> str:
    """Return a quantity as a cell of a table, forces in grams-force too."""
    from groovewright.measurement.formatting import format_force, format_quantity

    if quantity is None:
        return "none"
    return format_force(quantity) if quantity.unit == "mN" else format_quantity(quantity)


def quantity_json(quantity: Quantity | None) -> dict[str, Any] | None:
    """Return a quantity with its three keys, or null where there is none."""
    return None if quantity is None else quantity.as_json()


def probability_text(probability: float | None) -> str:
    """Return a probability in percent that is never rounded to certainty."""
    if probability is None:
        return "not known"
    percent = 100 * probability
    if percent < 0.1:
        return "under 0.1 %"
    return "over 99.9 %" if percent > 99.9 else f"{percent:.1f} %"


def write_file(path: Path, content: bytes) -> None:
    """Write a file whole or not at all; a refusal says why it cannot be written."""
    try:
        _write_beside_and_replace(path, content)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise Refusal(f"{path} cannot be written: {reason}; name another file with --out") from error


def _write_beside_and_replace(path: Path, content: bytes) -> None:
    if path.exists() and not path.is_file():
        # A device or a pipe takes the bytes as they come; a folder refuses them.
        path.write_bytes(content)
        return
    descriptor, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(content)
        Path(draft).chmod(0o666 & ~_umask())
        Path(draft).replace(path)
    finally:
        Path(draft).unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
