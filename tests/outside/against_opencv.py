"""Distortion and ST maps against OpenCV; depth of field against blur disks worked out here from first principles."""

import json
import math
import random
import subprocess

import cv2
import numpy
from ringmark import ROOT, number

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
