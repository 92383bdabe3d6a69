#!/usr/bin/env python3
"""Writes grid.csv: a table over focus distance and focal length, and what scipy gives between its rows."""

import math
import pathlib
import random

import numpy
from scipy.interpolate import RegularGridInterpolator

chance = random.Random(40)
distances = [math.inf, 8.0, 3.0, 1.5, 1.0, 0.7]
focal_lengths = [24.0, 35.0, 50.0, 70.0, 85.0]
dioptres = numpy.array([1 / d for d in distances])
logarithms = numpy.array([math.log(f) for f in focal_lengths])
values = numpy.array(
    [[f * (1 + chance.uniform(0.02, 0.08) / d + chance.uniform(-0.004, 0.004)) for d in distances] for f in focal_lengths]
)
surface = RegularGridInterpolator((logarithms, dioptres), values, method="pchip")
lines = ["kind,distance_m,focal_length_mm,value"]
for i, f in enumerate(focal_lengths):
    for j, d in enumerate(distances):
        lines.append(f"knot,{d!r},{f!r},{float(values[i, j])!r}")
for _ in range(200):
    d, f = 1 / chance.uniform(0.0005, 1 / 0.7), chance.uniform(24, 85)
    lines.append(f"value,{d!r},{f!r},{float(surface((math.log(f), 1 / d)))!r}")
pathlib.Path(__file__).with_name("grid.csv").write_text("\n".join(lines) + "\n")
