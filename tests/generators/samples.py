#!/usr/bin/env python3
"""Writes the text files and EXR plates under samples/.

Everything is invented: the production, the lenses, the makers. Distances follow the law of a
lens that moves as a whole on a linear helicoid, d = u + v with 1/u + 1/v = 1/f (Gauss), so that
the good samples are possible lenses; iris rings have equal stops at equal angles, the zoom ring
is linear in log focal length (common practice, no source).

Needs: pip install OpenEXR numpy (for the plates only)
"""

import math
import pathlib

ROOT = pathlib.Path(__file__).resolve().parents[2] / "samples"


class Helicoid:
    """Ring position 0 at close focus, 1 at the infinity mark, 1/97 of travel left behind it."""

    def __init__(self, focal_mm, close_m):
        self.f = focal_mm / 1000
        self.far = 0.97
        self.full = self.extension(close_m)

    def extension(self, distance_m):
        if math.isinf(distance_m):
            return 0.0
        k = distance_m - 2 * self.f
        return 2 * self.f**2 / (k + math.sqrt(k * k - 4 * self.f**2))

    def position(self, distance_m):
        return self.far * (1 - self.extension(distance_m) / self.full)

    def distance(self, position):
        e = self.full * (1 - position / self.far)
        return math.inf if e < 1e-9 else self.f**2 / e + 2 * self.f + e


def feet_inches(text):
    feet, inches = text.rstrip('"').split("'")
    return (12 * int(feet) + float(inches or 0)) * 0.0254


PRIME = Helicoid(40, 0.40)
ZOOM = Helicoid(55, 33 * 0.0254)
METRIC = ["0.4", "0.45", "0.5", "0.6", "0.7", "0.85", "1", "1.2", "1.5", "2", "3", "5", "10", "∞"]
IMPERIAL = ["2'9\"", "3'", "3'6\"", "4'", "4'6\"", "5'6\"", "7'", "9'", "12'", "20'", "40'", "∞"]


def metric_value(text):
    return math.inf if text == "∞" else float(text)


def imperial_value(text):
    return math.inf if text == "∞" else feet_inches(text)


def prime_rows():
    rows = [f"focus,{PRIME.position(metric_value(m)):.4f},{m}" for m in METRIC]
    stops = [2.1, 2.8, 4, 5.6, 8, 11, 16, 22]
    first = math.log2(2.1**2)
    span = math.log2(22**2) - first
    rows += [f"iris,{(math.log2(t * t) - first) / span:.4f},T{t:g}" for t in stops]
    return rows


PRIME_HEAD = """# document: ring calibration
# maker: Brannvik Glass
# model: Brannvik 40
# serial: BV40-0117
# kind: prime
# focal length: 40 mm
# widest T-stop: 2.1
# smallest T-stop: 22
# close focus: 0.4 m
# measured from: image plane
"""

ZOOM_HEAD = """# document: ring calibration
# maker: Orrin & Vale
# model: Orrin 28-76
# serial: OV-2204
# kind: zoom
# focal length: 28-76 mm
# widest T-stop: 2.9
# smallest T-stop: 22
# close focus: 2'9"
# measured from: image plane
# focus encoder: 120..65410
# iris encoder: 0..65535
# zoom encoder: 65000..300
"""


def zoom_rows():
    def counts(position, low, high):
        return round(low + position * (high - low))

    rows = []
    for mark in IMPERIAL:
        at = counts(ZOOM.position(imperial_value(mark)), 120, 65410)
        quoted = '"' + mark.replace('"', '""') + '"' if '"' in mark else mark
        rows.append(f"focus,{at},{quoted},,")
    stops = [2.9, 4, 5.6, 8, 11, 16, 22]
    first = math.log2(2.9**2)
    span = math.log2(22**2) - first
    for t in stops:
        rows.append(f"iris,{counts((math.log2(t * t) - first) / span, 0, 65535)},,T{t:g},")
    for f in [28, 32, 35, 40, 50, 60, 70, 76]:
        at = counts(math.log(f / 28) / math.log(76 / 28), 65000, 300)
        rows.append(f"zoom,{at},,,{f}")
    return rows


def smooth(t):
    return t * t * (3 - 2 * t)


def label(frame, base, drop, seconds0):
    """Label of a frame after a whole ten minutes; short takes never reach a dropped label."""
    assert not drop or frame < 1800
    total = seconds0 * base + frame
    ff, s = total % base, total // base
    return f"{s // 3600:02d}:{s // 60 % 60:02d}:{s % 60:02d}{';' if drop else ':'}{ff:02d}"


def prime_take():
    """A rack from 2.4 m to 0.7 m at 23.976 fps; ring positions and distances recorded."""
    lines = [
        "# document: take",
        "# clip: A012C003",
        "# frame rate: 24000/1001",
        "# timecode: non-drop",
        "# camera model: Lanternfish One",
        "# camera label: A",
        "# sensor width: 27.6 mm",
        "# sensor height: 15.5 mm",
        "# lens maker: Brannvik Glass",
        "# lens model: Brannvik 40",
        "# lens serial: BV40-0117",
        "# lens kind: prime",
        "# close focus: 0.4 m",
        "# measured from: image plane",
        "frame,timecode,focus ring [0..1],iris ring [0..1],focus distance [m],T-stop,focal length [mm],lens,slate note",
    ]
    near, far = PRIME.position(0.7), PRIME.position(2.4)
    iris = 0.1225
    for n in range(240):
        t = smooth(min(max((n - 40) / 150, 0), 1))
        ring = far + (near - far) * t + 0.0008 * math.sin(n / 7)
        note = "rack on the turn" if n == 40 else ""
        lines.append(
            f"{1001 + n},{label(n, 24, False, 14 * 3600 + 5 * 60 + 12)},{ring:.5f},{iris:.4f},"
            f"{PRIME.distance(round(ring, 5)):.4f},2.8,40,Brannvik 40 #BV40-0117,{note}"
        )
    return lines


def zoom_take():
    """A zoom with focus held; another recorder's file: tabs, decimal commas, its own
    column names, distances in feet. The mapping file says what is what."""
    lines = ["No\tTC\tFocEnc\tZoomEnc\tDist\tStop\tFL\tTemp"]
    focus = ZOOM.position(feet_inches("7'"))
    for n in range(180):
        t = smooth(min(max((n - 20) / 120, 0), 1))
        ring = focus + 0.002 * math.sin(n / 11)
        counts = round(120 + ring * (65410 - 120))
        zoom = 0.15 + 0.7 * t
        zoom_counts = round(65000 + zoom * (300 - 65000))
        focal = 28 * (76 / 28) ** ((zoom_counts - 65000) / (300 - 65000))
        distance = ZOOM.distance((counts - 120) / (65410 - 120)) / 0.3048
        cells = [
            f"{n + 1}",
            label(n, 30, True, 10 * 3600 + 10 * 60),
            f"{counts}",
            f"{zoom_counts}",
            f"{distance:.3f}",
            "4",
            f"{focal:.2f}",
            f"{21.4 + n / 900:.1f}",
        ]
        lines.append("\t".join(cells).replace(".", ","))
    return lines


ZOOM_MAPPING = """# What the columns of B007C001.csv mean. Written by hand from the recorder's note.
version = "1.0"
document = "take"
delimiter = "\\t"
decimal = ","

[statics]
clip = "B007C001"
frame-rate = "30000/1001"
counting = "drop-frame"
camera-label = "B"
lens-maker = "Orrin & Vale"
lens-model = "Orrin 28-76"
lens-serial = "OV-2204"
lens-kind = "zoom"

[[columns]]
header = "No"
channel = "frame"

[[columns]]
header = "TC"
channel = "timecode"

[[columns]]
header = "FocEnc"
channel = "focus-ring-raw"
unit = "count"
range = [120, 65410]

[[columns]]
header = "ZoomEnc"
channel = "zoom-ring-raw"
unit = "count"
range = [65000, 300]

[[columns]]
header = "Dist"
channel = "focus-distance"
unit = "ft"
reference = "image-plane"

[[columns]]
header = "Stop"
channel = "t-stop"

[[columns]]
header = "FL"
channel = "nominal-focal-length"
unit = "mm"

[[columns]]
header = "Temp"
channel = "extra"
unit = "degC"
"""


def rings_only_take():
    """What a bare encoder records: no distance, no stop."""
    lines = [
        "# document: take",
        "# clip: A014C002",
        "# frame rate: 24",
        "# timecode: non-drop",
        "# focus encoder: 0..65535",
        "frame,timecode,focus ring [count],iris ring [0..1]",
    ]
    for n, distance in enumerate([1.2, 1.5, 2.2, 4, math.inf]):
        ring = round(PRIME.position(distance) * 65535)
        lines.append(f"{1001 + n},{label(n, 24, False, 16 * 3600)},{ring},0.2743")
    return lines


def faulty_lens():
    """Planted: 0.7 typed as 7.0 (decimal slip), one position twice, a T-stop wider than the lens,
    and no infinity mark."""
    out = []
    for row in prime_rows():
        ring, at, mark = row.split(",")
        if mark == "0.7":
            row = f"{ring},{at},7.0"
        if mark == "1.2":
            row = f"{ring},{PRIME.position(1.0):.4f},{mark}"
        if mark == "T2.1":
            row = f"{ring},{at},T1.4"
        if mark == "∞":
            continue
        out.append(row)
    return out


def faulty_take():
    """Planted, frame by frame: see samples/README.md."""
    lines = prime_take()
    head = [l.replace("A012C003", "A013C001") for l in lines if l.startswith("#")]
    head = [
        l.replace("24000/1001", "30000/1001").replace("non-drop", "drop-frame") for l in head
    ]
    header = next(l for l in lines if not l.startswith("#")).rsplit(",", 1)[0]
    header = header.replace("T-stop", "T-stop,f-number")
    out = head + [header]
    start = 1790 - 60  # 60 frames before the first dropped label
    for n in range(160):
        if n == 30:
            continue  # a dropped frame
        count = start + n
        minutes, frames = (0, count) if count < 1800 else (1, count - 1800 + 2)
        tc = f"11:{20 + minutes:02d}:{frames // 30:02d};{frames % 30:02d}"
        if n == 90:
            tc = "11:21:00;00"  # never exists in drop-frame counting
        if n == 50:
            tc = f"11:20:{(count - 1) // 30:02d};{(count - 1) % 30:02d}"  # repeated
        t = smooth(min(max((n - 20) / 110, 0), 1))
        ring = PRIME.position(2.4) + (PRIME.position(0.55) - PRIME.position(2.4)) * t
        distance = PRIME.distance(round(ring, 5))
        text = f"{distance:.4f}"
        if 60 <= n < 70:
            text = f"{distance / 0.3048:.4f}"  # these frames are in feet
        if n == 120:
            text = "0.21"  # below close focus
        if n == 125:
            text = "0"  # no data written as zero
        t_stop, f_number = ("2.8", "2.6")
        if 75 <= n < 80:
            t_stop = "2.2"  # below the f-number
        focal = "40" if n < 100 else "50"  # a prime does not zoom
        lens = "Brannvik 40 #BV40-0117" if n < 140 else "Brannvik 40 #BV40-0118"
        shown = ring if n != 110 else 1.23  # outside the encoder's range
        out.append(
            f"{1001 + n},{tc},{shown:.5f},0.1225,{text},{t_stop},{f_number},{focal},{lens}"
        )
    return out


def write(name, text):
    path = ROOT / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def plates():
    import numpy
    import OpenEXR
    from fractions import Fraction

    folder = ROOT / "plates"
    folder.mkdir(parents=True, exist_ok=True)
    pixels = numpy.zeros((2, 4, 3), dtype=numpy.float16)
    header, *rows = (line for line in prime_take() if not line.startswith("#"))
    column = header.split(",").index("focus distance [m]")
    for n in range(24):
        # The take as its recorder has it.
        distance = float(rows[n].split(",")[column])
        code = label(n, 24, False, 14 * 3600 + 5 * 60 + 12)
        h, m, s, f = (int(x) for x in code.replace(";", ":").split(":"))
        header = {
            "compression": OpenEXR.ZIP_COMPRESSION,
            "type": OpenEXR.scanlineimage,
            "lensMake": "Brannvik Glass",
            "lensModel": "Brannvik 40",
            "lensSerialNumber": "BV40-0117",
            "cameraModel": "Lanternfish One",
            "cameraLabel": "A",
            "reelName": "A012",
            "nominalFocalLength": 40.0,
            "tStop": 2.8,
            "aperture": 2.6,
            "focus": distance,
            "shutterAngle": 180.0,
            "isoSpeed": 800.0,
            "framesPerSecond": Fraction(24000, 1001),
            "timeCode": OpenEXR.TimeCode(h, m, s, f, 0, 0, 0, 0, 0, 0, *([0] * 8)),
        }
        OpenEXR.File(header, {"RGB": pixels}).write(str(folder / f"A012C003.{1001 + n}.exr"))


def main():
    write("brannvik-40.csv", PRIME_HEAD + "ring,position [0..1],mark [m]\n" + "\n".join(prime_rows()) + "\n")
    write(
        "orrin-28-76.csv",
        ZOOM_HEAD
        + "ring,position [count],mark [ft-in],mark [T],mark [mm]\n"
        + "\n".join(zoom_rows())
        + "\n",
    )
    write("A012C003.csv", "\n".join(prime_take()) + "\n")
    write("A014C002.csv", "\n".join(rings_only_take()) + "\n")
    write("B007C001.csv", "\n".join(zoom_take()) + "\n")
    write("B007C001.mapping.toml", ZOOM_MAPPING)
    write("faulty/brannvik-40.csv", PRIME_HEAD + "ring,position [0..1],mark [m]\n" + "\n".join(faulty_lens()) + "\n")
    write("faulty/A013C001.csv", "\n".join(faulty_take()) + "\n")
    plates()


if __name__ == "__main__":
    main()
