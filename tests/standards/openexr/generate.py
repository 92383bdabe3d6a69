"""Writes the files of this folder that the plugin's tests read besides the copied ones.

Needs PyPI OpenEXR 3.5.3 and numpy. All content is invented. The values in `written.json` are
read back from the files with the same library, not taken from the lists below.

    python3 generate.py        # writes into the folder it stands in
"""

import json
import pathlib
from fractions import Fraction

import numpy as np
import OpenEXR

HERE = pathlib.Path(__file__).parent
CHANNELS = ["focus", "aperture", "tStop", "pinholeFocalLength", "nominalFocalLength",
            "effectiveFocalLength", "entrancePupilOffset", "shutterAngle", "expTime", "isoSpeed"]


def pixels():
    return {"RGB": np.zeros((4, 8, 3), np.float16)}


def header(focus, serial="H32-0042", **more):
    return {
        "compression": OpenEXR.ZIPS_COMPRESSION, "type": OpenEXR.scanlineimage,
        "lensMake": "Halden Optikk (fictional)", "lensModel": "Halden 32", "lensSerialNumber": serial,
        "focus": focus, "aperture": 1.9, "tStop": 2.0,
        "pinholeFocalLength": 32.25, "entrancePupilOffset": 72.0,
        "framesPerSecond": Fraction(24, 1),
        **more,
    }


def labels(path):
    """Values as the library reads them back, a dict a part."""
    parts = []
    for part in OpenEXR.File(str(path), header_only=True).parts:
        found = part.header
        row = {name: found.get(name) for name in ("view", "name", "lensSerialNumber", "lensModel")}
        for name in CHANNELS:
            if name in found:
                row[name] = float(found[name])
        code = found.get("timeCode")
        if code is not None:
            row["timecode"] = "%02d:%02d:%02d%s%02d" % (
                code.hours, code.minutes, code.seconds, ";" if code.dropFrame else ":", code.frame)
        rate = found.get("framesPerSecond")
        row["rate"] = [rate.numerator, rate.denominator]
        parts.append(row)
    return parts


def timecode(hours, minutes, seconds, frame, drop=False):
    return OpenEXR.TimeCode(hours, minutes, seconds, frame, drop, False, False, False, False, False,
                            0, 0, 0, 0, 0, 0, 0, 0)


def write_stereo(path, frame, swap=False):
    views = [("left", "H32-0042", 32.25, 72.0), ("right", "H32-0043", 32.3, 73.0)]
    parts = []
    for view, serial, pinhole, pupil in reversed(views) if swap else views:
        attributes = header(2.75 + frame / 8, serial, view=view, timeCode=timecode(2, 3, 4, 5 + frame))
        attributes["pinholeFocalLength"] = pinhole
        attributes["entrancePupilOffset"] = pupil
        parts.append(OpenEXR.Part(attributes, pixels(), view + ".rgb"))
    OpenEXR.File(parts).write(str(path))


def main():
    written = {}

    def note(name):
        written[name] = labels(HERE / name)

    for frame in range(3):
        name = f"stereo.{1001 + frame}.exr"
        write_stereo(HERE / name, frame, swap=frame == 2)
        note(name)
    # A matte of the same view without lens attributes, and one view alone.
    matte = OpenEXR.Part({"compression": OpenEXR.ZIPS_COMPRESSION, "type": OpenEXR.scanlineimage, "view": "left",
                          "framesPerSecond": Fraction(24, 1)}, {"A": np.zeros((4, 8), np.float16)}, "left.matte")
    beauty = OpenEXR.Part(header(4.5, view="left", timeCode=timecode(2, 3, 4, 5)), pixels(), "left.rgb")
    OpenEXR.File([beauty, matte]).write(str(HERE / "two_parts_one_view.exr"))
    note("two_parts_one_view.exr")
    # The focus attribute comes with the second file, the lens changes with the third.
    for frame, attributes in enumerate([
        {k: v for k, v in header(0).items() if k != "focus"},
        header(1.25),
        header(1.5, "H32-0077"),
    ]):
        name = f"changes.{1001 + frame}.exr"
        attributes["timeCode"] = timecode(0, 59, 59, 21 + frame)
        OpenEXR.File(attributes, pixels()).write(str(HERE / name))
        note(name)
    # A header longer than the first read.
    OpenEXR.File(header(3.0, halden_note="x" * 9000), pixels()).write(str(HERE / "long_header.exr"))
    note("long_header.exr")
    (HERE / "written.json").write_text(json.dumps(written, indent=1) + "\n")


if __name__ == "__main__":
    main()
