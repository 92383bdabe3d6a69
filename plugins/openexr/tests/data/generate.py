"""Writes the files of this folder: one of each way in which OpenEXR stores pixels.

Needs PyPI OpenEXR 3.5.3 and numpy, and `exrmaketiled` of the OpenEXR tools (Debian package
openexr, 3.1.5) for complete levels. All content is invented.

    python3 generate.py        # writes into the folder it stands in
"""

import pathlib
import subprocess
from fractions import Fraction

import numpy as np
import OpenEXR

HERE = pathlib.Path(__file__).parent
LINES = ["NO", "RLE", "ZIPS", "ZIP", "PIZ", "PXR24", "B44", "B44A", "DWAA", "HTJ2K32", "ZSTD"]
# Blocks of 256 lines: two of them.
TALL = ["DWAB", "HTJ2K256", "LJ2K"]
TILES = {"one": OpenEXR.ONE_LEVEL, "mip": OpenEXR.MIPMAP_LEVELS, "rip": OpenEXR.RIPMAP_LEVELS}
ROUNDING = {"down": OpenEXR.ROUND_DOWN, "up": OpenEXR.ROUND_UP}


def pixels(height, width, kind=np.float16):
    y, x = np.mgrid[0:height, 0:width]
    return np.stack([x / 8, y / 8, (x * y) % 7], axis=-1).astype(kind)


def header(compression, kind=OpenEXR.scanlineimage, **more):
    return {
        "compression": getattr(OpenEXR, compression + "_COMPRESSION"),
        "type": kind,
        "lensModel": "Halden 32",
        "lensSerialNumber": "H32-0042",
        "focus": 2.5,
        "framesPerSecond": Fraction(24, 1),
        "halden.note": "kept as it is",
        **more,
    }


def tiling(width, height, levels="one", rounding="down"):
    tiles = OpenEXR.TileDescription()
    tiles.xSize, tiles.ySize = width, height
    tiles.mode, tiles.roundingMode = TILES[levels], ROUNDING[rounding]
    return tiles


def deep(height, width):
    samples = np.empty((height, width), dtype=object)
    for y in range(height):
        for x in range(width):
            samples[y, x] = np.arange((x + y) % 3 + 1, dtype=np.float32)
    return {"Z": samples, "A": samples}


def main():
    for name in LINES:
        OpenEXR.File(header(name), {"RGB": pixels(37, 5)}).write(str(HERE / f"scan_{name.lower()}.exr"))
    for name in TALL:
        OpenEXR.File(header(name), {"RGB": pixels(257, 3)}).write(str(HERE / f"scan_{name.lower()}.exr"))
    window = (np.array([-3, -7], np.int32), np.array([1, 12], np.int32))
    OpenEXR.File(header("ZIP", dataWindow=window), {"RGB": pixels(20, 5)}).write(str(HERE / "window_below_zero.exr"))
    # The module writes the first level only: the offsets of the other tiles stay 0.
    for levels in TILES:
        for rounding in ROUNDING:
            name = f"tiled_{levels}_{rounding}"
            tiles = tiling(8, 4, levels, rounding)
            OpenEXR.File(header("ZIP", OpenEXR.tiledimage, tiles=tiles), {"RGB": pixels(11, 13)}).write(
                str(HERE / f"{name}_first.exr"))
            option = {"one": "-o", "mip": "-m", "rip": "-r"}[levels]
            subprocess.run(["exrmaketiled", option, "-t", "8", "4"] + (["-u"] if rounding == "up" else ["-d"]) +
                           [str(HERE / "scan_zip.exr"), str(HERE / f"{name}.exr")], check=True)
    OpenEXR.File(header("ZIPS", OpenEXR.deepscanline), deep(4, 6)).write(str(HERE / "deep_scan.exr"))
    OpenEXR.File(header("ZIPS", OpenEXR.deeptile, tiles=tiling(4, 4)), deep(6, 7)).write(str(HERE / "deep_tile.exr"))
    left = OpenEXR.Part(header("PIZ", view="left"), {"RGB": pixels(33, 4)}, "left")
    right = OpenEXR.Part(header("ZIP", OpenEXR.tiledimage, tiles=tiling(4, 4), view="right",
                                lensSerialNumber="H32-0043"), {"RGB": pixels(33, 4)}, "right")
    OpenEXR.File([left, right]).write(str(HERE / "two_views.exr"))
    flat = OpenEXR.Part(header("NO"), {"RGB": pixels(5, 4)}, "flat")
    behind = OpenEXR.Part(header("ZIPS", OpenEXR.deepscanline), deep(5, 4), "deep")
    OpenEXR.File([flat, behind]).write(str(HERE / "flat_and_deep.exr"))
    lenses = [OpenEXR.Part(header("RLE", lensSerialNumber=serial, focus=focus), {"RGB": pixels(3, 4)}, serial)
              for serial, focus in [("H32-0042", 2.5), ("H32-0043", 3.5)]]
    OpenEXR.File(lenses).write(str(HERE / "two_lenses.exr"))
    long = {"halden.attribute with a name of more than 31 bytes": 7}
    OpenEXR.File(header("RLE", **long), {"RGB": pixels(3, 4)}).write(str(HERE / "long_names.exr"))


if __name__ == "__main__":
    main()
