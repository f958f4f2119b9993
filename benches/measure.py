"""Runs ours and the peer in turn, holds their results together, and prints medians and ratios.

usage: measure.py NAME REPEATS

benches/NAME/bench.toml says what is measured (see benches/README.md). Writes the same table into
benches/RESULTS.md in place of the last one of that name.
"""

import json
import os
import platform
import statistics
import subprocess
import sys
import tomllib
from datetime import datetime, timezone
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parent


def main():
    name, repeats = sys.argv[1], int(sys.argv[2])
    bench = tomllib.loads((HERE / name / "bench.toml").read_text())
    for command in bench.get("prepare", []):
        subprocess.run(command, cwd=ROOT, check=True, shell=True)
    runs = {"ours": [], "peer": []}
    for turn in range(repeats):
        for side in ("ours", "peer") if turn % 2 == 0 else ("peer", "ours"):
            runs[side].append(once(bench[side]))
            print(f"{name} {turn + 1}/{repeats} {side}: {runs[side][-1]['seconds']:.4f} s", file=sys.stderr)
    agree(runs["ours"][0]["result"], runs["peer"][0]["result"], bench["agree_within"])
    section, met = table(name, repeats, bench, runs)
    print(section)
    keep(name, section)
    sys.exit(0 if met else 1)


def once(command):
    """One run: the last line of its output is JSON with `seconds`, `result`, maybe `peak_mb`."""
    environment = dict(os.environ, PYTHON=sys.executable)
    done = subprocess.run(
        command, cwd=ROOT, check=True, shell=True, env=environment, stdout=subprocess.PIPE, text=True
    )
    return json.loads(done.stdout.strip().splitlines()[-1])


def agree(ours, peer, within):
    """Both must have computed the same thing."""
    for key, tolerance in within.items():
        if abs(ours[key] - peer[key]) > tolerance:
            sys.exit(f"{key} differs by more than {tolerance}: ours {ours[key]}, peer {peer[key]}")


def table(name, repeats, bench, runs):
    goal = bench["goal"]
    median = lambda side, key: statistics.median(run[key] for run in runs[side])
    span = lambda side: "{:.4g} to {:.4g}".format(
        min(run["seconds"] for run in runs[side]), max(run["seconds"] for run in runs[side])
    )
    seconds = {side: median(side, "seconds") for side in runs}
    times = seconds["peer"] / seconds["ours"]
    rows = [("times as fast as the peer", f"{times:.2f}", f"at least {goal['times_as_fast']}", times >= goal["times_as_fast"])]
    if "seconds_at_most" in goal:
        most = goal["seconds_at_most"]
        rows.append(("seconds", f"{seconds['ours']:.3f}", f"at most {most}", seconds["ours"] <= most))
    if "memory_at_most_times" in goal:
        share = median("ours", "peak_mb") / median("peer", "peak_mb")
        most = goal["memory_at_most_times"]
        rows.append(("times the peer's peak memory", f"{share:.3f}", f"at most {most}", share <= most))
    lines = [
        f"## {name}",
        "",
        f"{bench['what']}",
        "",
        f"`benches/run {name} {repeats}` on {datetime.now(timezone.utc):%Y-%m-%d}, {machine()}; "
        f"{repeats} runs of each in turn, medians.",
        "",
        "| side | what | seconds | least to most | peak memory |",
        "|---|---|---|---|---|",
    ]
    for side in runs:
        memory = f"{median(side, 'peak_mb'):.0f} MB" if "peak_mb" in runs[side][0] else "–"
        lines.append(f"| {side} | {bench[side + '_is']} | {seconds[side]:.4f} | {span(side)} | {memory} |")
    lines += ["", "| measure | found | goal | met |", "|---|---|---|---|"]
    lines += [f"| {what} | {found} | {wanted} | {'yes' if met else 'no'} |" for what, found, wanted, met in rows]
    return "\n".join(lines) + "\n", all(row[-1] for row in rows)


def machine():
    model = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        models = [line.split(":")[1].strip() for line in cpuinfo.read_text().splitlines() if line.startswith("model name")]
        model = models[0] if models else model
    load = ", {:.1f} other jobs running".format(os.getloadavg()[0]) if hasattr(os, "getloadavg") else ""
    return f"{len(os.sched_getaffinity(0))} cores of {model}, {platform.system()} {platform.release()}{load}"


def keep(name, section):
    path = HERE / "RESULTS.md"
    head = "# Measured\n\nWritten by `benches/run`; the newest measurement of each name.\n"
    sections = {}
    if path.exists():
        for part in path.read_text().split("\n## ")[1:]:
            sections[part.split("\n", 1)[0]] = "## " + part.rstrip("\n") + "\n"
    sections[name] = section
    path.write_text("\n".join([head] + [sections[key] for key in sorted(sections)]))


main()
