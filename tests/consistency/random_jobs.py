"""Jobs made at random: every kind of reading, repeats, slips, moves known and unknown, captures, corrections."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.gauges.check_weights import weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.jobbook import capture_entries, content_store, entries
from groovewright.jobbook.gauge_uncertainty import with_gauge_uncertainty
from groovewright.jobbook.models import Job, Reading
from groovewright.jobbook.queries import next_reading_source
from groovewright.jobbook.reading_kinds import READING_UNITS
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments

STAGES = ("as found", "as left")

# Kind: what a deck shows that is nearly right, how far decks are off, uncertainty of a reading, text.
KINDS: dict[str, tuple[float, float, float]] = {
    "pivot_to_spindle": (222.0, 0.4, 0.3),
    "overhang": (17.3, 0.6, 0.15),
    "effective_length": (239.3, 0.6, 0.3),
    "effective_length_error": (0.0, 0.6, 0.12),
    "offset_angle": (23.0, 0.8, 0.3),
    "zenith_error": (0.0, 0.7, 0.2),
    "null_angle": (0.0, 0.7, 0.2),
    "compensation_force": (2.0, 0.4, 0.15),
    "side_force_rest": (0.0, 0.6, 0.15),
    "friction_coefficient": (0.3, 0.04, 0.02),
    "start_force_outward": (0.3, 0.2, 0.05),
    "start_force_inward": (4.0, 0.5, 0.1),
    "azimuth_rotation": (0.0, 0.6, 0.15),
    "stylus_rake_angle": (92.0, 1.0, 0.3),
    "vertical_tracking_angle": (22.0, 1.5, 0.5),
    "vertical_tracking_angle_error": (0.0, 1.5, 0.5),
}
FORCE_MN, FORCE_OFF_MN = 17.5, 1.6
REACH = dict(zip(ADJUSTERS, (0.8, 0.8, 0.5, 1.5, 0.3, 0.5, 0.5), strict=True))
HAND = dict(zip(ADJUSTERS, (0.1, 0.15, 0.15, 0.1, 0.05, 0.15, 0.15), strict=True))
CAPTURED = {
    "azimuth_rotation": (0.0, 0.5, 0.05, "deg"),
    "zenith_error": (0.0, 0.5, 0.1, "deg"),
    "effective_length_error": (0.0, 0.5, 0.1, "mm"),
    "speed_error": (0.1, 0.2, 0.01, "%"),
}
SHEET = """equalised = true
speed_rpm = "33 1/3"
[[bands]]
name = "tone"
kind = "tone"
cut = "lateral"
frequency_hz = 1000
radius_mm = [100, 99]
"""


@dataclass
class RandomJob:
    """One job, entered step by step."""

    job: Job
    chance: np.random.Generator
    rule: Any
    scale: Any
    truth: dict[str, float] = field(default_factory=dict)

    def true(self, kind: str) -> float:
        middle, spread, _ = KINDS[kind]
        return self.truth.setdefault(kind, middle + spread * float(self.chance.normal()))

    def read(self, kind: str, stage: str) -> None:
        unit = READING_UNITS[kind]
        _, _, u = KINDS[kind]
        value = self.true(kind) + u * float(self.chance.normal())
        if self.chance.random() < 0.05:
            value += 12 * u
        how = self.chance.random()
        radius = {"radius_mm": float(self.chance.choice((66.0, 120.9)))} if kind == "null_angle" else {}
        corrects = None
        if self.chance.random() < 0.06:
            corrects = Reading.objects.filter(job=self.job, kind=kind, corrected_by=None, withdrawn=False).last()
        repeats = 1
        if how < 0.12:
            quantity = Quantity.unknown_uncertainty(value, unit, why="none was stated with the entry")
        elif how < 0.25 and unit == "mm":
            repeats = int(self.chance.integers(2, 4))
            quantity = Quantity.unknown_uncertainty(value, unit, why="none was stated with the entry")
        else:
            quantity = Quantity.measured(value, unit, standard_uncertainty=u, source="x")
        for _ in range(repeats):
            one = quantity
            if repeats > 1:
                drawn = value + 0.05 * float(self.chance.normal())
                one = with_gauge_uncertainty(
                    Quantity.unknown_uncertainty(drawn, unit, why="none was stated with the entry"), self.rule
                )
            elif quantity.components:
                source = next_reading_source(self.job, kind)
                one = Quantity.measured(value, unit, standard_uncertainty=u, source=source)
            entries.record_reading(
                self.job,
                kind=kind,
                stage=stage,
                text=f"{one.value:.3f}",
                quantity=one,
                gauge=self.rule if repeats > 1 else None,
                corrects=corrects,
                **radius,
            )
            corrects = None

    def read_force(self, stage: str) -> None:
        true_mn = self.truth.setdefault("force", FORCE_MN + FORCE_OFF_MN * float(self.chance.normal()))
        for place in ("outer", "inner"):
            shown_g = round(true_mn / GRAM_FORCE_MN + 0.004 * float(self.chance.normal()), 2)
            quantity = Quantity.unknown_uncertainty(shown_g * GRAM_FORCE_MN, "mN", why="scale reading")
            entries.record_reading(
                self.job,
                kind="tracking_force",
                stage=stage,
                text=f"{shown_g} g",
                quantity=quantity,
                place=place,
                scale=self.scale,
            )

    def move(self) -> None:
        names = list(self.chance.choice(ADJUSTERS, size=int(self.chance.integers(1, 3)), replace=False))
        amounts = {name: round(REACH[name] * float(self.chance.normal()), 2) for name in names}
        unknown = frozenset(name for name in names if self.chance.random() < 0.25)
        known = {name: amount for name, amount in amounts.items() if name not in unknown}
        entries.record_adjustment(
            self.job,
            amounts=Adjustments(**known),
            uncertainties=Adjustments(**{name: HAND[name] for name in known}),
            unknown=unknown,
        )

    def capture(self, stage: str) -> None:
        sheet = capture_entries.add_capture(
            self.job, stage=stage, name="a.wav", size=4, file_sha256=content_store.keep(b"tone"), sheet_text=SHEET
        )
        quantities = {
            name: Quantity.measured(
                middle + spread * float(self.chance.normal()), unit, standard_uncertainty=u, source=f"noise of {name}"
            ).as_record()
            for name, (middle, spread, u, unit) in CAPTURED.items()
        }
        result = {
            "recording": {"form": "WAV", "sample_rate_hz": 48e3, "channel_count": 2, "duration_s": 9.0, "peak": 0.5},
            "quantities": quantities,
            "not_shown": {},
            "notes": [],
            "bands": [],
        }
        capture_entries.enter_capture(capture_entries.record_analysis(sheet, result=result, refusal="", pictures=None))


def make_random_job(seed: int) -> Job:
    """Enter one job at random."""
    chance = np.random.default_rng(seed)
    owner = entries.add_owner(name=f"Owner {seed}")
    deck = entries.add_deck(owner, description=f"deck {seed}")
    tangential = chance.random() < 0.05
    arm = entries.add_arm(deck, description="arm", kind="tangential" if tangential else "offset")
    ranged = {} if chance.random() < 0.1 else _force_range()
    cartridge = entries.add_cartridge(description="cartridge", **ranged)
    job = entries.open_job(deck, opened=date(2026, 3, 2), complaint="voices spit")
    if chance.random() < 0.95:
        entries.record_intake(job, arm=arm, cartridge=cartridge, innermost_mm=60.325, outermost_mm=146.05)
    lent = Quantity.measured(0.0, "mm", standard_uncertainty=0.1, source=f"rule {seed}")
    rule = entries.add_gauge(description=f"Rule {seed}", standard_uncertainty=lent)
    scale = entries.add_scale(description=f"Scale {seed}", resolution=Quantity.exact(0.01 * GRAM_FORCE_MN, "mN"))
    one = RandomJob(job, chance, rule, scale)
    if chance.random() < 0.7:
        _check(one)
    if not tangential:
        one.read("pivot_to_spindle", "as found")
    if chance.random() < 0.92:
        distance = None if tangential else Quantity.measured(222.0, "mm", standard_uncertainty=0.3, source="chosen")
        kind = {"arm_kind": "tangential"} if tangential else {}
        entries.record_targets(job, choose_targets(TargetRequest(distance, "minimax", 60.325, 146.05, **kind)))
    for _ in range(int(chance.integers(1, 5))):
        _some_work(one)
    if chance.random() < 0.2:
        entries.record_fault(job, text="Play in the horizontal bearing.")
    return job


def _force_range() -> dict[str, Quantity]:
    return {
        "tracking_force_lower": Quantity.exact(15.0, "mN"),
        "tracking_force_upper": Quantity.exact(20.0, "mN"),
    }


def _check(one: RandomJob) -> None:
    weights = [weight_of_class(f"{g:g} g", nominal_g=g, accuracy_class="M1") for g in (1.0, 2.0, 5.0)]
    loads = [WeightReading((), 0.0), *(WeightReading((w,), w.mass.value * GRAM_FORCE_MN) for w in weights)]
    entries.check_scale(one.scale, job=one.job, readings=loads * 2)


def _some_work(one: RandomJob) -> None:
    chance = one.chance
    stage = str(chance.choice(STAGES, p=(0.6, 0.4)))
    kinds = [kind for kind in KINDS if kind != "pivot_to_spindle"]
    for kind in chance.choice(kinds, size=int(chance.integers(2, 9)), replace=False):
        one.read(str(kind), stage)
    if chance.random() < 0.6:
        one.read_force(stage)
    if chance.random() < 0.15:
        one.capture(stage)
    if chance.random() < 0.5:
        one.move()
