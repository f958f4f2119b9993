"""Runs a program that prints its result as JSON, and adds its wall time and peak memory.

usage: timed.py PROGRAM ARGUMENT...
"""

import json
import os
import subprocess
import sys
import time

begin = time.perf_counter()
program = subprocess.Popen(sys.argv[1:], stdout=subprocess.PIPE, text=True)
output = program.stdout.read()
_, status, used = os.wait4(program.pid, 0)
taken = time.perf_counter() - begin
if status != 0:
    sys.exit(f"{sys.argv[1]} ended with status {status}")
print(json.dumps({"seconds": taken, "result": json.loads(output), "peak_mb": used.ru_maxrss / 1024}))
