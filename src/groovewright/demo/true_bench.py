"""An invented bench: decks whose true state is known, and gauges that read it with their errors.

The workshop types what these gauges show.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from groovewright.gauges.check_weights import CheckWeight, weight_of_class
from groovewright.gauges.scale_calibration import WeightReading
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.units import to_canonical

CHECK_WEIGHTS_G = (0.5, 1.0, 2.0, 5.0)
REPEATS = 3


@dataclass(frozen=True)
class TrueDeck:
    """What no gauge ever shows: how a deck really is.

    Parameters
    ----------
    pivot_to_spindle_mm, effective_length_mm : float
        Both horizontal. [mm]
    tracking_force_g : float
        On the platter at its outer edge, at the height of a record's surface. [gram-force]
    inner_excess_g : float
        How much more it is at the inner edge. [gram-force]
    force_slope_g_per_mm : float
        Change with the height of the stylus. [gram-force/mm]
    """

    pivot_to_spindle_mm: float
    effective_length_mm: float
    tracking_force_g: float
    inner_excess_g: float = 0.0
    force_slope_g_per_mm: float = 0.004


@dataclass(frozen=True)
class TrueScale:
    """How a scale really turns force into digits.

    Parameters
    ----------
    gain : float
        Shown per true. [1]
    offset_g, spread_g, step_g : float
        Shown with nothing on it, standard deviation of one reading, and last step of its display. [gram-force]
    """

    gain: float = 1.0
    offset_g: float = 0.0
    spread_g: float = 0.004
    step_g: float = 0.01

    def shows(self, force_g: float, rng: np.random.Generator) -> float:
        """Return one reading of a force. [gram-force]"""
        shown = self.offset_g + self.gain * force_g + rng.normal(0.0, self.spread_g)
        return round(shown / self.step_g) * self.step_g


def length_as_typed(true_mm: float, *, u_mm: float, rng: np.random.Generator) -> str:
    """Return what is typed after a length was read with the standard uncertainty `u_mm`, to a digit that fits it."""
    digits = 1 if u_mm >= 0.1 else 2
    return f"{rng.normal(true_mm, u_mm):.{digits}f} mm +- {u_mm:g} mm"


def force_as_typed(force_g: float, scale: TrueScale, rng: np.random.Generator) -> str:
    """Return what is typed after a scale was read."""
    return f"{scale.shows(force_g, rng):.2f} g"


def weights_of_the_box() -> tuple[CheckWeight, ...]:
    """Return the workshop's check weights, of class M1."""
    return tuple(
        weight_of_class(f"{nominal_g:g} g, box 1", nominal_g=nominal_g, accuracy_class="M1")
        for nominal_g in CHECK_WEIGHTS_G
    )


def check_readings(scale: TrueScale, rng: np.random.Generator) -> tuple[list[WeightReading], list[str]]:
    """Return what a scale shows under each weight of the box, several times, and the same as typed."""
    readings, texts = [], []
    for loads in _loads(weights_of_the_box()):
        for _ in range(REPEATS):
            text = force_as_typed(sum(weight.mass.value for weight in loads), scale, rng)
            shown = parse_quantity(text, "force", source="display")
            readings.append(WeightReading(loads, shown.value))
            texts.append(text)
    return readings, texts


def _loads(weights: Iterable[CheckWeight]) -> list[tuple[CheckWeight, ...]]:
    return [(), *((weight,) for weight in weights)]


def grams_force_in_mn(force_g: float) -> float:
    """Return a force in mN."""
    return float(to_canonical(force_g, "gf", "force"))
