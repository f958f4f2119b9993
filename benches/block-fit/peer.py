"""Fits the same three determinations by scipy. Prints one line of JSON.

usage: peer.py FILE, written by crates/reading/examples/block_fit_speed.rs
"""

import json
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "python"))
from block_fit import fit  # noqa: E402

lines = [
    np.array(list(map(float, line.split())))
    for line in Path(sys.argv[1]).read_text(encoding="utf-8").splitlines()
]
determinations = []
for known, *parts in zip(lines[0::3], lines[1::3], lines[2::3]):
    grams, area, room = known
    parts = [(part[0::2], part[1::2] + 273.15) for part in parts]
    determinations.append(((grams, area * 1e-6, room + 273.15), *parts))

start = time.perf_counter()
found = [fit(*determination)[0] for determination in determinations]
seconds = time.perf_counter() - start
names = ["gain", "flame", "loss", "emissivity"]
print(json.dumps({"seconds": seconds, "result": dict(zip(names, sum(found)))}))
