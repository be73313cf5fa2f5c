"""A million draws of the beam's chain of joints through the true geometry, beside a plain loop and `uncertainties`.

    .venv/bin/python benchmarks/gauge_chain.py

Ours is what `groovewright stack` and the gauges' page call: every joint drawn, set-ups by the true geometry, overhang,
errors of length and zenith, peaks of tracking error and distortion with their 95 % ends, and curves over the groove.
The plain loop draws each joint with Python's own random numbers and works out the same set-up and the same five results
draw by draw. `uncertainties` answers to first order in one go, without intervals and without the shape of a peak, which
is timed for itself; called once a draw as a plain loop would call it, it is the same work as ours. Loop and
`uncertainties` are timed on fewer draws and scaled up. Everything runs in this one process, on one core.
"""

from __future__ import annotations

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import math
import random
import time

import numpy as np
from uncertainties import ufloat, umath

from groovewright.gauges.chain_figures import chain_figures
from groovewright.gauges.ready_chains import beam_gauge
from groovewright.gauges.set_ups import GaugeAim
from groovewright.tonearm.geometry import geometry_from_nulls

DRAWS = 1_000_000
LOOP_DRAWS = 20_000
UNCERTAINTIES_DRAWS = 300
RUNS = 5
CHAIN = beam_gauge()
AIM = GaugeAim(geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(65.998, 120.891)), 60.325, 146.05)
PEAK_VELOCITY_CM_S, SPEED_RPM = 10.0, 100 / 3
RESULTS = ("overhang", "effective_length_error", "zenith_error", "peak_tracking_error", "peak_distortion")


def ours():
    found = chain_figures(CHAIN, AIM, peak_velocity_cm_s=PEAK_VELOCITY_CM_S, speed_rpm=SPEED_RPM, draws=DRAWS, seed=1)
    return {name: (found.figures[name].standard_uncertainty, found.figures[name].interval[1]) for name in RESULTS}


def larger(held, other):
    """Return the larger magnitude; numbers of `uncertainties` are compared by their best estimates."""
    first, second = (getattr(number, "nominal_value", number) for number in (held, other))
    if abs(second) <= first:
        return held
    return other if second > 0 else -other


def set_up(errors, maths):
    """Return the five results of one set-up; `maths` is the module whose functions take these numbers."""
    aim = AIM.geometry
    distance, overhang = aim.pivot_to_spindle_mm, aim.overhang_mm
    lines = math.radians(aim.offset_angle_deg)
    true_distance = distance + errors["pivot_to_spindle"]
    turn = maths.atan2(-errors["pivot_across"], distance)
    out, across = overhang + errors["stylus_radius"], errors["stylus_across"]
    cosine, sine = maths.cos(math.pi + turn), maths.sin(math.pi + turn)
    x, y = true_distance - (out * cosine - across * sine), -(out * sine + across * cosine)
    length = maths.sqrt(x * x + y * y) + errors["effective_length"]
    beta = lines + turn - maths.atan2(y, x) + errors["offset_angle"] * (math.pi / 180)
    product = aim.effective_length_mm**2 - distance**2
    target = maths.sqrt(true_distance * true_distance + product)
    zenith = beta - maths.asin(aim.linear_offset_mm / target)
    apart = length * length - true_distance * true_distance
    groove_speed = 2 * math.pi * SPEED_RPM / 60
    error = steepest = 0.0
    for radius in (AIM.innermost_mm, maths.sqrt(apart), AIM.outermost_mm):
        error = larger(error, maths.asin((radius * radius + apart) / (2 * radius * length)) - beta)
    for radius in (AIM.innermost_mm, apart / (length * maths.sin(beta)), AIM.outermost_mm):
        angle = maths.asin((radius * radius + apart) / (2 * radius * length)) - beta
        steepest = larger(steepest, maths.tan(angle) / radius)
    # The second harmonic is this to within a part in ten thousand.
    percent = 100 * 10 * PEAK_VELOCITY_CM_S / groove_speed * steepest
    degree = 180 / math.pi
    return length - true_distance, length - target, zenith * degree, error * degree, percent


def drawn_errors(generator):
    errors = dict.fromkeys(
        ("pivot_to_spindle", "pivot_across", "stylus_radius", "stylus_across", "effective_length", "offset_angle"), 0.0
    )
    for joint in CHAIN.joints:
        if joint.distribution == "normal":
            error = generator.gauss(0.0, joint.tolerance / 2)
        elif joint.distribution == "triangular":
            error = generator.triangular(-joint.tolerance, joint.tolerance)
        else:
            error = generator.uniform(-joint.tolerance, joint.tolerance)
        errors[joint.bears_on] += joint.slope * error
    return errors


def ends(found, draws):
    spread = np.std(found, axis=0, ddof=1)
    ordered = np.sort(found, axis=0)
    high, top = ordered[round(0.975 * draws) - 1], ordered[math.ceil(0.95 * draws) - 1]
    return {
        name: (float(spread[k]), float(top[k] if name.startswith("peak") else high[k]))
        for k, name in enumerate(RESULTS)
    }


def one_draw_at_a_time():
    generator = random.Random(1)
    found = np.array([set_up(drawn_errors(generator), math) for _ in range(LOOP_DRAWS)])
    return ends(found, LOOP_DRAWS)


def uncertain_errors(shift):
    errors = dict.fromkeys(
        ("pivot_to_spindle", "pivot_across", "stylus_radius", "stylus_across", "effective_length", "offset_angle"), 0.0
    )
    for joint in CHAIN.joints:
        errors[joint.bears_on] = errors[joint.bears_on] + joint.slope * ufloat(shift, joint.standard_uncertainty)
    return errors


def by_uncertainties(draws):
    # A shift of next to nothing keeps the peaks from lying at two radii at once.
    found = ()
    for k in range(draws):
        found = [result.std_dev for result in set_up(uncertain_errors(1e-9 * (k + 1)), umath)]
    return dict(zip(RESULTS, found, strict=True))


def best_of(call, runs):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        found = call()
        times.append(time.perf_counter() - start)
    return min(times), found


def main():
    seconds, found = best_of(ours, RUNS)
    loop_seconds, loop_found = best_of(one_draw_at_a_time, 2)
    loop_seconds *= DRAWS / LOOP_DRAWS
    single_seconds, single_found = best_of(lambda: by_uncertainties(1), RUNS)
    many_seconds, _ = best_of(lambda: by_uncertainties(UNCERTAINTIES_DRAWS), 2)
    many_seconds *= DRAWS / UNCERTAINTIES_DRAWS
    print(f"{CHAIN.name}: {len(CHAIN.joints)} joints, {DRAWS:,} draws, {len(RESULTS)} results with their 95 % ends")
    print(f"  all draws at once                          {seconds:10.3f} s   goal: under 1 s on one core")
    print(
        f"  a plain loop over draws, from {LOOP_DRAWS:,}        {loop_seconds:10.1f} s   "
        f"{loop_seconds / seconds:7.0f} times as long"
    )
    print(
        f"  uncertainties once a draw, from {UNCERTAINTIES_DRAWS}         {many_seconds:10.1f} s   "
        f"{many_seconds / seconds:7.0f} times as long"
    )
    print(f"  uncertainties, one first-order answer      {single_seconds:10.4f} s   no intervals, no shape of a peak")
    print("standard uncertainty (upper 95 % end): at once | loop | uncertainties, first order")
    for name in RESULTS:
        (u, top), (loop_u, loop_top) = found[name], loop_found[name]
        print(f"  {name:23s} {u:8.4f} ({top:8.4f})  {loop_u:8.4f} ({loop_top:8.4f})  {single_found[name]:8.4f}")


if __name__ == "__main__":
    main()
