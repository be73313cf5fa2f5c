"""What is typed on the gauges' page: the target, the plays of the ready gauges, and a gauge of one's own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.bench.estimate.job_facts import DEFAULT_RISK
from groovewright.bench.gauging.gauge_comparison import LENGTH_LIMIT_MM, ZENITH_LIMIT_DEG, GaugeTarget
from groovewright.bench.targets.targets import TargetRequest, choose_targets
from groovewright.files.chain_sheet import KINDS_OF_UNITS, LARGEST, read_chain_sheet
from groovewright.gauges.gauge_chain import (
    DISTRIBUTIONS,
    FEWEST_PLACES,
    MOST_PLACES,
    GaugeChain,
    Joint,
    joint_of,
)
from groovewright.gauges.ready_chains import READY_CHAINS
from groovewright.measurement.conformity import DecisionRule
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.criteria import CRITERIA
from groovewright.tonearm.input_ranges import ARM_LENGTH, RISK
from groovewright.web.choose.starting_values import FIRST_CRITERION, FIRST_GROOVE
from groovewright.web.intake.forms import RULES
from groovewright.web.intake.groove_form import GrooveForm
from groovewright.web.intake.quantity_field import NumberField, QuantityField

HOW_GIVEN = {
    "clearance": "clearance",
    "tolerance": "either way",
    "standard uncertainty": "standard uncertainty",
}
LONGEST_SHEET = 20_000
HOW_MANY_PLACES = f"Write how many places are read, a whole number from {FEWEST_PLACES} to {MOST_PLACES}."


class PlayField(QuantityField):
    """How far a joint may be off: a quantity that is itself an uncertainty, so that it has none."""

    def clean(self, value: Any) -> Quantity | None:
        """Return the play; ValidationError with one sentence that says what would be right."""
        play = super().clean(value)
        if play is not None and play.components is not None:
            raise ValidationError(
                "%(typed)s: leave the ± away; this is itself how far it may be off, such as %(example)s.",
                code="uncertain",
                params={"typed": value, "example": self.example},
            )
        return play


class TargetForm(GrooveForm):
    """What the gauges are to show."""

    pivot_to_spindle = QuantityField(
        "length",
        label="Pivot-to-spindle distance",
        source="pivot-to-spindle distance as typed",
        example="222 mm",
        help_text="Gauges differ little between arms of like length.",
        **ARM_LENGTH.ends,
    )
    criterion = forms.ChoiceField(
        label="Criterion", choices=[(key, key.replace("-", " ").capitalize()) for key in CRITERIA]
    )
    length_limit = PlayField(
        "length",
        label="Length within ±",
        source="limit",
        example="0.5 mm",
        lowest=0.01,
        highest=20,
    )
    zenith_limit = PlayField(
        "angle",
        label="Zenith within ±",
        source="limit",
        example="0.5 deg",
        lowest=0.01,
        highest=20,
    )
    decision_rule = forms.ChoiceField(label="Decision rule", choices=list(RULES.items()))
    risk = PlayField(
        "ratio",
        label="Risk of a wrong verdict",
        source="risk as typed",
        example="5 %",
        **RISK.ends,
    )

    def clean(self) -> dict[str, Any]:
        """Refuse grooves that are not given, and an arm that cannot play them."""
        cleaned = super().clean()
        if self.errors:
            return cleaned
        try:
            cleaned["target"] = self._target(cleaned)
        except ValueError as refusal:
            self.add_error("pivot_to_spindle", ValidationError(f"{str(refusal)[:1].upper()}{str(refusal)[1:]}."))
        return cleaned

    def _target(self, typed: Mapping[str, Any]) -> GaugeTarget:
        return GaugeTarget(
            choose_targets(TargetRequest(typed["pivot_to_spindle"], typed["criterion"], *self.groove_radii_mm())),
            typed["length_limit"].value,
            typed["zenith_limit"].value,
            DecisionRule.of_maximum_risk(typed["risk"].value / 100, typed["decision_rule"]),
        )


class ChainForm(forms.Form):
    """A ready gauge: whether it is compared, and the play of each of its joints."""

    picked = forms.BooleanField(required=False)

    def __init__(self, data: Any, key: str) -> None:
        super().__init__(data, prefix=key)
        self.key, self.chain = key, READY_CHAINS[key]
        self.fields["picked"].label = self.chain.name
        if self.chain.sets_by == "trace":
            self.fields["places"] = NumberField(
                label="Places read",
                example="8",
                whole=True,
                lowest=FEWEST_PLACES,
                highest=MOST_PLACES,
                outside=HOW_MANY_PLACES,
                error_messages={"required": HOW_MANY_PLACES},
            )
        for k, joint in enumerate(self.chain.joints):
            self.fields[f"play-{k}"] = _play(joint)
            if joint.given_as != "standard uncertainty":
                self.fields[f"spread-{k}"] = forms.ChoiceField(
                    label=f"{joint.name}: distribution", choices=[(name, name) for name in DISTRIBUTIONS]
                )
            if joint.bears_on == "print_scale":
                self.fields[f"known-{k}"] = _known(joint)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """Return the joints as the page shows them: the fields of each, and how its play is given."""
        return [
            {
                "play": self[f"play-{k}"],
                "spread": self[f"spread-{k}"] if f"spread-{k}" in self.fields else None,
                "known": self[f"known-{k}"] if f"known-{k}" in self.fields else None,
                "how": HOW_GIVEN[joint.given_as],
            }
            for k, joint in enumerate(self.chain.joints)
        ]

    @property
    def is_picked(self) -> bool:
        """Return whether it is ticked, right or wrong."""
        return bool(self["picked"].value())

    def typed_chain(self) -> GaugeChain:
        """Return the gauge with the plays that were typed."""
        typed = self.cleaned_data
        joints = tuple(self._joint(k, joint) for k, joint in enumerate(self.chain.joints))
        return GaugeChain(
            self.chain.name,
            self.chain.sets_by,
            joints,
            self.chain.mark,
            typed.get("places", self.chain.places),
            self.chain.about,
        )

    def _joint(self, k: int, joint: Joint) -> Joint:
        typed = self.cleaned_data
        known = typed.get(f"known-{k}")
        return joint_of(
            joint.name,
            typed[f"play-{k}"].value,
            joint.bears_on,
            given_as=joint.given_as,
            distribution=typed.get(f"spread-{k}", joint.distribution),
            sensitivity=joint.sensitivity,
            lever_mm=joint.lever_mm,
            nominal=joint.nominal if known is None else known.value,
        )


class OwnForm(forms.Form):
    """A gauge of one's own as the text of a chain sheet."""

    sheet = forms.CharField(
        label="Chain sheet (TOML)",
        required=False,
        widget=forms.Textarea(attrs={"rows": 12, "spellcheck": "false", "autocomplete": "off", "class": "sheet"}),
    )

    def clean_sheet(self) -> GaugeChain | None:
        """Return the gauge that the sheet describes; ValidationError that names the place in it."""
        text = self.cleaned_data["sheet"]
        if not text.strip():
            return None
        if len(text) > LONGEST_SHEET:
            raise ValidationError(f"The sheet has {len(text)} characters; at most {LONGEST_SHEET} are read here.")
        try:
            chain = read_chain_sheet(text)
        except ValueError as refusal:
            raise ValidationError(f"{str(refusal)[:1].upper()}{str(refusal)[1:]}.", code="unread") from refusal
        if chain.name in {ready.name for ready in READY_CHAINS.values()}:
            raise ValidationError(f"A ready gauge is named {chain.name!r} already; give this one its own name.")
        return chain


class ComparisonForms:
    """All that is typed on the page, bound to one set of entries."""

    def __init__(self, data: Any) -> None:
        self.target = TargetForm(data, prefix="target")
        self.gauges = [ChainForm(data, key) for key in READY_CHAINS]
        self.own = OwnForm(data, prefix="own")

    @property
    def all(self) -> list[forms.Form]:
        """Return every form."""
        return [self.target, *self.gauges, self.own]

    def is_valid(self) -> bool:
        """Return whether every entry can be used; a gauge that is not ticked is not in the way."""
        return all([form.is_valid() for form in (self.target, *self._picked(), self.own)])

    def chains(self) -> dict[str, GaugeChain]:
        """Return the gauges that are compared, by key; valid forms only."""
        found = {form.key: form.typed_chain() for form in self._picked()}
        own = self.own.cleaned_data["sheet"]
        return found if own is None else {**found, "own": own}

    def gauge_target(self) -> GaugeTarget:
        """Return what the gauges are to show; valid forms only."""
        found: GaugeTarget = self.target.cleaned_data["target"]
        return found

    def _picked(self) -> list[ChainForm]:
        return [form for form in self.gauges if form.is_picked]


def starting_entries() -> dict[str, str]:
    """Return the entries that the page opens with: every ready gauge as it is, at an invented arm."""
    entries = {
        "target-pivot_to_spindle": "222 mm",
        "target-groove": FIRST_GROOVE,
        "target-own_range": "",
        "target-criterion": FIRST_CRITERION,
        "target-length_limit": f"{LENGTH_LIMIT_MM:g} mm",
        "target-zenith_limit": f"{ZENITH_LIMIT_DEG:g} deg",
        "target-decision_rule": "guarded acceptance",
        "target-risk": f"{100 * DEFAULT_RISK:g} %",
        "own-sheet": "",
    }
    for key, chain in READY_CHAINS.items():
        entries[f"{key}-picked"] = "on"
        if chain.sets_by == "trace":
            entries[f"{key}-places"] = str(chain.places)
        for k, joint in enumerate(chain.joints):
            entries[f"{key}-play-{k}"] = _shown(joint.amount, joint)
            entries[f"{key}-spread-{k}"] = joint.distribution
            entries[f"{key}-known-{k}"] = _shown(joint.nominal, joint)
    return entries


def _play(joint: Joint) -> PlayField:
    return PlayField(
        KINDS_OF_UNITS[joint.unit],
        label=joint.name,
        source=joint.name,
        example=_shown(joint.amount, joint),
        show_unit=joint.unit,
        lowest=0,
        highest=LARGEST[joint.unit],
    )


def _known(joint: Joint) -> PlayField:
    return PlayField(
        KINDS_OF_UNITS[joint.unit],
        label="Scale known and left on",
        source=joint.name,
        example="0.2 %",
        show_unit=joint.unit,
        lowest=-LARGEST[joint.unit],
        highest=LARGEST[joint.unit],
    )


def _shown(amount: float, joint: Joint) -> str:
    return f"{amount:.6g}°" if joint.unit == "deg" else f"{amount:.6g} {joint.unit}"
