"""A deck at the bench whose truth is known: gauges that read with their errors, and hands that are not perfect."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from groovewright.measurement.quantity import Quantity, Source
from groovewright.tonearm.arm_build import ArmBuild, Axis, Bearing, TurnAbout, usual_build
from groovewright.tonearm.arm_model import arm_state
from groovewright.tonearm.arm_state import Adjustments, ArmState
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import side_force_at_angle
from groovewright.tonearm.tracking import groove_angle

GaugeKind = Literal[
    "pivot_to_spindle",
    "overhang",
    "null_angle",
    "tracking_force",
    "side_force_rest",
    "azimuth_rotation",
    "stylus_rake_angle",
    "vertical_tracking_angle",
]


@dataclass(frozen=True)
class BenchDeck:
    """A deck known to the last digit.

    Attributes
    ----------
    build : ArmBuild
        The true arm, as it was brought in.
    adjusted : Adjustments
        How far each adjuster has truly been moved since.
    """

    build: ArmBuild
    adjusted: Adjustments = field(default_factory=Adjustments)

    @property
    def state(self) -> ArmState:
        """How it truly stands."""
        return arm_state(self.build, self.adjusted)

    def moved(self, made: Adjustments) -> BenchDeck:
        """Return the deck after a move, by what was truly made of it."""
        return replace(self, adjusted=Adjustments.from_array(self.adjusted.as_array() + made.as_array()))

    def shows(self, kind: GaugeKind, radius_mm: float) -> float:
        """Return what a perfect gauge would read, at a radius where it matters, in mm, deg or mN."""
        state = self.state
        read_as_is = {
            "pivot_to_spindle": state.pivot_to_spindle_mm,
            "overhang": state.effective_length_mm - state.pivot_to_spindle_mm,
            "tracking_force": state.tracking_force_mn,
            "azimuth_rotation": state.azimuth_deg,
            "stylus_rake_angle": state.stylus_rake_angle_deg,
            "vertical_tracking_angle": state.vertical_tracking_angle_deg,
        }
        if kind in read_as_is:
            return read_as_is[kind]
        angle_deg = float(
            groove_angle(
                radius_mm,
                effective_length_mm=state.effective_length_mm,
                pivot_to_spindle_mm=state.pivot_to_spindle_mm,
            )
        )
        if kind == "null_angle":
            return angle_deg - state.offset_angle_deg
        drag_mn = side_force_at_angle(
            angle_deg, tracking_force_mn=state.tracking_force_mn, friction_coefficient=state.friction_coefficient
        )
        return float(drag_mn) - state.compensation_mn


@dataclass(frozen=True)
class BenchGauge:
    """A gauge with an error of its own that all its readings share.

    Attributes
    ----------
    kind : str
        What it reads.
    unit : str
    own, scatter : float
        Standard uncertainty of the error that is the same in all its readings, and of each reading by itself.
    error : float
        The former, truly.
    """

    kind: GaugeKind
    unit: str
    own: float
    scatter: float
    error: float = 0.0

    def read(self, deck: BenchDeck, radius_mm: float, number: int, rng: np.random.Generator) -> Quantity:
        """Return a reading with its stated uncertainty; `number` tells it from the gauge's other readings."""
        shown = deck.shows(self.kind, radius_mm) + self.error + rng.normal(0.0, self.scatter)
        name = self.kind.replace("_", " ")
        components = {Source(f"gauge of the {name}"): self.own, Source(f"{name}, reading {number}"): self.scatter}
        return Quantity(float(shown), self.unit, components, how=f"read by the gauge of the {name}")


USUAL_GAUGES: tuple[BenchGauge, ...] = (
    BenchGauge("pivot_to_spindle", "mm", own=0.20, scatter=0.20),
    BenchGauge("overhang", "mm", own=0.08, scatter=0.10),
    BenchGauge("null_angle", "deg", own=0.08, scatter=0.12),
    BenchGauge("tracking_force", "mN", own=0.05, scatter=0.07),
    BenchGauge("side_force_rest", "mN", own=0.10, scatter=0.15),
    BenchGauge("azimuth_rotation", "deg", own=0.06, scatter=0.08),
    BenchGauge("stylus_rake_angle", "deg", own=0.15, scatter=0.20),
    BenchGauge("vertical_tracking_angle", "deg", own=0.25, scatter=0.35),
)
"""As a careful bench has them: common practice, no source."""


def gauges_of(rng: np.random.Generator) -> tuple[BenchGauge, ...]:
    """Return the usual gauges, each with an error of its own drawn at random."""
    return tuple(replace(gauge, error=float(rng.normal(0.0, gauge.own))) for gauge in USUAL_GAUGES)


def made_by_hand(asked: Adjustments, uncertainty: Adjustments, rng: np.random.Generator) -> Adjustments:
    """Return what a hand makes of a move: off at random by its standard uncertainty."""
    return Adjustments.from_array(asked.as_array() + rng.normal(size=7) * uncertainty.as_array())


def bad_set_up(
    target: Geometry, force_range_mn: tuple[float, float], rng: np.random.Generator
) -> tuple[BenchDeck, ArmBuild]:
    """Return a deck that is out in every setting at random, and its arm as far as a workshop knows it.

    Each setting lies up to about six times its usual tolerance off, the tracking force up to a quarter of its range
    outside it. The workshop knows how the arm is made, masses within 5 to 10 %, heights within 2 mm, and nothing of
    how it stands.

    Parameters
    ----------
    target : Geometry
        What it should be set to.
    force_range_mn : tuple of two float
        The maker's. [mN]
    rng : Generator
    """
    lowest, highest = force_range_mn
    spread = highest - lowest
    bearing: Bearing = "unipivot" if rng.random() < 0.2 else "gimbal"
    axis: Axis = "cantilever axis" if rng.random() < 0.4 else "arm line"
    turn_about: TurnAbout = "screw" if rng.random() < 0.5 else "stylus"
    how = {"bearing": bearing, "axis": axis, "turn_about": turn_about}
    height_deg = rng.uniform(-1.0, 1.0)
    true = usual_build(
        Geometry(
            target.pivot_to_spindle_mm + rng.normal(0, 0.2),
            target.effective_length_mm + rng.uniform(-3, 3),
            target.offset_angle_deg + rng.uniform(-2.5, 2.5),
        ),
        pivot_height_mm=rng.uniform(12, 24),
        cartridge_mass_g=rng.uniform(5, 12),
        counterweight_mass_g=rng.uniform(80, 130),
        tracking_force_mn=rng.uniform(lowest - spread / 4, highest + spread / 4),
        compensation_mn=rng.uniform(0.5, 4.0),
        friction_coefficient=rng.uniform(0.24, 0.36),
        azimuth_deg=rng.uniform(-2, 2),
        stylus_rake_angle_deg=92 + height_deg + rng.normal(0, 0.4),
        vertical_tracking_angle_deg=22 + height_deg + rng.normal(0, 0.4),
        **how,
    )
    known = usual_build(
        target,
        pivot_height_mm=true.pivot_height_mm + rng.normal(0, 1),
        cartridge_mass_g=true.cartridge_mass_g * rng.normal(1, 0.03),
        counterweight_mass_g=true.counterweight_mass_g * rng.normal(1, 0.05),
        tracking_force_mn=(lowest + highest) / 2,
        **how,
    )
    return BenchDeck(true), known
