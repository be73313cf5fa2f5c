"""The exact optimum beside the plain scipy way, in one run: time, and how good each answer is on a dense grid.

Run: python benchmarks/optimum.py
"""

from __future__ import annotations

import math
import statistics
import time

import numpy as np
from scipy.optimize import differential_evolution, minimize

from groovewright.tonearm.criteria import closed_form_geometry
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.optimum import optimum

INNERMOST_MM, OUTERMOST_MM = 60.325, 146.05
DISTANCE_MM = 222.0
PLAIN = np.linspace(INNERMOST_MM, OUTERMOST_MM, 1001)
DENSE = np.linspace(INNERMOST_MM, OUTERMOST_MM, 200_001)
BOX = [(DISTANCE_MM - 20.0, DISTANCE_MM + 40.0), (0.0, 45.0)]


def value(at, objective, radius_mm):
    error = np.tan(np.radians(Geometry(DISTANCE_MM, at[0], at[1]).tracking_error_deg(radius_mm))) / radius_mm
    if objective == "peak":
        return float(np.abs(error).max())
    return math.sqrt(float(np.trapezoid(error**2, radius_mm)) / (OUTERMOST_MM - INNERMOST_MM))


def ours(objective):
    best = optimum(
        objective, innermost_mm=INNERMOST_MM, outermost_mm=OUTERMOST_MM, pivot_to_spindle_mm=DISTANCE_MM
    ).geometry
    return best.effective_length_mm, best.offset_angle_deg


def nelder_mead(objective):
    start = closed_form_geometry(
        "minimax", pivot_to_spindle_mm=DISTANCE_MM, innermost_mm=INNERMOST_MM, outermost_mm=OUTERMOST_MM
    )
    found = minimize(
        lambda at: 1e4 * value(at, objective, PLAIN),
        [start.effective_length_mm, start.offset_angle_deg],
        method="Nelder-Mead",
        bounds=BOX,
        options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 2000},
    )
    return tuple(found.x)


def global_search(objective):
    found = differential_evolution(lambda at: 1e4 * value(at, objective, PLAIN), BOX, seed=1, tol=1e-10)
    return tuple(found.x)


def median_time(way, objective, repeats):
    way(objective)
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        answer = way(objective)
        times.append(time.perf_counter() - begun)
    return statistics.median(times), answer


def main():
    print(f"{'objective':10}{'way':32}{'median':>11}{'ratio':>9}{'value on 200001 radii':>24}{'above ours':>13}")
    for objective in ("peak", "rms"):
        rows = [
            ("this program", *median_time(ours, objective, 200)),
            ("scipy minimize, Nelder-Mead", *median_time(nelder_mead, objective, 10)),
            ("scipy differential_evolution", *median_time(global_search, objective, 3)),
        ]
        base_time, base_value = rows[0][1], value(rows[0][2], objective, DENSE)
        for name, seconds, answer in rows:
            rating = value(answer, objective, DENSE)
            excess = rating / base_value - 1
            print(
                f"{objective:10}{name:32}{seconds * 1e3:8.2f} ms{seconds / base_time:8.0f}x"
                f"{rating:24.12e}{excess:13.1e}"
            )


if __name__ == "__main__":
    main()
