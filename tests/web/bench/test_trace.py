"""The arc trace: entered whole, and what it says."""

from __future__ import annotations

import html
import re

import pytest

from groovewright.jobbook import entries
from groovewright.jobbook.models import Reading
from groovewright.jobbook.queries import job_record
from groovewright.plates.request import PlateRequest
from groovewright.tonearm.geometry import Geometry
from groovewright.web.bench.outcome import outcome_of


def text_of(answer):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def plate_for(job):
    geometry = Geometry(222.0, 239.2961, 22.9855)
    return entries.issue_plate(job, PlateRequest("arc", geometry, 60.325, 146.05, "closed form", paper="A3"))


def test_an_arc_trace_is_entered_whole_and_joins_the_estimate(client, bench):
    plate = plate_for(bench.job)
    lines = "\n".join(f"{radius} mm  0.8 mm" for radius in range(62, 146, 12))
    typed = {"plate": plate.pk, "stage": "as left", "places": lines, "uncertainty": "0.1 mm", "note": ""}
    assert client.post("/jobs/1/bench/trace/", typed).status_code == 302
    traced = Reading.objects.filter(kind="arc_trace")
    assert (traced.count(), {row.laying for row in traced}) == (7, {1})
    assert client.post("/jobs/1/bench/trace/", typed).status_code == 302
    assert {row.laying for row in Reading.objects.filter(kind="arc_trace")} == {1, 2}
    joined = [residual.label for residual in outcome_of(job_record(bench.job)).state.now.residuals]
    assert sum("arc trace" in label for label in joined) == 4


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ("", "Write one line a place, such as: 65 0.12 mm"),
        ("65 mm 0.1 mm\n80 mm 0.1 mm", "An arc is traced at four places at least, and 2 stand here."),
        ("65 mm 0.1 mm\n80", "Line 2, “80”, needs two numbers: groove radius and distance, such as 65 0.12 mm"),
        ("65 mm 0.1 mm\n80 mm x mm", "Line 2:"),
        ("65 0,1\nnear", 'Line 2: "near" does not have a number where one is needed; write it like 65 0.12 mm'),
        ("6 mm 0.1 mm", "Line 1: a groove radius lies between 20 and 200 mm, not at 6 mm."),
        ("65 mm 80 mm", "Line 1: 80 mm beside the arc is more than"),
    ],
)
def test_a_wrong_trace_is_kept_and_says_in_which_line(client, bench, lines, sentence):
    plate = plate_for(bench.job)
    typed = {"plate": plate.pk, "stage": "as left", "places": lines, "uncertainty": "0.1 mm", "note": ""}
    answer = client.post("/jobs/1/bench/trace/", typed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert html.escape(lines) in answer.content.decode()
    assert not Reading.objects.filter(kind="arc_trace").exists()


def test_a_stored_trace_says_first_what_the_arm_does_and_what_it_cannot_tell(client, bench):
    plate = plate_for(bench.job)
    lines = "\n".join(f"{radius} mm  0.4 mm" for radius in range(62, 146, 10))
    typed = {"plate": plate.pk, "stage": "as left", "places": lines, "uncertainty": "0.1 mm", "note": ""}
    answer = client.post("/jobs/1/bench/trace/", typed, follow=True)
    page = text_of(answer)
    assert re.search(r"tracking error stays below \d\.\d+° and distortion below \d\.\d+ % \(95 %\)", page)
    result = answer.context["traced"].result
    assert result.cannot_tell in page
    # All places stand 0.4 mm outside the arc of the target, so the arm is about that much too long.
    assert result.effective_length_error.value == pytest.approx(0.4, abs=0.15)
    assert len(answer.context["traced"].figure["data"]) == 7
