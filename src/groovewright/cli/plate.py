"""`groovewright plate`: a plate drawn true to scale."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from groovewright.cli.help_page import Command
from groovewright.cli.output import print_json, print_table, quantity_json, quantity_text, write_file
from groovewright.cli.refusal import Refusal, refusing
from groovewright.cli.values import FactorValue, geometry_options, json_option

if TYPE_CHECKING:
    from groovewright.bench.targets.targets import Targets
    from groovewright.measurement.quantity import Quantity
    from groovewright.plates.request import Kind, PlateRequest
    from groovewright.plates.scene import Scene

KINDS = ("arc", "two-null", "cut")
PAPER_NAMES = ("A5", "A4", "A3", "Letter")
FORMATS = (".pdf", ".svg", ".dxf")
CUTTING_CAUTION = "Follow the maker's instructions for the blade or laser that cuts it, eye protection included."


@click.command(cls=Command)
@geometry_options
@click.option("--kind", type=click.Choice(KINDS), default="arc", show_default=True, help="What the plate is for.")
@click.option(
    "--paper",
    type=click.Choice(PAPER_NAMES, case_sensitive=False),
    default="A4",
    show_default=True,
    help="A plate is never scaled to fit it.",
)
@click.option("--scale-x", type=FactorValue(), help="What the printer makes of 1 mm across, from its check bar: 1.004.")
@click.option(
    "--scale-y", type=FactorValue(), help="The same up the plate. Both or neither: printers differ in the two."
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    help="File to write; its ending, .pdf, .svg or .dxf, says which form.",
)
@json_option
def plate(
    *,
    pivot_to_spindle: Quantity,
    criterion: str,
    groove_range: tuple[float, float],
    hold_effective_length: Quantity | None,
    hold_offset_angle: Quantity | None,
    kind: Kind,
    paper: str,
    scale_x: float | None,
    scale_y: float | None,
    out: Path,
    as_json: bool,
) -> None:
    """Draw a plate to set an arm by, as PDF, SVG or DXF in true millimetres.

    Print it at 100 %, measure both check bars, and give what they make of 1 mm as --scale-x and --scale-y: the
    corrected plate has a new number and carries both factors.

    For example:
      groovewright plate --pivot-to-spindle 222mm --out plate.pdf
      groovewright plate --pivot-to-spindle 222mm --scale-x 1.004 --scale-y 0.997 --out corrected.pdf
      groovewright plate --pivot-to-spindle 222mm --kind cut --out plate.dxf
    """
    ending = out.suffix.lower()
    if ending not in FORMATS:
        raise Refusal(
            f'"{out.name}" does not end in {", ".join(FORMATS[:-1])} or {FORMATS[-1]}, which says what to draw'
        )
    if (scale_x is None) != (scale_y is None):
        raise Refusal("--scale-x and --scale-y go together, because printers differ in the two; measure both bars")

    from groovewright.bench.targets.targets import TargetRequest, choose_targets
    from groovewright.plates.plate import PlateRequest, draw_plate
    from groovewright.tonearm.criteria import CRITERIA

    innermost_mm, outermost_mm = groove_range
    with refusing(ValueError):
        targets = choose_targets(
            TargetRequest(
                pivot_to_spindle,
                criterion,
                innermost_mm,
                outermost_mm,
                hold_effective_length=hold_effective_length,
                hold_offset_angle=hold_offset_angle,
            )
        )
    # Only a tangential arm has none, and no option asks for one.
    assert targets.geometry is not None
    with refusing(ValueError):
        request = PlateRequest(
            kind,
            targets.geometry,
            innermost_mm,
            outermost_mm,
            CRITERIA[criterion].label,
            paper=paper,
            scale_x=1.0 if scale_x is None else scale_x,
            scale_y=1.0 if scale_y is None else scale_y,
        )
    with refusing(ValueError):
        scene = draw_plate(request)
    write_file(out, _drawn(scene, ending))
    if as_json:
        print_json(_found(request, targets, out))
        return
    print_table(f"Plate {request.plate_number} is in {out}", _rows(request, targets), _notes(request, targets))


def _drawn(scene: Scene, ending: str) -> bytes:
    if ending == ".pdf":
        from groovewright.plates.pdf import scene_to_pdf

        return scene_to_pdf(scene)
    if ending == ".svg":
        from groovewright.plates.svg import scene_to_svg

        return scene_to_svg(scene).encode("utf-8")
    from groovewright.plates.dxf import scene_to_dxf

    return scene_to_dxf(scene)


def _found(request: PlateRequest, targets: Targets, out: Path) -> dict[str, object]:
    return {
        "file": str(out),
        "number": request.plate_number,
        "kind": request.kind,
        "paper": request.paper,
        "scale_x": request.scale_x,
        "scale_y": request.scale_y,
        "criterion": targets.request.criterion,
        "pivot_to_spindle": quantity_json(targets.request.pivot_to_spindle),
        "effective_length": quantity_json(targets.effective_length),
        "offset_angle": quantity_json(targets.offset_angle),
        "null_radii": [quantity_json(radius) for radius in targets.null_radii],
        "notes": list(_notes(request, targets)),
    }


def _rows(request: PlateRequest, targets: Targets) -> list[tuple[str, str]]:
    return [
        ("kind", request.kind),
        ("paper", request.paper),
        (
            "corrected for the printer",
            f"{request.scale_x:g} across, {request.scale_y:g} up" if request.is_corrected else "no",
        ),
        ("pivot-to-spindle distance", quantity_text(targets.request.pivot_to_spindle)),
        ("effective length", quantity_text(targets.effective_length)),
        ("offset angle", quantity_text(targets.offset_angle)),
        *(("null radius", quantity_text(radius)) for radius in targets.null_radii),
    ]


def _notes(request: PlateRequest, targets: Targets) -> tuple[str, ...]:
    if request.kind == "cut":
        return (*targets.notes, CUTTING_CAUTION)
    return (*targets.notes, 'Print at 100 % with "fit to page" off, then measure both 100 mm bars.')
