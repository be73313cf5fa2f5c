"""The whole way of a capture in the browser: dropped, watched, looked at, moved, entered."""

import base64
import re
import threading

import pytest

from groovewright.jobbook.models import Capture, CaptureSheet, Reading
from groovewright.testtone.sheet.band_sheet import read_band_sheet
from groovewright.web.captures import uploads, worker

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LONG_MS = 60_000
CAPTURE = re.compile(r"/captures/\d+/$")

DROP = """async ([bytes, sheet]) => {
  const data = new DataTransfer();
  data.items.add(new File([Uint8Array.from(atob(bytes), (one) => one.charCodeAt(0))], "side a.wav"));
  data.items.add(new File([sheet], "record.toml"));
  const place = document.querySelector("[data-drop]");
  for (const name of ["dragenter", "dragover", "drop"])
    place.dispatchEvent(new DragEvent(name, { bubbles: true, cancelable: true, dataTransfer: data }));
}"""


@pytest.fixture(autouse=True)
def _the_thread_is_done_first(transactional_db):
    yield
    assert worker.QUEUE.wait(60)


@pytest.fixture
def files(tmp_path, wav, sheet_text):
    recording, sheet = tmp_path / "side a.wav", tmp_path / "record.toml"
    recording.write_bytes(wav)
    sheet.write_text(sheet_text)
    return recording, sheet


@pytest.fixture
def analysed(page, fill_book, files):
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/bench/")
    page.get_by_role("link", name="Captures", exact=True).click()
    page.get_by_label("Recording", exact=True).set_input_files(files[0])
    page.get_by_label("From a file").set_input_files(files[1])
    page.get_by_role("button", name="Keep it and analyse it").click()
    page.wait_for_url(CAPTURE)
    page.locator("#bands").wait_for(timeout=LONG_MS)
    page.locator("[data-figure=outline] .main-svg").first.wait_for()
    page.locator(".flag").first.wait_for()
    return page


def flag(page, name):
    return page.locator(f".flag[title={name}]")


def pull(page, locator, by_px):
    box = locator.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by_px / 2, y)
    page.mouse.move(x + by_px, y)
    page.mouse.up()


def test_a_dropped_recording_comes_in_pieces_and_is_analysed(page, fill_book, wav, sheet_text, monkeypatch):

    monkeypatch.setattr("groovewright.web.captures.upload_views.PIECE_BYTES", 300_000)
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/captures/")
    page.evaluate(DROP, [base64.b64encode(wav).decode(), sheet_text])
    page.get_by_text("side a.wav").wait_for()
    page.wait_for_function("document.querySelector('[name=sheet]').value.includes('Right')")
    pieces = []
    page.on("request", lambda request: pieces.append(request.url) if request.method == "PUT" else None)
    page.get_by_role("button", name="Keep it and analyse it").click()
    page.wait_for_url(CAPTURE)
    assert len(pieces) == -(-len(wav) // 300_000)
    page.locator("#results").wait_for(timeout=LONG_MS)
    assert page.locator("#results th", has_text="Azimuth rotation").is_visible()
    assert Capture.objects.get().size == len(wav)


def test_progress_shows_survives_a_reload_and_can_be_stopped(page, fill_book, files, monkeypatch):

    gate = threading.Event()

    def slow(sheet, progress):
        progress(0.25, "Measuring the tones")
        gate.wait(60)
        progress(0.5, "Measuring the speed")

    monkeypatch.setattr(worker.QUEUE, "_analyse", slow)
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/captures/")
    page.get_by_label("Recording", exact=True).set_input_files(files[0])
    page.get_by_label("From a file").set_input_files(files[1])
    page.get_by_role("button", name="Keep it and analyse it").click()
    page.wait_for_url(CAPTURE)
    page.get_by_text("Measuring the tones").wait_for()
    page.reload()
    page.get_by_text("Measuring the tones").wait_for()
    assert page.locator("#progress progress").get_attribute("value") == "25"
    page.get_by_role("button", name="Stop").click()
    page.get_by_text("Stopping").wait_for()
    gate.set()
    page.get_by_text("It was stopped by hand").wait_for()
    assert page.get_by_role("button", name="Run it again").is_visible()


def test_a_recording_that_is_too_long_is_refused_beside_its_field(page, fill_book, files, settings):
    settings.LARGEST_RECORDING_BYTES = 100_000
    number = fill_book().job.number
    page.goto(f"/jobs/{number}/captures/")
    page.get_by_label("Recording", exact=True).set_input_files(files[0])
    page.get_by_role("button", name="Keep it and analyse it").click()
    page.locator("#words-id_recording .wrong").get_by_text("a recording may have up to 98 kB").wait_for()
    assert page.get_by_label("Or written here").input_value() != ""
    assert uploads.in_words(100_000) == "98 kB"


def test_the_pictures_answer_to_the_pointer(analysed):
    speed = analysed.locator("[data-figure=speed]")
    speed.scroll_into_view_if_needed()
    speed.locator(".main-svg").first.wait_for()
    box = speed.bounding_box()
    analysed.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.5)
    speed.locator(".hoverlayer .legend").first.wait_for()
    assert "%" in speed.locator(".hoverlayer").text_content()


def test_a_band_is_moved_by_its_flag_and_by_number_and_analysed_anew(analysed):
    start = analysed.get_by_label("Start of Right")
    length = analysed.get_by_label("Length of Right")
    assert (start.input_value(), length.input_value()) == ("7", "1.5")
    pull(analysed, flag(analysed, "Right").locator(".words"), 20)
    moved = float(start.input_value())
    assert moved > 7
    assert length.input_value() == "1.5"
    pull(analysed, flag(analysed, "Right").locator("[data-part=end]"), -20)
    assert float(length.input_value()) < 1.5
    assert float(start.input_value()) == moved
    analysed.get_by_text("moved by hand").wait_for()
    analysed.get_by_role("button", name="Put them back").click()
    analysed.locator(".flag[title=Right]:not(.moved)").wait_for()
    assert start.input_value() == "7"
    before = flag(analysed, "Right").bounding_box()["x"]
    start.fill("7.2")
    analysed.wait_for_function(
        "(x) => document.querySelector('.flag[title=Right]').getBoundingClientRect().x > x + 5", arg=before
    )
    analysed.get_by_role("button", name="Analyse with these places").click()
    analysed.get_by_text("Other analyses of this recording").wait_for(timeout=LONG_MS)
    assert read_band_sheet(CaptureSheet.objects.latest("pk").text).bands[2].start_s == pytest.approx(7.2)


def test_a_zoomed_picture_takes_its_flags_along(analysed):
    narrow = flag(analysed, "Left").bounding_box()["width"]
    outline = analysed.locator("[data-figure=outline]")
    box = outline.bounding_box()
    y = box["y"] + box["height"] * 0.4
    analysed.mouse.move(box["x"] + box["width"] * 0.5, y)
    analysed.mouse.down()
    analysed.mouse.move(box["x"] + box["width"] * 0.8, y, steps=5)
    analysed.mouse.up()
    analysed.wait_for_function(
        "(width) => document.querySelector('.flag[title=Left]').getBoundingClientRect().width > width * 1.5", arg=narrow
    )


def test_what_it_shows_is_entered_into_the_job(analysed):
    analysed.get_by_role("button", name="Enter into the job").click()
    analysed.get_by_text("Entered into the job").wait_for()
    analysed.get_by_role("link", name=re.compile(r"\d+ readings")).click()
    analysed.get_by_role("link", name="capture 1-C1").first.wait_for()
    assert Reading.objects.exclude(analysis=None).filter(kind="azimuth_rotation").exists()


@pytest.mark.parametrize(("theme", "width"), [("light", 1280), ("dark", 820)])
def test_the_page_fits_and_names_its_entries(analysed, open_page, theme, width):
    address = analysed.url
    page = open_page(viewport={"width": width, "height": 900}, color_scheme=theme)
    page.goto(address)
    page.locator(".flag").first.wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    unnamed = """() => [...document.querySelectorAll("input:not([type=hidden]), select, textarea")]
      .filter((entry) => !entry.labels?.length && !entry.getAttribute("aria-label")).length"""
    assert page.evaluate(unnamed) == 0


def test_a_capture_prints_its_curves_and_is_on_the_screen_as_before(analysed):
    figures = analysed.locator("[data-figure]").count()
    width = analysed.locator("[data-figure=outline]").bounding_box()["width"]
    analysed.emulate_media(color_scheme="dark")
    analysed.locator("[data-figure=outline] .scatterlayer path[style*='rgb(92, 201, 189)']").first.wait_for()
    analysed.evaluate("dispatchEvent(new Event('beforeprint'))")
    analysed.emulate_media(media="print")
    analysed.locator(".js-plotly-plot").nth(figures - 1).wait_for()
    widths = "() => [...document.querySelectorAll('[data-figure] .main-svg:first-child')].map((one) => one.clientWidth)"
    assert analysed.evaluate(widths) == [640] * figures
    # The curves are dark on the white paper: the colours of the light theme.
    analysed.locator("[data-figure=outline] .scatterlayer path[style*='rgb(10, 95, 90)']").first.wait_for()
    analysed.emulate_media(media="screen", color_scheme="light")
    analysed.evaluate("dispatchEvent(new Event('afterprint'))")
    analysed.wait_for_function(
        "(width) => Math.abs(document.querySelector('[data-figure=outline] .main-svg').clientWidth - width) < 2",
        arg=width,
    )
