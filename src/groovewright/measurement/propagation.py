"""First-order propagation of uncertainty through any smooth model (JCGM 100, clause 5)."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from groovewright.measurement.quantity import Quantity, Source, unknown_through

# Five-point central difference: error of fourth order in the step, so a step of 1e-3 of the scale is ample.
STENCIL = ((-2, 1 / 12), (-1, -2 / 3), (1, 2 / 3), (2, -1 / 12))

ROUNDING = 8 * 2.0**-52
"""Outputs nearer together than this, relative to themselves, differ by rounding only."""

PROBE = 1e-3
"""How far an input of unknown uncertainty is moved to see what depends on it, relative to itself."""


def propagate_all(
    model: Callable[..., Mapping[str, float]],
    inputs: Mapping[str, Quantity],
    *,
    units: Mapping[str, str],
    how: str = "",
) -> dict[str, Quantity]:
    """Return every output of a model with its uncertainty, correlations kept.

    Parameters
    ----------
    model : callable
        Called with one float keyword for each input; returns a mapping with the keys of `units`.
    inputs : mapping of str to Quantity
        Quantities that share a source are correlated, and the outputs share it too.
    units : mapping of str to str
        Unit of each output.
    how : str
        Remark carried by every output.

    Returns
    -------
    dict of str to Quantity
        An output that depends on an input of unknown uncertainty has an unknown one, and says through which; it
        depends on it even where its slope happens to be 0, as at a minimum.

    Raises
    ------
    ValueError
        Whatever the model raises at the inputs; also if an input lies so near the model's edge that no slope exists.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, 5.1.3 note 2 (numerical slopes) and 5.2.2.
    """
    at = {name: quantity.value for name, quantity in inputs.items()}
    result = model(**at)
    centre = {output: float(result[output]) for output in units}
    slopes = {
        name: _slopes(model, at, name, quantity, centre)
        for name, quantity in inputs.items()
        if quantity.components is not None
    }
    moved = {name: _moved(model, at, name, centre) for name, quantity in inputs.items() if quantity.components is None}
    outputs: dict[str, Quantity] = {}
    for output, unit in units.items():
        unknown = next((name for name, those in moved.items() if output in those), None)
        if unknown is None:
            contributions = {name: slope[output] for name, slope in slopes.items()}
            outputs[output] = _combine(centre[output], unit, contributions, inputs, how)
        else:
            reason = unknown_through(unknown, inputs[unknown])
            outputs[output] = Quantity.unknown_uncertainty(centre[output], unit, why=reason, how=how)
    return outputs


def propagate(model: Callable[..., float], inputs: Mapping[str, Quantity], *, unit: str, how: str = "") -> Quantity:
    """Return the output of a model with one result; see `propagate_all`."""
    return propagate_all(lambda **at: {"result": model(**at)}, inputs, units={"result": unit}, how=how)["result"]


def _slopes(
    model: Callable[..., Mapping[str, float]],
    at: Mapping[str, float],
    name: str,
    quantity: Quantity,
    centre: Mapping[str, float],
) -> dict[str, float]:
    if not quantity.standard_uncertainty:
        return dict.fromkeys(centre, 0.0)
    # Never so small a step that rounding of value + step enters the slope.
    step = max(1e-3 * quantity.standard_uncertainty, 1e-6 * abs(at[name]))
    totals = dict.fromkeys(centre, 0.0)
    for multiple, weight in STENCIL:
        result = model(**{**at, name: at[name] + multiple * step})
        for output, before in centre.items():
            totals[output] += weight * _change(float(result[output]), before) / step
    return totals


def _moved(
    model: Callable[..., Mapping[str, float]], at: Mapping[str, float], name: str, centre: Mapping[str, float]
) -> set[str]:
    """Return the outputs that change when an input is moved to either side."""
    step = PROBE * abs(at[name]) or PROBE
    moved: set[str] = set()
    for side in (-1, 1):
        result = model(**{**at, name: at[name] + side * step})
        moved |= {output for output, before in centre.items() if _change(float(result[output]), before)}
    return moved


def _change(after: float, before: float) -> float:
    """Return the difference, and exactly 0 for an output that rounding alone has moved."""
    change = after - before
    return 0.0 if abs(change) <= ROUNDING * max(abs(after), abs(before)) else change


def _combine(
    value: float, unit: str, slopes: Mapping[str, float], inputs: Mapping[str, Quantity], how: str
) -> Quantity:
    components: dict[Source, float] = {}
    for name, slope in slopes.items():
        for source, contribution in (inputs[name].components or {}).items():
            components[source] = components.get(source, 0.0) + slope * contribution
    return Quantity(value, unit, components, how=how)
