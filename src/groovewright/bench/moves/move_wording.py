"""Moves and what they do, in workshop terms."""

from __future__ import annotations

import math
from collections.abc import Sequence

from groovewright.bench.estimate.settings import SETTINGS, SettingKey
from groovewright.measurement.formatting import FINEST_SHOWN, finest_shown, format_quantity
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import in_unit, printed_unit
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_build import ArmBuild, RollBy

_DO: dict[str, tuple[str, str]] = {
    "slide_mm": ("slide the cartridge forward {}", "slide the cartridge back {}"),
    "turn_deg": ("turn the cartridge inward {}", "turn the cartridge outward {}"),
    "base_position_mm": ("move the arm base {} away from the spindle", "move the arm base {} toward the spindle"),
    "arm_height_mm": ("raise the arm base {}", "lower the arm base {}"),
    "counterweight_mm": (
        "move the counterweight {} toward the pivot",
        "move the counterweight {} away from the pivot",
    ),
    "compensation_mn": ("add {} of side-force compensation", "take {} of side-force compensation off"),
}
_ROLL: dict[RollBy, tuple[str, str]] = {
    "cartridge": (
        "roll the cartridge {} clockwise, seen from the front",
        "roll the cartridge {} counter-clockwise, seen from the front",
    ),
    "arm tube": (
        "roll the arm tube {} clockwise, seen from the front",
        "roll the arm tube {} counter-clockwise, seen from the front",
    ),
    "lateral weight": (
        "move the lateral weight outward until the arm has rolled {} clockwise, seen from the front",
        "move the lateral weight inward until the arm has rolled {} counter-clockwise, seen from the front",
    ),
}


def amount_text(adjuster: str, amount: float, uncertainty: float = 0.0) -> str:
    """Return how far an adjuster is moved, without its direction, forces in g with mN beside.

    >>> amount_text("slide_mm", -0.341, 0.12), amount_text("compensation_mn", 0.98)
    ('0.34 mm ± 0.12 mm', '0.10 g (0.98 mN)')
    """
    size, unit = abs(amount), ADJUSTER_TABLE[adjuster].unit
    if unit == "mN":
        return f"{with_uncertainty(size, uncertainty, unit, shown_unit='g')} ({rounded(size, FINEST_SHOWN[unit])} mN)"
    return with_uncertainty(size, uncertainty, unit)


def with_uncertainty(value: float, uncertainty: float, unit: str, *, shown_unit: str | None = None) -> str:
    """Return a value with its standard uncertainty, or to two significant digits where there is none."""
    if uncertainty > 0:
        amount = Quantity.measured(value, unit, standard_uncertainty=uncertainty, source="amount")
        return format_quantity(amount, unit=shown_unit)
    shown, printed = in_unit(Quantity.exact(value, unit), shown_unit or unit).value, printed_unit(shown_unit or unit)
    return f"{rounded(shown, finest_shown(unit, shown_unit or unit))}{'' if printed == '°' else ' '}{printed}"


def rounded(value: float, finest: int | None = None) -> str:
    """Return a number to two significant digits, no finer than the power of ten `finest`, never with one itself.

    >>> rounded(0.0234), rounded(12.34), rounded(0.0)
    ('0.023', '12', '0')
    """
    if value == 0 or not math.isfinite(value):
        return "0"
    digits = max(0, 1 - math.floor(math.log10(abs(float(f"{value:.1e}")))))
    return f"{value:.{digits if finest is None else min(digits, max(0, -finest))}f}"


def setting_amount(key: SettingKey, size: float) -> str:
    """Return a change of a setting; forces in g.

    >>> setting_amount("tracking_force", 0.196), setting_amount("zenith", 0.4)
    ('0.020 g', '0.40°')
    """
    unit = SETTINGS[key].unit
    return with_uncertainty(size, 0.0, unit, shown_unit="g" if unit == "mN" else None)


def instruction(build: ArmBuild, amounts: Sequence[tuple[str, float, float]]) -> str:
    """Return what to do, with each amount and its uncertainty, as a sentence without its full stop.

    >>> from groovewright.tonearm.arm_build import usual_build
    >>> from groovewright.tonearm.geometry import Geometry
    >>> arm = usual_build(Geometry(222, 239.296, 22.99))
    >>> instruction(arm, [("slide_mm", 0.341, 0.12), ("turn_deg", 0.4, 0.15)])
    'Slide the cartridge forward 0.34 mm ± 0.12 mm, then turn it inward 0.40° ± 0.15°'
    """
    parts = []
    for place, (adjuster, amount, uncertainty) in enumerate(amounts):
        forms = _ROLL[build.roll_by] if adjuster == "roll_deg" else _DO[adjuster]
        text = forms[0 if amount > 0 else 1].format(amount_text(adjuster, amount, uncertainty))
        parts.append(text.replace("the cartridge", "it") if place else text)
    text = ", then ".join(parts)
    return text[0].upper() + text[1:]


def changed(key: SettingKey, change: float) -> str:
    """Return what becomes of a setting, for example ``"raises the tracking force by about 0.020 g"``."""
    verb = "raises" if change > 0 else "lowers"
    if key == "effective_length":
        verb = "lengthens" if change > 0 else "shortens"
    title = SETTINGS[key].title.lower()
    return f"{verb} the {title} by about {setting_amount(key, abs(change))}"


def blurred(key: SettingKey, blur: float) -> str:
    """Return that a setting is less well known, for example ``"leaves the zenith uncertain by 0.15° more"``."""
    return f"leaves the {SETTINGS[key].title.lower()} uncertain by about {setting_amount(key, blur)}"


def listed(words: Sequence[str]) -> str:
    """Return words as a list in a sentence.

    >>> listed(["a", "b", "c"]), listed(["a"])
    ('a, b and c', 'a')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else list(words))
