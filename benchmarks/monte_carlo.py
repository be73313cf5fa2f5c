"""A million Monte Carlo draws of a gauge chain through the true geometry, beside two obvious ways.

    .venv/bin/python benchmarks/monte_carlo.py

The chain: a beam of four parts and three joints with clearance sets the pivot-to-spindle distance, and a gauge on it
reads the effective length. Out come overhang, tracking error at both ends of the groove range and their 95 % intervals.
The first other way draws with scipy.stats and takes percentiles, array by array. The second calls the model once a
draw with plain floats; it is timed on fewer draws and scaled up. All three run in this one process.
"""

from __future__ import annotations

import math
import time

import numpy as np
from scipy import stats

from groovewright.measurement.distributions import Normal, Rectangular, StudentT, Triangular
from groovewright.measurement.model import Measurement
from groovewright.tonearm.tracking import tracking_error

DRAWS = 1_000_000
SLOW_DRAWS = 20_000
RUNS = 5
INNERMOST_MM, OUTERMOST_MM, OFFSET_DEG = 60.325, 146.05, 22.9855
OUTPUTS = ("overhang", "error_inside", "error_outside")


def chain(*, beam, spindle_joint, slide_joint, pivot_joint, graduation, reading, offset):
    distance = beam + spindle_joint + slide_joint + pivot_joint
    length = distance + 17.296 + graduation + reading
    angle = {"effective_length_mm": length, "pivot_to_spindle_mm": distance, "offset_angle_deg": offset}
    return {
        "overhang": length - distance,
        "error_inside": tracking_error(INNERMOST_MM, **angle),
        "error_outside": tracking_error(OUTERMOST_MM, **angle),
    }


GAUGE_CHAIN = Measurement(
    chain,
    {
        "beam": Normal(222.0, 0.05),
        "spindle_joint": Rectangular(-0.05, 0.05),
        "slide_joint": Triangular(-0.03, 0.03),
        "pivot_joint": Rectangular(-0.2, 0.2),
        "graduation": Rectangular(-0.05, 0.05),
        "reading": StudentT(0.0, 0.08, 4),
        "offset": Normal(OFFSET_DEG, 0.2),
    },
    units={"overhang": "mm", "error_inside": "deg", "error_outside": "deg"},
)
SCIPY_INPUTS = {
    "beam": stats.norm(222.0, 0.05),
    "spindle_joint": stats.uniform(-0.05, 0.1),
    "slide_joint": stats.triang(0.5, -0.03, 0.06),
    "pivot_joint": stats.uniform(-0.2, 0.4),
    "graduation": stats.uniform(-0.05, 0.1),
    "reading": stats.t(4, 0.0, 0.08),
    "offset": stats.norm(OFFSET_DEG, 0.2),
}


def ours():
    drawn = GAUGE_CHAIN.monte_carlo(trials=DRAWS, seed=1)
    return {name: drawn[name].symmetric_interval() for name in OUTPUTS}


def scipy_arrays():
    generator = np.random.default_rng(1)
    drawn = chain(**{name: known.rvs(DRAWS, random_state=generator) for name, known in SCIPY_INPUTS.items()})
    return {name: tuple(np.percentile(drawn[name], [2.5, 97.5])) for name in OUTPUTS}


def scalar_error(radius, length, distance, offset):
    return math.degrees(math.asin((radius**2 + length**2 - distance**2) / (2 * radius * length))) - offset


def one_draw_at_a_time():
    generator = np.random.default_rng(1)
    drawn = {name: known.rvs(SLOW_DRAWS, random_state=generator) for name, known in SCIPY_INPUTS.items()}
    found = []
    for k in range(SLOW_DRAWS):
        at = {name: float(values[k]) for name, values in drawn.items()}
        distance = at["beam"] + at["spindle_joint"] + at["slide_joint"] + at["pivot_joint"]
        length = distance + 17.296 + at["graduation"] + at["reading"]
        inside = scalar_error(INNERMOST_MM, length, distance, at["offset"])
        found.append((length - distance, inside, scalar_error(OUTERMOST_MM, length, distance, at["offset"])))
    ends = np.percentile(np.array(found), [2.5, 97.5], axis=0).T
    return dict(zip(OUTPUTS, map(tuple, ends), strict=True))


def best_of(call, runs):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        found = call()
        times.append(time.perf_counter() - start)
    return min(times), found


def main():
    seconds, found = best_of(ours, RUNS)
    scipy_seconds, scipy_found = best_of(scipy_arrays, RUNS)
    slow_seconds, slow_found = best_of(one_draw_at_a_time, 2)
    slow_seconds *= DRAWS / SLOW_DRAWS
    print(f"{DRAWS:,} draws, {len(SCIPY_INPUTS)} inputs, {len(OUTPUTS)} outputs with their 95 % intervals")
    print(f"  one description, drawn at once    {seconds:8.3f} s   goal: under 1 s")
    print(f"  scipy.stats rvs and percentiles   {scipy_seconds:8.3f} s   {scipy_seconds / seconds:5.1f} times as long")
    print(f"  the model once a draw             {slow_seconds:8.3f} s   {slow_seconds / seconds:5.1f} times as long")
    print("95 % intervals, drawn at once | scipy | once a draw")
    for name in OUTPUTS:
        intervals = (f"[{low:8.4f}, {high:8.4f}]" for low, high in (found[name], scipy_found[name], slow_found[name]))
        print(f"  {name:14s} {'  '.join(intervals)}")


if __name__ == "__main__":
    main()
