"""Distortion and ST maps against OpenCV, the files of the latter read by OpenEXR; depth of field against blur disks worked out here from first principles."""

import json
import math
import random
import subprocess

import cv2
import numpy
import OpenEXR
from ringmark import ROOT, number, run

# k1, k2, p1, p2, k3 in OpenCV's order: barrel, pincushion, a moustache, and one with strong tangential terms.
MODELS = [
    [-0.28, 0.07, 0.0, 0.0, 0.0],
    [0.12, -0.03, 0.001, -0.0005, 0.004],
    [-0.2, 0.12, 0.0003, 0.0008, -0.01],
    [-0.05, 0.01, 0.01, -0.008, 0.0],
]
OURS = {"direction": "undistorted-to-distorted", "normalisation": "focal lengths"}


def ask(questions):
    """Answers of the crate, through its example."""
    arguments = ["cargo", "run", "--release", "--quiet", "-p", "ringmark-optics", "--example", "derived"]
    lines = "\n".join(json.dumps(q) for q in questions)
    done = subprocess.run(arguments, input=lines, capture_output=True, text=True, cwd=ROOT, check=True)
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(answers) == len(questions)
    errors = [a["error"] for a in answers if isinstance(a, dict) and "error" in a]
    assert not errors, errors[0]
    return answers


def grid():
    """Points of a wide picture: up to 0.6 focal lengths across and 0.34 down."""
    x, y = numpy.meshgrid(numpy.linspace(-0.6, 0.6, 41), numpy.linspace(-0.34, 0.34, 23))
    return numpy.stack([x.ravel(), y.ravel()], axis=1)


def check_distort(program, folder):
    """points as cv2.projectPoints distorts them, to 1e-12 focal lengths:"""
    points = grid()
    answers = ask([{"ask": "distort", "coefficients": m, "points": points.tolist(), **OURS} for m in MODELS])
    solid = numpy.column_stack([points, numpy.ones(len(points))])
    for model, answer in zip(MODELS, answers):
        theirs, _ = cv2.projectPoints(solid, numpy.zeros(3), numpy.zeros(3), numpy.eye(3), numpy.array(model))
        off = numpy.abs(numpy.array(answer) - theirs.reshape(-1, 2)).max()
        assert off < 1e-12, (model, off)
    return len(points) * len(MODELS)


def check_undistort(program, folder):
    """points as cv2.undistortPoints brings them back, and to where they came from, to 1e-9 focal lengths:"""
    points = grid()
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 2000, 1e-15)
    distorted = ask([{"ask": "distort", "coefficients": m, "points": points.tolist(), **OURS} for m in MODELS])
    answers = ask(
        [{"ask": "undistort", "coefficients": m, "points": d, **OURS} for m, d in zip(MODELS, distorted)]
    )
    for model, start, answer in zip(MODELS, distorted, answers):
        source = numpy.array(start).reshape(-1, 1, 2)
        theirs = cv2.undistortPoints(source, numpy.eye(3), numpy.array(model), criteria=stop)
        for expected in (theirs.reshape(-1, 2), points):
            off = numpy.abs(numpy.array(answer) - expected).max()
            assert off < 1e-9, (model, off)
    return len(points) * len(MODELS)


def check_st_maps(program, folder):
    """undistorting maps as cv2.initUndistortRectifyMap makes them, with overscan, to 0.001 pixel:"""
    (width, height), sensor, pinhole, principal = (192, 108), (24.0, 13.5), 28.0, (0.21, -0.14)
    left, right, top, bottom = 9, 14, 5, 8
    question = {
        "ask": "st-map", "kind": "undistort", "size_px": [width, height], "sensor_mm": sensor,
        "pinhole_mm": pinhole, "principal_mm": principal, "overscan_px": [left, right, top, bottom], **OURS,
    }  # fmt: skip
    focal = pinhole * width / sensor[0]
    # OpenCV counts from the centre of the first pixel.
    cx = width / 2 + principal[0] * width / sensor[0] - 0.5
    cy = height / 2 + principal[1] * height / sensor[1] - 0.5
    size = (width + left + right, height + top + bottom)
    total = 0
    answers = ask([{**question, "coefficients": m} for m in MODELS])
    for model, answer in zip(MODELS, answers):
        camera = numpy.array([[focal, 0, cx], [0, focal, cy], [0, 0, 1.0]])
        wider = numpy.array([[focal, 0, cx + left], [0, focal, cy + top], [0, 0, 1.0]])
        map_x, map_y = cv2.initUndistortRectifyMap(camera, numpy.array(model), None, wider, size, cv2.CV_32FC1)
        ours = numpy.array(answer)
        assert ours.shape == (size[1], size[0], 2), ours.shape
        off_x = numpy.abs(ours[..., 0] * width - 0.5 - map_x).max()
        off_y = numpy.abs((1 - ours[..., 1]) * height - 0.5 - map_y).max()
        assert max(off_x, off_y) < 1e-3, (model, off_x, off_y)
        total += ours.shape[0] * ours.shape[1]
    # The way back: through both maps a pixel comes home. The picture that is sampled has the overscan.
    back = ask([{**question, "kind": "redistort", "coefficients": m} for m in MODELS])
    for model, answer in zip(MODELS, back):
        ours = numpy.array(answer)
        assert ours.shape == (height, width, 2)
        x = (ours[..., 0] * size[0] - left - 0.5 - cx) / focal
        y = ((1 - ours[..., 1]) * size[1] - top - 0.5 - cy) / focal
        solid = numpy.stack([x.ravel(), y.ravel(), numpy.ones(x.size)], axis=1)
        camera = numpy.array([[focal, 0, cx], [0, focal, cy], [0, 0, 1.0]])
        home, _ = cv2.projectPoints(solid, numpy.zeros(3), numpy.zeros(3), camera, numpy.array(model))
        want = numpy.stack(numpy.meshgrid(range(width), range(height)), axis=2).reshape(-1, 2)
        off = numpy.abs(home.reshape(-1, 2) - want).max()
        assert off < 1e-9, (model, off)
        total += len(want)
    return f"{total} pixels"


SIZE, SENSOR, PINHOLE, PRINCIPAL = (1920, 1080), (24.0, 13.5), 28.0, (0.21, -0.14)


def written_map(program, folder, kind, model):
    """A map that the program writes, as x, y from the first pixel's centre; half a step of its floats in pixels, for both; and
    the place of the recorded in the ideal picture."""
    path = folder / f"{kind}.exr"
    coefficients = dict(zip(("k1", "k2", "p1", "p2", "k3"), model))
    run(program, "st-map", "--kind", kind, *(f"--{name}={value}" for name, value in coefficients.items()),
        "--direction", "undistorted-to-distorted", "--normalisation", "focal-length",
        "--size", "x".join(map(str, SIZE)), "--sensor", "x".join(map(str, SENSOR)), "--focal-length", PINHOLE,
        f"--principal={PRINCIPAL[0]},{PRINCIPAL[1]}", "--overscan", "6", "--force", "-o", path)  # fmt: skip
    with OpenEXR.File(str(path), separate_channels=True) as file:
        header, channels = file.header(), file.channels()
        s, t = channels["R"].pixels, channels["G"].pixels
        assert sorted(channels) == ["G", "R"] and s.dtype == t.dtype == numpy.float32, channels
        assert header["compression"] == OpenEXR.ZIP_COMPRESSION, header["compression"]
        facts = dict(line.split(": ", 1) for line in header["stMap"].splitlines())
    assert facts["kind"] == kind and float(facts["k1"]) == model[0], facts
    ideal = facts["ideal picture"].replace(",", "").split()
    ideal_size, corner = (int(ideal[0]), int(ideal[2])), (int(ideal[8]), int(ideal[9]))
    made, source = (ideal_size, SIZE) if kind == "undistort" else (SIZE, ideal_size)
    assert s.shape == (made[1], made[0]), s.shape
    # From s, t at 0 to 1 over the edges, t upwards, to OpenCV's count from the centre of the first pixel, y downwards.
    x = s.astype(numpy.float64) * source[0] - 0.5
    y = (1 - t.astype(numpy.float64)) * source[1] - 0.5
    halves = [numpy.spacing(numpy.abs(part)).astype(numpy.float64) / 2 * side for part, side in zip((s, t), source)]
    return x, y, halves, corner


def cameras(corner):
    """OpenCV's matrices of the recorded and of the ideal picture."""
    focal = PINHOLE * SIZE[0] / SENSOR[0]
    centre = [side / 2 + mm * side / sensor - 0.5 for side, mm, sensor in zip(SIZE, PRINCIPAL, SENSOR)]
    recorded = numpy.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
    ideal = recorded.copy()
    ideal[:2, 2] += corner
    return recorded, ideal


def worst_of(ours, theirs, halves):
    """The largest difference in pixels; fails where it is more than rounding to a 32-bit float explains."""
    worst = 0.0
    for mine, yours, half in zip(ours, theirs, halves):
        off = numpy.abs(mine - yours)
        # 1e-8 pixel for the 64-bit sums of both.
        assert (off <= half + 1e-8).all(), (off - half).max()
        worst = max(worst, off.max())
    return worst


def check_written_undistort_maps(program, folder):
    """the file of st-map --kind undistort, read by OpenEXR, against cv2.projectPoints and cv2.initUndistortRectifyMap:"""
    worst = far = total = 0
    for model in MODELS:
        x, y, halves, corner = written_map(program, folder, "undistort", model)
        recorded, ideal = cameras(corner)
        size = x.shape[::-1]
        map_x, map_y = cv2.initUndistortRectifyMap(recorded, numpy.array(model), None, ideal, size, cv2.CV_32FC1)
        for mine, yours, half in zip((x, y), (map_x, map_y), halves):
            off = numpy.abs(mine - yours)
            # Its positions are 32-bit floats themselves, and so are some of its sums.
            assert (off <= half + 2 * numpy.spacing(numpy.abs(yours))).all(), (model, off.max())
            far = max(far, off.max())
        columns, rows = numpy.meshgrid(range(0, size[0], 7), range(0, size[1], 7))
        points = numpy.stack([columns.ravel(), rows.ravel(), numpy.ones(columns.size)], axis=1)
        solid = points @ numpy.linalg.inv(ideal).T
        exact, _ = cv2.projectPoints(solid, numpy.zeros(3), numpy.zeros(3), recorded, numpy.array(model))
        exact = exact.reshape(-1, 2).T
        some = [part[rows, columns].ravel() for part in (x, y, *halves)]
        worst, total = max(worst, worst_of(some[:2], exact, some[2:])), total + x.size
    return f"{total} pixels, off by {worst:.1e} pixel (64-bit formula) and {far:.1e} (32-bit map) at most"


def check_written_redistort_maps(program, folder):
    """the file of st-map --kind redistort, read by OpenEXR, against cv2.undistortPoints:"""
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 500, 1e-14)
    worst = total = 0
    for model in MODELS:
        x, y, halves, corner = written_map(program, folder, "redistort", model)
        recorded, ideal = cameras(corner)
        columns, rows = numpy.meshgrid(range(0, SIZE[0], 5), range(0, SIZE[1], 5))
        points = numpy.stack([columns.ravel(), rows.ravel()], axis=1).astype(numpy.float64).reshape(-1, 1, 2)
        theirs = cv2.undistortPoints(points, recorded, numpy.array(model), P=ideal, criteria=stop).reshape(-1, 2).T
        some = [part[rows, columns].ravel() for part in (x, y, *halves)]
        worst, total = max(worst, worst_of(some[:2], theirs, some[2:])), total + columns.size
    return f"{total} pixels, off by {worst:.1e} pixel at most"


def check_written_maps_undo_each_other(program, folder):
    """a picture through both maps by cv2.remap comes back, away from its edges, to 0.01 of its contrast:"""
    rows, columns = numpy.mgrid[0 : SIZE[1], 0 : SIZE[0]]
    picture = (0.5 + 0.25 * numpy.sin(columns / 30) + 0.25 * numpy.cos(rows / 23)).astype(numpy.float32)
    worst = 0
    for model in MODELS:
        maps = {}
        for kind in ("undistort", "redistort"):
            x, y, _, _ = written_map(program, folder, kind, model)
            maps[kind] = (x.astype(numpy.float32), y.astype(numpy.float32))
        ideal = cv2.remap(picture, *maps["undistort"], cv2.INTER_CUBIC)
        back = cv2.remap(ideal, *maps["redistort"], cv2.INTER_CUBIC)
        # The overscan of 6 per cent does not hold the edges of the strongest barrel.
        inside = numpy.s_[120:-120, 200:-200]
        off = numpy.abs(back[inside] - picture[inside]).max()
        moved = numpy.abs(ideal[: SIZE[1], : SIZE[0]] - picture).max()
        assert off < 0.01 and moved > 0.05, (model, off, moved)
        worst = max(worst, off)
    return f"{len(MODELS)} pictures, {worst:.1e} off at most"


def blur(focal, stop, focus, point):
    """Blur on the sensor of a thin lens, all in mm: the cone behind the lens, cut by the sensor.

    An object at u is imaged at v = f u / (u - f) (Gauss). The sensor is where the focused plane is imaged; the cone
    of a point imaged at v' has the diameter of the lens, f / N, at the lens and 0 at v'.
    """
    sensor = focal * focus / (focus - focal) if math.isfinite(focus) else focal
    image = focal * point / (point - focal) if math.isfinite(point) else focal
    return focal / stop * abs((image - sensor) / image)


def check_limits(program, folder):
    """the blur of a point at near and far limit is the circle of confusion, for random thin lenses:"""
    chance = random.Random(7)
    questions = []
    for _ in range(3000):
        focal = math.exp(chance.uniform(0, math.log(2000)))
        nearest = max(0.05, 4.001 * focal / 1000)
        focus = "inf" if chance.random() < 0.1 else math.exp(chance.uniform(math.log(nearest), math.log(1e4)))
        questions.append({
            "ask": "limits", "reference": chance.choice(["image-plane", "entrance-pupil"]),
            "focal_length_mm": focal, "f_number": 2 ** chance.uniform(-0.5, 6),
            "circle_mm": chance.uniform(0.005, 0.05), "focus_m": focus,
        })  # fmt: skip
    infinite = 0
    for question, answer in zip(questions, ask(questions)):
        focal, stop, circle = (question[n] for n in ("focal_length_mm", "f_number", "circle_mm"))
        focus = number(question["focus_m"]) * 1000
        behind = 0.0
        if question["reference"] == "image-plane" and math.isfinite(focus):
            # u + v = D with Gauss: v² - D v + D f = 0, the smaller root.
            behind = (focus - math.sqrt(focus * focus - 4 * focus * focal)) / 2
            # At long distances the difference loses its digits; then v = f u / (u - f) from the last u.
            for _ in range(4):
                behind = focal * (focus - behind) / (focus - behind - focal)
        elif question["reference"] == "image-plane":
            behind = focal
        near = number(answer["near_m"]) * 1000 - behind
        found = blur(focal, stop, focus - behind, near)
        # Where the limits all but meet, their difference has lost the digits; distances are given in metres.
        slack = 1e-6 + 1e-13 * (focus if math.isfinite(focus) else near) / max(abs(focus - behind - near), 1e-300)
        assert abs(found / circle - 1) < slack, (question, answer, found)
        if answer["far_m"] == "inf":
            infinite += 1
            assert blur(focal, stop, focus - behind, math.inf) <= circle * (1 + 1e-9), (question, answer)
        else:
            far = number(answer["far_m"]) * 1000 - behind
            found = blur(focal, stop, focus - behind, far)
            slack = 1e-6 + 1e-13 * far / max(abs(far - focus + behind), 1e-300)
            assert abs(found / circle - 1) < slack, (question, answer, found)
    assert 500 < infinite < 2500, infinite
    return f"{len(questions)} lenses, far at infinity for {infinite}"


def check_hyperfocal(program, folder):
    """focused at the hyperfocal distance, the blur of infinity is the circle of confusion:"""
    questions = [
        {"ask": "limits", "reference": reference, "focal_length_mm": focal, "f_number": stop,
         "circle_mm": 0.025, "focus_m": 100}
        for reference in ("image-plane", "entrance-pupil")
        for focal in (8, 18, 50, 135, 600)
        for stop in (0.7, 2.8, 22, 64)
    ]  # fmt: skip
    for question, answer in zip(questions, ask(questions)):
        focal, stop = question["focal_length_mm"], question["f_number"]
        focus = answer["hyperfocal_m"] * 1000
        if question["reference"] == "image-plane":
            focus -= (focus - math.sqrt(focus * focus - 4 * focus * focal)) / 2
        found = blur(focal, stop, focus, math.inf)
        assert abs(found / 0.025 - 1) < 1e-6, (question, answer, found)
    return len(questions)
