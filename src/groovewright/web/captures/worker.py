"""The one background thread that analyses captures, one after another.

What waits and what runs is kept in memory: after a restart an unfinished analysis is told by its sheet having none.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from django.db import connections

from groovewright.jobbook.capture_analysis import Progress, analyse
from groovewright.jobbook.content_store import ContentDamaged
from groovewright.jobbook.models import CaptureSheet
from groovewright.jobbook.not_written import NotWritten

FAULT = "The program has a fault here and entered nothing; the window in which it was started says what went wrong."


class Stopped(Exception):  # noqa: N818 - says what happened to the analysis
    """The analysis was stopped by hand."""


@dataclass(frozen=True)
class Run:
    """How far an analysis is that has entered nothing yet.

    Attributes
    ----------
    state : {"waiting", "running", "stopped", "failed"}
        Where it stands.
    share : float
        Part that is done, 0 to 1.
    doing : str
        What is being done.
    sentence : str
        Why it failed.
    """

    state: Literal["waiting", "running", "stopped", "failed"]
    share: float = 0.0
    doing: str = ""
    sentence: str = ""

    @property
    def is_live(self) -> bool:
        """Whether it will still come to something by itself."""
        return self.state in ("waiting", "running")

    @property
    def percent(self) -> int:
        """The part that is done."""
        return int(100 * self.share)


class AnalysisQueue:
    """Sheets that wait to be analysed, and the thread that works on them while there are any."""

    def __init__(self, analyse_sheet: Callable[[CaptureSheet, Progress], object] = analyse) -> None:
        self._analyse = analyse_sheet
        self._lock = threading.Lock()
        self._waiting: list[int] = []
        self._runs: dict[int, Run] = {}
        self._to_stop: set[int] = set()
        self._thread: threading.Thread | None = None

    def ask(self, sheet: CaptureSheet) -> None:
        """Have a sheet analysed once those before it are."""
        with self._lock:
            run = self._runs.get(sheet.pk)
            if run is not None and run.is_live:
                return
            self._runs[sheet.pk] = Run("waiting")
            self._waiting.append(sheet.pk)
            self._start()

    def run_of(self, sheet: CaptureSheet) -> Run | None:
        """Return how far the analysis of a sheet is; None if this program was not asked for it or is done with it."""
        with self._lock:
            return self._runs.get(sheet.pk)

    def stop(self, sheet: CaptureSheet) -> None:
        """Stop the analysis of a sheet, now if it waits, or at its next step if it runs."""
        with self._lock:
            run = self._runs.get(sheet.pk)
            if run is None or not run.is_live:
                return
            if sheet.pk in self._waiting:
                self._waiting.remove(sheet.pk)
                self._runs[sheet.pk] = Run("stopped")
            else:
                self._to_stop.add(sheet.pk)
                self._runs[sheet.pk] = replace(run, doing="Stopping")

    def wait(self, timeout_s: float) -> bool:
        """Wait until nothing waits or runs; return whether that came about in time."""
        with self._lock:
            thread = self._thread
        if thread is not None:
            thread.join(timeout_s)
        return thread is None or not thread.is_alive()

    def _start(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="captures", daemon=True)
            self._thread.start()

    def _work(self) -> None:
        try:
            while (key := self._next()) is not None:
                self._run(key)
        finally:
            connections.close_all()

    def _next(self) -> int | None:
        with self._lock:
            if not self._waiting:
                self._thread = None
                return None
            key = self._waiting.pop(0)
            self._runs[key] = Run("running", doing="Starting")
            return key

    def _run(self, key: int) -> None:
        ended: Run | None = Run("failed", sentence=FAULT)
        try:
            self._analyse(
                CaptureSheet.objects.select_related("capture__job", "choice").get(pk=key),
                lambda share, doing: self._progress(key, share, doing),
            )
            ended = None
        except Stopped:
            ended = Run("stopped")
        except (ContentDamaged, NotWritten) as trouble:
            ended = Run("failed", sentence=str(trouble))
        finally:
            self._end(key, ended)

    def _end(self, key: int, ended: Run | None) -> None:
        with self._lock:
            self._to_stop.discard(key)
            self._runs.pop(key)
            if ended is not None:
                self._runs[key] = ended
            if ended is not None and ended.sentence == FAULT:
                # This thread ends with the fault that is printed; those that wait go on in another.
                self._thread = None
                if self._waiting:
                    self._start()

    def _progress(self, key: int, share: float, doing: str) -> None:
        with self._lock:
            if key in self._to_stop:
                raise Stopped
            self._runs[key] = Run("running", share=share, doing=doing)


QUEUE = AnalysisQueue()
