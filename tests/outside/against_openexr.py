"""Header attributes written by the OpenEXR Python module (PyPI, the reference implementation)."""

import math
import random
import struct
from fractions import Fraction

import numpy
import OpenEXR
from ringmark import number, take

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
