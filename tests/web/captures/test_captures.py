"""Handing a capture in, watching it, moving its bands, entering what it shows."""

import io
from html import unescape

import pytest

from groovewright.jobbook import content_store
from groovewright.jobbook.capture_analysis import analyse
from groovewright.jobbook.capture_entries import add_capture_sheet, enter_capture, record_analysis
from groovewright.jobbook.models import Capture, CaptureSheet, Reading
from groovewright.jobbook.queries import current_readings
from groovewright.report.contents import contents_of_job
from groovewright.report.layout import lay_out
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.web.captures.forms import example_sheet
from groovewright.web.captures.sheet_text import sheet_text as written
from groovewright.web.captures.worker import Run

LIST = "/jobs/1/captures/"
PAGE = "/jobs/1/captures/{}/"


def named(name, content):
    file = io.BytesIO(content)
    file.name = name
    return file


def hand_in(client, wav, sheet, name="side a.wav", **more):
    return client.post(LIST, {"recording": named(name, wav), "sheet": sheet, "stage": "as left", **more})


def words(answer):
    return answer.content.decode()


# Handing in


def test_the_page_starts_from_the_example_and_carries_the_caution(client, bench):
    page = words(client.get(LIST))
    assert "Lateral, outer" in page
    assert "open amplifier" in page
    assert "up to 4 GB" in page
    read_band_sheet(example_sheet())


def test_a_recording_is_kept_by_its_hash_and_asked_to_be_analysed(client, bench, queue, wav, sheet_text):
    answer = hand_in(client, wav, sheet_text)
    capture = Capture.objects.get()
    assert answer.status_code == 302
    assert answer.url == PAGE.format(capture.pk)
    assert content_store.read(capture.file_sha256) == wav
    assert (capture.number, capture.stage, capture.size) == ("1-C1", "as left", len(wav))
    assert queue.run_of(capture.sheets.get()).state == "waiting"
    assert "Speed" in words(client.get(LIST))
    assert "waiting" in words(client.get(LIST))


def test_the_sheet_used_last_is_there_for_the_next_recording(client, handed_in):
    assert "name = &quot;Right&quot;" in words(client.get(LIST))


def test_a_sheet_comes_from_a_file_too(client, bench, queue, wav, sheet_text):
    assert hand_in(client, wav, "", sheet_file=named("record.toml", sheet_text.encode())).status_code == 302
    assert CaptureSheet.objects.get().text == sheet_text


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "The file is empty"),
        (b"ID3\x04 a song", "by its content"),
        (b"fLaC" + b"\0" * 60, "FLAC by its content, not WAV; rename it to side a.flac"),
        (b"RIFF\0\0\0\0WAVEfmt ", "side a.wav holds a WAV header and no samples"),
    ],
    ids=["empty", "a song", "another name", "no samples"],
)
@pytest.mark.usefixtures("bench", "queue")
def test_a_file_that_is_no_recording_is_refused_with_its_name(client, sheet_text, content, sentence):
    answer = hand_in(client, content, sheet_text)
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert "name = &quot;Right&quot;" in words(answer)
    assert not Capture.objects.exists()


@pytest.mark.parametrize(
    ("sheet", "sentence"),
    [
        ("", "write the band sheet"),
        ("speed = 3", "does not know"),
        ("equalised = true\nspeed_rpm = 33\n" + "# x\n" * 60_000, "100000"),
    ],
)
@pytest.mark.usefixtures("bench", "queue")
def test_a_wrong_sheet_is_refused_and_the_recording_need_not_be_sent_again(client, wav, sheet_text, sheet, sentence):
    answer = hand_in(client, wav, sheet)
    assert answer.status_code == 422
    assert sentence.lower() in words(answer).lower()
    assert "is here already" in words(answer)
    upload = words(answer).split('name="upload" value="')[1].split('"')[0]
    again = client.post(LIST, {"upload": upload, "upload_name": "side a.wav", "sheet": sheet_text, "stage": "as found"})
    assert again.status_code == 302
    assert Capture.objects.get().size == len(wav)


def test_a_file_that_is_no_sheet_is_refused(client, bench, queue, wav):
    assert "is no text" in words(hand_in(client, wav, "", sheet_file=named("a.toml", b"\xff\xfe\x00")))
    assert "far too many" in words(hand_in(client, wav, "", sheet_file=named("a.toml", b"#" * 500_000)))


def test_a_job_or_capture_that_is_unknown_is_not_found(client, handed_in):
    pk, sheet = handed_in.capture_id, handed_in.pk
    for address in ("/jobs/99/captures/", PAGE.format(99), PAGE.format(pk) + "sheets/99/", "/jobs/99/captures/1/"):
        assert client.get(address).status_code == 404
    assert client.get(PAGE.format(99) + f"sheets/{sheet}/progress/").status_code == 404
    for deed in ("stop", "run", "bands", "enter"):
        assert client.post(PAGE.format(99) + f"{deed}/").status_code == 404


def test_wrong_methods_are_refused(client, handed_in):
    page = PAGE.format(handed_in.capture_id)
    assert client.put(LIST).status_code == 405
    assert client.post(page).status_code == 405
    assert client.post(page + f"sheets/{handed_in.pk}/").status_code == 405
    assert client.post(page + f"sheets/{handed_in.pk}/progress/").status_code == 405
    for deed in ("stop", "run", "bands", "enter"):
        assert client.get(page + f"{deed}/").status_code == 405


# How far it is


def test_progress_is_a_bar_with_its_stage_and_leads_on_when_there_is_none(client, handed_in, queue):
    page = PAGE.format(handed_in.capture_id)
    assert "did not finish" in words(client.get(page))
    queue.ask(handed_in)
    queue.runs[handed_in.pk] = Run("running", share=0.42, doing="Measuring the tones")
    fragment = words(client.get(page + f"sheets/{handed_in.pk}/progress/"))
    assert 'hx-trigger="every 500ms"' in fragment
    assert 'value="42"' in fragment
    assert "Measuring the tones" in fragment
    assert "42 %" in words(client.get(page))
    analyse(handed_in, lambda share, doing: None)
    answer = client.get(page + f"sheets/{handed_in.pk}/progress/")
    assert (answer.status_code, answer["HX-Redirect"]) == (204, page)


def test_an_analysis_that_ended_with_the_program_can_be_run_again(client, handed_in, queue):
    page = PAGE.format(handed_in.capture_id)
    assert "The program ended before it was done" in words(client.get(page))
    assert client.post(page + "run/").status_code == 302
    assert queue.run_of(handed_in).state == "waiting"
    assert client.post(page + "stop/").status_code == 302
    assert "stopped by hand" in words(client.get(page))


def test_an_analysis_that_failed_says_why(client, handed_in, queue):
    queue.runs[handed_in.pk] = Run("failed", sentence="The disk is full.")
    page = words(client.get(PAGE.format(handed_in.capture_id)))
    assert "The disk is full." in page
    assert "Run it again" in page


# What it shows


def test_the_page_shows_quantities_reasons_and_pictures(client, analysed):
    page = words(client.get(PAGE.format(analysed.sheet.capture_id)))
    assert "Azimuth rotation" in page
    assert "1.2" in page
    for figure in ("outline", "speed", "raster-0", "speed-spectrum"):
        assert f'data-figure="{figure}"' in page
    assert "WAV, 16-bit integer" in page
    assert analysed.sheet.text_sha256 in page


def test_what_it_shows_is_entered_once_and_stands_among_the_readings(client, analysed):
    page = PAGE.format(analysed.sheet.capture_id)
    assert client.post(page + "enter/").status_code == 302
    entered = {r.kind: r for r in current_readings(analysed.sheet.capture.job, stage="as left") if r.analysis_id}
    truth = {"azimuth_rotation": 1.2, "speed_error": 0.25}
    for kind, value in truth.items():
        assert entered[kind].quantity.value == pytest.approx(value, abs=4 * entered[kind].quantity.standard_uncertainty)
    assert "Entered into the job" in words(client.get(page))
    refused = client.post(page + "enter/")
    assert refused.status_code == 422
    assert "entered already" in words(refused)
    readings = words(client.get("/jobs/1/bench/readings/"))
    assert "capture 1-C1" in readings


def test_what_is_not_analysed_is_not_entered(client, handed_in):
    answer = client.post(PAGE.format(handed_in.capture_id) + "enter/")
    assert answer.status_code == 422
    assert not Reading.objects.exclude(analysis=None).exists()


@pytest.mark.parametrize(
    ("fault", "name"),
    [("silent", "side a.wav"), ("one channel", "side a.wav"), ("cut short", "side a.flac")],
)
@pytest.mark.usefixtures("bench", "queue")
def test_what_is_wrong_with_a_recording_is_one_sentence_and_it_stays_kept(
    client, recording_with, sheet_text, fault, name
):
    content = recording_with(fault)
    assert hand_in(client, content, sheet_text, name=name).status_code == 302
    capture = Capture.objects.get()
    analysis = analyse(capture.sheets.get(), lambda share, doing: None)
    assert analysis.result is None
    assert {"cut short": name}.get(fault, fault) in analysis.refusal
    assert analysis.refusal in unescape(words(client.get(PAGE.format(capture.pk))))
    assert content_store.read(capture.file_sha256) == content
    assert client.post(PAGE.format(capture.pk) + "enter/").status_code == 422


@pytest.mark.usefixtures("bench", "queue")
def test_a_clipped_recording_is_warned_of_and_analysed(client, recording_with, sheet_text):
    hand_in(client, recording_with("clipped"), sheet_text)
    analysis = analyse(CaptureSheet.objects.get(), lambda share, doing: None)
    assert "speed_error" in analysis.result["quantities"]
    assert "Clipped in" in words(client.get(PAGE.format(analysis.sheet.capture_id)))


def test_pictures_from_elsewhere_that_are_none_leave_the_results(client, analysed):
    sheet = add_capture_sheet(analysed.sheet.capture, text=analysed.sheet.text, origin="analysed anew")
    record_analysis(sheet, result=analysed.result, refusal="", pictures={"overview": {"start_s": "x"}})
    page = words(client.get(PAGE.format(sheet.capture_id)))
    assert "cannot be read" in page
    assert "Azimuth rotation" in page


# Moving bands


def places(**changed):
    typed = {
        "start-0": "0.5",
        "duration-0": "4",
        "start-1": "5",
        "duration-1": "1.5",
        "start-2": "7",
        "duration-2": "1.5",
    }
    return typed | {name.replace("_", "-"): text for name, text in changed.items()}


def test_a_band_moved_by_hand_is_a_new_sheet_and_the_old_analysis_stays(client, analysed, queue):
    page = PAGE.format(analysed.sheet.capture_id)
    assert client.post(page + "bands/", places(start_1="5,2", start_2="")).status_code == 302
    new = CaptureSheet.objects.latest("pk")
    assert new.origin == "bands moved by hand"
    speed, left, right = read_band_sheet(new.text).bands
    assert (left.start_s, right.start_s, speed.duration_s) == (5.2, None, 4.0)
    assert queue.run_of(new).state == "waiting"
    earlier = words(client.get(page + f"sheets/{analysed.sheet_id}/"))
    assert "This is an earlier analysis" in earlier
    assert "start-0" not in earlier


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [({"start_1": "soon"}, "soon"), ({"start_1": "-3"}, "0 to 86400 s"), ({"start_1": "1"}, "comes before the end")],
)
def test_a_place_that_cannot_be_is_refused_beside_it_and_stays_typed(client, analysed, changed, sentence):
    answer = client.post(PAGE.format(analysed.sheet.capture_id) + "bands/", places(**changed))
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert f'value="{changed["start_1"]}"' in words(answer)
    assert CaptureSheet.objects.count() == 1


ODD_SHEET = """equalised = false
speed_rpm = 45
[allowances]
cut_azimuth_deg = 0.12
clock_ppm = 0
[[bands]]
name = '"Ton" \\ für 1'
kind = "silence"
radius_mm = [80, 79]
"""


@pytest.mark.parametrize("text", [example_sheet(), ODD_SHEET])
def test_a_sheet_that_is_written_is_read_back_the_same(text):
    sheet = read_band_sheet(text)
    assert read_band_sheet(written(sheet)) == sheet


# On the report


def test_the_report_lists_captures_apart_and_no_longer_calls_them_not_measured(analysed):
    job = analysed.sheet.capture.job
    before = contents_of_job(job)
    enter_capture(analysed)
    laid_out = lay_out(contents_of_job(job))["technical"]
    (group,) = laid_out["captures"]
    assert group["stage"] == "as left"
    assert "azimuth rotation" in [row["what"] for row in group["rows"]]
    assert {row["gauge"] for row in group["rows"]} == {"capture 1-C1, side a.wav"}
    assert "azimuth rotation" not in [row["what"] for part in laid_out["readings"] for row in part["rows"]]
    assert "Speed: not measured." in before.missing
    assert "Speed: not measured." not in laid_out["missing"]
    assert any(sentence.startswith("Not read as found") and "azimuth" in sentence for sentence in before.missing)
    assert not any(
        sentence.startswith("Not read as left") and "azimuth" in sentence for sentence in laid_out["missing"]
    )
