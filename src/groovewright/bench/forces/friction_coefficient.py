"""Friction coefficient of stylus and groove, from a reading of the side force or from a ladder of rising levels."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity, Source
from groovewright.measurement.units import require_unit
from groovewright.testtone.tracking.tracking_ability import CHANNEL_NAMES, TrackingAbility
from groovewright.tonearm.side_force import USUAL_FRICTION
from groovewright.tonearm.tracking import groove_angle

LEAST_SINE = 0.05
"""Of the groove angle; below it the groove hardly draws the arm, and dividing by it tells nothing."""

LOAD_OVER_LEVEL = Quantity.measured(
    1.0,
    "1",
    standard_uncertainty=0.2,
    source="how the load at which a wall is lost grows with the level",
    how="load in proportion to level: our assumption, no source",
)
"""Exponent of the level to which the wall's load at breakdown is in proportion."""

WALLS_ALIKE = Quantity.measured(
    0.0,
    "1",
    standard_uncertainty=0.05,
    source="difference between both walls in the load that a level needs",
    how="both walls alike: our assumption, no source",
)
"""Logarithm of the ratio of the loads that the left and the right wall need at the same level."""

LADDER_ASSUMPTION = (
    "From the ladder, taking the load of a wall to be in proportion to the level at which it is lost (exponent 1 with "
    "a standard uncertainty of 0.2) and both walls to need like loads (within 5 %): our assumption, no source, and "
    "part of the uncertainty. Friction rises with modulation, so quiet music has less."
)


@dataclass(frozen=True)
class ReadAt:
    """Where a reading of the side force was made, and under what.

    Attributes
    ----------
    radius_mm : float
        Of the groove; a millimetre more or less hardly changes the coefficient. [mm]
    pivot_to_spindle, effective_length : Quantity
        Of the arm. [mm]
    tracking_force : Quantity
        [mN]
    compensation : Quantity
        At that radius, positive outward; exactly 0 where it was off. [mN]
    bearing_friction : Quantity or None
        Anything up to it, either way, may be missing from the reading; None if it was not read. [mN]
    stray_force : Quantity or None
        That draws the arm by itself, positive toward the spindle; None if there is none. [mN]
    """

    radius_mm: float
    pivot_to_spindle: Quantity
    effective_length: Quantity
    tracking_force: Quantity
    compensation: Quantity
    bearing_friction: Quantity | None = None
    stray_force: Quantity | None = None

    def __post_init__(self) -> None:
        for name, quantity, unit in (
            ("pivot-to-spindle distance", self.pivot_to_spindle, "mm"),
            ("effective length", self.effective_length, "mm"),
            ("tracking force", self.tracking_force, "mN"),
            ("compensation", self.compensation, "mN"),
        ):
            require_unit(quantity, unit, name=name)
        if not self.tracking_force.value > 0:
            raise ValueError(f"a tracking force must be above 0 mN, not {self.tracking_force.value:g} mN")
        for name, force in (("bearings' friction", self.bearing_friction), ("stray force", self.stray_force)):
            if force is not None:
                require_unit(force, "mN", name=name)
        sine = self._sine(self.radius_mm, self.pivot_to_spindle.value, self.effective_length.value)
        if abs(sine) < LEAST_SINE:
            raise ValueError(
                f"at {self.radius_mm:g} mm the groove runs within {math.degrees(math.asin(abs(sine))):.2g} deg of "
                f"the line pivot-stylus and hardly draws the arm aside; read the side force at another radius"
            )

    @staticmethod
    def _sine(radius_mm: float, mounting_mm: float, length_mm: float) -> float:
        angle = groove_angle(radius_mm, effective_length_mm=length_mm, pivot_to_spindle_mm=mounting_mm)
        return math.sin(math.radians(float(angle)))

    def cosine(self, mounting_mm: float, length_mm: float) -> float:
        """Return the share of a force along the record's radius that turns the arm. [1]"""
        return math.sqrt(1 - self._sine(self.radius_mm, mounting_mm, length_mm) ** 2)

    def coefficient(self, rest: Quantity) -> Quantity:
        """Return the coefficient that leaves a side force uncompensated; positive toward the spindle. [1]"""
        inputs = {
            "rest of side force": rest,
            "pivot-to-spindle distance": self.pivot_to_spindle,
            "effective length": self.effective_length,
            "tracking force": self.tracking_force,
            "compensation": self.compensation,
            "stray force": self.stray_force or Quantity.exact(0.0, "mN"),
        }
        found = propagate(
            lambda **at: (
                (at["rest of side force"] + at["compensation"] - at["stray force"])
                / at["tracking force"]
                / self._sine(self.radius_mm, at["pivot-to-spindle distance"], at["effective length"])
            ),
            inputs,
            unit="1",
            how=rest.how,
        )
        if not found.value > 0:
            raise ValueError(
                f"a rest of {rest.value:.4g} mN with {self.compensation.value:.4g} mN of compensation would make the "
                f"friction coefficient {found.value:.2g}; a rest that draws toward the spindle is positive"
            )
        return found


def usual_friction_coefficient() -> Quantity:
    """Return 0.2 to 0.4, anything between as likely: common practice, no source. [1]"""
    low, high = USUAL_FRICTION
    return Quantity.measured(
        (low + high) / 2,
        "1",
        standard_uncertainty=(high - low) / math.sqrt(12),
        source=f"friction coefficient of stylus and groove, {low:g} to {high:g}",
        how="common practice, no source",
    )


def friction_coefficient_from_rest(rest: Quantity, where: ReadAt) -> Quantity:
    """Return the friction coefficient from a reading of the side force that is left over its compensation.

    Parameters
    ----------
    rest : Quantity
        Force at the stylus square to the line pivot-stylus, in the turning groove; positive toward the spindle. [mN]
    where : ReadAt

    Returns
    -------
    Quantity
        (rest + compensation) / (tracking force x sin of the groove angle). [1]

    Raises
    ------
    ValueError
        If it would not be above 0.
    """
    require_unit(rest, "mN", name="rest of side force")
    return where.coefficient(_within_friction(rest, where.bearing_friction))


def friction_coefficient_from_levels(*, left: Quantity, right: Quantity, where: ReadAt) -> Quantity:
    """Return the friction coefficient from the levels at which both channels break down; see `LADDER_ASSUMPTION`.

    With loads in proportion to levels, (N + W) / (N - W) = left / right: the walls' force W, which the inner wall has
    over the outer one, presses on the left channel. The rest of the side force is W times the cosine of the groove
    angle; see `wall_force_mn`.

    Parameters
    ----------
    left, right : Quantity
        Peak velocity at which each channel breaks down. [cm/s]
    where : ReadAt

    Raises
    ------
    ValueError
        If a level is not above 0, or the coefficient would not be.
    """
    for name, level in (("left", left), ("right", right)):
        require_unit(level, "cm/s", name=f"level at which the {name} channel breaks down")
        if not level.value > 0:
            raise ValueError(f"the {name} channel cannot break down at {level.value:g} cm/s; it must be above 0 cm/s")
    rest = propagate(
        lambda **at: (
            at["tracking force"]
            * where.cosine(at["pivot-to-spindle distance"], at["effective length"])
            * math.tanh((at["exponent"] * math.log(at["left level"] / at["right level"]) + at["walls"]) / 2)
        ),
        {
            "tracking force": where.tracking_force,
            "pivot-to-spindle distance": where.pivot_to_spindle,
            "effective length": where.effective_length,
            "left level": left,
            "right level": right,
            "exponent": LOAD_OVER_LEVEL,
            "walls": WALLS_ALIKE,
        },
        unit="mN",
        how=LADDER_ASSUMPTION,
    )
    return where.coefficient(_within_friction(rest, where.bearing_friction))


def friction_coefficient_from_ladder(ability: TrackingAbility, where: ReadAt) -> Quantity:
    """Return the friction coefficient from the ladder of a capture; see `friction_coefficient_from_levels`.

    Raises
    ------
    ValueError
        If a channel is not shown to break down, or the coefficient would not be above 0.
    """
    for channel in CHANNEL_NAMES:
        if channel not in ability.breakdown:
            raise ValueError(
                f"{ability.not_shown[channel]}; a friction coefficient needs the level at which each channel breaks "
                "down"
            )
    return friction_coefficient_from_levels(
        left=ability.breakdown["left"], right=ability.breakdown["right"], where=where
    )


def _within_friction(rest: Quantity, friction: Quantity | None) -> Quantity:
    """Return a reading that the bearings' friction may have taken up to itself from, either way."""
    if friction is None or rest.components is None:
        return rest
    # Anything between is as likely; what is not known of the friction itself is small beside that.
    source = Source("bearings' friction, either way")
    part = max(friction.value, 0.0) / math.sqrt(3)
    return Quantity(rest.value, rest.unit, {**rest.components, source: part}, how=rest.how)
