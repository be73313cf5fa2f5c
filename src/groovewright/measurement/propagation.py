"""First-order propagation of uncertainty through any smooth model (JCGM 100, clause 5)."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from groovewright.measurement.quantity import Quantity, Source

# Five-point central difference: error of fourth order in the step, so a step of 1e-3 of the scale is ample.
STENCIL = ((-2, 1 / 12), (-1, -2 / 3), (1, 2 / 3), (2, -1 / 12))


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
        An output that depends on an input of unknown uncertainty has an unknown one, and says through which.

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
    slopes = {name: _slopes(model, at, name, inputs[name], centre) for name in inputs}
    return {
        output: _combine(centre[output], unit, {name: slopes[name][output] for name in inputs}, inputs, how)
        for output, unit in units.items()
    }


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
    if quantity.standard_uncertainty == 0:
        return dict.fromkeys(centre, 0.0)
    step = 1e-3 * (quantity.standard_uncertainty or max(1e-3 * abs(at[name]), 1e-6))
    # The step actually taken, so that rounding of value + step does not enter the slope.
    step = max(step, 1e-6 * abs(at[name]))
    totals = dict.fromkeys(centre, 0.0)
    for multiple, weight in STENCIL:
        result = model(**{**at, name: at[name] + multiple * step})
        for output, before in centre.items():
            # As a change from the centre, so that an output which does not move has a slope of exactly 0.
            totals[output] += weight * (float(result[output]) - before) / step
    return totals


def _combine(
    value: float, unit: str, slopes: Mapping[str, float], inputs: Mapping[str, Quantity], how: str
) -> Quantity:
    components: dict[Source, float] = {}
    for name, slope in slopes.items():
        quantity = inputs[name]
        if quantity.components is None:
            if slope != 0:
                reason = f"it rests on {name}, whose uncertainty is unknown ({quantity.why_unknown})"
                return Quantity.unknown_uncertainty(value, unit, why=reason, how=how)
            continue
        for source, contribution in quantity.components.items():
            components[source] = components.get(source, 0.0) + slope * contribution
    return Quantity(value, unit, components, how=how)
