#!/usr/bin/env python3
"""The HTML report of 300 takes of 5,000 frames in Debian's Chromium. Usage: page.py PROGRAM [TAKES [FRAMES]]

Needs what tests/outside/requirements.txt names. Every figure is the median of five; open is from asking for the file to
the second frame that is painted, the others from the event to the second frame after it.
"""

import math
import pathlib
import random
import resource
import statistics
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "outside"))
from against_browser import CHROMIUM, FLAGS  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parents[2]
PAINTED = "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"


def take(seed, frames):
    """A take that wanders over the focus ring; every tenth one has an error."""
    chance = random.Random(seed)
    lines = [f"# clip: A{100 + seed // 20:03d}C{seed % 20 + 1:03d}", "# document: take", "# frame rate: 24", "# timecode: non-drop", "# sensor width: 27.6 mm", "# sensor height: 15.5 mm", "# measured from: image plane"]
    lines.append("frame,timecode,focus ring [0..1],iris ring [0..1],focus distance [m],T-stop,f-number,focal length [mm]")
    turns = [(chance.uniform(0.02, 0.2), chance.uniform(30, 200), chance.uniform(0, 7)) for _ in range(4)]
    for n in range(frames):
        ring = 0.5 + sum(part * math.sin(n / period + phase) for part, period, phase in turns) / 2
        number = 1001 + n + (seed % 10 == 3 and n > frames / 2)
        label = f"10:{n // 1440 % 60:02d}:{n // 24 % 60:02d}:{n % 24:02d}"
        lines.append(f"{number},{label},{ring:.5f},0.1225,{1 / (2.5 - 2.4 * ring):.4f},2.8,2.6,40")
    return "\n".join(lines) + "\n"


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    takes, frames = (int(argument) for argument in (sys.argv[2:] + ["300", "5000"][len(sys.argv) - 2 :]))
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "takes").mkdir()
        for seed in range(takes):
            (folder / f"takes/{seed:04d}.csv").write_text(take(seed, frames), encoding="utf-8")
        (folder / "takes/lens.csv").write_bytes((ROOT / "samples/brannvik-40.csv").read_bytes())
        for reports in [[], [f"--report=html={folder / 'page.html'}"]]:
            began = time.perf_counter()
            subprocess.run([program, "check", folder / "takes", "--report=concise", *reports, "-q", "--profile=none"], stdout=subprocess.DEVNULL)
            taken = time.perf_counter() - began
            peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            print(f"checked {'with the page' if reports else 'without'}: {taken:.2f} s, peak so far {peak:.0f} MiB")
        page_file = folder / "page.html"
        print(f"page: {page_file.stat().st_size / 1e6:.1f} MB")
        browse(page_file)


def browse(page_file):
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        times = {}

        def timed(what, act):
            began = time.perf_counter()
            act()
            page.evaluate(PAINTED)
            times.setdefault(what, []).append((time.perf_counter() - began) * 1000)

        for turn in range(5):
            page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
            timed("open", lambda: page.goto(page_file.as_uri()))
            timed("filter", lambda: page.fill("#find", f"C00{turn + 1}"))
            timed("filter away", lambda: page.fill("#find", ""))
            timed("sort", lambda: page.locator("#files thead button").nth(5).evaluate("b => b.click()"))
            links = page.locator("#files tbody a")
            timed("open a take", lambda: links.nth(turn * 40).evaluate("a => a.click()") or page.wait_for_selector("#one canvas"))
            timed("zoom", lambda: page.get_by_role("button", name="Zoom in").evaluate("b => b.click()"))
            box = page.locator("#one .u-over").first.bounding_box()
            timed("hover", lambda: page.mouse.move(box["x"] + 200, box["y"] + 40))
            page.context.close()
        for what, all_times in times.items():
            print(f"{what}: {statistics.median(all_times):.0f} ms (worst {max(all_times):.0f})")
        browser.close()


if __name__ == "__main__":
    main()
