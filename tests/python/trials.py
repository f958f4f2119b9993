"""Reads budgets as JSON lines and prints what a million trials in numpy make of each.

A budget has `inputs` (value, uncertainty, shape, parameter), `r` (correlation of the first two)
and `model` (sum, product or square). Printed: mean, u, symmetric and shortest 95 % intervals.
"""

import json
import math
import sys

import numpy as np

TRIALS = 1_000_000
generator = np.random.default_rng(20260101)


def draw(value, uncertainty, shape, parameter):
    if shape == "normal":
        return generator.normal(value, uncertainty, TRIALS)
    if shape == "rectangular":
        half = uncertainty * math.sqrt(3)
        return generator.uniform(value - half, value + half, TRIALS)
    if shape == "triangular":
        half = uncertainty * math.sqrt(6)
        return generator.triangular(value - half, value, value + half, TRIALS)
    if shape == "trapezoidal":
        # The sum of two rectangles of unequal width.
        half = uncertainty * math.sqrt(6 / (1 + parameter**2))
        wide, narrow = half * (1 + parameter) / 2, half * (1 - parameter) / 2
        return value + generator.uniform(-wide, wide, TRIALS) + generator.uniform(-narrow, narrow, TRIALS)
    if shape == "arcsine":
        return value + uncertainty * math.sqrt(2) * np.sin(generator.uniform(0, 2 * np.pi, TRIALS))
    if shape == "t":
        return value + uncertainty * generator.standard_t(parameter, TRIALS)
    raise ValueError(shape)


MODELS = {
    "sum": lambda x: sum(x),
    "product": lambda x: math.prod(x),
    "square": lambda x: x[0] ** 2 + x[1] ** 2,
}

for line in sys.stdin:
    budget = json.loads(line)
    if budget["r"] != 0:
        (x, u, *_), (y, v, *_) = budget["inputs"][:2]
        covariance = budget["r"] * u * v
        pair = generator.multivariate_normal([x, y], [[u * u, covariance], [covariance, v * v]], TRIALS)
        drawn = [pair[:, 0], pair[:, 1]] + [draw(*entry) for entry in budget["inputs"][2:]]
    else:
        drawn = [draw(*entry) for entry in budget["inputs"]]
    values = np.sort(MODELS[budget["model"]](drawn))
    covered = int(0.95 * TRIALS + 0.5)
    widths = values[covered:] - values[:-covered]
    start, shortest = (TRIALS - covered + 1) // 2 - 1, int(widths.argmin())
    print(json.dumps({
        "mean": values.mean(),
        "u": values.std(ddof=1),
        "symmetric": [values[start], values[start + covered]],
        "shortest": [values[shortest], values[shortest + covered]],
    }))
