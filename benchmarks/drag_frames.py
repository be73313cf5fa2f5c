"""Frames a second while the stylus is dragged over the record with the curves shown, in headless Chromium.

    python benchmarks/drag_frames.py [--seconds 6]

The goal is 50 frames a second. Beside it stands the same drag with the chart library blocked. Chromium draws by
software here, so a machine with a graphics card is faster.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

CHROMIUM_ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu"]
# Pointers report about 125 times a second.
MOVE_EVERY_S = 1 / 125
TIMES_OF_FRAMES = """() => {
  window.frameTimes = [];
  const note = (now) => { window.frameTimes.push(now); requestAnimationFrame(note); };
  requestAnimationFrame(note);
}"""


def frame_gaps_ms(page: Any, address: str, seconds: float, *, charts: bool) -> np.ndarray:
    """Drag the stylus to and fro on the choose page; return the time from each frame to the next. [ms]"""
    if not charts:
        page.route("**/plotly/*", lambda route: route.abort())
    page.goto(address)
    if charts:
        page.locator("#curves").scroll_into_view_if_needed()
        page.locator("#curves .main-svg").first.wait_for(timeout=30_000)
        page.evaluate("scrollTo(0, 0)")
        page.wait_for_timeout(500)
    handle = page.locator("[data-part=stylus] .tip")
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.evaluate(TIMES_OF_FRAMES)
    start = time.perf_counter()
    while (passed := time.perf_counter() - start) < seconds:
        # From the innermost to the outermost groove and back, once every two seconds.
        page.mouse.move(x - 60 + 120 * abs(passed % 2 - 1), y)
        time.sleep(max(0.0, MOVE_EVERY_S - (time.perf_counter() - start - passed)))
    times = page.evaluate("window.frameTimes")
    page.mouse.up()
    return np.diff(times)


def report(name: str, gaps_ms: np.ndarray) -> float:
    """Print one line and return the frames a second."""
    rate = 1000 / float(np.mean(gaps_ms))
    median, slow = np.percentile(gaps_ms, [50, 95])
    print(f"{name:<28} {rate:5.1f} frames a second, between frames median {median:5.1f} ms, p95 {slow:5.1f} ms")
    return rate


def main() -> int:
    """Serve the demo, drag, say how many frames a second were drawn."""
    from playwright.sync_api import sync_playwright

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=6.0)
    parser.add_argument(
        "--height", type=int, default=1800, help="of the screen; with 1800 plan and curves are both seen"
    )
    parser.add_argument("--slowdown", type=float, default=1.0, help="how many times slower a processor to act like")
    parser.add_argument("--address", help="a choose page that is served already")
    options = parser.parse_args()
    executable = os.environ.get("GROOVEWRIGHT_CHROMIUM") or shutil.which("chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = None if options.address else _demo(Path(folder))
        address = options.address or _address_of(server) + "jobs/1/choose/"
        browser = playwright.chromium.launch(executable_path=executable, args=CHROMIUM_ARGUMENTS)
        try:
            rates = []
            for charts in (False, True):
                context = browser.new_context(viewport={"width": 1440, "height": options.height})
                page = context.new_page()
                slow = context.new_cdp_session(page)
                slow.send("Emulation.setCPUThrottlingRate", {"rate": options.slowdown})
                gaps = frame_gaps_ms(page, address, options.seconds, charts=charts)
                rates.append(report("curves shown" if charts else "chart library blocked", gaps))
                context.close()
        finally:
            browser.close()
            if server is not None:
                server.terminate()
                server.wait()
    print("the goal is 50 with curves shown")
    return int(rates[-1] < 50)


def _demo(folder: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "groovewright.cli.main", "demo", "--port", "0", "--data-dir", str(folder)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"})


def _address_of(server: subprocess.Popen[str]) -> str:
    for line in server.stdout:
        if found := re.search(r"http://\S+", line):
            return found[0]
    raise SystemExit("the demo did not start")


if __name__ == "__main__":
    sys.exit(main())
