"""Side-force compensation as it was read or measured, with its uncertainties."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity
from groovewright.measurement.units import require_unit
from groovewright.tonearm.compensation import (
    Compensation,
    ConstantCompensation,
    TableCompensation,
    ThreadCompensation,
)
from groovewright.tonearm.geometry import Geometry


@dataclass(frozen=True)
class GivenConstant:
    """One force for all radii. [mN]"""

    force: Quantity

    def parts(self) -> dict[str, Quantity]:
        """Return the quantities that it is computed from, by name."""
        require_unit(self.force, "mN", name="compensation")
        return {"compensation": self.force}

    def at(self, values: Mapping[str, float], geometry: Geometry) -> Compensation:
        """Return the compensation at values of its parts."""
        return ConstantCompensation(values["compensation"])


@dataclass(frozen=True)
class GivenTable:
    """A force for each of several radii, which rise. [mm], [mN]"""

    radii_mm: tuple[float, ...]
    forces: tuple[Quantity, ...]

    def parts(self) -> dict[str, Quantity]:
        """Return the quantities that it is computed from, by name."""
        # Refuses a table that is none before its forces are named after its radii.
        TableCompensation(self.radii_mm, tuple(force.value for force in self.forces))
        named = {
            f"compensation at {radius:g} mm": force for radius, force in zip(self.radii_mm, self.forces, strict=True)
        }
        for name, force in named.items():
            require_unit(force, "mN", name=name)
        return named

    def at(self, values: Mapping[str, float], geometry: Geometry) -> Compensation:
        """Return the compensation at values of its parts."""
        return TableCompensation(
            self.radii_mm, tuple(values[f"compensation at {radius:g} mm"] for radius in self.radii_mm)
        )


@dataclass(frozen=True)
class GivenThread:
    """A weight on a thread by its dimensions, as `tonearm.compensation.ThreadCompensation` describes them.

    Attributes
    ----------
    weight_mass : Quantity
        [g]
    lever, guide_distance : Quantity
        Vertical axis to the thread's end and to the guide, in the plan. [mm]
    lever_angle : Quantity
        Thread's end from the line pivot-stylus, growing outward. [deg]
    guide_angle : Quantity
        Guide from the line pivot-spindle, growing outward. [deg]
    guide_height : Quantity
        Guide above the thread's end. [mm]
    """

    weight_mass: Quantity
    lever: Quantity
    lever_angle: Quantity
    guide_distance: Quantity
    guide_angle: Quantity
    guide_height: Quantity

    def parts(self) -> dict[str, Quantity]:
        """Return the quantities that it is computed from, by name."""
        named = {
            "mass of the weight": (self.weight_mass, "g"),
            "lever of the thread": (self.lever, "mm"),
            "angle of the lever": (self.lever_angle, "deg"),
            "distance of the guide": (self.guide_distance, "mm"),
            "angle of the guide": (self.guide_angle, "deg"),
            "height of the guide": (self.guide_height, "mm"),
        }
        for name, (quantity, unit) in named.items():
            require_unit(quantity, unit, name=name)
        return {name: quantity for name, (quantity, _) in named.items()}

    def at(self, values: Mapping[str, float], geometry: Geometry) -> Compensation:
        """Return the compensation at values of its parts."""
        return ThreadCompensation(
            geometry,
            weight_mass_g=values["mass of the weight"],
            lever_mm=values["lever of the thread"],
            lever_angle_deg=values["angle of the lever"],
            guide_distance_mm=values["distance of the guide"],
            guide_angle_deg=values["angle of the guide"],
            guide_height_mm=values["height of the guide"],
        )


GivenCompensation = GivenConstant | GivenTable | GivenThread


def compensation_at(
    given: GivenCompensation, radius_mm: float, *, pivot_to_spindle: Quantity, effective_length: Quantity
) -> Quantity:
    """Return the compensation at one groove radius, as a force at the stylus; positive outward. [mN]

    Raises
    ------
    ValueError
        If a table does not reach the radius, or a thread's dimensions are none.
    """
    return propagate(
        lambda **at: float(
            given.at(at, Geometry(at["pivot-to-spindle distance"], at["effective length"], 0.0)).force_mn(radius_mm)
        ),
        {"pivot-to-spindle distance": pivot_to_spindle, "effective length": effective_length, **given.parts()},
        unit="mN",
        how=f"at {radius_mm:g} mm",
    )
