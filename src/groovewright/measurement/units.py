"""The closed table of units that may be typed or printed, for each kind of quantity.

A unit outside its kind's table is refused, never guessed. Factors that are exact by definition are written as such.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from groovewright.measurement.quantity import Quantity

GRAM_FORCE_MN = 9.80665
"""Force of one gram under standard gravity, exact by definition (third CGPM, 1901). [mN]"""

INCH_MM = 25.4
"""Length of one inch, exact by definition. [mm]"""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity with the units it may be typed in.

    Parameters
    ----------
    name, article : str
        The kind and its article, as they stand in a message: "an" and "angle".
    canonical : str
        Unit used in all computation.
    example : str
        What a good entry looks like, for messages.
    factors : mapping of str to float
        Canonical units in one of each accepted spelling.
    shown : tuple of str
        The spellings named when a unit is refused.
    """

    name: str
    article: str
    canonical: str
    example: str
    factors: Mapping[str, float]
    shown: tuple[str, ...]

    @property
    def described(self) -> str:
        """The kind with its article."""
        return f"{self.article} {self.name}"


def _kind(name: str, canonical: str, example: str, shown: tuple[str, ...], factors: dict[str, float]) -> Kind:
    article = "an" if name[0] in "aeiou" else "a"
    return Kind(name, article, canonical, example, MappingProxyType(factors), shown)


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            _kind(
                "length",
                "mm",
                "222 mm",
                ("mm", "cm", "m", "um", "in"),
                {
                    "mm": 1.0,
                    "cm": 10.0,
                    "m": 1000.0,
                    "um": 1e-3,
                    "in": INCH_MM,
                    "inch": INCH_MM,
                    "inches": INCH_MM,
                    '"': INCH_MM,
                },
            ),
            # A scale for styli reads in grams and means the force; g is gram-force here and only here.
            _kind(
                "force",
                "mN",
                "1.85 g or 18.1 mN",
                ("mN", "cN", "N", "g", "gf"),
                {"mN": 1.0, "cN": 10.0, "N": 1000.0, "uN": 1e-3, "g": GRAM_FORCE_MN, "gf": GRAM_FORCE_MN},
            ),
            _kind("mass", "g", "20 g", ("g", "mg", "kg"), {"g": 1.0, "mg": 1e-3, "kg": 1000.0}),
            _kind(
                "angle",
                "deg",
                "23 deg",
                ("deg", "°", "mrad", "rad", "arcmin"),
                {
                    "deg": 1.0,
                    "°": 1.0,
                    "degree": 1.0,
                    "degrees": 1.0,
                    "rad": math.degrees(1.0),
                    "mrad": math.degrees(1e-3),
                    "arcmin": 1 / 60,
                },
            ),
            _kind(
                "rotation",
                "rpm",
                "33 1/3 rpm",
                ("rpm", "r/min"),
                {"rpm": 1.0, "RPM": 1.0, "r/min": 1.0, "rev/min": 1.0},
            ),
            _kind("velocity", "cm/s", "10 cm/s", ("cm/s", "mm/s", "m/s"), {"cm/s": 1.0, "mm/s": 0.1, "m/s": 100.0}),
            _kind(
                "compliance",
                "um/mN",
                "12 um/mN",
                ("um/mN", "mm/N", "cu", "cm/dyn"),
                {
                    "um/mN": 1.0,
                    "mm/N": 1.0,
                    "cu": 1.0,
                    "x10^-6 cm/dyn": 1.0,
                    "x10-6 cm/dyn": 1.0,
                    "x10^-6 cm/dyne": 1.0,
                    "x10-6 cm/dyne": 1.0,
                    "cm/dyn": 1e6,
                    "cm/dyne": 1e6,
                },
            ),
            _kind("frequency", "Hz", "10 Hz", ("Hz", "kHz"), {"Hz": 1.0, "hz": 1.0, "kHz": 1000.0, "khz": 1000.0}),
            _kind("ratio", "%", "0.5 %", ("%", "ppm"), {"%": 1.0, "percent": 1.0, "ppm": 1e-4}),
        )
    }
)

# Both Unicode micro signs, the multiplication sign and the middle dot of powers are other spellings of these.
_SAME_CHARACTER = str.maketrans({"µ": "u", "μ": "u", "×": "x", "·": "x", "⋅": "x", "″": '"', "”": '"'})

_PRINTED = {"1": "", "deg": "°", "um/mN": "µm/mN", "um": "µm", "uN": "µN"}


def canonical_unit(kind: str) -> str:
    """Return the unit that all computation uses for a kind, such as ``"mm"`` for ``"length"``."""
    return KINDS[kind].canonical


def printed_unit(unit: str) -> str:
    """Return a unit as it is printed: a degree sign for ``"deg"``, a micro sign in ``"um/mN"``, nothing for ``"1"``."""
    return _PRINTED.get(unit, unit)


def normalised_unit(text: str) -> str:
    """Return a typed unit with look-alike characters made one, and no spaces about its signs."""
    return re.sub(r" *([/^x-]) *", r"\1", text.strip().translate(_SAME_CHARACTER))


def unit_factor(unit: str, kind: str) -> float:
    """Return how many canonical units of a kind are in one of a unit.

    Raises
    ------
    ValueError
        If the unit is of another kind, or of none; the message names what would do.
    """
    wanted = KINDS[kind]
    spelling = normalised_unit(unit)
    if spelling in wanted.factors:
        return wanted.factors[spelling]
    others = [other.described for other in KINDS.values() if spelling in other.factors]
    if others:
        raise ValueError(
            f"{unit} is the unit of {' or '.join(others)}; {wanted.described} such as {wanted.example} is needed here"
        )
    raise ValueError(f'"{unit}" is no unit of {wanted.name} known here; use one of {", ".join(wanted.shown)}')


def kinds_with_unit(unit: str) -> tuple[Kind, ...]:
    """Return every kind that has a unit in its table."""
    spelling = normalised_unit(unit)
    return tuple(kind for kind in KINDS.values() if spelling in kind.factors)


def to_canonical(value: float, unit: str, kind: str) -> float:
    """Return a value in the canonical unit of its kind.

    >>> to_canonical(8.75, "in", "length")
    222.25
    >>> round(to_canonical(1.85, "g", "force"), 4)
    18.1423
    """
    return value * unit_factor(unit, kind)


def from_canonical(value: float, unit: str, kind: str) -> float:
    """Return in a chosen unit a value that is in the canonical unit of its kind."""
    return value / unit_factor(unit, kind)


def require_unit(quantity: Quantity, unit: str, *, name: str) -> None:
    """Refuse a quantity that is not in the unit its receiver computes in.

    >>> require_unit(Quantity.exact(8.74, "in"), "mm", name="pivot-to-spindle distance")
    Traceback (most recent call last):
    ...
    ValueError: the pivot-to-spindle distance must be given in mm, not in 'in'
    """
    if quantity.unit != unit:
        raise ValueError(f"the {name} must be given in {unit}, not in {quantity.unit!r}")


def in_unit(quantity: Quantity, unit: str) -> Quantity:
    """Return a quantity in another unit of the same kind, its sources and remarks kept.

    Raises
    ------
    ValueError
        If no kind has both units.
    """
    if unit == quantity.unit:
        return quantity
    common = [kind.name for kind in kinds_with_unit(quantity.unit) if normalised_unit(unit) in kind.factors]
    if not common:
        raise ValueError(f"{quantity.unit} cannot be given in {unit}: they are units of different kinds")
    factor, divisor = unit_factor(quantity.unit, common[0]), unit_factor(unit, common[0])
    components = quantity.components
    if components is not None:
        components = {source: contribution * factor / divisor for source, contribution in components.items()}
    return Quantity(quantity.value * factor / divisor, unit, components, quantity.why_unknown, quantity.how)
