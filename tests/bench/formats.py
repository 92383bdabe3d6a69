#!/usr/bin/env python3
"""Prints what each format costs: memory with takes of two lengths, and writing into image files.

    cargo build --release
    pip install OpenEXR numpy
    python3 tests/bench/formats.py [--short]

Memory is the peak of the whole process, written and read, for a take and for one ten times as
long: it must not grow with the length. --short takes shorter takes and fewer files.
"""

import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

from ratios import PROGRAM, SHORT, peak, say, table

FRAMES = 20_000 if SHORT else 100_000
FILES = 100 if SHORT else 1_000
PIXEL_FILES = 40 if SHORT else 200
ENDINGS = {"table": "csv", "opentrackio": "jsonl", "acquisition-klv": "klv", "ebucore": "xml", "usd-camera": "usda"}


def convert(source, to, out, *more):
    return [PROGRAM, "convert", source, "--to", to, "-o", out, "--force", "-q", *more]


def memory(folder):
    print("| format | written, MiB | ten times as long | read, MiB | ten times as long |\n| --- | --- | --- | --- | --- |")
    sources = []
    for frames in (FRAMES, 10 * FRAMES):
        source = folder / f"{frames}.csv"
        table(source, frames)
        sources.append(source)
    for name, ending in ENDINGS.items():
        # Compiling a plugin for the first time takes more memory than any take.
        peak(*convert(sources[0], name, folder / f"warm.{ending}"))
        outs = [folder / f"{name}.{source.stem}.{ending}" for source in sources]
        written = [peak(*convert(source, name, out)) for source, out in zip(sources, outs)]
        read = [peak(*convert(out, "take.jsonl", folder / "back.take.jsonl", "--from", name)) for out in outs]
        print(f"| {name}, {FRAMES:,} frames | {written[0]:.0f} | {written[1]:.0f} | {read[0]:.0f} | {read[1]:.0f} |", flush=True)
        for out in outs:
            out.unlink()


def plates(folder, count, pixels):
    """Files of noise, which compresses to nothing: a copy moves all of it."""
    import numpy
    import OpenEXR

    folder.mkdir()
    noise = numpy.random.default_rng(1).random((pixels, 1024), dtype=numpy.float32)
    header = {"compression": OpenEXR.NO_COMPRESSION, "type": OpenEXR.scanlineimage}
    first = folder / "plate.0001.exr"
    OpenEXR.File(header, {"Y": noise}).write(str(first))
    for number in range(2, count + 1):
        shutil.copyfile(first, folder / f"plate.{number:04d}.exr")
    return first.stat().st_size


def fresh(path):
    shutil.rmtree(path, ignore_errors=True)
    return path


def images(folder):
    take = folder / "plate.csv"
    memories = []
    for count in (FILES, 10 * FILES):
        many = folder / f"small{count}"
        plates(many, count, 1)
        table(take, count)
        if not memories:
            peak(*convert(take, "openexr", fresh(folder / "out"), "--frames", many))
        memories.append(peak(*convert(take, "openexr", fresh(folder / "out"), "--frames", many)))
        shutil.rmtree(many)
    print(f"| openexr, {FILES:,} files | {memories[0]:.0f} | {memories[1]:.0f} | | |")

    size = plates(folder / "plates", PIXEL_FILES, 2048)
    table(take, PIXEL_FILES)
    copied, written = [], []
    for _ in range(3 if SHORT else 7):
        for times, command in (
            (copied, ["cp", "-r", folder / "plates", fresh(folder / "copy")]),
            (written, convert(take, "openexr", fresh(folder / "out"), "--frames", folder / "plates")),
        ):
            start = time.perf_counter()
            subprocess.run(list(map(str, command)), check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            times.append(time.perf_counter() - start)
            fresh(folder / "copy"), fresh(folder / "out")
    ratio = statistics.median(w / c for w, c in zip(written, copied))
    print("\n| what | bar | here |\n| --- | --- | --- |")
    say(
        f"attributes into copies of {PIXEL_FILES} OpenEXR files of {size / 1e6:.1f} MB, against copying them",
        "≤ 1.3",
        f"{ratio:.2f} ({statistics.median(written):.2f} s against {statistics.median(copied):.2f} s)",
    )


def main():
    folder = pathlib.Path(tempfile.mkdtemp(prefix="ringmark-bench-"))
    os.environ["RINGMARK_CACHE"] = str(folder / "cache")
    print(f"{os.cpu_count()} cores, {time.strftime('%Y-%m-%d')}\n")
    try:
        memory(folder)
        images(folder)
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
