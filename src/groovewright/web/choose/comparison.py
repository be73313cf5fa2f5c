"""The criteria beside each other, under one set of conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from groovewright.bench.targets.target_curves import Curves, curves
from groovewright.bench.targets.targets import Targets, choose_targets
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.criteria import CRITERIA
from groovewright.web.choose.curves_figure import Curve
from groovewright.web.choose.forms import ChooseForm

CURVE_POINTS = 151
# What each column of the table shows, and its unit.
HEADINGS = (
    ("Effective length", "mm"),
    ("Overhang", "mm"),
    ("Offset angle", "°"),
    ("Null radii", "mm"),
    ("Peak error", "°"),
    ("Peak distortion", "%"),
    ("Rms distortion", "%"),
)


@dataclass(frozen=True)
class Row:
    """One criterion in the table: its targets, or why there are none."""

    key: str
    label: str
    targets: Targets | None
    refusal: str = ""

    @property
    def name(self) -> str:
        """Return the short word for it, the one that the command line takes too."""
        return self.key.replace("-", " ").capitalize()

    @property
    def columns(self) -> list[tuple[str, Sequence[Quantity]]]:
        """Return the heading and the quantities of each column; the null radii share one, and some have none."""
        if self.targets is None:
            return []
        single = (
            self.targets.effective_length,
            self.targets.overhang,
            self.targets.offset_angle,
            self.targets.null_radii,
            self.targets.peak_tracking_error,
            self.targets.peak_distortion,
            self.targets.rms_distortion,
        )
        columns = [column if isinstance(column, tuple) else () if column is None else (column,) for column in single]
        return [(f"{name}, {unit}", column) for (name, unit), column in zip(HEADINGS, columns, strict=True)]


def compare(form: ChooseForm) -> list[Row]:
    """Return a row for every criterion under what was typed."""
    return [_row(form, key) for key in CRITERIA]


def curve_of(targets: Targets) -> Curve:
    """Return the curves of targets over their groove range as plain lists: radius, error, distortion. [mm, deg, %]"""
    found: Curves = curves(targets, targets.request.innermost_mm, targets.request.outermost_mm, CURVE_POINTS)
    return {
        "radius": [round(x, 3) for x in found.radius_mm.tolist()],
        "error": [round(x, 5) for x in found.tracking_error_deg.tolist()],
        "distortion": [round(x, 6) for x in found.distortion_percent.tolist()],
    }


def _row(form: ChooseForm, key: str) -> Row:
    label = CRITERIA[key].label
    try:
        targets = choose_targets(form.request(key))
    except ValueError as refusal:
        return Row(key, label, None, str(refusal))
    return Row(key, label, targets)
