"""Take the pictures of the guide from the real program.

    .venv/bin/python docs/pictures/make.py

An invented workshop is made and served in a folder of its own, and the job of docs/guide/first-job.md is done in it in
headless Chromium, as a specialist does it. Plate and report are fetched as PDF and drawn by `pdftoppm` (Debian's
poppler-utils). What stands on the pictures is the same on every run but for today's date, the time and the report's
SHA-256. Needs what `./check` installs; GROOVEWRIGHT_CHROMIUM names another Chromium.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright

PICTURES = Path(__file__).resolve().parent
GROOVEWRIGHT = Path(sys.executable).with_name("groovewright")
LARGEST_BYTES = 150_000
DESKTOP = {"width": 1280, "height": 900}
TABLET = {"width": 820, "height": 1180}
JOB = "/jobs/11/"  # the first free number of the invented workshop
CAPTURED = "/jobs/1/captures/1/"  # a test record was played on one of its decks
HALF_SET_UP = "/jobs/10/"  # one of its decks is half way through its moves
SEEN_TWICE = "/decks/8/visits/"  # and one came back after half a year

INTAKE = {
    "owner_name": "Nadia Okonkwo-Lindh",
    "deck_description": "Belt-drive deck, teak plinth",
    "arm_description": "Nine-inch arm, straight tube, slotted headshell",
    "pivot_to_spindle": "222.4 mm +- 0.3 mm",
    "cartridge_description": "Moving-magnet cartridge, elliptical stylus",
    "force_range": "1.6:2.2 g",
    "complaint": "Voices spit towards the end of every side.",
}
FOLDED = {
    "effective_mass": "12 g +- 0.5 g",
    "cartridge_mass": "6.5 g +- 0.1 g",
    "fasteners_mass": "1.2 g +- 0.1 g",
    "compliance": "15 um/mN +- 2 um/mN",
    "record_thickness": "1.9 mm +- 0.1 mm",
    "owner_contact": "telephone, after six",
}
LOADS = {
    "empty": "0.00; 0.00; 0.00",
    "1 g": "1.00; 1.01; 1.00",
    "2 g": "2.01; 2.01; 2.00",
    "1 g + 2 g": "3.01; 3.02; 3.01",
}
HEIGHT = "1.9 mm +- 0.1 mm"


def main() -> None:
    """Do the job of the guide and keep its pictures."""
    with served_workshop() as address, sync_playwright() as playwright:
        executable = os.environ.get("GROOVEWRIGHT_CHROMIUM") or shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=executable, args=["--no-sandbox", "--disable-gpu"])
        page = open_page(browser, address, viewport=DESKTOP, color_scheme="light")
        page.goto("/")
        keep(page, "jobs")
        take_in(page)
        choose(page)
        draw_and_check_the_plate(page)
        check_the_scale(page, "Before")
        read_as_found(page)
        set_and_read_as_left(page)
        correct_a_slip(page)
        check_the_scale(page, "After")
        note_a_fault(page)
        hand_over(page)
        look_at_the_bench(page)
        look_at_a_capture(page)
        tablet = open_page(browser, address, viewport=TABLET, color_scheme="dark", has_touch=True)
        tablet.goto(f"{JOB}bench/")
        keep(tablet, "bench-tablet-dark", height=1180)
        browser.close()


@contextmanager
def served_workshop() -> Iterator[str]:
    """Serve a fresh invented workshop on a free port, and give its address."""
    with tempfile.TemporaryDirectory() as folder:
        command = [GROOVEWRIGHT, "demo", "--port", "0", "--data-dir", folder, "--json"]
        environment = {**os.environ, "GROOVEWRIGHT_TIME_ZONE": "UTC"}
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as server:
            told = ""
            while "}" not in told:
                line = server.stdout.readline()
                if not line:
                    raise SystemExit("The invented workshop did not start; its own words stand above.")
                told += line
            try:
                yield json.loads(told)["address"]
            finally:
                server.terminate()


def open_page(browser: Browser, address: str, **options: object) -> Page:
    """Open a page in a context of its own, in which nothing moves."""
    context = browser.new_context(base_url=address, reduced_motion="reduce", locale="en-GB", **options)
    context.set_default_timeout(15_000)
    return context.new_page()


def keep(page: Page, name: str, *, of: str | None = None, to: str | None = None, height: int | None = None) -> None:
    """Keep a picture of what is seen: the whole window, or what lies from one element to the end of another."""
    page.wait_for_load_state("networkidle")
    page.evaluate("document.fonts.ready")
    window = page.viewport_size
    # Bars that stick to the window would cover the middle of a long page, so the window is made as long as the page.
    page.set_viewport_size({**window, "height": max(window["height"], page.evaluate("document.body.scrollHeight"))})
    page.wait_for_timeout(400)
    clip = {"x": 0, "y": 0, "width": window["width"], "height": height or window["height"]}
    if of:
        first, last = page.locator(of).first.bounding_box(), page.locator(to or of).last.bounding_box()
        left, top = min(first["x"], last["x"]) - 16, first["y"] - 16
        right = max(first["x"] + first["width"], last["x"] + last["width"]) + 16
        bottom = max(first["y"] + first["height"], last["y"] + last["height"]) + 16
        clip = {"x": max(left, 0), "y": max(top, 0), "width": right - max(left, 0), "height": height or bottom - top}
    write(Image.open(io.BytesIO(page.screenshot(clip=clip))), name)
    page.set_viewport_size(window)


def keep_pdf_page(pdf: bytes, number: int, name: str, *, dots_per_inch: int) -> None:
    """Keep a picture of one page of a PDF."""
    command = ["pdftoppm", "-png", "-r", str(dots_per_inch), "-f", str(number), "-l", str(number), "-"]
    drawn = subprocess.run(command, input=pdf, stdout=subprocess.PIPE, check=True).stdout
    write(Image.open(io.BytesIO(drawn)), name)


def write(picture: Image.Image, name: str) -> None:
    """Write a picture small enough to live beside the text."""
    path = PICTURES / f"{name}.webp"
    picture.convert("RGB").save(path, "WEBP", quality=82, method=6)
    size = path.stat().st_size
    print(f"{path.name}: {picture.width} x {picture.height}, {size / 1000:.0f} kB")
    if size > LARGEST_BYTES:
        raise SystemExit(f"{path.name} has {size} bytes; {LARGEST_BYTES} are allowed. Show less of the page.")


def take_in(page: Page) -> None:
    page.get_by_role("link", name="New job").first.click()
    for name, text in INTAKE.items():
        page.locator(f"[name={name}]").fill(text)
    keep(page, "take-in", height=900)
    for name, text in FOLDED.items():
        fold = page.locator("details.fold").filter(has=page.locator(f"[name={name}]"))
        if fold.get_attribute("open") is None:
            fold.locator("summary").click()
        page.locator(f"[name={name}]").fill(text)
    page.get_by_label("Quoted at").select_option("10")
    keep(page, "take-in-fold", of="#fold-cartridge")
    page.locator("[name=force_range]").fill("1,600:2,200")
    page.get_by_role("button", name="Take in").click()
    page.locator("#field-id_force_range .wrong").wait_for()
    keep(page, "take-in-refused", of="section:has([name=force_range])")
    page.locator("[name=force_range]").fill(INTAKE["force_range"])
    page.get_by_role("button", name="Take in").click()
    page.get_by_role("heading", name="Choose the geometry").wait_for()


def choose(page: Page) -> None:
    page.wait_for_load_state("load")
    page.locator("figure.plan-figure").wait_for()
    page.get_by_role("button", name="Innermost").click()
    keep(page, "choose", height=1080)
    keep(page, "choose-curves", of="section:has(> * > h2:text-is('Over the groove'))")
    page.get_by_role("button", name="Choose these targets").click()
    page.get_by_role("heading", name="Plate", exact=True).first.wait_for()


def draw_and_check_the_plate(page: Page) -> None:
    page.get_by_label("Paper").select_option("A4")
    page.get_by_text("A4, 297").wait_for()
    page.get_by_role("button", name="Issue this plate").click()
    check_bars(page, "11-P1", "100.4 mm +- 0.05 mm", "99.7 mm +- 0.05 mm")
    page.get_by_text("not true").wait_for()
    keep(page, "plate", height=1620)
    page.get_by_role("button", name="Issue the corrected plate").click()
    check_bars(page, "11-P2", "100.05 mm +- 0.05 mm", "99.95 mm +- 0.05 mm")
    page.get_by_text("true enough to work with").wait_for()
    page.get_by_role("button", name="Record the print check").click()
    page.get_by_text("its print is true", exact=True).wait_for()
    with page.expect_download() as download:
        page.locator("#plate-11-P2").get_by_role("link", name="PDF").click()
    keep_pdf_page(Path(download.value.path()).read_bytes(), 1, "plate-printed", dots_per_inch=110)


def check_bars(page: Page, plate: str, across: str, up: str) -> None:
    card = page.locator(f"#plate-{plate}")
    card.get_by_label("Bar x, across").fill(across)
    card.get_by_label("Bar y, up").fill(up)


def check_the_scale(page: Page, when: str) -> None:
    page.goto(f"{JOB}bench/scale-check/?when={when.lower()}")
    expect(page.get_by_label(f"{when} the readings")).to_be_checked()
    for k, (load, shown) in enumerate(LOADS.items(), start=1):
        page.locator(f"[name=load_{k}]").fill(load)
        page.locator(f"[name=shown_{k}]").fill(shown)
    page.locator("#result").get_by_text("for each g").wait_for()
    if when == "Before":
        keep(page, "scale-check", height=1240)
    page.get_by_role("button", name="Store the check").click()
    page.get_by_label("Tracking force", exact=True).wait_for()


def store(page: Page, kind: str, text: str, *, stage: str, **more: str) -> None:
    """Type a reading of a kind; what does not fit what was read before is stored on a second press."""
    page.goto(f"{JOB}bench/?read={kind}")
    page.wait_for_load_state("networkidle")
    page.locator(f"#entry [name=stage][value='{stage}']").check()
    if "place" in more:
        page.locator(f"#entry [name=place][value={more['place']}]").check()
        page.locator(".reading-form summary").click()
        page.get_by_label("Height of the stylus").fill(HEIGHT)
    page.locator("[name=entry]").fill(text)
    page.locator("[name=entry]").press("Enter")
    page.wait_for_load_state("networkidle")
    if page.locator("[name=entry_confirmed]").count():
        page.locator("[name=entry]").press("Enter")
    page.locator(".stored").get_by_text(text.split(maxsplit=1)[0]).wait_for()


def read_as_found(page: Page) -> None:
    page.goto(f"{JOB}bench/?read=overhang")
    page.wait_for_load_state("networkidle")
    page.locator("[name=entry]").fill("15.4 g")
    page.keyboard.press("Enter")
    expect(page.locator("#field-id_entry .wrong")).to_contain_text("length")
    keep(page, "reading-refused", of="#entry")
    store(page, "overhang", "15.4 +- 0.2", stage="as found")
    store(page, "tracking_force", "2.31 g", stage="as found", place="outer")
    store(page, "tracking_force", "2.30 g", stage="as found", place="inner")


def set_and_read_as_left(page: Page) -> None:
    page.goto(f"{JOB}bench/?read=overhang&stage=as+left")
    page.wait_for_load_state("networkidle")
    page.locator("[name=entry]").press_sequentially("16.9 +- 0.3")
    page.locator("#preview").get_by_text("undecided", exact=True).wait_for()
    keep(page, "reading-undecided", of="#entry")
    store(page, "overhang", "17.3 +- 0.12", stage="as left")
    store(page, "tracking_force", "1.29 g", stage="as left", place="outer")
    store(page, "tracking_force", "1.91 g", stage="as left", place="inner")


def correct_a_slip(page: Page) -> None:
    page.goto(f"{JOB}bench/readings/")
    row = page.get_by_role("row").filter(has_text="1.29 g")
    row.get_by_role("link", name="Correct").click()
    page.wait_for_load_state("networkidle")
    page.get_by_label("Tracking force", exact=True).fill("1.92 g")
    page.get_by_role("button", name="Store the correction").click()
    page.locator(".stored").get_by_text("1.92 g").wait_for()
    page.goto(f"{JOB}bench/readings/")
    page.locator("del", has_text="1.29 g").wait_for()
    keep(page, "readings-corrected", of="main section", height=620)


def note_a_fault(page: Page) -> None:
    page.goto(f"{JOB}bench/#faults")
    page.get_by_label("Fault", exact=True).fill("The lift lowers the arm too fast; its damping fluid is spent.")
    page.get_by_role("button", name="Record the fault").click()
    page.get_by_role("listitem").filter(has_text="damping fluid").wait_for()


def hand_over(page: Page) -> None:
    page.goto(f"{JOB}report/")
    page.locator("[name=workshop]").fill("The workshop at the lime tree (invented)")
    page.get_by_label("What was done besides").fill("Stylus cleaned. Headshell contacts cleaned.")
    page.get_by_role("button", name="Issue the report").click()
    page.get_by_text(re.compile("Report 11-R1")).first.wait_for()
    keep(page, "report", height=1280)
    with page.expect_download() as download:
        page.get_by_role("link", name="PDF").first.click()
    pdf = Path(download.value.path()).read_bytes()
    keep_pdf_page(pdf, 1, "report-first-page", dots_per_inch=80)
    keep_pdf_page(pdf, 3, "report-curves", dots_per_inch=80)


def look_at_the_bench(page: Page) -> None:
    page.set_viewport_size({"width": 1440, "height": 900})
    page.goto(f"{HALF_SET_UP}bench/")
    keep(page, "bench", height=900)
    page.set_viewport_size(DESKTOP)
    page.goto(SEEN_TWICE)
    keep(page, "visits", height=1400)
    page.goto("/gauges/compare/")
    page.locator(".js-plotly-plot").first.wait_for()
    keep(page, "gauges", height=1400)


def look_at_a_capture(page: Page) -> None:
    page.goto(CAPTURED)
    pictures = page.locator("[data-figure]")
    for picture in pictures.all():
        picture.scroll_into_view_if_needed()
        picture.locator(".main-svg").first.wait_for()
    keep(page, "capture", height=760)
    keep(page, "capture-results", of="#results")
    keep(page, "capture-speed", of=":has(> [data-figure=speed])", to=":has(> [data-figure=speed-spectrum])")
    keep(page, "capture-tracking", of=":has(> [data-figure=radius-0])")


if __name__ == "__main__":
    main()
