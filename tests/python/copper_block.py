"""The copper block's equation by scipy: times between 100 and 700 degC, and points of the course.

Reads lines: grams, square millimetres, emissivity at 500 degC and its relative change with each
kelvin, gain W/K, flame degC, room degC, loss W/(m2 K), start degC, then times in seconds. Without a
gain the block cools. Prints for each the time between 100 and 700 degC by quadrature, the same by
the solver, and the temperatures at the times, solved from the start on.
"""

import sys
from pathlib import Path

import numpy as np
from scipy.constants import Stefan_Boltzmann
from scipy.integrate import quad, solve_ivp
from scipy.interpolate import CubicHermiteSpline

TABLE = Path(__file__).resolve().parents[2] / "open-data" / "tables" / "JANAF_Cu-001.txt"
rows = []
for line in TABLE.read_text(encoding="utf-8").splitlines()[2:]:
    cells = line.split("\t")
    if 200 <= float(cells[0]):
        rows.append((float(cells[0]), float(cells[1]), 1000 * float(cells[4])))
    if float(cells[0]) >= 1358:  # the crystal's last row, at melting
        break
kelvin, capacity, enthalpy = np.array(rows).T
# J/(g K) over kelvin: the slope of the enthalpy's cubic
heat_capacity = CubicHermiteSpline(kelvin, enthalpy / 63.546, capacity / 63.546).derivative()

for line in sys.stdin:
    grams, area, emissivity, change, gain, flame, room, loss, start, *times = map(
        float, line.split()
    )
    flame, room, start, area = flame + 273.15, room + 273.15, start + 273.15, area * 1e-6

    def slope(t):
        watt = gain * (flame - t)
        at = emissivity * (1 + change * (t - 773.15))
        watt -= at * Stefan_Boltzmann * area * (t**4 - room**4)
        watt -= loss * area * (t - room)
        return watt / (grams * heat_capacity(t))

    low, high = 373.15, 973.15
    ends = [low, *kelvin[(kelvin > low) & (kelvin < high)], high]
    by_quadrature = sum(
        quad(lambda t: 1 / abs(slope(t)), a, b, epsabs=1e-12, epsrel=1e-12)[0]
        for a, b in zip(ends, ends[1:])
    )

    def reaches(limit):
        def event(_, y):
            return y[0] - limit

        return event

    solved = solve_ivp(
        lambda _, y: [slope(y[0])],
        (0, max(times)),
        [start],
        method="DOP853",
        events=[reaches(low), reaches(high)],
        t_eval=times,
        max_step=0.2,
        rtol=1e-12,
        atol=1e-11,
    )
    by_solver = abs(solved.t_events[1][0] - solved.t_events[0][0])
    print(f"{by_quadrature:.12g} {by_solver:.12g}", *(f"{t - 273.15:.12g}" for t in solved.y[0]))
