"""Values at the command line: typed text with a unit becomes a quantity, or is refused in one sentence."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from groovewright.measurement.quantity import Quantity

T = TypeVar("T")

CRITERION_KEYS = ("minimax", "least-squares", "inner-null", "angle-minimax", "exact-peak", "exact-rms")


class QuantityValue(click.ParamType[Any]):
    """A value with unit and, if it is known, its uncertainty.

    Parameters
    ----------
    kind : str
        Kind of quantity, such as ``"length"``.
    source : str
        What its uncertainty is called in a budget.
    example : str
        What would be right here, for the refusals.
    """

    def __init__(self, kind: str, source: str, example: str) -> None:
        self.name = kind
        self.source = source
        self.example = example

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Quantity:
        """Return the quantity in its canonical unit."""
        from groovewright.measurement.parsing import parse_quantity

        return _parsed(
            self, lambda: parse_quantity(value, self.name, source=self.source, example=self.example), param, ctx
        )


class CoefficientValue(click.ParamType[Any]):
    """A number without a unit and, if it is known, its uncertainty; `source` is what that is called in a budget."""

    name = "coefficient"

    def __init__(self, source: str, example: str) -> None:
        self.source = source
        self.example = example

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Quantity:
        """Return the quantity, of unit 1."""
        from groovewright.measurement.parsing import parse_coefficient

        return _parsed(self, lambda: parse_coefficient(value, source=self.source, example=self.example), param, ctx)


class PlainValue(click.ParamType[Any]):
    """A value above 0 with unit whose uncertainty would not be used, so that none may be stated."""

    def __init__(self, kind: str, example: str) -> None:
        self.name = kind
        self.example = example

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number in the canonical unit of its kind; a default is in it already."""
        from groovewright.measurement.parsing import parse_quantity

        if isinstance(value, float):
            return value
        quantity = _parsed(
            self, lambda: parse_quantity(value, self.name, source=self.name, example=self.example), param, ctx
        )
        if quantity.standard_uncertainty is not None:
            self.fail(f'write "{value}" without its uncertainty, which is not used here', param, ctx)
        if not quantity.value > 0:
            self.fail(f"{value} is not above 0", param, ctx)
        return quantity.value


class RangeValue(click.ParamType[Any]):
    """Two lengths joined by a colon, in mm unless a unit is given."""

    name = "range"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Return both ends. [mm]"""
        from groovewright.measurement.parsing import parse_range

        return _parsed(self, lambda: parse_range(value, "length", unit_when_missing="mm"), param, ctx)


class FactorValue(click.ParamType[Any]):
    """A plain number with a point or a comma."""

    name = "factor"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number."""
        from groovewright.measurement.parsing import parse_number

        return value if isinstance(value, float) else _parsed(self, lambda: parse_number(value), param, ctx)


def _parsed(kind: click.ParamType[Any], parse: Callable[[], T], param: Any, ctx: Any) -> T:
    try:
        return parse()
    except ValueError as error:
        kind.fail(str(error), param, ctx)


def geometry_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say which geometry is wanted; `align` and `plate` share them."""
    return _with_geometry(command, pivot_required=True)


def optional_geometry_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the same options where no geometry is needed for most of what a command does."""
    return _with_geometry(command, pivot_required=False)


def _with_geometry(command: Callable[..., Any], *, pivot_required: bool) -> Callable[..., Any]:
    options = (
        click.option(
            "--pivot-to-spindle",
            type=QuantityValue("length", "pivot-to-spindle distance as given", "222 mm"),
            required=pivot_required,
            help='Centre of the spindle to the arm\'s pivot, such as 222mm or "222 mm +- 0.3 mm".',
        ),
        click.option(
            "--criterion",
            type=click.Choice(CRITERION_KEYS),
            default="minimax",
            show_default=True,
            help="What is made as small as it can be; docs/guide/commands.md explains each.",
        ),
        click.option(
            "--groove-range",
            type=RangeValue(),
            default="60.325:146.05",
            show_default=True,
            help="Innermost and outermost groove radius in mm.",
        ),
        click.option(
            "--hold-effective-length",
            type=QuantityValue("length", "held effective length as given", "239 mm"),
            help="An effective length that cannot be changed.",
        ),
        click.option(
            "--hold-offset-angle",
            type=QuantityValue("angle", "held offset angle as given", "23 deg"),
            help="An offset angle that cannot be changed, such as 23deg.",
        ),
    )
    for option in reversed(options):
        command = option(command)
    return command


def distortion_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that distortion depends on besides the geometry; `align` and `trace` share them."""
    peak_velocity = click.option(
        "--peak-velocity",
        type=PlainValue("velocity", "10 cm/s"),
        default="10cm/s",
        show_default=True,
        help="Recorded peak lateral velocity for the distortion.",
    )
    speed = click.option(
        "--speed",
        type=PlainValue("rotation", "33 1/3 rpm"),
        default="33 1/3 rpm",
        show_default=True,
        help="Speed of the platter.",
    )
    return peak_velocity(speed(command))


def json_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add `--json`, which every command has."""
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of a table.")(command)


def server_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of a command that serves pages."""
    port = click.option(
        "--port", type=click.IntRange(0, 65535), default=8713, show_default=True, help="Port; 0 takes any free one."
    )
    open_browser = click.option("--open", "open_browser", is_flag=True, help="Open the pages in your browser.")
    return port(open_browser(command))
