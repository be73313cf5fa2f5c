"""What the settings other than the effective length should be: an aim and limits of each, where not as usual."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField

from groovewright.bench.estimate.setting_targets import (
    CUTTING_ANGLE_DEG,
    DEFAULT_TOLERANCES,
    STYLUS_RAKE_ANGLE_DEG,
    VERTICAL_TRACKING_HALF_WIDTH_DEG,
)
from groovewright.bench.estimate.settings import SETTINGS, SettingKey
from groovewright.bench.forces.side_force_request import LIMIT_SHARE
from groovewright.jobbook.bench_facts import setting_limits
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.tonearm.input_ranges import (
    AZIMUTH,
    SIDE_FORCE,
    STYLUS_RAKE_ANGLE,
    TRACKING_FORCE,
    VERTICAL_TRACKING_ANGLE,
    ZENITH,
    InputRange,
)
from groovewright.web.intake.limits_field import LimitsField, ValueField, typed_limits, typed_value, unbroken

USUAL_AIMS: dict[SettingKey, float] = {
    "side_force": 0.0,
    "zenith": 0.0,
    "azimuth": 0.0,
    "stylus_rake_angle": STYLUS_RAKE_ANGLE_DEG,
    "vertical_tracking_angle": CUTTING_ANGLE_DEG,
}
AT_THE_MIDDLE = frozenset({"tracking_force", "side_force", "stylus_rake_angle"})
"""Limits of these bring their middle as the aim; the others keep the usual aim."""

KEYS: tuple[SettingKey, ...] = (
    "zenith",
    "azimuth",
    "stylus_rake_angle",
    "vertical_tracking_angle",
    "tracking_force",
    "side_force",
)
_RANGES: dict[SettingKey, InputRange] = {
    "zenith": ZENITH,
    "azimuth": AZIMUTH,
    "stylus_rake_angle": STYLUS_RAKE_ANGLE,
    "vertical_tracking_angle": VERTICAL_TRACKING_ANGLE,
    "tracking_force": TRACKING_FORCE,
    "side_force": SIDE_FORCE,
}
# Nobody's usual numbers, but such as are often right.
_EXAMPLES_MN: dict[SettingKey, tuple[float, float, float]] = {
    "tracking_force": (1.9 * GRAM_FORCE_MN, 1.8 * GRAM_FORCE_MN, 2.0 * GRAM_FORCE_MN),
    "side_force": (0.0, -0.1 * GRAM_FORCE_MN, 0.1 * GRAM_FORCE_MN),
}
_HINTS: dict[SettingKey, tuple[str, str]] = {
    "vertical_tracking_angle": ("The cutting angle. Usual: {aim}.", "Usual: {limits}."),
    "tracking_force": ("Usual: the middle of the limits.", "Usual: the maker's range."),
    "side_force": (
        "Left over, inward. Usual: {aim}.",
        f"Over the whole groove. Usual: {100 * LIMIT_SHARE:g}\N{NO-BREAK SPACE}% of the tracking force.",
    ),
}


class SettingRow(NamedTuple):
    """One setting of the form: its name and its two fields."""

    title: str
    aim: BoundField
    limits: BoundField


def _usual(key: SettingKey) -> tuple[float, float, float]:
    """Return usual aim and limits, or an example of them where the usual ones are not numbers."""
    if key in _EXAMPLES_MN:
        return _EXAMPLES_MN[key]
    aim, tolerance = USUAL_AIMS[key], DEFAULT_TOLERANCES.get(key)
    if tolerance is None or tolerance.lower is None or tolerance.upper is None:
        return aim, aim - VERTICAL_TRACKING_HALF_WIDTH_DEG, aim + VERTICAL_TRACKING_HALF_WIDTH_DEG
    return aim, tolerance.lower, tolerance.upper


def _kind(key: SettingKey) -> str:
    return "force" if SETTINGS[key].unit == "mN" else "angle"


def _aim(key: SettingKey) -> ValueField:
    example, *_ = _usual(key)
    usual = typed_value(example, _kind(key))
    hint = _HINTS.get(key, ("Usual: {aim}.", ""))[0].format(aim=unbroken(usual))
    return ValueField(_kind(key), label="Aim", example=usual, help_text=hint, **_RANGES[key].ends)


def _limits(key: SettingKey) -> LimitsField:
    _, lower, upper = _usual(key)
    example = typed_limits(lower, upper, _kind(key))
    hint = _HINTS.get(key, ("", "Usual: {limits}."))[1].format(limits=unbroken(example))
    return LimitsField(_kind(key), label="Limits, from:to", example=example, help_text=hint, **_RANGES[key].ends)


class SettingLimitsForm(forms.Form):
    """Aim and limits of six of the seven settings; what is left empty is as usual."""

    zenith_aim = _aim("zenith")
    zenith_limits = _limits("zenith")
    azimuth_aim = _aim("azimuth")
    azimuth_limits = _limits("azimuth")
    stylus_rake_angle_aim = _aim("stylus_rake_angle")
    stylus_rake_angle_limits = _limits("stylus_rake_angle")
    vertical_tracking_angle_aim = _aim("vertical_tracking_angle")
    vertical_tracking_angle_limits = _limits("vertical_tracking_angle")
    tracking_force_aim = _aim("tracking_force")
    tracking_force_limits = _limits("tracking_force")
    side_force_aim = _aim("side_force")
    side_force_limits = _limits("side_force")

    def clean(self) -> dict[str, Any]:
        """Refuse an aim outside its limits, those that are as usual included."""
        typed = super().clean() or {}
        for key in KEYS:
            if f"{key}_aim" in typed and f"{key}_limits" in typed:
                self._refuse_outside(key, typed[f"{key}_aim"], typed[f"{key}_limits"] or (None, None))
        if typed.get("side_force_aim") and "side_force_limits" in typed and typed["side_force_limits"] is None:
            sentence = "The usual limits lie about 0; write limits about this aim, like -0.05:0.15 g."
            self.add_error("side_force_limits", ValidationError(sentence))
        self._refuse_outside_makers_range(typed)
        return typed

    def setting_rows(self) -> list[SettingRow]:
        """Return the fields as they stand on the page."""
        return [SettingRow(SETTINGS[key].title, self[f"{key}_aim"], self[f"{key}_limits"]) for key in KEYS]

    def chosen_limits(self, stored: Any = None) -> dict[str, dict[str, float | None]] | None:
        """Return what the record keeps; what was left as the page showed it stays as it is in `stored`."""
        chosen: dict[str, Any] = {key: limits.as_record() for key, limits in setting_limits(stored).items()}
        for key in KEYS:
            limits = chosen.setdefault(key, {"aim": None, "lower": None, "upper": None})
            if f"{key}_aim" in self.changed_data:
                limits["aim"] = self.cleaned_data[f"{key}_aim"]
            if f"{key}_limits" in self.changed_data:
                limits["lower"], limits["upper"] = self.cleaned_data[f"{key}_limits"] or (None, None)
        return {key: limits for key, limits in chosen.items() if set(limits.values()) != {None}} or None

    def _refuse_outside(self, key: SettingKey, aim: float | None, limits: tuple[float | None, float | None]) -> None:
        lower, upper = limits
        has_middle = key in AT_THE_MIDDLE and lower is not None and upper is not None
        stands = aim if aim is not None or has_middle else USUAL_AIMS.get(key)
        if stands is None or not ((lower is not None and stands < lower) or (upper is not None and stands > upper)):
            return
        given = typed_limits(lower, upper, _kind(key))
        shown = typed_value(stands, _kind(key))
        if aim is None:
            sentence = f"The usual aim of {shown} is outside the limits {given}; write the aim that goes with them."
        else:
            sentence = f"{shown} is outside the limits {given}; change the aim or the limits."
        self.add_error(f"{key}_aim", ValidationError(sentence))

    def _refuse_outside_makers_range(self, typed: Mapping[str, Any]) -> None:
        if typed.get("force_range") is None:
            return
        least, most = typed["force_range"]
        makers = typed_limits(least, most, "force")
        for name in ("tracking_force_aim", "tracking_force_limits"):
            value = typed.get(name)
            ends = value if isinstance(value, tuple) else (value,)
            # The same number in another unit may differ in its last digit.
            if any(end is not None and not least - 1e-6 <= end <= most + 1e-6 for end in ends):
                sentence = f"The maker's range is {makers}, and the force never goes outside it; write what is within."
                self.add_error(name, ValidationError(sentence))


SETTING_FIELDS = tuple(SettingLimitsForm.base_fields)


def settings_typed(record: Any) -> dict[str, str]:
    """Return the fields as they stand for what the record keeps."""
    chosen = setting_limits(record)
    fields = {}
    for key in KEYS:
        limits = chosen.get(key)
        fields[f"{key}_aim"] = "" if limits is None else typed_value(limits.aim, _kind(key))
        fields[f"{key}_limits"] = "" if limits is None else typed_limits(limits.lower, limits.upper, _kind(key))
    return fields
