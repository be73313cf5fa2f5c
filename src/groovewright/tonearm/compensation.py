"""Side-force compensation as a force at the stylus: constant, read off a table, or by a weight on a thread."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import groove_angle
from groovewright.tonearm.tracking_force import STANDARD_GRAVITY_M_S2


class Compensation(Protocol):
    """Anything that pulls the arm outward."""

    def force_mn(self, radius_mm: ArrayLike) -> NDArray[np.float64]:
        """Return the force at the stylus square to the line pivot-stylus, positive outward. [mN]"""


@dataclass(frozen=True, slots=True)
class ConstantCompensation:
    """The same force at every radius, as many springs and magnets are meant to give. [mN]"""

    constant_mn: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.constant_mn):
            raise ValueError(f"a compensation must be finite, not {self.constant_mn:g} mN")

    def force_mn(self, radius_mm: ArrayLike) -> NDArray[np.float64]:
        """Return the force at each radius, shape of `radius_mm`. [mN]"""
        return np.full(np.shape(radius_mm), self.constant_mn)


@dataclass(frozen=True, slots=True)
class TableCompensation:
    """Forces that were read at several radii, straight lines between, and nothing beyond.

    Parameters
    ----------
    radii_mm : tuple of float
        At least two, rising. [mm]
    forces_mn : tuple of float
        Force at the stylus, positive outward, one for each radius. [mN]
    """

    radii_mm: tuple[float, ...]
    forces_mn: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.radii_mm) != len(self.forces_mn) or len(self.radii_mm) < 2:
            raise ValueError(
                f"a table of compensation needs two radii or more and a force for each, not {len(self.radii_mm)} radii "
                f"and {len(self.forces_mn)} forces"
            )
        if not all(math.isfinite(number) for number in (*self.radii_mm, *self.forces_mn)):
            raise ValueError("radii and forces of a table of compensation must be finite")
        for before, after in zip(self.radii_mm, self.radii_mm[1:], strict=False):
            if not before < after:
                raise ValueError(
                    f"the radii of a table of compensation must rise, and {after:g} mm comes after {before:g} mm; give "
                    f"each radius once, the smallest first"
                )
        if not self.radii_mm[0] > 0:
            raise ValueError(f"a groove radius must be above 0 mm, not {self.radii_mm[0]:g} mm")

    def force_mn(self, radius_mm: ArrayLike) -> NDArray[np.float64]:
        """Return the force at each radius, shape of `radius_mm`; ValueError beyond the table. [mN]"""
        radius = np.asarray(radius_mm, dtype=float)
        beyond = ~((radius >= self.radii_mm[0]) & (radius <= self.radii_mm[-1]))
        if beyond.any():
            raise ValueError(
                f"the table of compensation runs from {self.radii_mm[0]:g} to {self.radii_mm[-1]:g} mm and says "
                f"nothing of {radius[beyond].flat[0]:g} mm; read the compensation there too, or narrow the groove range"
            )
        return np.asarray(np.interp(radius, self.radii_mm, self.forces_mn))


@dataclass(frozen=True, slots=True)
class ThreadCompensation:
    """A weight on a thread that runs over a fixed guide to a lever on the arm.

    The thread slides freely in its guide, which is small beside the other lengths. Angles are seen from above and grow
    outward, away from the spindle.

    Parameters
    ----------
    geometry : Geometry
        Of the arm.
    weight_mass_g : float
        What hangs on the thread. [g]
    lever_mm : float
        Vertical axis of the arm to the point where the thread is tied. [mm]
    lever_angle_deg : float
        That point from the line pivot-stylus, about the vertical axis; the lever turns with the arm. [deg]
    guide_distance_mm : float
        Vertical axis to the guide, in the plan. [mm]
    guide_angle_deg : float
        The guide from the line pivot-spindle, about the vertical axis; it stays where it is. [deg]
    guide_height_mm : float
        Guide above the point where the thread is tied; negative below. [mm]
    """

    geometry: Geometry
    weight_mass_g: float
    lever_mm: float
    lever_angle_deg: float
    guide_distance_mm: float
    guide_angle_deg: float
    guide_height_mm: float = 0.0

    def __post_init__(self) -> None:
        for name, number, unit in (
            ("mass of the weight", self.weight_mass_g, "g"),
            ("lever of the thread", self.lever_mm, "mm"),
            ("distance of the guide", self.guide_distance_mm, "mm"),
        ):
            if not (math.isfinite(number) and number > 0):
                raise ValueError(f"the {name} must be above 0 {unit} and finite, not {number:g} {unit}")
        for name, number in (
            ("angle of the lever", self.lever_angle_deg),
            ("angle of the guide", self.guide_angle_deg),
        ):
            if not abs(number) <= 360:
                raise ValueError(f"the {name} lies between -360 and 360 deg, not at {number:g} deg")
        if not math.isfinite(self.guide_height_mm):
            raise ValueError(f"the height of the guide must be finite, not {self.guide_height_mm:g} mm")

    def force_mn(self, radius_mm: ArrayLike) -> NDArray[np.float64]:
        """Return the force at each radius, shape of `radius_mm`; positive outward. [mN]

        Raises
        ------
        ValueError
            If the stylus cannot reach a radius, or the lever meets the guide on the way.
        """
        bearing_rad = np.radians(arm_bearing(radius_mm, geometry=self.geometry))
        ahead_rad = math.radians(self.guide_angle_deg) - bearing_rad - math.radians(self.lever_angle_deg)
        lever, guide = self.lever_mm, self.guide_distance_mm
        thread_mm = np.sqrt(lever**2 + guide**2 - 2 * lever * guide * np.cos(ahead_rad) + self.guide_height_mm**2)
        if not (thread_mm > NEAREST_GUIDE_MM).all():
            raise ValueError(
                f"the end of the lever comes within {float(thread_mm.min()):.2g} mm of the guide, so the thread pulls "
                f"nowhere in particular; check the lever's and the guide's distance and angle"
            )
        # Moment of the thread about the vertical axis: lever x pull, the pull pointing from the lever to the guide.
        pull_mn = self.weight_mass_g * STANDARD_GRAVITY_M_S2
        moment_mn_mm = pull_mn * lever * guide * np.sin(ahead_rad) / thread_mm
        return np.asarray(moment_mn_mm / self.geometry.effective_length_mm)


NEAREST_GUIDE_MM = 0.5
"""A guide is about as wide; nearer to the lever's end it is no point any more. [mm]"""


def arm_bearing(radius_mm: ArrayLike, *, geometry: Geometry) -> NDArray[np.float64]:
    """Return the angle between the lines pivot-spindle and pivot-stylus, growing as the stylus goes outward.

    Parameters
    ----------
    radius_mm : array_like, any shape
        Groove radius. [mm]
    geometry : Geometry

    Returns
    -------
    ndarray, shape of `radius_mm`
        0 to 180. [deg]

    Raises
    ------
    ValueError
        If the stylus cannot reach a radius.
    """
    radius = np.asarray(radius_mm, dtype=float)
    length, mounting = geometry.effective_length_mm, geometry.pivot_to_spindle_mm
    # Refuses a radius out of reach.
    groove_angle(radius, effective_length_mm=length, pivot_to_spindle_mm=mounting)
    cosine = (length**2 + mounting**2 - radius**2) / (2 * length * mounting)
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
