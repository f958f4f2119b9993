"""The same million trials in numpy, vectorised. Prints one line of JSON.

The numbers of the budget are made up; crates/metrology/examples/monte_carlo_speed.rs has the same.
"""

import json
import math
import time

import numpy as np

TRIALS = 1_000_000
COVERAGE = 0.95


def propagate(seed):
    generator = np.random.default_rng(seed)
    read = generator.normal(23.5, 0.03, TRIALS)
    common = generator.standard_normal(TRIALS)
    error_low = 0.75 * common
    error_high = 1.4 * (0.9 * common + math.sqrt(1 - 0.9**2) * generator.standard_normal(TRIALS))
    slope_low = generator.normal(33.0, 0.4, TRIALS)
    slope_high = generator.normal(19.0, 0.4, TRIALS)
    clock = generator.uniform(-1e-4, 1e-4, TRIALS)
    mass = generator.uniform(0.579, 0.581, TRIALS)
    value = (read + error_low / slope_low - error_high / slope_high) * (1 + clock) * (0.58 / mass)
    mean = value.mean()
    uncertainty = value.std(ddof=1)
    value.sort()
    covered = int(COVERAGE * TRIALS + 0.5)
    widths = value[covered:] - value[:-covered]
    shortest = int(widths.argmin())
    start = (TRIALS - covered + 1) // 2 - 1
    return {
        "mean": mean,
        "u": uncertainty,
        "low": value[start],
        "high": value[start + covered],
        "shortest": (value[shortest], value[shortest + covered]),
    }


propagate(1)
start = time.perf_counter()
found = propagate(2)
seconds = time.perf_counter() - start
found.pop("shortest")
print(json.dumps({"seconds": seconds, "result": found}))
