"""Reference values of the monotone cubic: scipy.interpolate.PchipInterpolator (scipy, PyPI, BSD-3-Clause).

Run: python3 generate.py > pchip.csv      (written with scipy 1.17.1, numpy 2, Python 3.11)
Lines: set, kind (knot | value), x, y. Numbers are Python's shortest texts that read back exactly.
"""
import numpy as np
from scipy.interpolate import PchipInterpolator

rng = np.random.default_rng(20260101)
SETS = {
    "two": ([0.0, 1.0], [1.0, 3.0]),
    "three": ([0.0, 0.3, 1.0], [2.0, 1.0, 0.0]),
    "flat-and-turning": ([0.0, 0.1, 0.4, 0.45, 0.8, 1.0], [3.0, 3.0, 1.0, 4.0, 4.1, 4.0]),
    "clipped-end": ([0.0, 1.0, 1.1, 2.0], [0.0, 0.1, 2.0, 1.9]),
    "focus": ([0.0755, 0.212, 0.39, 0.58, 0.74, 0.885, 0.96, 1.0], [2.0, 1.6667, 1.3123, 0.9374, 0.5965, 0.2734, 0.0937, 0.0]),
}
for n in range(4, 16, 3):
    x = np.cumsum(rng.uniform(0.01, 0.2, n))
    SETS[f"rising-{n}"] = (x.tolist(), np.cumsum(rng.uniform(0.01, 1.0, n)).tolist())
    SETS[f"any-{n}"] = (x.tolist(), rng.normal(0, 1, n).tolist())

print("set,kind,x,y")
for name, (x, y) in SETS.items():
    for a, b in zip(x, y):
        print(f"{name},knot,{float(a)!r},{float(b)!r}")
    curve = PchipInterpolator(x, y)
    for a in np.linspace(x[0], x[-1], 23)[1:-1]:
        print(f"{name},value,{float(a)!r},{float(curve(a))!r}")
