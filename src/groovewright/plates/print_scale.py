"""What a printer really makes of 100 mm, from the two check bars of a print."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.measurement.quantity import Quantity, Source

CHECK_BAR_MM = 100.0
"""Length of a check bar from the middle of one end tick to the middle of the other. [mm]"""
LEAST_SCALE, MOST_SCALE = 0.9, 1.1
"""A printer further off than this was scaling to fit, which no correction should hide. [1]"""


@dataclass(frozen=True)
class PrintScale:
    """Factors of a printer, to be given to `PlateRequest` as `scale_x` and `scale_y`.

    Parameters
    ----------
    x, y : Quantity
        Length on paper that the printer makes of 1 mm, across and up the plate, unit ``"1"``.
    """

    x: Quantity
    y: Quantity


def print_scale(
    measured_x: Quantity | None,
    measured_y: Quantity | None,
    *,
    drawn_scale_x: float = 1.0,
    drawn_scale_y: float = 1.0,
    paper_humidity_half_width_percent: float = 0.1,
) -> PrintScale:
    """Return the factors of both axes with their uncertainty.

    Parameters
    ----------
    measured_x, measured_y : Quantity
        Measured lengths of the horizontal and the vertical check bar. [mm]
    drawn_scale_x, drawn_scale_y : float
        Factors printed on the plate that was measured; 1 for one that was not corrected. [1]
    paper_humidity_half_width_percent : float
        Paper grows and shrinks with the air between the day of measuring and the day of use: half-width of a
        rectangular distribution, of each axis by itself, because paper grows more across its grain. [%]

    Raises
    ------
    ValueError
        If only one axis was measured, a length is not in mm, or a factor lies outside 0.9 to 1.1.

    Examples
    --------
    >>> bar = Quantity.measured(100.4, "mm", standard_uncertainty=0.1, source="steel rule")
    >>> scale = print_scale(bar, Quantity.measured(99.7, "mm", standard_uncertainty=0.1, source="steel rule"))
    >>> round(scale.x.value, 4), round(scale.y.value, 4)
    (1.004, 0.997)
    """
    if measured_x is None or measured_y is None:
        given, missing = ("y", "x") if measured_x is None else ("x", "y")
        if measured_x is None and measured_y is None:
            raise ValueError("No check bar was measured; measure both, x and y, because printers differ in the two.")
        raise ValueError(
            f"Only the {given} bar was measured; measure the {missing} bar too, because printers differ in the two."
        )
    half_width = paper_humidity_half_width_percent
    if not (math.isfinite(half_width) and half_width >= 0):
        raise ValueError(f"paper_humidity_half_width_percent must be 0 or more, not {half_width:g} %")
    return PrintScale(
        _factor("x", measured_x, drawn_scale_x, half_width), _factor("y", measured_y, drawn_scale_y, half_width)
    )


def _factor(axis: str, measured: Quantity, drawn_scale: float, humidity_half_width_percent: float) -> Quantity:
    if measured.unit != "mm":
        raise ValueError(f"The {axis} bar was measured in {measured.unit}; give it in mm.")
    sensitivity = drawn_scale / CHECK_BAR_MM
    value = measured.value * sensitivity
    if not LEAST_SCALE <= value <= MOST_SCALE:
        raise ValueError(
            f"The {axis} bar measures {measured.value:g} mm, a factor of {value:.3f}; up to 10 % can be corrected. "
            'Print at 100 %, with "fit to page" off, and measure again.'
        )
    how = f"{axis} check bar of {CHECK_BAR_MM:g} mm measured on the print"
    if measured.components is None:
        return Quantity.unknown_uncertainty(value, "1", why=measured.why_unknown, how=how)
    components = {source: part * sensitivity for source, part in measured.components.items()}
    humidity = Source(f"paper humidity, {axis} axis")
    components[humidity] = value * humidity_half_width_percent / 100 / math.sqrt(3)
    return Quantity(value, "1", components, how=how)
