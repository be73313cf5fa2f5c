"""What is typed when a deck is taken in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.estimate.joined_readings import JoinedReadings
from groovewright.measurement.conformity import DecisionRule
from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.input_ranges import (
    ARM_LENGTH,
    CARTRIDGE_MASS,
    COMPLIANCE,
    EFFECTIVE_MASS,
    FASTENERS_MASS,
    FORCE_PER_MM,
    LENGTH_TOLERANCE,
    OFFSET_ANGLE,
    OVERHANG,
    RECORD_THICKNESS,
    RISK,
    SPEED,
    STYLUS_HOURS,
    TRACKING_FORCE,
)
from groovewright.web.choose.forms import ARM_KINDS, TANGENTIAL
from groovewright.web.intake.arm_fields import ArmFactsForm
from groovewright.web.intake.beside_others import BesideOthersForm
from groovewright.web.intake.defaults import DEFAULTS, NOT_NAMED
from groovewright.web.intake.folds import Fold, folds
from groovewright.web.intake.groove_form import OWN_RANGE, GrooveForm, groove_choices
from groovewright.web.intake.quantity_field import NumberField, QuantityField, RangeField
from groovewright.web.intake.second_thoughts import SecondThoughtsForm
from groovewright.web.intake.setting_fields import SettingLimitsForm
from groovewright.web.intake.take_in_doubts import ask_back_take_in

RULES = {
    "guarded acceptance": "Guarded acceptance",
    "simple acceptance": "Simple acceptance",
    "guarded rejection": "Guarded rejection",
}
USUAL_IF_EMPTY = frozenset({"groove", "speed", "length_tolerance", "decision_rule", "risk"})
COMPLIANCE_AT = {"": "the maker does not say", "10": "10 Hz", "100": "100 Hz"}


def words(label: str, *, longest: int = 300, required: bool = False, example: str = "", **options: Any) -> Any:
    """Return a field for one line of plain words."""
    needed = {"required": f"Say which {label.lower()} it is."}
    field = forms.CharField(label=label, max_length=longest, required=required, error_messages=needed, **options)
    # The browser would cut a longer entry without a word; the form says so instead.
    field.widget.attrs.pop("maxlength", None)
    field.widget.attrs.update({"placeholder": example, "autocomplete": "off"})
    return field


def paragraph(label: str, *, rows: int = 3, sentence: bool = False, **options: Any) -> Any:
    """Return a field for some lines of plain words, or for a `sentence` that Enter ends."""
    widget = forms.Textarea(attrs={"rows": rows} | ({"data-sentence": ""} if sentence else {}))
    field = forms.CharField(label=label, max_length=4000, required=False, widget=widget, **options)
    field.widget.attrs.pop("maxlength", None)
    return field


class RuleForm(forms.Form):
    """The tolerance and the decision rule: what every verdict of the job rests on."""

    length_tolerance = RangeField(
        "length",
        label="Tolerance of the effective length",
        example="-0.5:0.5 mm",
        help_text="How far the effective length may be from its target, short:long. Usual: ±0.5 mm.",
        required=False,
        **LENGTH_TOLERANCE.ends,
    )
    decision_rule = forms.ChoiceField(
        label="Decision rule", choices=list(RULES.items()), required=False, help_text="Usual: guarded acceptance."
    )
    risk = QuantityField(
        "ratio",
        label="Risk of a wrong verdict at a limit",
        source="risk as typed",
        example="5 %",
        help_text="Sets the safety margin; simple acceptance has none. Usual: 5 %.",
        required=False,
        **RISK.ends,
    )

    def clean(self) -> dict[str, Any]:
        """Take the usual for what was left empty."""
        typed = super().clean() or {}
        for name in USUAL_IF_EMPTY & self.fields.keys():
            if name in typed and typed[name] in (None, ""):
                typed[name] = self.fields[name].clean(DEFAULTS[name])
        return typed

    def rule(self) -> DecisionRule:
        """Return the rule that was typed; no guarded verdict by it is wrong more often than the risk."""
        typed = self.cleaned_data
        return DecisionRule.of_maximum_risk(typed["risk"].value / 100, typed["decision_rule"])


class TakeInForm(BesideOthersForm, SecondThoughtsForm, GrooveForm, RuleForm, SettingLimitsForm, ArmFactsForm):
    """Deck, complaint, arm, cartridge, records, tolerances and rule; only the deck and the kind of arm are needed."""

    told_before: frozenset[str] = frozenset()

    deck_description = words("Deck", required=True, example="Maker and model")
    deck_note = paragraph("Note on the deck", rows=2)
    complaint = paragraph("Complaint", rows=2, sentence=True, help_text="In the owner's words, in a sentence.")

    arm_description = words("Arm", example="Maker and model")
    arm_kind = forms.ChoiceField(label="Kind of arm", choices=list(ARM_KINDS.items()))
    pivot_to_spindle = QuantityField(
        "length",
        label="Pivot to spindle, if measured",
        source="pivot-to-spindle distance at take-in",
        example="222 +- 0.3 mm",
        help_text="Stored as a reading. May follow on the next page.",
        required=False,
        **ARM_LENGTH.ends,
    )
    effective_mass = QuantityField(
        "mass",
        label="Effective mass",
        source="effective mass of the arm",
        example="12 g",
        help_text="Without cartridge and fasteners.",
        required=False,
        **EFFECTIVE_MASS.ends,
    )
    drawn_pivot_to_spindle = QuantityField(
        "length",
        label="Pivot to spindle",
        source="maker's drawing",
        example="222 mm",
        required=False,
        **ARM_LENGTH.ends,
    )
    drawn_effective_length = QuantityField(
        "length",
        label="Effective length",
        source="maker's drawing",
        example="239.3 mm",
        required=False,
        **ARM_LENGTH.ends,
    )
    drawn_overhang = QuantityField(
        "length",
        label="Overhang",
        source="maker's drawing",
        example="17.3 mm",
        required=False,
        **OVERHANG.ends,
    )
    drawn_offset_angle = QuantityField(
        "angle",
        label="Offset angle",
        source="maker's drawing",
        example="23 deg",
        required=False,
        **OFFSET_ANGLE.ends,
    )
    length_limits = RangeField(
        "length",
        label="Effective length, from:to",
        example="236:243 mm",
        help_text="Shortest:longest. Empty if unbounded.",
        required=False,
        **ARM_LENGTH.ends,
    )
    length_fixed = forms.BooleanField(
        label="The effective length is fixed at the maker's value: no slots", required=False
    )
    angle_limits = RangeField(
        "angle",
        label="Offset angle, from:to",
        example="21:25 deg",
        help_text="Smallest:largest. Empty if unbounded.",
        required=False,
        **OFFSET_ANGLE.ends,
    )
    angle_fixed = forms.BooleanField(
        label="The offset angle is fixed at the maker's value: the cartridge cannot turn", required=False
    )

    cartridge_description = words("Cartridge", example="Maker and model")
    force_range = RangeField(
        "force",
        label="Maker's force range",
        example="1.6:2.0 g",
        help_text="Least:most. Without it no verdict on the force.",
        required=False,
        **TRACKING_FORCE.ends,
        show_unit="g",
    )
    compliance = QuantityField(
        "compliance",
        label="Compliance",
        source="compliance by the maker",
        example="12 um/mN",
        help_text="Same number as in 10⁻⁶ cm/dyn. With +- 2 um/mN the resonance can be judged.",
        required=False,
        **COMPLIANCE.ends,
    )
    compliance_at = forms.ChoiceField(
        label="Quoted at",
        required=False,
        choices=list(COMPLIANCE_AT.items()),
        help_text="At 100 Hz it is lower than at 10 Hz; the difference is carried as uncertainty.",
    )
    cartridge_mass = QuantityField(
        "mass",
        label="Mass",
        source="mass of the cartridge",
        example="6.5 g",
        required=False,
        **CARTRIDGE_MASS.ends,
    )
    fasteners_mass = QuantityField(
        "mass",
        label="Fasteners",
        source="mass of the fasteners",
        example="1.2 g",
        help_text="Screws, nuts and washers together.",
        required=False,
        **FASTENERS_MASS.ends,
    )
    recommended_loading = words("Recommended loading", longest=200, example="47 kΩ, 150 to 250 pF")
    stylus_hours = NumberField(
        label="Hours on the stylus",
        required=False,
        example="300",
        **STYLUS_HOURS.ends,
        outside="No stylus has played less than 0 or more than 20,000 hours; check the number, or leave it empty.",
        unit_beside="h",
    )

    groove = forms.ChoiceField(label="Records: groove range", choices=groove_choices, required=False)
    record_thickness = QuantityField(
        "length",
        label="Record thickness",
        source="thickness of the records",
        example="1.9 mm",
        help_text="Of the records to be played, at the groove. Forces are carried to this height.",
        required=False,
        **RECORD_THICKNESS.ends,
    )
    force_per_mm = QuantityField(
        "force",
        label="Force change per mm",
        source="change of force with height",
        example="0.01 g",
        help_text="With the height of the stylus. Empty: from readings at two heights.",
        required=False,
        **FORCE_PER_MM.ends,
        show_unit="g",
    )
    speed = QuantityField(
        "rotation",
        label="Speed",
        source="speed as typed",
        example="33 1/3 rpm",
        help_text="Usual: 33 1/3 rpm.",
        required=False,
        **SPEED.ends,
    )
    mistracking_reported = forms.BooleanField(label="Mistracking is part of the complaint", required=False)

    def clean(self) -> dict[str, Any]:
        """Refuse what was announced but not given, and a distance of an arm that has no pivot."""
        typed = super().clean()
        if typed.get("arm_kind") == TANGENTIAL and typed.get("pivot_to_spindle") is not None:
            sentence = (
                "A tangential arm has no pivot, and so no such distance; leave this empty, or choose another kind."
            )
            self.add_error("pivot_to_spindle", ValidationError(sentence))
        for fixed, drawn, limits, name in (
            ("length_fixed", "drawn_effective_length", "length_limits", "effective length"),
            ("angle_fixed", "drawn_offset_angle", "angle_limits", "offset angle"),
        ):
            if typed.get(fixed) and drawn in typed and typed[drawn] is None:
                sentence = f"The {name} was said to be fixed at the maker's value; write that value here."
                self.add_error(drawn, ValidationError(sentence))
            if typed.get(fixed) and typed.get(limits) is not None:
                sentence = f"A fixed {name} has no range; leave this empty, or take back that it is fixed."
                self.add_error(limits, ValidationError(sentence))
        ask_back_take_in(self, typed)
        return typed

    def beside_visit_before(self, told: Mapping[str, str]) -> None:
        """Say beside fields that are typed anew at every visit what they were at the visit before."""
        for name, text in told.items():
            if text:
                self.fields[name].help_text = f"At the visit before: {text}."
        self.told_before = frozenset(name for name, text in told.items() if text)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        first = "owner_name" if "owner_name" in self.fields else "deck_description"
        if not self.initial.get("deck_description"):
            self.fields[first].widget.attrs["data-first"] = ""

    def beside_readings(self, joined: JoinedReadings | None) -> None:
        """Say what the distance is by the readings that the job has from elsewhere."""
        if joined is not None and not self.initial["pivot_to_spindle"]:
            known = format_quantity(joined.quantity)
            self.fields["pivot_to_spindle"].help_text = f"By the readings so far: {known}. Another may be added."

    def folds(self) -> list[Fold]:
        """Return what is beyond the first screen, by subject."""
        return folds(self, told_before=self.told_before)

    def has_cartridge(self) -> bool:
        """Return whether anything of a cartridge was typed."""
        return any(self.cleaned_data[name] not in (None, "") for name in CARTRIDGE_FIELDS)

    def arm_facts(self, *, build: Any = None, adjuster_limits: Any = None) -> dict[str, Any]:
        """Return the arm as the job book keeps one, with what it keeps already of build and adjusters."""
        typed = self.cleaned_data
        shortest, longest = typed["length_limits"] or (None, None)
        smallest, largest = typed["angle_limits"] or (None, None)
        drawn = ("drawn_pivot_to_spindle", "drawn_effective_length", "drawn_overhang", "drawn_offset_angle")
        return {
            "description": typed["arm_description"] or NOT_NAMED,
            "kind": typed["arm_kind"],
            "effective_mass": typed["effective_mass"],
            **{name: typed[name] for name in drawn},
            "effective_length_fixed": typed["length_fixed"],
            "effective_length_lower_mm": shortest,
            "effective_length_upper_mm": longest,
            "offset_angle_fixed": typed["angle_fixed"],
            "offset_angle_lower_deg": smallest,
            "offset_angle_upper_deg": largest,
            "build": self.known_of_build(build),
            "adjuster_limits": self.known_reach(adjuster_limits),
        }

    def cartridge_facts(self) -> dict[str, Any]:
        """Return the cartridge as the job book keeps one."""
        typed = self.cleaned_data
        least, most = (None, None) if typed["force_range"] is None else map(makers_limit, typed["force_range"])
        at = typed["compliance_at"]
        return {
            "description": typed["cartridge_description"] or NOT_NAMED,
            "tracking_force_lower": least,
            "tracking_force_upper": most,
            "compliance": typed["compliance"],
            "compliance_at": Quantity.exact(float(at), "Hz", how="as the maker quotes it") if at else None,
            "mass": typed["cartridge_mass"],
            "fasteners_mass": typed["fasteners_mass"],
            "recommended_loading": typed["recommended_loading"],
            "stylus_hours": typed["stylus_hours"],
        }

    def intake_facts(self, *, tolerances: Any = None, stylus_hours: float | None = None) -> dict[str, Any]:
        """Return the facts that the job rests on, as the job book keeps them, with what it keeps already of two."""
        typed = self.cleaned_data
        shortest_mm, longest_mm = typed["length_tolerance"]
        return {
            **self._groove(),
            "record_thickness": typed["record_thickness"],
            "height_slope": per_mm(typed["force_per_mm"]),
            "mistracking_reported": typed["mistracking_reported"],
            "speed_rpm": typed["speed"].value,
            "length_tolerance_lower_mm": shortest_mm,
            "length_tolerance_upper_mm": longest_mm,
            "rule": self.rule(),
            "tolerances": self.chosen_limits(tolerances),
            "stylus_hours": typed["stylus_hours"] if "stylus_hours" in self.changed_data else stylus_hours,
        }

    def _groove(self) -> Mapping[str, Any]:
        innermost_mm, outermost_mm = self.groove_radii_mm()
        radii = {"innermost_mm": innermost_mm, "outermost_mm": outermost_mm}
        if self.cleaned_data["groove"] == OWN_RANGE:
            return radii
        disc, standard = self.cleaned_data["groove"].split("|")
        return {"groove_disc": disc, "groove_standard": standard, **radii}


CARTRIDGE_FIELDS = frozenset(
    {"cartridge_description", "force_range", "compliance", "compliance_at", "cartridge_mass", "fasteners_mass"}
    | {"recommended_loading", "stylus_hours"}
)


class NewOwnerJobForm(TakeInForm):
    """All of that, for an owner who comes for the first time."""

    owner_name = words("Owner", longest=200, example="Name, if wanted")
    owner_contact = paragraph("Contact", rows=2, help_text="Address, telephone, electronic mail: as much as is needed.")


def makers_limit(force_mn: float) -> Quantity:
    """Return one end of the maker's range, which is stated and so exact."""
    return Quantity.exact(force_mn, "mN", how="maker's range")


def per_mm(force: Quantity | None) -> Quantity | None:
    """Return a force that was typed for each mm of height as the slope it means."""
    if force is None:
        return None
    return Quantity(force.value, "mN/mm", force.components, force.why_unknown, force.how)
