"""What is known of an arm beyond its drawing: how it is built, and how far each of its adjusters goes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from groovewright.bench.moves.headshell_limits import USUAL_RANGES
from groovewright.jobbook.bench_facts import adjuster_limits, known_build
from groovewright.measurement.units import canonical_unit
from groovewright.tonearm.arm_build import USUAL, USUAL_UNIPIVOT
from groovewright.web.intake.limits_field import ReachField, ValueField, typed_reach, typed_value, unbroken

CHOICES: dict[str, dict[str, str]] = {
    "axis": {"arm line": "square to the arm line", "cantilever axis": "square to the cantilever"},
    "bearing": {"gimbal": "gimbal", "unipivot": "unipivot"},
    "turn_about": {"stylus": "the stylus", "screw": "a screw"},
    "roll_by": {
        "cartridge": "cartridge rolled in the headshell",
        "arm tube": "arm tube turned",
        "lateral weight": "weight moved sideways (unipivot)",
    },
}
GROUPS = {
    "How it turns": ("bearing", "axis", "pivot_height_mm"),
    "Where its mass is": (
        "counterweight_mass_g",
        "counterweight_behind_mm",
        "centre_height_mm",
        "arm_mass_g",
        "cartridge_centre_forward_mm",
        "cartridge_centre_up_mm",
    ),
    "How the cartridge is set": (
        "turn_about",
        "screw_forward_mm",
        "screw_outward_mm",
        "roll_by",
        "roll_axis_height_mm",
    ),
}
_NOT_KNOWN = "not known"


class BuildGroup(NamedTuple):
    """Some fields of the build that stand together under a title."""

    title: str
    fields: list[BoundField]


def _choice(name: str, label: str) -> forms.ChoiceField:
    words = CHOICES[name]
    return forms.ChoiceField(
        label=label,
        required=False,
        choices=[("", _NOT_KNOWN), *words.items()],
        help_text=f"Usual: {words[str(USUAL[name])]}.",
    )


def _number(name: str, label: str, *, lowest: float, highest: float, where: str = "") -> ValueField:
    kind = _kind(name)
    usual = typed_value(float(USUAL[name]), kind)
    hint = f"{where} Usual: {unbroken(usual)}".strip()
    if name in USUAL_UNIPIVOT:
        hint += f", of a unipivot {unbroken(typed_value(float(USUAL_UNIPIVOT[name]), kind))}"
    return ValueField(kind, label=label, example=usual, help_text=f"{hint}.", lowest=lowest, highest=highest)


def _reach(name: str, label: str, *, farthest: float, bound: str = "") -> ReachField:
    ends, kind = USUAL_RANGES[name], _kind(name)
    unit = canonical_unit(kind)
    usual = typed_reach(ends, kind, unit=unit)
    # What is usually fixed still shows in which unit a bare number is.
    example = typed_reach((-1.0, 1.0), kind, unit=unit) if ends == (0.0, 0.0) else usual
    return ReachField(
        kind,
        label=label,
        example=example,
        help_text=f"Usual: {unbroken(usual)}{bound}.",
        lowest=-farthest,
        highest=farthest,
        show_unit=unit,
    )


def _kind(name: str) -> str:
    return {"mm": "length", "g": "mass", "deg": "angle", "mn": "force"}[name.rsplit("_", 1)[1]]


class ArmFactsForm(forms.Form):
    """How the arm is built and how far its adjusters go; what is left empty is taken as usual."""

    build_axis = _choice("axis", "Axis of vertical motion")
    build_bearing = _choice("bearing", "Bearing")
    build_pivot_height_mm = _number(
        "pivot_height_mm", "Pivot height", lowest=-50, highest=150, where="Above the stylus on the record."
    )
    build_centre_height_mm = _number(
        "centre_height_mm", "Height of the centre of mass", lowest=-100, highest=50, where="Above the pivot."
    )
    build_counterweight_mass_g = _number("counterweight_mass_g", "Counterweight", lowest=0, highest=1000)
    build_counterweight_behind_mm = _number(
        "counterweight_behind_mm", "Counterweight's place", lowest=0, highest=300, where="Behind the pivot."
    )
    build_arm_mass_g = _number(
        "arm_mass_g", "Rest of the arm", lowest=1, highest=1000, where="Without counterweight and cartridge."
    )
    build_turn_about = _choice("turn_about", "The cartridge turns about")
    build_screw_forward_mm = _number(
        "screw_forward_mm", "Screw, forward", lowest=-50, highest=50, where="From the stylus."
    )
    build_screw_outward_mm = _number(
        "screw_outward_mm", "Screw, outward", lowest=-50, highest=50, where="From the stylus."
    )
    build_roll_by = _choice("roll_by", "Azimuth is set by")
    build_roll_axis_height_mm = _number(
        "roll_axis_height_mm", "Height of the axis it rolls about", lowest=-50, highest=100, where="Above the stylus."
    )
    build_cartridge_centre_forward_mm = _number(
        "cartridge_centre_forward_mm", "Cartridge's centre, forward", lowest=-50, highest=50, where="From the stylus."
    )
    build_cartridge_centre_up_mm = _number(
        "cartridge_centre_up_mm", "Cartridge's centre, up", lowest=-10, highest=50, where="From the stylus."
    )

    reach_slide_mm = _reach("slide_mm", "Cartridge, forward", farthest=50, bound=", within the lengths above")
    reach_turn_deg = _reach("turn_deg", "Cartridge, turned inward", farthest=45, bound=", within the angles above")
    reach_roll_deg = _reach("roll_deg", "Cartridge or tube, rolled", farthest=45)
    reach_base_position_mm = _reach("base_position_mm", "Arm base, from the spindle", farthest=100)
    reach_arm_height_mm = _reach("arm_height_mm", "Arm, up", farthest=60)
    reach_counterweight_mm = _reach("counterweight_mm", "Counterweight, to the pivot", farthest=100)
    reach_compensation_mn = _reach("compensation_mn", "Compensation, more", farthest=50)

    def clean(self) -> dict[str, Any]:
        """Refuse what makes no arm together."""
        typed = super().clean() or {}
        build = {name.removeprefix("build_"): typed[name] for name in BUILD_FIELDS if typed.get(name) not in (None, "")}
        if build.get("roll_by") == "lateral weight" and build.get("bearing") != "unipivot":
            sentence = (
                "Only a unipivot rolls by a weight moved sideways; say unipivot under Bearing, or choose another."
            )
            self.add_error("build_roll_by", ValidationError(sentence))
        elif all(name in typed for name in BUILD_FIELDS):
            self._refuse_a_fall(build)
        return typed

    def known_of_build(self, stored: Any = None) -> dict[str, Any] | None:
        """Return what the record keeps; what was left as the page showed it stays as it is in `stored`."""
        return self._changed_in(known_build(stored), BUILD_FIELDS)

    def known_reach(self, stored: Any = None) -> dict[str, Any] | None:
        """Return what the record keeps; what was left as the page showed it stays as it is in `stored`."""
        return self._changed_in({name: list(ends) for name, ends in adjuster_limits(stored).items()}, REACH_FIELDS)

    def build_groups(self) -> list[BuildGroup]:
        """Return the fields of the build as they stand on the page."""
        return [BuildGroup(title, [self[f"build_{name}"] for name in names]) for title, names in GROUPS.items()]

    def reach_fields(self) -> list[BoundField]:
        """Return the fields of the adjusters as they stand on the page."""
        return [self[name] for name in REACH_FIELDS]

    def _changed_in(self, kept: Mapping[str, Any], fields: tuple[str, ...]) -> dict[str, Any] | None:
        known = dict(kept)
        for field in fields:
            name = field.partition("_")[2]
            value = self.cleaned_data[field]
            if field in self.changed_data:
                known[name] = list(value) if isinstance(value, tuple) else value
        return {name: value for name, value in known.items() if value not in (None, "")} or None

    def _refuse_a_fall(self, build: Mapping[str, Any]) -> None:
        try:
            known_build(build)
        except ValueError:
            sentence = (
                "A unipivot whose centre of mass is not below the line from pivot to stylus falls on its side; write "
                "a height below the pivot, like -8 mm."
            )
            self.add_error("build_centre_height_mm", ValidationError(sentence))


BUILD_FIELDS = tuple(name for name in ArmFactsForm.base_fields if name.startswith("build_"))
REACH_FIELDS = tuple(name for name in ArmFactsForm.base_fields if name.startswith("reach_"))


def build_typed(record: Any) -> dict[str, str]:
    """Return the fields of the build as they stand for what the record keeps."""
    known = known_build(record)
    return {field: _build_text(known.get(field.removeprefix("build_")), field) for field in BUILD_FIELDS}


def reach_typed(record: Any) -> dict[str, str]:
    """Return the fields of the adjusters as they stand for what the record keeps."""
    known = adjuster_limits(record)
    return {field: _reach_text(known.get(field.removeprefix("reach_")), _kind(field)) for field in REACH_FIELDS}


def fixed_only(record: Any) -> dict[str, list[float]] | None:
    """Return of the adjusters' ways those that hold wherever the adjusters stand: of the ones that cannot be moved."""
    fixed = {name: list(ends) for name, ends in adjuster_limits(record).items() if not any(ends)}
    return fixed or None


def _reach_text(ends: tuple[float, float] | None, kind: str) -> str:
    return typed_reach(ends, kind, unit=canonical_unit(kind))


def _build_text(value: float | str | None, field: str) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    return typed_value(value, _kind(field))
