"""A progress bar on stderr for work that turns out to take more than a second."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress

PATIENCE_S = 1.0

Report = Callable[[float, str], None]


@contextmanager
def progress_bar() -> Iterator[Report]:
    """Give a function that is told the share that is done, 0 to 1, and what is being done.

    A bar is drawn once a second has passed, and only where stderr is a terminal; it is wiped when the work ends.
    """
    bar = _PatientBar()
    try:
        yield bar.report
    finally:
        bar.close()


class _PatientBar:
    def __init__(self) -> None:
        self._began = time.monotonic()
        self._shown: Progress | None = None

    def report(self, share: float, doing: str) -> None:
        if self._shown is None:
            if time.monotonic() - self._began < PATIENCE_S:
                return
            self._shown = _drawn()
        for task in self._shown.tasks:
            self._shown.update(task.id, completed=share, description=doing)

    def close(self) -> None:
        if self._shown is not None:
            self._shown.stop()


def _drawn() -> Progress:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        TaskProgressColumn(),
        TimeElapsedColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    bar.add_task("", total=1.0)
    bar.start()
    return bar
