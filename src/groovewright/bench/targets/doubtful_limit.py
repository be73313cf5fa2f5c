"""Uncertainty of targets where a limit of the headshell binds for some likely distances and not for others."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from statistics import NormalDist

import numpy as np

from groovewright.measurement.quantity import Quantity, Source

# Middles of equally likely parts of the normal distribution; enough for a line with a kink.
_PARTS = 12


def over_likely_distances(
    figures_at: Callable[[float], Mapping[str, float]], distance: Quantity, besides: Mapping[str, Quantity]
) -> dict[str, Quantity]:
    """Return targets with the uncertainty that a distance gives them across the kink that a limit makes.

    A slope knows one side of the kink only, on which a target may not move at all. Over the likely distances a target
    moves along a line, which stays correlated with the distance, and scatters about that line: a source of its own.

    Parameters
    ----------
    figures_at : callable
        Targets at a pivot-to-spindle distance. [mm]
    distance : Quantity
        The distance, of known uncertainty. [mm]
    besides : mapping of str to Quantity
        The targets at the distance itself, with what else makes them uncertain.

    Returns
    -------
    dict of str to Quantity
        As `besides`; of unknown uncertainty where there is no target at some likely distance.
    """
    u_mm = distance.standard_uncertainty or 0.0
    steps = np.array([NormalDist().inv_cdf((part + 0.5) / _PARTS) for part in range(_PARTS)])
    steps /= steps.std()
    try:
        found = [figures_at(distance.value + u_mm * float(step)) for step in steps]
    except ValueError as refusal:
        why = f"at some likely pivot-to-spindle distances there is none ({refusal})"
        return {
            name: Quantity.unknown_uncertainty(at.value, at.unit, why=why, how=at.how) for name, at in besides.items()
        }
    return {
        name: _across_the_kink(name, at, np.array([figures[name] for figures in found]) - at.value, steps, distance)
        for name, at in besides.items()
    }


def _across_the_kink(
    name: str, target: Quantity, changes: np.ndarray, steps: np.ndarray, distance: Quantity
) -> Quantity:
    if target.components is None:
        return target
    by_distance = float((steps * changes).mean())
    rest = float(np.sqrt(np.mean((changes - by_distance * steps) ** 2)))
    components = dict(target.components)
    for source, part in (distance.components or {}).items():
        moved = by_distance * part / (distance.standard_uncertainty or 1.0)
        components[source] = components.get(source, 0.0) + moved
    components[Source(f"whether a limit binds, for the {name.replace('_', ' ')}")] = rest
    return Quantity(target.value, target.unit, components, how=target.how)
