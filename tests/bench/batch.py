#!/usr/bin/env python3
"""Prints the figures on many takes in DEVELOPERS.md: throughput on one and two cores, memory, and a second run.

    cargo build --release
    python3 tests/bench/batch.py [--takes 300] [--frames 5000] [--runs 5]

Takes are made in a temporary folder: delimited text with ring positions and the distances that their lens gives, a twentieth of
them with a fault. They are checked alone, and with the calibration of their lens among them. Cores are those that `taskset`
gives; every figure is a median, and runs that are compared take turns. On a busy machine `chrt -r 10` in front gives the bench
the cores.
"""

import argparse
import math
import os
import pathlib
import random
import shutil
import statistics
import subprocess
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
TARGET = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
PROGRAM = TARGET / "release" / "ringmark"
# How long a second run may take, and how much of two cores must be used: from the task this program was made for.
SECOND_RUN, TWO_CORES = 0.05, 0.9 * 2


def take(path, frames, seed):
    """A take with ring positions only: distances follow from the marks of the lens."""
    phase = random.Random(seed).random() * 6
    with open(path, "w") as f:
        f.write(f"# document: take\n# clip: {path.stem}\n# frame rate: 24\n# timecode: non-drop\n# measured from: image plane\n")
        f.write("frame,timecode,focus ring [0..1],T-stop,f-number,focal length [mm]\n")
        for n in range(frames):
            s = n // 24 + seed * 240
            ring = 0.7 + 0.25 * math.sin(n / 900 + phase)
            f.write(f"{n + 1},{s // 3600 % 24:02d}:{s // 60 % 60:02d}:{s % 60:02d}:{n % 24:02d},{ring:.5f},2.8,2.5,40\n")


def fault(path):
    """Feet read as metres in 40 frames."""
    lines = path.read_text().splitlines()
    head = next(n for n, line in enumerate(lines) if not line.startswith("#"))
    column = next(n for n, name in enumerate(lines[head].split(",")) if name.startswith("focus distance"))
    for n in range((head + len(lines)) // 2, (head + len(lines)) // 2 + 40):
        cells = lines[n].split(",")
        cells[column] = f"{float(cells[column]) * 3.2808:.4f}"
        lines[n] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n")


def make(cards, takes, frames):
    """Takes with the distances that their lens gives, a twentieth of them with a fault."""
    raw, lens = cards.with_name("raw"), cards.with_name("lens.lens.json")
    raw.mkdir(parents=True)
    for number in range(takes):
        take(raw / f"A{number:03d}C001.csv", frames, number)
    run = lambda *words: subprocess.run([PROGRAM, *map(str, words), "-q"], check=True, cwd=ROOT)
    run("convert", "samples/brannvik-40.csv", "-o", lens)
    cards.mkdir()
    run("convert", raw, "--lens", lens, "--to", "table", "-o", cards)
    for path in sorted(cards.iterdir())[19::20]:
        fault(path)
    shutil.rmtree(raw)


def check(cards, out, *more, cores=None):
    """Wall seconds and peak MiB of a check with all reports."""
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir()
    reports = [f"--report={kind}={out / kind}" for kind in ("text", "json", "jsonl", "sarif", "junit", "html")]
    pinned = ["taskset", "-c", cores] if cores else []
    command = [*pinned, PROGRAM, "check", cards, "-q", "--fail-on", "never", "--report", "concise", *reports, *more]
    start = time.perf_counter()
    child = subprocess.Popen(list(map(str, command)), stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    wall = time.perf_counter() - start
    assert os.waitstatus_to_exitcode(status) == 0, command
    return wall, usage.ru_maxrss / 1024


def median(runs):
    return statistics.median(wall for wall, _ in runs)


def row(what, bar, here):
    print(f"| {what} | {bar} | {here} |")


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("--takes", type=int, default=300)
    asked.add_argument("--frames", type=int, default=5000)
    asked.add_argument("--runs", type=int, default=5)
    asked = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        os.environ["RINGMARK_CACHE"] = str(folder / "cache")
        cards, few, out = folder / "cards", folder / "few", folder / "out"
        make(cards, asked.takes, asked.frames)
        few.mkdir()
        for path in sorted(cards.iterdir())[::10]:
            shutil.copy(path, few)
        shutil.copy(ROOT / "samples/brannvik-40.csv", few)
        # A file that was changed two seconds ago may change again without a trace and is read again.
        time.sleep(2.5)
        frames = asked.takes * asked.frames
        print(f"{asked.takes} takes of {asked.frames} frames, {asked.runs} runs\n")
        print("| what | bar | here |\n| --- | --- | --- |")
        for which in ("alone", "with their lens"):
            if which != "alone":
                shutil.copy(ROOT / "samples/brannvik-40.csv", cards)
                time.sleep(2.5)
            check(few, out)  # warm
            one, two = [], []
            for _ in range(asked.runs):
                one.append(check(cards, out, cores="0"))
                two.append(check(cards, out, cores="0,1"))
            both = statistics.median(a / b for (a, _), (b, _) in zip(one, two))
            first, second = [], []
            for _ in range(asked.runs):
                shutil.rmtree(folder / "cache" / "results", ignore_errors=True)
                first.append(check(cards, out, "--changed-only"))
                second.append(check(cards, out, "--changed-only"))
            saved = statistics.median(b / a for (a, _), (b, _) in zip(first, second))
            small = [check(few, out) for _ in range(asked.runs)]
            row(f"takes {which}, one core", "", f"{median(one):.2f} s, {frames / median(one) / 1e6:.1f} M frames/s")
            row(f"takes {which}, two cores", "", f"{median(two):.2f} s, {frames / median(two) / 1e6:.1f} M frames/s")
            row("two cores against one", f"≥ {TWO_CORES:.1f} ×", f"{both:.2f} ×")
            row("first run with `--changed-only`", "", f"{median(first):.2f} s")
            row("second run, nothing changed", f"≤ {SECOND_RUN:.0%} of the first", f"{median(second):.3f} s, {saved:.1%}")
            row(f"peak memory, {asked.takes // 10} takes", "", f"{statistics.median(m for _, m in small):.0f} MiB")
            row(f"peak memory, {asked.takes} takes", "the same", f"{statistics.median(m for _, m in two):.0f} MiB")


if __name__ == "__main__":
    main()
