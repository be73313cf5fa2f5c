"""Take the pictures of docs/guide/signs.md from the templates that the pages use.

    .venv/bin/python docs/pictures/signs.py

Needs what `make.py` needs. Nothing is served: the drawings are rendered and photographed by headless Chromium.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

import django
from django.contrib.staticfiles import finders
from make import keep
from playwright.sync_api import Page, sync_playwright

from groovewright.tonearm.arm_state import ADJUSTERS
from groovewright.web.drawings.gauges import GAUGES
from groovewright.web.drawings.moves import drawing_of_moves
from groovewright.web.drawings.readings import READINGS
from groovewright.web.drawings.settings import SETTINGS_DRAWN

WIDTH = 1000
COLUMN = {"readings": 174, "moves": 174, "settings": 460, "gauges": 220}
"""Width of a drawing on each picture. [px]"""


def main() -> None:
    """Draw the four pictures."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        os.environ["GROOVEWRIGHT_DATA_DIR"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "groovewright.site.settings"
        django.setup()
        executable = os.environ.get("GROOVEWRIGHT_CHROMIUM") or shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=executable, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": WIDTH, "height": 400}, color_scheme="light")
        show(page, Path(folder), "readings")
        keep(page, "signs-readings", of=".sheet")
        show(page, Path(folder), "moves")
        keep(page, "signs-moves", of=".sheet")
        show(page, Path(folder), "settings")
        keep(page, "signs-settings", of=".sheet")
        show(page, Path(folder), "gauges")
        keep(page, "signs-gauges", of=".sheet")
        browser.close()


def show(page: Page, folder: Path, what: str) -> None:
    """Show one kind of drawings on a page."""
    drawings = {
        "readings": READINGS.values(),
        "moves": [drawing_of_moves(((adjuster, 1),)) for adjuster in ADJUSTERS],
        "settings": SETTINGS_DRAWN.values(),
        "gauges": GAUGES.values(),
    }[what]
    sheets = ("frame/colours.css", "frame/frame.css", "drawings/drawings.css")
    style = "".join(Path(finders.find(name)).read_text(encoding="utf-8") for name in sheets)
    fonts = Path(finders.find("fonts/SourceSansPro-Regular.ttf")).parent
    grid = f"display: grid; gap: 18px; grid-template-columns: repeat(auto-fill, {COLUMN[what]}px); align-items: start"
    drawn = "".join(drawing.render() for drawing in drawings)
    page_file = folder / f"{what}.html"
    page_file.write_text(
        f'<!doctype html><meta charset="utf-8"><style>{style.replace("../fonts/", f"{fonts.as_uri()}/")}</style>'
        f'<body><main><div class="sheet" style="{grid}">{drawn}</div></main></body>',
        encoding="utf-8",
    )
    page.goto(page_file.as_uri())


if __name__ == "__main__":
    main()
