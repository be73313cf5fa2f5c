"""What the record holds for the bench as plain JSON, read back with every part checked.

Each function raises ValueError in one sentence for anything that it would not have written.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from groovewright.bench.estimate.settings import SETTING_KEYS, SETTINGS
from groovewright.jobbook.models import AdjustmentMade
from groovewright.measurement.units import printed_unit
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_build import USUAL, usual_build
from groovewright.tonearm.arm_state import ADJUSTERS, Adjustments
from groovewright.tonearm.geometry import Geometry

LARGEST_NUMBER = 1e6
"""Far beyond any aim or limit in mm, mN or degrees; it keeps a damaged file out of the computation."""
LENGTH = "effective_length"
LIMITS = ("aim", "lower", "upper")

_FROM_ELSEWHERE = (
    "cartridge_mass_g",
    "tracking_force_mn",
    "friction_coefficient",
    "azimuth_deg",
    "stylus_rake_angle_deg",
    "vertical_tracking_angle_deg",
    "record_thickness_mm",
)
BUILD_NAMES = tuple(name for name in USUAL if name not in _FROM_ELSEWHERE)
"""Of `ArmBuild`, what is kept with an arm; readings, the cartridge and the intake tell the rest."""


@dataclass(frozen=True, slots=True)
class SettingLimits:
    """Aim and limits of one setting as chosen for a job, in its unit; None where the usual holds."""

    aim: float | None = None
    lower: float | None = None
    upper: float | None = None

    def as_record(self) -> dict[str, float | None]:
        """Return what the record keeps."""
        return {"aim": self.aim, "lower": self.lower, "upper": self.upper}


def setting_limits(record: Any) -> dict[str, SettingLimits]:
    """Return the limits that were chosen for a job, by setting; empty where all are as usual."""
    chosen = {}
    for key, limits in _mapping(record, "limits of the settings").items():
        if key not in SETTING_KEYS or key == LENGTH:
            allowed = ", ".join(k for k in SETTING_KEYS if k != LENGTH)
            raise ValueError(f"limits are chosen here for {allowed}, not for {str(key)[:40]!r}")
        title = SETTINGS[key].title.lower()
        values = _mapping(limits, f"limits of the {title}")
        odd = sorted(set(values) - set(LIMITS))
        if odd:
            raise ValueError(f"the limits of the {title} are {', '.join(LIMITS)}, not {odd[0]!r}")
        found = SettingLimits(
            **{
                name: None if value is None else _number(value, f"{name} of the {title}")
                for name, value in values.items()
            }
        )
        _check_order(found, title)
        if found != SettingLimits():
            chosen[key] = found
    return chosen


def _check_order(limits: SettingLimits, title: str) -> None:
    given = [value for value in (limits.lower, limits.aim, limits.upper) if value is not None]
    if given != sorted(given) or (limits.lower is not None and limits.lower == limits.upper):
        raise ValueError(
            f"the limits of the {title} stand from low to high with the aim between them, not "
            f"{', '.join(f'{value:g}' for value in given)}"
        )


def known_build(record: Any) -> dict[str, float | str]:
    """Return what is known of how an arm is built, by the names of `ArmBuild`."""
    known: dict[str, float | str] = {}
    for name, value in _mapping(record, "build of an arm").items():
        if name not in BUILD_NAMES:
            raise ValueError(f"of an arm's build {', '.join(BUILD_NAMES)} are kept, not {name[:40]!r}")
        known[name] = value if isinstance(value, str) else _number(value, f"{name} of the arm")
    for name, value in known.items():
        if isinstance(value, str) is not isinstance(USUAL[name], str):
            raise ValueError(f"{name} of the arm cannot be {str(value)[:40]!r}")
    # The geometry stands for any: what is known must make an arm together.
    usual_build(Geometry(222.0, 239.3, 23.0), **known)
    return known


def adjuster_limits(record: Any) -> dict[str, tuple[float, float]]:
    """Return how far each adjuster goes from where it stood as found; absent where nothing is known to bound it."""
    limits = {}
    for name, pair in _mapping(record, "limits of the adjusters").items():
        what = _adjuster(name)
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise ValueError(f"the adjuster {what!r} has two limits, lowest and highest")
        lowest, highest = (_number(value, f"limit of {what!r}") for value in pair)
        if not lowest <= 0 <= highest:
            raise ValueError(
                f"the limits of {what!r} count from where it stood as found, so 0 lies between them; {lowest:g} to "
                f"{highest:g} leaves it out"
            )
        limits[name] = (lowest, highest)
    return limits


@dataclass(frozen=True, slots=True)
class AmountsMoved:
    """How far each adjuster was moved, the standard uncertainty of each, and which moved by an unknown amount."""

    amounts: Adjustments
    uncertainties: Adjustments
    unknown: frozenset[str] = frozenset()


def adjustments(move: AdjustmentMade) -> AmountsMoved:
    """Return what a move moved; an amount that nobody knows is kept as null, and so is its uncertainty."""
    amounts, uncertainties = (
        {
            name: None if value is None else _number(value, f"amount of {_adjuster(name)!r}")
            for name, value in _mapping(held, "move").items()
        }
        for held in (move.amounts, move.uncertainties)
    )
    for name in {*amounts, *uncertainties}:
        _adjuster(name)
    if set(amounts) != set(uncertainties):
        raise ValueError("a move names the same adjusters in its amounts and in their uncertainties")
    unknown = frozenset(name for name, amount in amounts.items() if amount is None)
    if unknown != {name for name, u in uncertainties.items() if u is None}:
        raise ValueError("an amount that is not known has no uncertainty, and one that is known has")
    known, spread = (
        {name: value for name, value in held.items() if value is not None} for held in (amounts, uncertainties)
    )
    for name, u in spread.items():
        if u < 0:
            raise ValueError(f"the uncertainty of {_adjuster(name)!r} is 0 or more, not {u:g}")
    return AmountsMoved(Adjustments(**known), Adjustments(**spread), unknown)


def amounts_in_words(amounts: Adjustments, unknown: frozenset[str] = frozenset()) -> str:
    """Return a move as the record words it where nobody did: each adjuster that was touched, and by how much.

    >>> amounts_in_words(Adjustments(slide_mm=-0.34, turn_deg=0.4))
    'cartridge slid forward -0.34 mm, cartridge turned inward 0.4°'
    >>> amounts_in_words(Adjustments(), frozenset({"roll_deg"}))
    'cartridge rolled by an unknown amount'
    """
    moved = [
        f"{adjuster.positive} by an unknown amount"
        if name in unknown
        else f"{adjuster.positive} {amount:.4g}{'' if adjuster.unit == 'deg' else ' '}{printed_unit(adjuster.unit)}"
        for (name, adjuster), amount in zip(ADJUSTER_TABLE.items(), amounts.as_array(), strict=True)
        if amount or name in unknown
    ]
    return ", ".join(moved) or "touched, and set back where it was"


def _adjuster(name: Any) -> str:
    if name not in ADJUSTERS:
        raise ValueError(f"the adjusters are {', '.join(ADJUSTERS)}; {str(name)[:40]!r} is none of them")
    return ADJUSTER_TABLE[name].positive


def _mapping(record: Any, what: str) -> Mapping[str, Any]:
    if record is None:
        return {}
    if not isinstance(record, Mapping) or not all(isinstance(name, str) for name in record):
        raise ValueError(f"the {what} go by name, not {str(record)[:40]!r}")
    return record


def _number(value: Any, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"the {what} is a number, not {str(value)[:40]!r}")
    if not (math.isfinite(value) and abs(value) <= LARGEST_NUMBER):
        raise ValueError(f"the {what} cannot be {str(value)[:40]}")
    return float(value)
