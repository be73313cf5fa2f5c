"""What the uncertainty of the pivot-to-spindle distance adds to the errors against the target.

The tones show L^2 - D^2 and L sin(beta), so the target that goes with another distance moves along, and little is left.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_findings import Findings, Found


def with_distance(found: Findings, farther: Mapping[str, Found], distance: Quantity) -> Findings:
    """Return findings whose quantities have the distance among their sources.

    Parameters
    ----------
    found : Findings
        Told against the target for the distance.
    farther : mapping of str to Quantity, or to a tuple of ListedQuantity
        The same quantities, against the target for a distance that is 1 mm longer.
    distance : Quantity
        With its uncertainty; where that is unknown, a note says what each millimetre would do. [mm]
    """
    if distance.components is None:
        return replace(found, notes=(*found.notes, _not_known(found, farther)))
    return replace(
        found,
        quantities={name: _moved(held, farther[name], distance) for name, held in found.quantities.items()},
    )


def _not_known(found: Findings, farther: Mapping[str, Found]) -> str:
    slopes = []
    for name, held in found.quantities.items():
        beyond = farther[name]
        if isinstance(held, Quantity) and isinstance(beyond, Quantity):
            slopes.append(f"the {name.replace('_', ' ')} by {abs(beyond.value - held.value):.2g} {held.unit}")
    return (
        "The uncertainty of the pivot-to-spindle distance is not known and not in these figures; each millimetre of it "
        f"moves {' and '.join(slopes)}."
    )


def _moved(held: Found, farther: Found, distance: Quantity) -> Found:
    if isinstance(held, Quantity):
        assert isinstance(farther, Quantity)
        return _with_slope(held, farther.value - held.value, distance)
    assert not isinstance(farther, Quantity)
    return tuple(
        replace(entry, quantity=_with_slope(entry.quantity, beyond.quantity.value - entry.quantity.value, distance))
        for entry, beyond in zip(held, farther, strict=True)
    )


def _with_slope(quantity: Quantity, slope: float, distance: Quantity) -> Quantity:
    if quantity.components is None or distance.components is None:
        return quantity
    components = dict(quantity.components)
    for source, contribution in distance.components.items():
        components[source] = components.get(source, 0.0) + slope * contribution
    return replace(quantity, components=components)
