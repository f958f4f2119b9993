"""Writes the made-up logger file of 100 MB that `benches/run trace` reads: always the same bytes.

usage: make.py FILE
"""

import sys
from pathlib import Path

import numpy as np

ROWS = 3_800_000
CHUNK = 100_000
SIZE_MIN = 100_000_000


def main():
    path = Path(sys.argv[1])
    noise = np.random.Generator(np.random.PCG64(20040310))
    with path.open("w", encoding="utf-8", newline="\n") as out:
        out.write("Time (s),T1 (°C),T2 (°C)\n")
        for start in range(0, ROWS, CHUNK):
            seconds = np.arange(start, start + CHUNK) / 100
            block = 20 + 880 * (1 - np.exp(-np.maximum(0, seconds - 100) / 12_000))
            first = block + noise.normal(0, 0.3, CHUNK)
            second = block - 3 + noise.normal(0, 0.3, CHUNK)
            rows = zip(seconds.tolist(), first.tolist(), second.tolist())
            out.writelines(f"{at:.4f},{one:.3f},{two:.3f}\n" for at, one, two in rows)
    size = path.stat().st_size
    if size < SIZE_MIN:
        sys.exit(f"{path} has {size} bytes, {SIZE_MIN} were wanted")


main()
