"""How often the 95 % intervals of captures hold the truth on rough decks that the analysis knows nothing of.

    .venv/bin/python benchmarks/rough_coverage.py [--decks 40] [--seed 1] [--workers 1] [--worst 5]

Each deck, record and recorder is drawn at random by `rough_deck`, which shares no formula with the simulator. The
sheet has the record's nominal values and starts that are up to a tenth of a second early or late. For every quantity:
how many decks showed it, the share whose 95 % interval holds the truth (goal 92 to 98 %), the share that is off by more
than four standard uncertainties (goal at most 1 %), the root mean square of errors over uncertainties, the median
uncertainty and the root mean square error.

The truth of a deck's wow and flutter is that of a long run of it, without the record's own; that of speed, of the
platter; of crosstalk, balance and azimuth, of the cartridge and what follows at 1 kHz.
"""

from __future__ import annotations

import argparse
import functools
import math
import pickle
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
from rough_deck import FLUTTER_HZ, RATE_HZ, RoughDeck, arm_course, flutter_course, recording_of

from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.sheet.allowances import DEFAULT_ALLOWANCES
from groovewright.testtone.sheet.band_sheet import Band, BandSheet
from groovewright.testtone.speed.flutter_weighting import unweighted_gain, weighting_gain
from groovewright.testtone.speed.quasi_peak import quasi_peak
from groovewright.tonearm.geometry import Geometry

RPM = 100 / 3
SPEED_TONE_S = 16.0
SPEED_TONE_RADIUS_MM = 142.0
LONG_RUN_S = 480.0


def band(name, kind, cut, *, hz, velocity, radius_mm, seconds):
    return Band(name, kind, cut, hz, velocity, (radius_mm + 0.4, radius_mm), None, seconds)


def record():
    def tone(name, cut, hz, velocity, radius_mm):
        return band(name, "tone", cut, hz=(hz,), velocity=velocity, radius_mm=radius_mm, seconds=4.0)

    speed = {"hz": (3150.0,), "velocity": 5.0, "radius_mm": SPEED_TONE_RADIUS_MM, "seconds": SPEED_TONE_S}
    bands = [band("3150 Hz", "tone", "lateral", **speed)]
    bands += [tone(f"1 kHz {cut}", cut, 1000.0, 5.0, radius) for cut, radius in (("left", 139.0), ("right", 137.5))]
    bands += [tone(f"lateral {r:g}", "lateral", 1000.0, 8.0, r) for r in (136.0, 116.0)]
    bands += [tone("vertical outer", "vertical", 400.0, 4.0, 114.0)]
    bands += [
        band(f"sweep {cut}", "sweep", cut, hz=(28.0, 4.0), velocity=1.0, radius_mm=radius, seconds=14.0)
        for cut, radius in (("lateral", 111.0), ("vertical", 108.0))
    ]
    bands += [band("silence", "silence", "lateral", hz=(), velocity=None, radius_mm=105.0, seconds=8.0)]
    bands += [tone("lateral 92", "lateral", 1000.0, 8.0, 92.0), tone("vertical inner", "vertical", 400.0, 4.0, 66.0)]
    bands += [tone("lateral 64", "lateral", 1000.0, 8.0, 64.0)]
    start_s, placed = 1.5, []
    for one in bands:
        placed.append(replace(one, start_s=start_s))
        start_s += one.duration_s + 1.0
    return tuple(placed)


def drawn(rng):
    """A rough deck within what the guide allows."""
    target = 222.0 + rng.normal(0, 3)
    cutting = rng.uniform(20, 25)
    networks = tuple(tuple(rng.uniform(-5, 5) if k == 0 else rng.uniform(-4, 4) for k in range(3)) for _ in "lr")
    deck = RoughDeck(
        pivot_to_spindle=target,
        vertical_angle=cutting + rng.normal(0, 3),
        cutting_angle=cutting,
        azimuth=rng.normal(0, 1.2),
        leak=10 ** (rng.uniform(-42, -28) / 20) * np.exp(1j * rng.uniform(-1.2, 1.2)) * rng.choice([-1, 1]),
        balance_db=rng.normal(0, 0.7),
        second=rng.normal(0, 0.003),
        speed_percent=rng.normal(0, 0.3),
        eccentricity=rng.uniform(0.03, 0.4),
        eccentricity_phase=rng.uniform(0, 360),
        flutter_percent=rng.uniform(0.01, 0.08),
        flutter_band_hz=(rng.uniform(0.3, 1.0), rng.uniform(3, 15)),
        line_flutter=(rng.uniform(3, 12), rng.uniform(0.0, 0.06)),
        resonance=((rng.uniform(7, 13), rng.uniform(1.5, 4.5)), (rng.uniform(7, 14), rng.uniform(1.5, 4.5))),
        tip_um=rng.uniform(4, 18),
        networks_percent=networks,
        subsonic=None if rng.random() < 0.7 else (rng.uniform(12, 22), int(rng.integers(1, 3))),
        cut_azimuth=rng.normal(0, 0.3),
        cut_balance_db=rng.normal(0, 0.2),
        cut_level_db=rng.normal(0, 0.4),
        cut_scatter_db=0.15,
        cut_flutter_percent=rng.uniform(0.003, 0.02),
        cut_pitch_percent=rng.normal(0, 0.015),
        clock_ppm=rng.uniform(-60, 60),
        warp_mm=rng.uniform(0, 0.4),
        warp_waves=int(rng.integers(1, 4)),
        warp_lever=rng.uniform(0.03, 0.12),
        rumble_cm_s=tuple(10 ** (rng.uniform(-55, -38) / 20) * 3.5 for _ in "lv"),
        surface_cm_s=10 ** (rng.uniform(-66, -52) / 20) * 3.5,
        ticks_a_minute=rng.choice([0, 10, 60]),
        hum=(rng.choice([50.0, 60.0]) * (1 + rng.normal(0, 3e-4)), 10 ** (rng.uniform(-90, -65) / 20)),
        recorder_noise=10 ** (rng.uniform(-100, -80) / 20),
        level=10 ** (rng.uniform(-26, -16) / 20),
        starts_off_s=rng.uniform(-0.1, 0.1),
    )
    return deck


def arm(deck, rng):
    """What the arm should be set to, and the deck set up with errors of its own about it."""
    from groovewright.tonearm.geometry import geometry_from_nulls

    target = geometry_from_nulls(pivot_to_spindle_mm=deck.pivot_to_spindle, null_radii_mm=(65.998, 120.891))
    deck.effective_length = target.effective_length_mm + rng.normal(0, 1.0)
    deck.offset_angle = target.offset_angle_deg + rng.normal(0, 0.8)
    return target


def truths(deck, target: Geometry, rng):
    course = flutter_course(deck, LONG_RUN_S, rng)
    course += arm_course(deck, LONG_RUN_S, 2 * math.pi * RPM / 60 * SPEED_TONE_RADIUS_MM / 10, rng)

    def through(gain):
        hz = np.fft.rfftfreq(course.size, 1 / FLUTTER_HZ)
        return 100 * np.fft.irfft(np.fft.rfft(course - course.mean()) * gain(hz), n=course.size)

    weighted = through(weighting_gain)
    stretch = int(SPEED_TONE_S * FLUTTER_HZ)
    peaks = [
        quasi_peak(weighted[first : first + stretch], FLUTTER_HZ)
        for first in range(0, weighted.size - stretch, stretch)
    ]
    turn = math.radians(deck.azimuth)
    mixed = np.array([[1, deck.leak], [deck.leak, 1]]) @ np.array(
        [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    )
    into_left, into_right = mixed[0, 1] / mixed[0, 0], mixed[1, 0] / mixed[1, 1]
    leak = np.tan((np.arctan(into_left) + np.arctan(into_right)) / 2)
    found = {
        "speed_error": deck.speed_percent,
        "eccentricity": deck.eccentricity,
        "wow_flutter_weighted_2sigma_without_eccentricity": float(np.quantile(np.abs(weighted), 0.954500)),
        "wow_flutter_unweighted_2sigma_without_eccentricity": float(
            np.quantile(np.abs(through(unweighted_gain)), 0.954500)
        ),
        "wow_flutter_weighted_quasi_peak_without_eccentricity": float(np.median(peaks)),
        "azimuth_rotation": deck.azimuth,
        "crosstalk_left_into_right": 20 * math.log10(abs(into_right)),
        "crosstalk_right_into_left": 20 * math.log10(abs(into_left)),
        "crosstalk_leak": 20 * math.log10(abs(leak)),
        "channel_balance": deck.balance_db,
        "effective_length_error": deck.effective_length - target.effective_length_mm,
        "zenith_error": deck.offset_angle - target.offset_angle_deg,
        "vertical_tracking_angle_error": deck.vertical_angle - deck.cutting_angle,
        "resonance_lateral": deck.resonance[0][0],
        "resonance_lateral_q": deck.resonance[0][1],
        "resonance_vertical": deck.resonance[1][0],
        "resonance_vertical_q": deck.resonance[1][1],
    }
    true = Geometry(deck.pivot_to_spindle, deck.effective_length, deck.offset_angle)
    return found, true


def made(seed):
    """A deck, what it should be set to, its sheet and its recording."""
    rng = np.random.default_rng((71, seed))
    deck = drawn(rng)
    target = arm(deck, rng)
    cut = record()
    samples = recording_of(deck, cut, rng)
    sheet = BandSheet(
        True,
        RPM,
        tuple(
            replace(
                b,
                start_s=max(
                    0.0, b.start_s / (1 + deck.speed_percent / 100) + deck.starts_off_s + rng.uniform(-0.03, 0.03)
                ),
            )
            for b in cut
        ),
    )
    return deck, target, sheet, samples


def kept(seed, folder):
    """As `made`, or what was made before and kept in a folder."""
    if folder is None:
        return made(seed)
    path = Path(folder) / f"{seed}.pickle"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        deck, target, sheet, samples = made(seed)
        path.write_bytes(pickle.dumps((deck, target, sheet, samples.astype(np.float32))))
    return pickle.loads(path.read_bytes())


def one(seed, folder=None):
    deck, target, sheet, samples = kept(seed, folder)[:4]
    sheet = replace(sheet, allowances=DEFAULT_ALLOWANCES)
    truth, true = truths(deck, target, np.random.default_rng((72, seed)))
    began = time.perf_counter()
    found = analyse_capture(
        ArrayRecording(samples, RATE_HZ), sheet, geometry=target, progress=lambda share, doing: None
    )
    took = time.perf_counter() - began
    rows = {name: outcome(found.quantities.get(name), value) for name, value in truth.items()}
    entries = found.quantities.get("tracking_error", ())
    for name in ("lateral 136", "lateral 64"):
        entry = next((e for e in entries if e.band == name), None)
        value = 0.0 if entry is None else float(true.tracking_error_deg(entry.at.value))
        rows[f"tracking_error, {name}"] = outcome(None if entry is None else entry.quantity, value)
    return seed, rows, dict(found.not_shown), took, deck


def outcome(quantity: Quantity | None, true):
    if quantity is None or quantity.standard_uncertainty is None:
        return None
    low, high = coverage_interval(quantity)
    return quantity.value - true, quantity.standard_uncertainty, low <= true <= high, true


def table(outcomes, worst):
    heads = f"{'shown':>7s} {'held':>7s} {'> 4 u':>7s} {'error/u':>8s} {'median u':>10s} {'rms error':>10s}"
    print(f"{'quantity':54s} {heads}")
    every, far = 0, 0
    for name in outcomes[0][1]:
        shown = [(seed, rows[name]) for seed, rows, *_ in outcomes if rows[name] is not None]
        if not shown:
            print(f"{name:54s} {'never':>7s}")
            continue
        errors, u, held, true = np.array([row for _, row in shown], dtype=float).T
        ratio = errors / u
        every, far = every + ratio.size, far + int((np.abs(ratio) > 4).sum())
        print(
            f"{name:54s} {len(shown):3d}/{len(outcomes):3d} {100 * held.mean():5.0f} % "
            f"{100 * (np.abs(ratio) > 4).mean():5.1f} % "
            f"{np.sqrt(np.mean(ratio**2)):8.2f} {np.median(u):10.3g} {np.sqrt(np.mean(errors**2)):10.3g}"
        )
        order = np.argsort(-np.abs(ratio))[:worst]
        for k in order:
            if abs(ratio[k]) > 2.5:
                print(f"      deck {shown[k][0]}: true {true[k]:.4g}, off {errors[k]:+.3g}, {ratio[k]:+.1f} u")
    print(f"in all {every} values shown, {100 * far / max(every, 1):.2f} % off by more than 4 u")


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--decks", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--worst", type=int, default=0, help="decks to list under each quantity")
    parser.add_argument("--kept", help="folder in which recordings are kept from one run to the next")
    given = parser.parse_args()
    seeds = range(given.seed * 10_000, given.seed * 10_000 + given.decks)
    began = time.perf_counter()
    if given.workers == 1:
        outcomes = [one(seed, given.kept) for seed in seeds]
    else:
        with ProcessPoolExecutor(given.workers) as pool:
            outcomes = list(pool.map(functools.partial(one, folder=given.kept), seeds))
    took = time.perf_counter() - began
    print(f"{given.decks} rough decks in {took:.0f} s, of which {sum(row[3] for row in outcomes):.0f} s of measuring")
    table(outcomes, given.worst)
    reasons = {}
    for _, _, not_shown, *_ in outcomes:
        for name, why in not_shown.items():
            reasons.setdefault((name, why[:110]), []).append(1)
    for (name, why), times in sorted(reasons.items(), key=lambda item: -len(item[1]))[:20]:
        print(f"  not shown {len(times):3d} times: {name}: {why}")


if __name__ == "__main__":
    main()
