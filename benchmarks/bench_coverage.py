"""Whether the joint estimate of the bench is honest: its intervals over a thousand simulated decks, and its verdicts.

    .venv/bin/python benchmarks/bench_coverage.py [decks]

Each deck has a true arm, built a little otherwise than the bench believes, standing somewhere at random. It is read
with gauges that have errors of their own, errors that all readings with one gauge share, and repeats of which only few
were made. Moves are made between readings by a hand that misses what was asked, and the true arm follows the full model
in three dimensions, not the couplings that the bench carries readings with.

Printed is, for each of the seven settings, how often the stated 95 % interval holds the truth (wanted: 93 to 97 %), and
how often "in tolerance" was said of a setting that is not, beside the risk that the rule states. A setting that counts
as not read has no interval and is left out.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import dataclass, fields, replace

import numpy as np

from groovewright.bench.estimate.deck_inputs import DeckInputs
from groovewright.bench.estimate.deck_state import deck_state
from groovewright.bench.estimate.moves import Move
from groovewright.bench.estimate.observations import KINDS_OF_READING, Observation, predict
from groovewright.bench.estimate.setting_targets import setting_targets
from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS, settings_of
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.measurement.conformity import IN_TOLERANCE, DecisionRule
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_model import arm_state
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments, ArmState
from groovewright.tonearm.geometry import Geometry

DECKS = 1_000
RISK = 0.05
INNERMOST_MM, OUTERMOST_MM = 60.325, 146.05

# One standard deviation of the true arm about its targets, in the order of STATE: decks as they are brought in, a
# third of them almost right.
SPREAD = np.array([2.0, 0.8, 1.5, 1.5, 0.5, 0.0577, 0.8, 1.2, 1.2])
ALMOST_RIGHT = 0.25

# What the bench believes of masses and places is wrong by this share.
BUILD_ERROR = 0.1
BUILT = (
    "cartridge_mass_g",
    "counterweight_mass_g",
    "cartridge_centre_forward_mm",
    "cartridge_centre_up_mm",
    "pivot_height_mm",
)

# Kind, standard uncertainty of the gauge's shared error, that of each reading, gauge.
GAUGES = {
    "effective_length": (0.2, 0.3, "rule"),
    "overhang": (0.1, 0.12, "overhang gauge"),
    "pivot_to_spindle": (0.2, 0.15, "rule"),
    "effective_length_error": (0.05, 0.15, "arc plate"),
    "offset_angle": (0.2, 0.3, "camera from above"),
    "zenith_error": (0.15, 0.2, "camera from above"),
    "null_angle": (0.12, 0.2, "mirror"),
    "tracking_force": (0.06, 0.05, "scale"),
    "compensation_force": (0.08, 0.1, "thread and scale"),
    "side_force_rest": (0.08, 0.12, "thread and scale"),
    "friction_coefficient": (0.02, 0.02, "ladder"),
    "azimuth_rotation": (0.05, 0.08, "test record"),
    "stylus_rake_angle": (0.15, 0.25, "camera from the side"),
    "vertical_tracking_angle": (0.3, 0.3, "camera from the side"),
    "vertical_tracking_angle_error": (0.3, 0.4, "test record, vertical"),
}
HAND = np.array([0.12, 0.25, 0.15, 0.2, 0.05, 0.12, 0.15])
REACH = np.array([0.8, 0.8, 0.4, 1.5, 0.2, 0.5, 0.5])
REPEATS = 6


@dataclass(frozen=True)
class SimulatedDeck:
    """What the bench is told, and the truth of the seven settings in the end."""

    inputs: DeckInputs
    truth: np.ndarray


@dataclass
class Tally:
    """Counts of one setting."""

    stated: int = 0
    held: int = 0
    in_tolerance: int = 0
    false: int = 0
    expected_false: float = 0.0


class Bench:
    """One true deck at which readings and moves are made, in their order."""

    def __init__(self, generator: np.random.Generator) -> None:
        self.generator = generator
        self.order = 0
        self.readings: list[Observation] = []
        self.moves: list[Move] = []
        self.made = np.zeros(len(ADJUSTERS))
        self.shared: dict[str, float] = {}
        distance_mm = float(generator.uniform(205, 260))
        request = TargetRequest(
            Quantity.measured(distance_mm, "mm", standard_uncertainty=0.5, source="first look"),
            "minimax",
            INNERMOST_MM,
            OUTERMOST_MM,
        )
        chosen = choose_targets(request).geometry
        assert chosen is not None
        self.believed = usual_build(chosen)
        self.targets = setting_targets(choose_targets(request), force_range_mn=(16.0, 20.0))
        spread = SPREAD * (ALMOST_RIGHT if generator.random() < 1 / 3 else 1.0)
        # The friction is anywhere within its usual limits.
        spread[5] = SPREAD[5]
        start = arm_state(self.believed).as_array() + spread * generator.uniform(-math.sqrt(3), math.sqrt(3), 9)
        self.true_build = self.build_of(ArmState.from_array(start))

    def build_of(self, start: ArmState):
        """The arm that stands so, its masses and places otherwise than believed."""
        values = {field.name: getattr(self.believed, field.name) for field in fields(self.believed)}
        for name in BUILT:
            values[name] *= 1 + BUILD_ERROR * self.generator.normal()
        values |= {
            "geometry": Geometry(start.pivot_to_spindle_mm, start.effective_length_mm, start.offset_angle_deg),
            "tracking_force_mn": start.tracking_force_mn,
            "compensation_mn": start.compensation_mn,
            "friction_coefficient": start.friction_coefficient,
            "azimuth_deg": start.azimuth_deg,
            "stylus_rake_angle_deg": start.stylus_rake_angle_deg,
            "vertical_tracking_angle_deg": start.vertical_tracking_angle_deg,
        }
        return replace(self.believed, **values)

    @property
    def true_state(self) -> ArmState:
        return arm_state(self.true_build, Adjustments.from_array(self.made))

    def read(self, kind: str, radius_mm: float | None = None) -> None:
        shared, own, gauge = GAUGES[kind]
        unit_of_error = self.shared.setdefault(gauge, float(self.generator.normal()))
        truth = predict(kind, self.true_state, self.targets, radius_mm=radius_mm).value
        self.order += 1
        label = f"{kind} {self.order}"
        if self.generator.random() < 0.3:
            # Few repeats, whose scatter is all that is known of their spread.
            repeats = truth + own * math.sqrt(REPEATS) * self.generator.normal(size=REPEATS)
            value, spread = float(repeats.mean()), float(repeats.std(ddof=1) / math.sqrt(REPEATS))
            source = Source(label, REPEATS - 1)
        else:
            value, spread, source = truth + own * float(self.generator.normal()), own, Source(label)
        unit = KINDS_OF_READING[kind].unit
        quantity = Quantity(value + shared * unit_of_error, unit, {Source(gauge): shared, source: spread})
        self.readings.append(Observation(kind, quantity, self.order, label, radius_mm))

    def move(self, adjusters: list[int]) -> None:
        self.order += 1
        asked, missed, hand = np.zeros(7), np.zeros(7), np.zeros(7)
        for k in adjusters:
            asked[k], hand[k] = REACH[k] * self.generator.normal(), HAND[k]
            missed[k] = HAND[k] * self.generator.normal()
        self.made = self.made + asked + missed
        self.moves.append(
            Move(Adjustments.from_array(asked), Adjustments.from_array(hand), self.order, f"move {self.order}")
        )


def simulated_deck(seed: int) -> SimulatedDeck:
    """Return one deck with its readings and moves."""
    generator = np.random.default_rng(seed)
    bench = Bench(generator)
    null_radii = bench.targets.geometry.null_radii_mm
    bench.read("pivot_to_spindle")
    for _ in range(int(generator.integers(1, 4))):
        look_around(bench, generator, null_radii)
        if generator.random() < 0.8:
            bench.move(list(generator.choice(len(ADJUSTERS), size=generator.integers(1, 3), replace=False)))
    for kind in ("overhang", "zenith_error", "tracking_force", "side_force_rest", "azimuth_rotation"):
        if generator.random() < 0.4:
            bench.read(kind)
    inputs = DeckInputs(
        bench.targets,
        bench.believed,
        tuple(bench.readings),
        tuple(bench.moves),
        rule=DecisionRule.of_maximum_risk(RISK),
    )
    return SimulatedDeck(inputs, settings_of(bench.true_state, bench.targets))


def look_around(bench: Bench, generator: np.random.Generator, null_radii: tuple[float, ...]) -> None:
    """Read some of everything, each in one of the ways that it can be read."""
    for ways in (
        ("overhang", "effective_length", "effective_length_error"),
        ("offset_angle", "zenith_error", "null_angle"),
        ("tracking_force",),
        ("compensation_force", "side_force_rest"),
        ("friction_coefficient",),
        ("azimuth_rotation",),
        ("stylus_rake_angle",),
        ("vertical_tracking_angle", "vertical_tracking_angle_error"),
    ):
        if generator.random() < 0.2:
            continue
        way = str(generator.choice(ways))
        if way == "null_angle":
            for radius_mm in null_radii:
                bench.read(way, radius_mm)
        else:
            bench.read(way)


def run(decks: int, first_seed: int = 0) -> dict[str, Tally]:
    """Return the counts of every setting over so many decks."""
    tallies = {key: Tally() for key in SETTING_KEYS}
    for seed in range(first_seed, first_seed + decks):
        deck = simulated_deck(seed)
        for setting, truth in zip(deck_state(deck.inputs).settings, deck.truth, strict=True):
            if setting.quantity is None or setting.verdict is None or setting.tolerance is None:
                continue
            tally, limits = tallies[setting.key], setting.tolerance
            low, high = coverage_interval(setting.quantity)
            tally.stated += 1
            tally.held += low <= truth <= high
            if setting.verdict.outcome == IN_TOLERANCE:
                tally.in_tolerance += 1
                tally.false += not limits.lower <= truth <= limits.upper
                tally.expected_false += 1 - setting.verdict.probability_of_conformity
    return tallies


def main() -> None:
    decks = int(sys.argv[1]) if len(sys.argv) > 1 else DECKS
    started = time.perf_counter()
    tallies = run(decks)
    took = time.perf_counter() - started
    print(f"{decks} decks, {1000 * took / decks:.0f} ms each with their simulation")
    print(f"{'setting':<26}{'intervals':>10}{'hold truth':>12}{'in tol.':>9}{'false':>7}{'rate':>8}{'stated':>9}")
    for key, tally in tallies.items():
        print(
            f"{SETTINGS[key].title:<26}{tally.stated:>10}{100 * tally.held / tally.stated:>11.1f}%"
            f"{tally.in_tolerance:>9}{tally.false:>7}{100 * tally.false / max(tally.in_tolerance, 1):>7.1f}%"
            f"{100 * RISK:>8.0f}%"
        )
    stated, false = (sum(getattr(t, name) for t in tallies.values()) for name in ("in_tolerance", "false"))
    print(
        f"false 'in tolerance' over all seven: {100 * false / stated:.2f} % of {stated}, stated risk {100 * RISK:.0f} %"
    )


if __name__ == "__main__":
    main()
