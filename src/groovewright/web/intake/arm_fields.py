"""What is known of an arm beyond its drawing: how it is built, and how far each of its adjusters goes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from groovewright.jobbook.bench_facts import adjuster_limits, known_build
from groovewright.measurement.units import canonical_unit
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_build import USUAL, USUAL_UNIPIVOT
from groovewright.tonearm.input_ranges import (
    BALANCING_MASS,
    CARTRIDGE_CENTRE_HEIGHT,
    CENTRE_HEIGHT,
    COUNTERWEIGHT_PLACE,
    PIVOT_HEIGHT,
    PLACE_IN_THE_HEADSHELL,
    REST_OF_THE_ARM_MASS,
    ROLL_AXIS_HEIGHT,
    InputRange,
)
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


def _number(name: str, label: str, can_be: InputRange, *, where: str = "") -> ValueField:
    kind = _kind(name)
    usual = typed_value(float(USUAL[name]), kind)
    hint = f"{where} Usual: {unbroken(usual)}".strip()
    if name in USUAL_UNIPIVOT:
        hint += f", of a unipivot {unbroken(typed_value(float(USUAL_UNIPIVOT[name]), kind))}"
    return ValueField(kind, label=label, example=usual, help_text=f"{hint}.", **can_be.ends)


def _reach(name: str, *, bound: str = "") -> ReachField:
    adjuster, kind = ADJUSTER_TABLE[name], _kind(name)
    ends, unit = adjuster.usual_range, adjuster.unit
    usual = typed_reach(ends, kind, unit=unit)
    # What is usually fixed still shows in which unit a bare number is.
    example = typed_reach((-1.0, 1.0), kind, unit=unit) if ends == (0.0, 0.0) else usual
    return ReachField(
        kind,
        label=adjuster.title,
        example=example,
        help_text=f"Usual: {unbroken(usual)}{bound}.",
        lowest=-adjuster.max_travel,
        highest=adjuster.max_travel,
        show_unit=unit,
    )


def _kind(name: str) -> str:
    return {"mm": "length", "g": "mass", "deg": "angle", "mn": "force"}[name.rsplit("_", 1)[1]]


class ArmFactsForm(forms.Form):
    """How the arm is built and how far its adjusters go; what is left empty is taken as usual."""

    build_axis = _choice("axis", "Axis of vertical motion")
    build_bearing = _choice("bearing", "Bearing")
    build_pivot_height_mm = _number(
        "pivot_height_mm", "Pivot height", PIVOT_HEIGHT, where="Above the stylus on the record."
    )
    build_centre_height_mm = _number(
        "centre_height_mm", "Height of the centre of mass", CENTRE_HEIGHT, where="Above the pivot."
    )
    build_counterweight_mass_g = _number("counterweight_mass_g", "Counterweight", BALANCING_MASS)
    build_counterweight_behind_mm = _number(
        "counterweight_behind_mm", "Counterweight's place", COUNTERWEIGHT_PLACE, where="Behind the pivot."
    )
    build_arm_mass_g = _number(
        "arm_mass_g", "Rest of the arm", REST_OF_THE_ARM_MASS, where="Without counterweight and cartridge."
    )
    build_turn_about = _choice("turn_about", "The cartridge turns about")
    build_screw_forward_mm = _number(
        "screw_forward_mm", "Screw, forward", PLACE_IN_THE_HEADSHELL, where="From the stylus."
    )
    build_screw_outward_mm = _number(
        "screw_outward_mm", "Screw, outward", PLACE_IN_THE_HEADSHELL, where="From the stylus."
    )
    build_roll_by = _choice("roll_by", "Azimuth is set by")
    build_roll_axis_height_mm = _number(
        "roll_axis_height_mm", "Height of the axis it rolls about", ROLL_AXIS_HEIGHT, where="Above the stylus."
    )
    build_cartridge_centre_forward_mm = _number(
        "cartridge_centre_forward_mm", "Cartridge's centre, forward", PLACE_IN_THE_HEADSHELL, where="From the stylus."
    )
    build_cartridge_centre_up_mm = _number(
        "cartridge_centre_up_mm", "Cartridge's centre, up", CARTRIDGE_CENTRE_HEIGHT, where="From the stylus."
    )

    reach_slide_mm = _reach("slide_mm", bound=", within the lengths above")
    reach_turn_deg = _reach("turn_deg", bound=", within the angles above")
    reach_roll_deg = _reach("roll_deg")
    reach_base_position_mm = _reach("base_position_mm")
    reach_arm_height_mm = _reach("arm_height_mm")
    reach_counterweight_mm = _reach("counterweight_mm")
    reach_compensation_mn = _reach("compensation_mn")

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
