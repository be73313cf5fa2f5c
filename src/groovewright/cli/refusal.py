"""Bad input at the command line: one sentence on stderr, exit code 2, and nothing on stdout."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import click


class Refusal(click.ClickException):
    """What was given cannot be used; the message says why and what would do."""

    exit_code = 2

    def __init__(self, message: str) -> None:
        super().__init__(" ".join(message.split()))


@contextmanager
def refusing(*kinds: type[Exception]) -> Iterator[None]:
    """Turn the named errors of the one call inside into a refusal."""
    try:
        yield
    except kinds as error:
        raise Refusal(str(error)) from error
