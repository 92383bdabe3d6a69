"""Pre-marked rings against scipy: targets by inverting a dense table, the error between marks by brute force."""

import json
import math

import numpy
from ringmark import ROOT, number, run
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

# Thin lenses on a linear helicoid, d = f²/e + 2f + e from the image plane (Newton's equation, as in Hecht, *Optics*, ch. 5,
# from memory), and one on a drive that is not linear: focal length in mm, extension at position 0, bend of the drive.
LENSES = [(50.0, 6.0, 0.0), (28.0, 2.2, 0.0), (100.0, 12.0, 0.0), (50.0, 5.0, 0.35)]
INFINITY = 0.96
CIRCLE = 0.025
STOP = 2.0


def extension(lens, position):
    f, reach, bend = lens
    t = 1 - position / INFINITY
    return reach * (t + bend * t * (1 - t))


def dioptres(lens, position):
    """One over metres from the image plane: d = (f + e)² / e."""
    f, e = lens[0], extension(lens, position)
    return 1000 * e / (f + e) ** 2


def full_depth(lens, metres):
    """Full depth of field in dioptres: near and far as in Greenleaf, *Photographic Optics*, from memory, from a thin lens, put
    back to the image plane; past the hyperfocal distance twice the near half."""
    f, mm = lens[0], metres * 1000
    hyperfocal = f * f / (STOP * CIRCLE) + f
    if math.isinf(mm):
        return 2 * 1000 / (hyperfocal + f)
    image = (mm - math.sqrt(mm * mm - 4 * mm * f)) / 2
    s = mm - image
    near = s * (hyperfocal - f) / (hyperfocal + s - 2 * f) + image
    if s >= hyperfocal:
        return 2 * (1000 / near - 1000 / mm)
    far = s * (hyperfocal - f) / (hyperfocal - s) + image
    return 1000 / near - 1000 / far


def document(lens, folder):
    """The lens with marks as dense as nobody takes them."""
    marks = [{"position": p, "value": float(1 / dioptres(lens, p))} for p in numpy.linspace(0, INFINITY, 80)[:-1]]
    marks.append({"position": INFINITY, "value": "inf"})
    ring = {"axis": "focus", "quantity": "focus-distance", "reference": "image-plane", "unit": "m",
            "encoder": [65535, 0], "rotation_deg": 280, "marks": marks}
    whole = {"lens_data": "1.0", "lenses": [{"focal_length_mm": [lens[0]] * 2, "widest_f_number": STOP, "rings": [ring]}]}
    path = folder / "l.lens.json"
    path.write_text(json.dumps(whole))
    return path


def transfers(program, folder):
    for lens in LENSES:
        path = document(lens, folder)
        documents = sorted((ROOT / "samples/rings").glob("*.json"))
        done = run(program, "transfer", path, *[a for d in documents for a in ("--to", d)], "--json")
        for ring in json.loads(done.stdout)["rings"]:
            yield lens, ring


def reached(ring):
    return [m for m in ring["marks"] if "target" in m]


def check_targets(program, folder):
    """targets of printed marks as scipy inverts the law and a dense PCHIP table, to 2e-4 of travel and to the count:"""
    count = 0
    for lens, ring in transfers(program, folder):
        dense = numpy.linspace(0, INFINITY, 20001)
        table = PchipInterpolator(dense, dioptres(lens, dense))
        nearest = float(1 / dioptres(lens, 0.0))
        for mark in ring["marks"]:
            metres = number(mark["distance_m"])
            assert ("target" in mark) == (metres >= nearest), (lens, mark)
            if "target" not in mark:
                continue
            target = mark["target"]
            for curve in (lambda p: dioptres(lens, p), table):
                expected = INFINITY if math.isinf(metres) else brentq(
                    lambda p: curve(p) - 1 / metres, 0, INFINITY, xtol=1e-14)
                assert abs(target["position"] - expected) < 2e-4, (lens, mark, expected)
            assert target["count"] == round(65535 * (1 - target["position"])), mark
            assert abs(target["degrees"] - 280 * target["position"]) < 1e-9, mark
            count += 1
    return count


def check_between(program, folder):
    """largest errors between marks, in metres and in full depths of field, as brute force finds them, to 2 %:"""
    count = 0
    for lens, ring in transfers(program, folder):
        printed = PchipInterpolator(
            [m["position"] for m in ring["marks"]], [1 / number(m["distance_m"]) for m in ring["marks"]])
        in_metres = in_depths = 0.0
        marks = reached(ring)
        for a, b in zip(marks, marks[1:]):
            t = numpy.linspace(0, 1, 3001)
            knob = a["position"] + t * (b["position"] - a["position"])
            # The true lens, not the fitted curve, driven in a straight line between the targets.
            position = a["target"]["position"] + t * (b["target"]["position"] - a["target"]["position"])
            focused = dioptres(lens, numpy.minimum(position, INFINITY))
            read = numpy.maximum(printed(knob), 0)
            if math.isfinite(number(b["distance_m"])):
                in_metres = max(in_metres, numpy.abs(1 / focused - 1 / read).max())
            with numpy.errstate(divide="ignore"):
                depths = [full_depth(lens, d) for d in 1 / read]
            in_depths = max(in_depths, (numpy.abs(focused - read) / depths).max())
        if len(marks) < 2:
            assert "largest_error_depths" not in ring
            continue
        theirs = (in_metres, in_depths)
        ours = [abs(ring[k]["error"]) for k in ("largest_error_m", "largest_error_depths")]
        for our, their in zip(ours, theirs):
            assert abs(our / their - 1) < 0.02, (lens, ring["name"], ours, theirs)
        ends = [m["target"]["position"] for m in (marks[0], marks[-1])]
        assert abs(ring["travel_share"] - abs(ends[1] - ends[0]) / INFINITY) < 1e-9
        count += 1
    return count
