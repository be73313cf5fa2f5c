"""The thread that analyses: one after another, stopped at will, alive after a fault."""

import threading
from types import SimpleNamespace

import pytest

from groovewright.jobbook import content_store
from groovewright.jobbook.capture_entries import add_capture
from groovewright.jobbook.models import CaptureAnalysis
from groovewright.web.captures.worker import FAULT, AnalysisQueue, Run

pytestmark = pytest.mark.django_db(transaction=True)
LONG_S = 60


@pytest.fixture
def two(fill_book, sheet_text):
    job = fill_book().job
    sha256 = content_store.keep(b"tone")
    facts = {"stage": "as left", "size": 4, "file_sha256": sha256, "sheet_text": sheet_text}
    return [add_capture(job, name=name, **facts) for name in ("a.wav", "b.wav")]


def gated(order):
    """An analysis that waits for its gate at every step."""
    gate, began = threading.Semaphore(0), threading.Event()

    def analyse(sheet, progress):
        order.append(sheet.pk)
        began.set()
        for step in range(4):
            gate.acquire(timeout=LONG_S)
            progress(step / 4, f"step {step}")

    return SimpleNamespace(analyse=analyse, gate=gate, began=began)


def test_sheets_are_analysed_one_after_another_each_once(two):
    order = []
    steps = gated(order)
    queue = AnalysisQueue(steps.analyse)
    for sheet in (*two, *two):
        queue.ask(sheet)
    steps.began.wait(LONG_S)
    assert order == [two[0].pk]
    assert queue.run_of(two[1]) == Run("waiting")
    steps.gate.release(8)
    assert queue.wait(LONG_S)
    assert order == [sheet.pk for sheet in two]
    assert [queue.run_of(sheet) for sheet in two] == [None, None]


def test_what_waits_and_what_runs_can_be_stopped_and_asked_for_again(two):
    order = []
    steps = gated(order)
    queue = AnalysisQueue(steps.analyse)
    for sheet in two:
        queue.ask(sheet)
    steps.began.wait(LONG_S)
    queue.stop(two[1])
    queue.stop(two[0])
    assert queue.run_of(two[0]).doing == "Stopping"
    steps.gate.release(8)
    assert queue.wait(LONG_S)
    assert [queue.run_of(sheet).state for sheet in two] == ["stopped", "stopped"]
    queue.ask(two[0])
    assert queue.wait(LONG_S)
    assert queue.run_of(two[0]) is None


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_fault_in_one_analysis_is_told_and_the_next_goes_on(two):
    done = []

    def analyse(sheet, progress):
        if sheet.pk == two[0].pk:
            raise ZeroDivisionError
        done.append(sheet.pk)

    queue = AnalysisQueue(analyse)
    for sheet in two:
        queue.ask(sheet)
    for _ in range(3):
        queue.wait(LONG_S)
    assert queue.run_of(two[0]).sentence == FAULT
    assert done == [two[1].pk]


def test_the_true_analysis_enters_its_result_from_the_thread(fill_book, wav, sheet_text):
    job = fill_book().job
    sha256 = content_store.keep(wav)
    sheet = add_capture(job, stage="as left", name="a.wav", size=len(wav), file_sha256=sha256, sheet_text=sheet_text)
    queue = AnalysisQueue()
    queue.ask(sheet)
    assert queue.wait(LONG_S)
    analysis = CaptureAnalysis.objects.get(sheet=sheet)
    assert "azimuth_rotation" in analysis.result["quantities"]


def test_a_recording_that_is_gone_is_told(two):
    content_store.path_of(two[0].capture.file_sha256).unlink()
    queue = AnalysisQueue()
    queue.ask(two[0])
    assert queue.wait(LONG_S)
    assert "bring it back from a backup" in queue.run_of(two[0]).sentence
