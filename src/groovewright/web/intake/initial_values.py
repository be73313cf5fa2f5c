"""What the fields hold before anything is typed: the defaults, or what the record knows already."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist
from typing import Any

from groovewright.jobbook.models import Arm, Cartridge, Deck, Intake
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import GRAM_FORCE_MN
from groovewright.web.intake.arm_fields import REACH_FIELDS, build_typed, reach_typed
from groovewright.web.intake.defaults import DEFAULTS, NOT_NAMED
from groovewright.web.intake.groove_form import OWN_RANGE
from groovewright.web.intake.limits_field import FIXED
from groovewright.web.intake.quantity_field import typed_again
from groovewright.web.intake.setting_fields import settings_typed


def initial_values(deck: Deck | None, intake: Intake | None) -> dict[str, Any]:
    """Return the fields as they stand for a deck and the last facts known of it."""
    fields: dict[str, Any] = dict(DEFAULTS)
    if deck is not None:
        fields |= {"deck_description": deck.description, "deck_note": deck.note}
    if intake is None:
        return fields
    if intake.arm is not None:
        fields |= _arm(intake.arm.current())
    if intake.cartridge is not None:
        fields |= _cartridge(intake.cartridge.current())
    fields |= _facts(intake)
    if intake.stylus_hours is not None:
        fields["stylus_hours"] = _hours(intake.stylus_hours)
    return fields


def initial_values_of_next_visit(deck: Deck, intake: Intake | None) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the fields as they stand when a deck comes back, and what those were that are told anew at every visit.

    The hours on the stylus have grown since, and an adjuster's way counts from where it stands as found. What is fixed
    stays so.
    """
    fields = initial_values(deck, intake)
    hours = fields.get("stylus_hours")
    ways = {name: fields[name] for name in REACH_FIELDS if fields.get(name) not in (None, "", FIXED)}
    told = ways | ({"stylus_hours": f"{hours} h"} if hours else {})
    return fields | dict.fromkeys(told, ""), told


def _arm(arm: Arm) -> dict[str, Any]:
    drawn = ("drawn_pivot_to_spindle", "drawn_effective_length", "drawn_overhang", "drawn_offset_angle")
    return {
        "arm_description": _name(arm.description),
        "arm_kind": arm.kind,
        "effective_mass": typed_again(arm.effective_mass),
        **{name: typed_again(getattr(arm, name)) for name in drawn},
        "length_fixed": arm.effective_length_fixed,
        "length_limits": _range(arm.effective_length_limits_mm, "mm"),
        "angle_fixed": arm.offset_angle_fixed,
        "angle_limits": _range(arm.offset_angle_limits_deg, "deg"),
        **build_typed(arm.build),
        **reach_typed(arm.adjuster_limits),
    }


def _cartridge(cartridge: Cartridge) -> dict[str, Any]:
    return {
        "cartridge_description": _name(cartridge.description),
        "force_range": _force_range(cartridge.tracking_force_lower, cartridge.tracking_force_upper),
        "compliance": typed_again(cartridge.compliance),
        "compliance_at": "" if cartridge.compliance_at is None else f"{cartridge.compliance_at.value:g}",
        "cartridge_mass": typed_again(cartridge.mass),
        "fasteners_mass": typed_again(cartridge.fasteners_mass),
        "recommended_loading": cartridge.recommended_loading,
        "stylus_hours": _hours(cartridge.stylus_hours),
    }


def _facts(intake: Intake) -> dict[str, Any]:
    own = not intake.groove_standard
    slope = intake.height_slope
    risk = 1 - NormalDist().cdf(intake.guard_factor) if intake.maximum_risk is None else intake.maximum_risk
    return {
        "groove": OWN_RANGE if own else f"{intake.groove_disc}|{intake.groove_standard}",
        "own_range": _range((intake.innermost_mm, intake.outermost_mm), "mm") if own else "",
        "record_thickness": typed_again(intake.record_thickness),
        "force_per_mm": "" if slope is None else typed_again(replace(slope, unit="mN")),
        "speed": speed_typed(intake.speed_rpm),
        "mistracking_reported": intake.mistracking_reported,
        "length_tolerance": _range((intake.length_tolerance_lower_mm, intake.length_tolerance_upper_mm), "mm"),
        "decision_rule": intake.decision_rule,
        "risk": f"{100 * risk:.10g} %",
        **settings_typed(intake.tolerances),
    }


def speed_typed(speed_rpm: float) -> str:
    """Return a speed as it is typed: thirds as a fraction, so that nothing is lost.

    >>> speed_typed(100 / 3), speed_typed(45.0)
    ('33 1/3 rpm', '45 rpm')
    """
    thirds = round(3 * speed_rpm)
    if thirds % 3 and thirds / 3 == speed_rpm:
        return f"{thirds // 3} {thirds % 3}/3 rpm"
    return f"{speed_rpm:.10g} rpm"


def _name(description: str) -> str:
    return "" if description == NOT_NAMED else description


def _hours(hours: float | None) -> str:
    """Return hours as they are typed, without a decimal point where none was."""
    return "" if hours is None else f"{hours:.10g}"


def _range(limits: tuple[float, float] | None, unit: str) -> str:
    return "" if limits is None else f"{limits[0]:.10g}:{limits[1]:.10g} {unit}"


def _force_range(least: Quantity | None, most: Quantity | None) -> str:
    if least is None or most is None:
        return ""
    return f"{least.value / GRAM_FORCE_MN:.6g}:{most.value / GRAM_FORCE_MN:.6g} g"
