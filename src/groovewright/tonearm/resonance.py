"""Low-frequency resonance of arm and cartridge on the compliance of the cantilever's suspension."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.measurement.conformity import DecisionRule, Tolerance, Verdict, decide
from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit

AIM_HZ = Tolerance(8.0, 12.0, "Hz")
"""Common practice in the trade, without a source."""

# Compliance at 10 Hz over the value quoted, as a range: common practice in the trade, without a source.
_FACTOR_TO_10_HZ: dict[float | None, tuple[float, float]] = {10.0: (1.0, 1.0), 100.0: (1.5, 2.0), None: (1.0, 2.0)}


@dataclass(frozen=True)
class Resonance:
    """Where the arm resonates and whether that is where it should.

    Attributes
    ----------
    frequency : Quantity
        Resonance frequency. [Hz]
    moving_mass : Quantity
        Arm effective mass, cartridge and fasteners together. [g]
    compliance : Quantity
        At 10 Hz, after any correction of the quoted value. [um/mN]
    verdict : Verdict
        Against the aim of 8 to 12 Hz.
    notes : tuple of str
        What was assumed, and other notes.
    """

    frequency: Quantity
    moving_mass: Quantity
    compliance: Quantity
    verdict: Verdict
    notes: tuple[str, ...]


def resonance_frequency(*, mass_g: float, compliance_um_mn: float) -> float:
    """Return the frequency at which a mass resonates on a compliance.

    Parameters
    ----------
    mass_g : float
        Mass as felt at the stylus. [g]
    compliance_um_mn : float
        Compliance of the suspension. [um/mN]

    Returns
    -------
    float
        f = 1 / (2 pi sqrt(M C)). [Hz]

    Examples
    --------
    >>> round(resonance_frequency(mass_g=20, compliance_um_mn=12), 2)
    10.27
    """
    for name, number, unit in (("mass", mass_g, "g"), ("compliance", compliance_um_mn, "um/mN")):
        if not (math.isfinite(number) and number > 0):
            raise ValueError(f"a {name} of {number:g} {unit} cannot resonate; it must be above 0 {unit}")
    # 1 g x 1 um/mN is 1e-6 s^2.
    return 1000 / (2 * math.pi * math.sqrt(mass_g * compliance_um_mn))


def moving_mass(*, arm: Quantity, cartridge: Quantity, fasteners: Quantity | None = None) -> Quantity:
    """Return what moves with the stylus: arm effective mass, cartridge and its fasteners. [g]"""
    parts = {"arm": arm, "cartridge": cartridge}
    if fasteners is not None:
        parts["fasteners"] = fasteners
    for name, part in parts.items():
        require_unit(part, "g", name=f"mass of the {name}")
        if part.value < 0:
            raise ValueError(f"a mass of {part.value:g} g for {name} cannot be; it must be 0 g or more")
    masses = {f"mass of the {name}": part for name, part in parts.items()}
    return propagate(lambda **at: math.fsum(at.values()), masses, unit="g", how="sum of " + ", ".join(parts))


def compliance_at_10_hz(quoted: Quantity, *, quoted_at_hz: float | None) -> Quantity:
    """Return the compliance at 10 Hz, near which the arm resonates.

    Parameters
    ----------
    quoted : Quantity
        As the maker gives it. [um/mN]
    quoted_at_hz : float or None
        10, 100, or None if the maker does not say. A value for 100 Hz is raised by 1.5 to 2, one for an unknown
        frequency by 1 to 2, and the width of that range becomes an uncertainty. [Hz]
    """
    require_unit(quoted, "um/mN", name="compliance")
    if quoted_at_hz not in _FACTOR_TO_10_HZ:
        raise ValueError(
            f"a compliance quoted at {quoted_at_hz:g} Hz cannot be turned into one at 10 Hz; give the value for 10 or "
            f"100 Hz, or leave the frequency out if the maker does not say"
        )
    lowest, highest = _FACTOR_TO_10_HZ[quoted_at_hz]
    if lowest == highest:
        return quoted
    factor = Quantity.measured(
        (lowest + highest) / 2,
        "1",
        standard_uncertainty=(highest - lowest) / math.sqrt(12),
        source="compliance at 10 Hz over the quoted one",
    )
    return propagate(
        lambda **at: at["quoted compliance"] * at["factor"],
        {"quoted compliance": quoted, "factor": factor},
        unit="um/mN",
        how=f"quoted value raised by {lowest:g} to {highest:g}",
    )


def resonance(
    mass: Quantity,
    compliance: Quantity,
    *,
    compliance_quoted_at_hz: float | None = 10.0,
    rule: DecisionRule | None = None,
) -> Resonance:
    """Return the resonance of a moving mass on a quoted compliance, with its verdict.

    Parameters
    ----------
    mass : Quantity
        From `moving_mass`. [g]
    compliance : Quantity
        As the maker quotes it. [um/mN]
    compliance_quoted_at_hz : float or None
        10, 100, or None if the maker does not say. [Hz]
    rule : DecisionRule, optional
        Guarded acceptance if not given.
    """
    require_unit(mass, "g", name="moving mass")
    effective = compliance_at_10_hz(compliance, quoted_at_hz=compliance_quoted_at_hz)
    frequency = propagate(
        lambda **at: resonance_frequency(mass_g=at["moving mass"], compliance_um_mn=at["compliance"]),
        {"moving mass": mass, "compliance": effective},
        unit="Hz",
        how="moving mass and compliance",
    )
    verdict = decide(frequency, AIM_HZ, rule or DecisionRule("guarded acceptance"))
    return Resonance(frequency, mass, effective, verdict, _notes(frequency, compliance_quoted_at_hz))


def _notes(frequency: Quantity, quoted_at_hz: float | None) -> tuple[str, ...]:
    notes = []
    if quoted_at_hz == 100.0:
        notes.append(
            "The compliance is quoted at 100 Hz; at 10 Hz it is higher by a factor of 1.5 to 2 (common practice, no "
            "source), and that range is part of the uncertainty."
        )
    if quoted_at_hz is None:
        notes.append(
            "The maker does not say at which frequency the compliance holds; it is taken as 1 to 2 times the quoted "
            "value at 10 Hz, and that range is part of the uncertainty."
        )
    if AIM_HZ.upper is not None and frequency.value > AIM_HZ.upper:
        notes.append("Above 12 Hz the resonance comes near the music: more mass, or a more compliant cartridge.")
    if AIM_HZ.lower is not None and frequency.value < AIM_HZ.lower:
        notes.append("Below 8 Hz warps excite the resonance: less mass, or a less compliant cartridge.")
    return tuple(notes)
