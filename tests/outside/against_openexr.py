"""Header attributes written by the OpenEXR Python module (PyPI, the reference implementation)."""

import json
import math
import random
import shutil
import struct
from fractions import Fraction

import numpy
import OpenEXR
from ringmark import ROOT, number, run, take

PIXELS = numpy.zeros((2, 4, 3), dtype=numpy.float16)
CHANNELS = {
    "focus": ("focus-distance", 0.3, 40.0),
    "aperture": ("f-number", 1.4, 22.0),
    "tStop": ("t-stop", 1.5, 22.0),
    "nominalFocalLength": ("nominal-focal-length", 12.0, 300.0),
    "pinholeFocalLength": ("pinhole-focal-length", 12.0, 300.0),
    "effectiveFocalLength": ("effective-focal-length", 12.0, 300.0),
    "entrancePupilOffset": ("entrance-pupil-offset", -50.0, 200.0),
    "shutterAngle": ("shutter-angle", 10.0, 360.0),
    "expTime": ("exposure-time", 0.001, 0.04),
    "isoSpeed": ("sensitivity", 100.0, 3200.0),
}


def single(value):
    """The 32-bit float that is stored."""
    return struct.unpack("<f", struct.pack("<f", value))[0]


def drop_label(frame):
    """Label at 29.97 drop-frame (SMPTE ST 12-1 rule, written out anew)."""
    tens, rest = divmod(frame, 17982)
    frame += 18 * tens + (2 * ((rest - 2) // 1798) if rest >= 2 else 0)
    return frame // 108000 % 24, frame // 1800 % 60, frame // 30 % 60, frame % 30


def header(values, code, rate, drop, extra=None):
    hours, minutes, seconds, frames = code
    return {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "lensModel": "Brannvik 40",
        "lensSerialNumber": "BV40-0117",
        "framesPerSecond": rate,
        "timeCode": OpenEXR.TimeCode(hours, minutes, seconds, frames, int(drop), 0, 0, 0, 0, 0, *([0] * 8)),
        **values,
        **(extra or {}),
    }


def check_a_drop_frame_sequence(program, folder):
    """every value of a 200-file sequence, drop-frame labels across two minutes:"""
    chance = random.Random(12)
    written = []
    for n in range(200):
        values = {name: chance.uniform(low, high) for name, (_, low, high) in CHANNELS.items()}
        if n == 7:
            values["focus"] = math.inf
        code = drop_label(107892 + 1750 + n)
        extra = {"fieldMarker": n * 3 - 50, "stage note": f"take {n % 3}"}
        OpenEXR.File(
            header(values, code, Fraction(30000, 1001), True, extra), {"RGB": PIXELS}
        ).write(str(folder / f"plate.{1001 + n}.exr"))
        written.append((values, code, extra))
    document = take(program, folder / "plate.####.exr")
    (read,) = document["takes"]
    assert read["frame_rate"] == "30000/1001" and read["frames"] == 200
    assert read["counting"] == "drop-frame"
    channels = read["channels"]
    assert channels["frame"]["values"] == list(range(1001, 1201))
    compared = 0
    for n, (values, code, extra) in enumerate(written):
        for name, (channel, _, _) in CHANNELS.items():
            got = number(channels[channel]["values"][n])
            assert got == single(values[name]), (n, name, got, values[name])
            compared += 1
        label = "{:02d}:{:02d}:{:02d};{:02d}".format(*code)
        assert channels["timecode"]["values"][n] == label, (n, label)
        assert channels["extra/fieldMarker"]["values"][n] == extra["fieldMarker"]
        assert channels["extra/stage note"]["values"][n] == extra["stage note"]
        compared += 3
    return f"{compared} values"


def check_two_views(program, folder):
    """two views in one file become two takes"""
    parts = []
    for view, serial in (("left", "A-1"), ("right", "A-2")):
        values = {"focus": 2.75, "tStop": 2.0}
        attributes = header(values, (2, 3, 4, 5), Fraction(24, 1), False, {"view": view, "name": view})
        attributes["lensSerialNumber"] = serial
        parts.append(OpenEXR.Part(attributes, {"RGB": PIXELS}, name=view))
    OpenEXR.File(parts).write(str(folder / "stereo.0001.exr"))
    document = take(program, folder / "stereo.0001.exr")
    serials = [document["lenses"][t["lens"]]["serial"] for t in document["takes"]]
    assert serials == ["A-1", "A-2"], serials
    assert all(t["channels"]["focus-distance"]["values"] == [2.75] for t in document["takes"])


def check_infinity_and_absence(program, folder):
    """infinity, NaN and absent attributes stay three things"""
    for n, focus in enumerate([math.inf, math.nan, None, 1.5]):
        values = {"tStop": 2.0} if focus is None else {"tStop": 2.0, "focus": focus}
        OpenEXR.File(header(values, (1, 0, 0, n), Fraction(24), False), {"RGB": PIXELS}).write(
            str(folder / f"s.{n}.exr")
        )
    (read,) = take(program, folder / "s.#.exr")["takes"]
    assert read["channels"]["focus-distance"]["values"] == ["inf", None, None, 1.5]


COMPRESSIONS = ["NO", "RLE", "ZIPS", "ZIP", "PIZ", "PXR24", "B44", "B44A", "DWAA", "DWAB"]


def tiling():
    tiles = OpenEXR.TileDescription()
    tiles.xSize, tiles.ySize = 8, 4
    return tiles


def deep_pixels():
    samples = numpy.empty((300, 5), dtype=object)
    for y in range(300):
        for x in range(5):
            samples[y, x] = numpy.arange((x + y) % 3 + 1, dtype=numpy.float32)
    return {"Z": samples, "A": samples}


def every_kind_of_file(folder):
    """Writes a file of each kind; gives their count."""
    y, x = numpy.mgrid[0:300, 0:5]
    flat = {"RGB": numpy.stack([x / 8, y / 8, (x * y) % 7], axis=-1).astype(numpy.float16)}
    plain = {"lensModel": "Halden 32", "focus": 2.5, "note": "kept", "stage": 7}
    kinds = []
    for name in COMPRESSIONS:
        kinds.append([OpenEXR.Part({**plain, "compression": getattr(OpenEXR, name + "_COMPRESSION"),
                                    "type": OpenEXR.scanlineimage}, flat, name="a")])
    kinds.append([OpenEXR.Part({**plain, "compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.tiledimage,
                                "tiles": tiling()}, flat, name="a")])
    deep = {**plain, "compression": OpenEXR.ZIPS_COMPRESSION}
    kinds.append([OpenEXR.Part({**deep, "type": OpenEXR.deepscanline}, deep_pixels(), name="a")])
    kinds.append([OpenEXR.Part({**deep, "type": OpenEXR.deeptile, "tiles": tiling()},
                               deep_pixels(), name="a")])
    kinds.append([kinds[0][0], OpenEXR.Part({**deep, "type": OpenEXR.deepscanline}, deep_pixels(), name="b")])
    kinds.append([OpenEXR.Part({**kinds[3][0].header}, flat, name="c"), OpenEXR.Part({**kinds[10][0].header}, flat, name="d")])
    for n, parts in enumerate(kinds):
        OpenEXR.File(parts).write(str(folder / f"f.{1001 + n}.exr"))
    # The module writes no smaller levels: these come from exrmaketiled.
    levels = sorted((ROOT / "plugins/openexr/tests/data").glob("tiled_[mr]ip_*[np].exr"))
    for n, path in enumerate(levels):
        shutil.copyfile(path, folder / f"f.{1001 + len(kinds) + n}.exr")
    assert len(levels) == 4, levels
    return len(kinds) + len(levels)


def equal(a, b):
    """Whether two values of the module are the same."""
    if isinstance(a, numpy.ndarray) and a.dtype == object:
        return a.shape == b.shape and all(numpy.array_equal(p, q) for p, q in zip(a.flat, b.flat))
    if isinstance(a, numpy.ndarray):
        return a.dtype == b.dtype and numpy.array_equal(a, b)
    if isinstance(a, (tuple, list)):
        return len(a) == len(b) and all(equal(p, q) for p, q in zip(a, b))
    return str(a) == str(b)


def check_attributes_put_into_files(program, folder):
    """attributes written into files of every kind, read by the module; pixels and other attributes as before:"""
    plates, out = folder / "plates", folder / "out"
    plates.mkdir()
    count = every_kind_of_file(plates)
    chance = random.Random(3)
    values = {name: [chance.uniform(low, high) for _ in range(count)] for name, (_, low, high) in CHANNELS.items()}
    values["focus"][2] = math.inf
    codes = [drop_label(17980 + n) for n in range(count)]
    recorded = {"origin": "recorded"}
    units = {"focus-distance": "m", "f-number": "f", "t-stop": "T", "shutter-angle": "deg", "exposure-time": "s", "sensitivity": "ISO"}
    channels = {
        CHANNELS[name][0]: {"unit": units.get(CHANNELS[name][0], "mm"), **recorded,
                            "values": ["inf" if v == math.inf else v for v in column]}
        for name, column in values.items()
    }
    channels["focus-distance"]["reference"] = "unstated"
    channels["frame"] = {**recorded, "values": [1001 + n for n in range(count)]}
    channels["timecode"] = {**recorded, "values": ["{:02d}:{:02d}:{:02d};{:02d}".format(*code) for code in codes]}
    channels["extra/stage"] = {**recorded, "values": [n - 5 for n in range(count)]}
    document = {
        "lens_data": "1.0",
        "lenses": [{"maker": "Brannvik", "model": "Brannvik 40", "serial": "BV40-0117"}],
        "takes": [{"reel": "B002", "frame_rate": "30000/1001", "counting": "drop-frame", "capture_rate": "48",
                   "lens": 0, "camera": {"maker": "Halden", "label": "B"}, "sensor_mm": [27.5, 18.25],
                   "frames": count, "channels": channels}],
    }
    source = folder / "source.take.json"
    source.write_text(json.dumps(document))
    run(program, "convert", source, "--to", "openexr", "--frames", plates, "-o", out)
    compared = 0
    for n in range(count):
        name = f"f.{1001 + n}.exr"
        before, after = (OpenEXR.File(str(path / name)).parts for path in (plates, out))
        assert len(before) == len(after) > 0, name
        for old, new in zip(before, after):
            header = new.header
            for key, column in values.items():
                assert float(header[key]) == single(column[n]), (name, key)
            code = header["timeCode"]
            assert (code.hours, code.minutes, code.seconds, code.frame) == codes[n] and code.dropFrame, (name, code)
            for key, wanted in [("lensMake", "Brannvik"), ("lensModel", "Brannvik 40"), ("lensSerialNumber", "BV40-0117"),
                                ("reelName", "B002"), ("cameraMake", "Halden"), ("cameraLabel", "B"),
                                ("framesPerSecond", "30000/1001"), ("captureRate", "48")]:
                shown = header[key]
                if isinstance(shown, OpenEXR.Rational) or hasattr(shown, "numerator"):
                    shown = str(Fraction(shown.numerator, shown.denominator))
                assert str(shown) == str(wanted), (name, key, shown)
            # An int where the file has one, else a double, which the module gives as an array.
            assert numpy.ravel(header["stage"]).tolist() == [n - 5], name
            assert [float(side) for side in header["sensorOverallDimensions"]] == [27.5, 18.25]
            ours = {*values, "lensModel", "lensSerialNumber", "framesPerSecond", "stage"}
            for key, value in old.header.items():
                assert key in ours or equal(value, header[key]), (name, key)
            assert old.channels.keys() == new.channels.keys()
            for key, channel in old.channels.items():
                assert equal(channel.pixels, new.channels[key].pixels), (name, key)
            compared += 1
    # The sizes of these images differ, and the first one is the take's: the second pass notes that. Then nothing changes.
    passes = [out, folder / "second", folder / "third"]
    for before, after in zip(passes, passes[1:]):
        run(program, "convert", before / "f.####.exr", "--to", "openexr", "--frames", before, "-o", after)
    for path in sorted(passes[1].iterdir()):
        assert path.read_bytes() == (passes[2] / path.name).read_bytes(), path.name
    return f"{compared} parts"
