"""The fit of a determination by scipy: least_squares over solve_ivp, two calls for each trial.

Reads three lines: grams, square millimetres, room degC; then pairs of seconds and degC of the
heating; then of the cooling. Prints gain W/K, flame K, loss W/(m2 K), emissivity, and their standard
uncertainties.
"""

import bisect
import sys
from pathlib import Path

import numpy as np
from scipy.constants import Stefan_Boltzmann
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import least_squares

TABLE = Path(__file__).resolve().parents[2] / "open-data" / "tables" / "JANAF_Cu-001.txt"
# Where a fit begins: gain, flame, loss, emissivity.
START = [7e-3, 1750.0, 15.0, 0.3]
# Readings further off than this many times the scatter count less.
WILD = 2.5


def table():
    """The heat capacity in J/(g K): kelvin of the rows, and a polynomial for each piece."""
    rows = []
    for line in TABLE.read_text(encoding="utf-8").splitlines()[2:]:
        cells = line.split("\t")
        if 200 <= float(cells[0]):
            rows.append((float(cells[0]), float(cells[1]), 1000 * float(cells[4])))
        if float(cells[0]) >= 1358:
            break
    kelvin, capacity, enthalpy = np.array(rows).T
    pieces = CubicHermiteSpline(kelvin, enthalpy / 63.546, capacity / 63.546).derivative()
    return list(kelvin), [list(map(float, piece)) for piece in pieces.c.T]


KELVIN, PIECES = table()


def heat_capacity(t):
    piece = min(max(bisect.bisect_right(KELVIN, t) - 1, 0), len(PIECES) - 1)
    square, linear, constant = PIECES[piece]
    x = t - KELVIN[piece]
    return constant + x * (linear + x * square)


def fit(known, heating, cooling):
    """`known`: grams, m2, room K; `heating` and `cooling`: arrays of seconds and of kelvin."""
    grams, area, room = known
    radiating = Stefan_Boltzmann * area

    def course(times, start, gain, flame, loss, emissivity):
        def slope(_, y):
            t = y[0]
            watt = gain * (flame - t) - emissivity * radiating * (t**4 - room**4)
            return [(watt - loss * area * (t - room)) / (grams * heat_capacity(t))]

        since = times - times[0]
        ends = (0, since[-1])
        solved = solve_ivp(slope, ends, [start], t_eval=since, rtol=1e-8, atol=1e-6).y[0]
        # A trial too wild to be solved to the end is told to be far off.
        return np.concatenate([solved, np.full(len(since) - len(solved), 1e4)])

    def residuals(p):
        gain, flame, loss, emissivity, first, second = p
        hot = course(heating[0], first, gain, flame, loss, emissivity)
        cold = course(cooling[0], second, 0.0, flame, loss, emissivity)
        return np.concatenate([hot - heating[1], cold - cooling[1]])

    # The scatter, from how three neighbours bend.
    bends = [np.diff(part[1], 2) / np.sqrt(6) for part in (heating, cooling)]
    scatter = 1.4826 * np.median(np.abs(np.concatenate(bends)))
    start = [*START, heating[1][0], cooling[1][0]]
    # The solver's own error would drown the differences that are taken by default.
    how = {"x_scale": "jac", "loss": "huber", "diff_step": 1e-4}
    found = least_squares(residuals, start, f_scale=WILD * scatter, **how)
    off = residuals(found.x)
    scatter = 1.4826 * np.median(np.abs(off))
    found = least_squares(residuals, found.x, f_scale=WILD * scatter, **how)
    off = residuals(found.x)
    squares = np.clip(off, -WILD * scatter, WILD * scatter) ** 2
    inside = np.mean(np.abs(off) <= WILD * scatter)
    # Huber's covariance, with derivatives of the residuals themselves.
    steps = 1e-4 * np.abs(found.x)
    columns = [
        (residuals(found.x + step) - residuals(found.x - step)) / (2 * step[n])
        for n, step in enumerate(np.diag(steps))
    ]
    matrix = np.array(columns) @ np.array(columns).T
    size = np.sqrt(np.diag(matrix))
    inverse = np.linalg.inv(matrix / np.outer(size, size)) / np.outer(size, size)
    covariance = inverse * squares.sum() / (len(off) - 6) / inside**2
    return found.x, np.sqrt(np.diag(covariance))


def main():
    lines = [np.array(list(map(float, line.split()))) for line in sys.stdin]
    grams, area, room = lines[0]
    parts = [(line[0::2], line[1::2] + 273.15) for line in lines[1:]]
    values, unsure = fit((grams, area * 1e-6, room + 273.15), *parts)
    print(*(f"{value:.12g}" for value in values[:4]))
    print(*(f"{value:.12g}" for value in unsure[:4]))


if __name__ == "__main__":
    main()
