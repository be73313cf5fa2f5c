"""Static friction of an arm's bearings, and the side force that it has by itself, from forces at start of motion."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.gauges.difference import exceeds_uncertainty
from groovewright.measurement.propagation import propagate_all
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit


@dataclass(frozen=True)
class BearingFriction:
    """What holds an arm that floats in balance, and what draws it.

    Attributes
    ----------
    friction : Quantity
        As a force at the stylus that the bearings and wires take up either way before the arm moves. [mN]
    stray_force : Quantity
        That draws the arm by itself, positive toward the spindle. With the compensation off it comes from the wires or
        a deck that is not level; with it on, it is that less the compensation. [mN]
    notes : tuple of str
        What to mind.
    """

    friction: Quantity
    stray_force: Quantity
    notes: tuple[str, ...]


def bearing_friction(*, outward: Quantity, inward: Quantity) -> BearingFriction:
    """Return friction and stray force from the pushes at which a floating arm starts to move.

    A push outward overcomes the friction and the stray force that draws inward; a push inward overcomes the friction
    with the stray force's help. So half their sum is the friction, and half their difference the stray force.

    Parameters
    ----------
    outward, inward : Quantity
        At the stylus, square to the line pivot-stylus, each in its own direction; negative for an arm that must be held
        back that way. What both readings share, such as the gauge's zero, drops out of the stray force. [mN]

    Raises
    ------
    ValueError
        If both together make the friction negative.

    Examples
    --------
    >>> found = bearing_friction(outward=Quantity.exact(0.30, "mN"), inward=Quantity.exact(0.20, "mN"))
    >>> round(found.friction.value, 3), round(found.stray_force.value, 3)
    (0.25, 0.05)
    """
    for name, force in (("force at start outward", outward), ("force at start inward", inward)):
        require_unit(force, "mN", name=name)
    if outward.value + inward.value < 0:
        raise ValueError(
            f"starting forces of {outward.value:.4g} mN outward and {inward.value:.4g} mN inward would make the "
            f"friction negative; give each as positive in its own direction of motion"
        )
    found = propagate_all(
        lambda **at: {
            "friction": (at["force at start outward"] + at["force at start inward"]) / 2,
            "stray force": (at["force at start outward"] - at["force at start inward"]) / 2,
        },
        {"force at start outward": outward, "force at start inward": inward},
        units={"friction": "mN", "stray force": "mN"},
        how="forces at start of motion both ways",
    )
    friction, stray = found["friction"], found["stray force"]
    return BearingFriction(friction, stray, _notes(friction, stray))


def _notes(friction: Quantity, stray: Quantity) -> tuple[str, ...]:
    notes = []
    if friction.standard_uncertainty is not None and not exceeds_uncertainty(friction):
        notes.append("The bearings' friction is not told from 0 by these readings; a finer gauge would tell more.")
    if exceeds_uncertainty(stray):
        side = "inward" if stray.value > 0 else "outward"
        notes.append(
            f"The arm starts more easily {side}. With the compensation off, level the deck and look at the arm's wires "
            f"before anything else is set."
        )
    return tuple(notes)
