#!/usr/bin/env python3
"""Prints the figures of DEVELOPERS.md: ratios taken in one run, medians.

    cargo build --release
    pip install polars pandas orjson OpenEXR
    python3 tests/bench/ratios.py [--short]

--short takes fewer runs and a smaller take for the memory figure.
"""

import json
import math
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
TARGET = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target"))
PROGRAM = TARGET / "release" / "ringmark"
SHORT = "--short" in sys.argv
RUNS = 3 if SHORT else 7

POLARS = """
import sys, polars as pl
pl.read_csv(sys.argv[1], comment_prefix="#").with_columns(
    (pl.col("focus distance [ft]") * 0.3048).alias("focus distance [m]")
).drop("focus distance [ft]").write_ndjson(sys.argv[2])
"""
PANDAS = """
import sys, pandas as pd, orjson
d = pd.read_csv(sys.argv[1], comment="#")
d["focus distance [m]"] = d.pop("focus distance [ft]") * 0.3048
with open(sys.argv[2], "wb") as f:
    for row in d.to_dict("records"):
        f.write(orjson.dumps(row)); f.write(b"\\n")
"""
EXR = """
import sys, glob, time, OpenEXR
paths = sorted(glob.glob(sys.argv[1] + "/*.exr"))
start = time.perf_counter()
for path in paths:
    OpenEXR.File(path, header_only=True).header()
print(time.perf_counter() - start)
"""


def table(path, rows):
    with open(path, "w") as f:
        f.write("# document: take\n# clip: A001C001\n# frame rate: 24\n# timecode: non-drop\n# measured from: image plane\n")
        f.write("frame,timecode,focus ring [0..1],focus distance [ft],T-stop,f-number,focal length [mm]\n")
        for n in range(rows):
            s = n // 24
            ring = 0.5 + 0.4 * math.sin(n / 900)
            f.write(
                f"{n + 1},{s // 3600 % 24:02d}:{s // 60 % 60:02d}:{s % 60:02d}:{n % 24:02d},{ring:.5f},{3.28 / (1.02 - ring):.4f},2.8,2.5,50\n"
            )


def wall(*command):
    start = time.perf_counter()
    subprocess.run(list(map(str, command)), check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def pairs(ours, theirs, runs=RUNS):
    """Median wall seconds of two calls, one after the other in turn, and the median of their ratios."""
    ours(), theirs()
    a, b = zip(*[(ours(), theirs()) for _ in range(runs)])
    return statistics.median(a), statistics.median(b), statistics.median(y / x for x, y in zip(a, b))


def peak(*command):
    done = subprocess.run(["/usr/bin/time", "-f", "%M", *map(str, command)], capture_output=True, text=True, check=True)
    return int(done.stderr.splitlines()[-1]) / 1024


def estimate(group, name):
    text = (TARGET / "criterion" / group / name / "new" / "estimates.json").read_text()
    return json.loads(text)["median"]["point_estimate"] / 1e9


def say(what, bar, figure):
    print(f"| {what} | {bar} | {figure} |", flush=True)


def main():
    folder = pathlib.Path(tempfile.mkdtemp(prefix="ringmark-bench-"))
    os.environ["RINGMARK_CACHE"] = str(folder / "cache")
    print(f"{os.cpu_count()} cores, {time.strftime('%Y-%m-%d')}; medians of {RUNS} runs\n")
    print("| what | bar | here |\n| --- | --- | --- |")
    try:
        measure(folder)
    finally:
        shutil.rmtree(folder)


def measure(folder):
    subprocess.run(["cargo", "bench", "-q", "-p", "ringmark-tests", "--bench", "reading"], cwd=ROOT, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    native, sandbox, check = (estimate("reading", n) for n in ("native", "sandbox", "check"))
    say("delimited text through the sandbox, against the same parser native", "≥ 0.8", f"{native / sandbox:.2f} ({1 / sandbox:.1f} M rows/s)")
    say("all checks on 1 M frames, against reading them", "≤ 1.5", f"{check / sandbox:.2f} ({check:.2f} s)")
    opened, headers = estimate("headers", "open-and-read"), estimate("headers", "sandbox")
    say("OpenEXR headers of 10,000 files, against open + read", "≤ 1.5", f"{headers / opened:.2f} ({10_000 / headers:,.0f} files/s)")

    source, out = folder / "take.csv", folder / "out.take.jsonl"
    table(source, 1_000_000)
    ours = lambda: wall(PROGRAM, "convert", source, "--to", "take.jsonl", "-o", out, "--force", "-q")
    size = source.stat().st_size / 1e6
    for name, script, bar in (("polars", POLARS, 1.5), ("pandas + orjson", PANDAS, 8)):
        # The interpreter and its imports are not the work that is compared.
        imports = script.splitlines()[1]
        start = statistics.median(wall(sys.executable, "-c", imports) for _ in range(3))
        theirs = lambda: wall(sys.executable, "-c", script, source, folder / "theirs.jsonl") - start
        a, b, ratio = pairs(ours, theirs, RUNS if name == "polars" else 3)
        say(f"1 M frames to JSON lines, feet to metres, against {name}", f"≥ {bar} ×", f"{ratio:.2f} × ({a:.2f} s against {b:.2f} s, {size / a:.0f} MB/s)")

    plates = folder / "plates"
    plates.mkdir()
    plate = (ROOT / "samples/plates/A012C003.1001.exr").read_bytes()
    for n in range(10_000):
        (plates / f"p.{n:05d}.exr").write_bytes(plate)
    theirs = min(float(subprocess.run([sys.executable, "-c", EXR, plates], capture_output=True, text=True, check=True).stdout) for _ in range(3))
    say("OpenEXR headers of 10,000 files, against the OpenEXR Python module", "≥ 2.5 ×", f"{theirs / headers:.1f} × ({10_000 / theirs:,.0f} files/s)")

    small = ROOT / "samples/A012C003.csv"
    tiny = folder / "tiny.csv"
    tiny.write_bytes(small.read_bytes())
    run = lambda: wall(PROGRAM, "convert", tiny, "--to", "take.jsonl", "-o", out, "--force", "-q")
    run()
    warm = statistics.median(run() for _ in range(21))
    cold = statistics.median(wall(PROGRAM, "--no-cache", "convert", tiny, "--to", "take.jsonl", "-o", out, "--force", "-q") for _ in range(7))
    say("start, small file, compiled cache warm / cold", "≤ 20 / 400 ms", f"{warm * 1e3:.0f} / {cold * 1e3:.0f} ms")

    long = 1_000_000 if SHORT else 10_000_000
    table(source, long)
    empty = peak(PROGRAM, "formats")
    convert = peak(PROGRAM, "convert", source, "--to", "take.jsonl", "-o", out, "--force", "-q")
    checked = peak(PROGRAM, "check", source)
    say(f"peak memory, {long // 1_000_000} M frames converted / checked, above the empty program", "≤ 64 MiB", f"{convert - empty:.0f} / {checked - empty:.0f} MiB")


if __name__ == "__main__":
    main()
