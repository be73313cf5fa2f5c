"""Help pages: a docstring is the help, and the lines of its example stay as they are."""

from __future__ import annotations

import re
from typing import Any

import click

# A line of nothing but this tells click not to join the lines of the paragraph below it.
_KEEP_LINES = "\b"


def keeping_example_lines(text: str | None) -> str | None:
    """Return a help text in which the lines of a paragraph that begins with "For example:" are not joined."""
    return text and re.sub(r"\n\n( *)(For example:)", rf"\n\n\1{_KEEP_LINES}\n\1\2", text)


class Command(click.Command):
    """A command whose help shows its examples line by line."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options | {"help": keeping_example_lines(options.get("help"))})
