"""From bad set-ups to all seven settings in tolerance by the proposed moves alone, with hands that are not perfect.

    .venv/bin/python benchmarks/closed_loop.py [--decks 200] [--seed 1]

Every deck is out in all seven settings at random. Its simulated specialist reads what is not read or stale with gauges
that err, makes the proposed move with hands that err, and goes on until all seven are shown in tolerance. Readings are
not moves. The peer sets the same decks in a fixed textbook order: each setting in turn by its own adjuster to its aim,
round after round, leaving out what is shown in tolerance. Printed for both are the median and the 90 % point of the
moves, the share that arrives, and the moves that left the maker's force range or an adjuster's range, even in passing;
for the proposed moves also how often all seven were truly in tolerance in the end, and the processor time of one
proposal.
"""

from __future__ import annotations

import argparse
import math
import os
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import numpy as np

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.observations import Observation
from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.estimate.settings import SETTING_KEYS, settings_of
from groovewright.bench.moves.hands import Hands
from groovewright.bench.moves.headshell_limits import HeadshellLimits
from groovewright.bench.moves.next_move import next_step
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.conformity import IN_TOLERANCE
from groovewright.measurement.quantity import Quantity
from groovewright.simulate.bench_deck import bad_set_up, gauges_of, made_by_hand
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments
from groovewright.tonearm.tracking_force import STANDARD_GRAVITY_M_S2

MOST_MOVES, MOST_READINGS = 40, 150
LIMITS, HANDS = HeadshellLimits(), Hands()
GAUGE_OF = {
    "effective_length": "overhang",
    "tracking_force": "tracking_force",
    "side_force": "side_force_rest",
    "zenith": "null_angle",
    "azimuth": "azimuth_rotation",
    "stylus_rake_angle": "stylus_rake_angle",
    "vertical_tracking_angle": "vertical_tracking_angle",
}


@dataclass
class Course:
    """How one deck went."""

    arrived: bool
    moves: int
    readings: int
    left_limits: int
    truly_conforms: bool
    why: str
    seconds: list[float]


class Bench:
    """One deck on the bench, with all that was read and done."""

    def __init__(self, seed):
        self.rng = rng = np.random.default_rng((2026, seed))
        distance_mm = float(rng.uniform(200, 260))
        known = Quantity.measured(distance_mm, "mm", standard_uncertainty=0.3, source="first measurement")
        targets = choose_targets(TargetRequest(known, "minimax", 60.325, 146.05))
        lowest = float(rng.uniform(12, 22))
        self.force_range = lowest, lowest + float(rng.uniform(3, 6))
        self.targets = setting_targets(targets, force_range_mn=self.force_range)
        self.deck, self.build = bad_set_up(self.targets.geometry, self.force_range, rng)
        self.gauges = {gauge.kind: gauge for gauge in gauges_of(rng)}
        self.observations, self.moves, self.count, self.left_limits = [], [], 0, 0
        self.read("pivot_to_spindle")
        for kind in GAUGE_OF.values():
            self.read(kind)

    def read(self, kind):
        self.count += 1
        radius_mm = self.targets.geometry.null_radii_mm[1] if kind == "null_angle" else self.targets.middle_mm
        quantity = self.gauges[kind].read(self.deck, radius_mm, self.count, self.rng)
        at = radius_mm if kind == "null_angle" else None
        self.observations.append(Observation(kind, quantity, self.count, f"{kind} {self.count}", at))

    @property
    def inputs(self):
        return DeckInputs(self.targets, self.build, tuple(self.observations), tuple(self.moves))

    def fresh_state(self):
        """Read what is stale, and return the state then."""
        state = deck_state(self.inputs)
        stale = [setting.key for setting in state.settings if setting.basis == "calculated"]
        for key in stale:
            self.read(GAUGE_OF[key])
        return deck_state(self.inputs) if stale else state

    def make(self, amounts, hand):
        """Make a move with this hand, and count whether anything was left on the way that must not be."""
        made = made_by_hand(amounts, hand, self.rng).as_array()
        before = max(self.past_force(self.deck), 0.0)
        stages = [self.deck.moved(Adjustments.from_array(np.where(np.arange(7) <= k, made, 0))) for k in range(7)]
        self.deck = stages[-1]
        # Whoever starts outside may be outside, but no farther than that.
        left = any(self.past_force(stage) > before + 1e-9 for stage in stages)
        for name, stands in zip(ADJUSTERS, self.deck.adjusted.as_array(), strict=True):
            lowest, highest = ADJUSTER_TABLE[name].usual_range
            left |= not lowest <= stands <= highest
        self.left_limits += left
        self.count += 1
        self.moves.append(Move(amounts, hand, self.count, f"move {len(self.moves) + 1}"))

    def past_force(self, deck):
        force_mn = deck.state.tracking_force_mn
        return max(self.force_range[0] - force_mn, force_mn - self.force_range[1])

    def course(self, arrived, why, seconds=()):
        true = settings_of(self.deck.state, self.targets)
        conforms = all(
            (limit := self.targets.tolerances[key]).lower <= value <= limit.upper
            for key, value in zip(SETTING_KEYS, true, strict=True)
        )
        readings = len(self.observations)
        return Course(arrived, len(self.moves), readings, self.left_limits, conforms, why, list(seconds))


def by_proposals(seed):
    bench, seconds = Bench(seed), []
    while len(bench.moves) < MOST_MOVES and len(bench.observations) < MOST_READINGS:
        state = bench.fresh_state()
        began = time.process_time()
        step = next_step(bench.inputs, state, LIMITS, HANDS)
        seconds.append(time.process_time() - began)
        if step.kind == "move":
            bench.make(step.move.amounts, step.move.hand)
        elif step.kind == "read first":
            bench.read(GAUGE_OF[step.read.key])
        else:
            return bench.course(step.kind == "all in tolerance", step.sentence, seconds)
    return bench.course(False, step.sentence, seconds)


def textbook_move(bench, state, keys):
    """Return the move that brings settings to their aims as if nothing disturbed anything else."""
    off = {key: state.setting(key).quantity.value - bench.targets.aims[key] for key in keys}
    length_mm = bench.targets.geometry.effective_length_mm
    per_degree_mm = length_mm * math.pi / 180
    per_mm_mn = bench.build.counterweight_mass_g * STANDARD_GRAVITY_M_S2 / length_mm
    amounts = {}
    for key, error in off.items():
        name, per_unit = {
            "effective_length": ("slide_mm", 1.0),
            "zenith": ("turn_deg", 1.0),
            "tracking_force": ("counterweight_mm", 1 / per_mm_mn),
            "side_force": ("compensation_mn", -1.0),
            "azimuth": ("roll_deg", 1.0),
            "stylus_rake_angle": ("arm_height_mm", per_degree_mm),
            "vertical_tracking_angle": ("arm_height_mm", per_degree_mm),
        }[key]
        amounts[name] = -error * per_unit
    return Adjustments(**amounts)


# Length and zenith are set with one loosening of the screws, as by the proposed moves.
TEXTBOOK = (
    ("tracking_force",),
    ("effective_length", "zenith"),
    ("stylus_rake_angle",),
    ("vertical_tracking_angle",),
    ("azimuth",),
    ("side_force",),
)


def by_textbook(seed):
    bench, place = Bench(seed), 0
    while len(bench.moves) < MOST_MOVES and len(bench.observations) < MOST_READINGS:
        state = bench.fresh_state()
        wrong = {setting.key for setting in state.settings if setting.verdict.outcome != IN_TOLERANCE}
        if not wrong:
            return bench.course(True, "")
        keys = [key for key in TEXTBOOK[place % len(TEXTBOOK)] if key in wrong]
        place += 1
        if keys:
            amounts = textbook_move(bench, state, keys)
            bench.make(amounts, HANDS.uncertainty(amounts))
    return bench.course(False, "out of moves")


def summary(name, courses):
    arrived = [course.moves for course in courses if course.arrived]
    # One that never arrives counts as the most moves.
    moves = [course.moves if course.arrived else MOST_MOVES for course in courses]
    left = sum(course.left_limits for course in courses)
    made = sum(course.moves for course in courses)
    right = sum(course.truly_conforms for course in courses if course.arrived)
    readings = np.median([course.readings for course in courses])
    print(
        f"{name:<16} median {np.median(moves):4.1f} moves   90 % {np.quantile(moves, 0.9):4.1f}   "
        f"arrive {len(arrived)}/{len(courses)}   truly conform then {right}/{len(arrived)}   "
        f"moves outside limits {left} of {made}   median readings {readings:.0f}"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--decks", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="first deck")
    parser.add_argument("--workers", type=int, default=1)
    given = parser.parse_args()
    seeds = range(given.seed, given.seed + given.decks)
    with ProcessPoolExecutor(given.workers) as pool:
        proposed = list(pool.map(by_proposals, seeds))
        textbook = list(pool.map(by_textbook, seeds))
    summary("proposed moves", proposed)
    summary("textbook order", textbook)
    milliseconds = 1e3 * np.array([second for course in proposed for second in course.seconds])
    middle, most = np.quantile(milliseconds, (0.5, 0.95))
    print(f"one proposal     processor time: median {middle:.0f} ms   95 % {most:.0f} ms")
    for seed, course in zip(seeds, proposed, strict=True):
        if not course.arrived:
            print(f"deck {seed}: {course.moves} moves, {course.readings} readings: {course.why}")


if __name__ == "__main__":
    main()
