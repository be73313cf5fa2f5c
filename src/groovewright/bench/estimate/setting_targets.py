"""What the seven settings should be, from a job's targets and from what is customary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from groovewright.bench.estimate.limits import (
    CUTTING_ANGLE_DEG,
    DEFAULT_TOLERANCES,
    STYLUS_RAKE_ANGLE_DEG,
    VERTICAL_TRACKING_HALF_WIDTH_DEG,
)
from groovewright.bench.estimate.settings import SETTINGS, SettingKey, SettingTargets
from groovewright.bench.forces.side_force_request import LIMIT_SHARE
from groovewright.bench.forces.side_force_tolerance import side_force_tolerance_at_middle
from groovewright.bench.targets.targets import Targets, choose_targets
from groovewright.measurement.conformity import Tolerance
from groovewright.measurement.quantity import Quantity
from groovewright.tonearm.compensation import Compensation
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.side_force import USUAL_FRICTION

DISTANCE_STEP_MM = 0.05
"""Either way of the pivot-to-spindle distance, for how far the targets move with it; they are nearly linear over it."""


def setting_targets(
    targets: Targets,
    *,
    tolerances: Mapping[SettingKey, Tolerance] | None = None,
    force_range_mn: tuple[float, float] | None = None,
    force_aim_mn: float | None = None,
    cutting_angle_deg: float = CUTTING_ANGLE_DEG,
    friction_coefficient: float = sum(USUAL_FRICTION) / 2,
    compensation: Compensation | None = None,
    bearing_friction_mn: float = 0.0,
) -> SettingTargets:
    """Return what the seven settings should be.

    Parameters
    ----------
    targets : Targets
        Of an arm with a pivot.
    tolerances : mapping of setting to Tolerance, optional
        Those of the job, in the settings' units, instead of the customary ones. That of the side force holds over the
        whole groove and is narrowed to what it must be in the middle. Where none is given and an arm's side force, such
        as that of a straight one, varies over the groove so much that less than half of the customary limits is left,
        they hold for the middle alone, about the best balance of the whole groove.
    force_range_mn : tuple of two float, optional
        The maker's range; its middle is the aim. Without it the force has no tolerance unless the job gives one. [mN]
    force_aim_mn : float, optional
        Another aim. [mN]
    cutting_angle_deg : float
        What the vertical tracking angle should be. [deg]
    friction_coefficient : float
        By which the side force varies over the groove. [1]
    compensation : Compensation, optional
        Its course over the groove; constant if not given.
    bearing_friction_mn : float
        Static, either way. [mN]

    Returns
    -------
    SettingTargets
        A setting that nobody has given limits for is missing from `tolerances`.

    Raises
    ------
    ValueError
        If the arm has no effective length, a tolerance is in another unit, or the side force varies more over the
        groove than the limits allow that the job gives.
    """
    geometry, request = targets.geometry, targets.request
    if geometry is None:
        raise ValueError("a tangential arm has no effective length or offset angle; the bench is for pivoted arms")
    given = dict(tolerances or {})
    for key, tolerance in given.items():
        if tolerance.unit != SETTINGS[key].unit:
            raise ValueError(
                f"the tolerance of the {SETTINGS[key].title.lower()} must be in {SETTINGS[key].unit}, not in "
                f"{tolerance.unit}"
            )
    force = given.get("tracking_force") or _force_tolerance(force_range_mn)
    aim_mn = force_aim_mn if force_aim_mn is not None else _middle(force)
    length_slope, offset_slope = _slopes(targets)
    aims: dict[SettingKey, float] = {
        "effective_length": 0.0,
        "side_force": 0.0,
        "zenith": 0.0,
        "azimuth": 0.0,
        "stylus_rake_angle": STYLUS_RAKE_ANGLE_DEG,
        "vertical_tracking_angle": cutting_angle_deg,
    }
    limits = {**DEFAULT_TOLERANCES, "vertical_tracking_angle": _around(cutting_angle_deg)} | given
    if (rake := _middle(limits["stylus_rake_angle"])) is not None:
        aims["stylus_rake_angle"] = rake
    if force is not None:
        limits["tracking_force"] = force
    if aim_mn is not None:
        aims["tracking_force"] = aim_mn
        course = side_force_tolerance_at_middle(
            geometry=geometry,
            tracking_force_mn=aim_mn,
            friction_coefficient=friction_coefficient,
            innermost_mm=request.innermost_mm,
            outermost_mm=request.outermost_mm,
            limit_mn=_AMPLE_MN,
            compensation=compensation,
            bearing_friction_mn=bearing_friction_mn,
        )
        if "side_force" in given:
            limits["side_force"] = _narrowed(given["side_force"], course)
        else:
            limits["side_force"] = _customary(LIMIT_SHARE * aim_mn, course)
        aims["side_force"] = _middle(limits["side_force"]) or 0.0
    return SettingTargets(
        geometry=geometry,
        length_slope=length_slope,
        offset_slope_deg_per_mm=offset_slope,
        innermost_mm=request.innermost_mm,
        outermost_mm=request.outermost_mm,
        aims=aims,
        tolerances={key: limits[key] for key in SETTINGS if key in limits},
    )


_AMPLE_MN = 1e3
"""A limit that no side force comes near: what it is narrowed by is all that is wanted. [mN]"""


def _customary(limit_mn: float, course: Tolerance) -> Tolerance:
    """Return the customary limits, narrowed; about the best balance where the arm's course alone exceeds them."""
    whole = Tolerance(-limit_mn, limit_mn, "mN")
    lowest, highest = (course.lower or 0.0) + _AMPLE_MN, (course.upper or 0.0) - _AMPLE_MN
    if lowest - highest < limit_mn:
        return _narrowed(whole, course)
    balance_mn = (lowest + highest) / 2
    return Tolerance(balance_mn - limit_mn, balance_mn + limit_mn, "mN")


def _narrowed(whole: Tolerance, course: Tolerance) -> Tolerance:
    """Return the limits in the middle that keep the whole groove within its own, one of which may be missing."""
    lower = None if whole.lower is None else whole.lower + (course.lower or 0.0) + _AMPLE_MN
    upper = None if whole.upper is None else whole.upper + (course.upper or 0.0) - _AMPLE_MN
    if lower is not None and upper is not None and not lower < upper:
        raise ValueError(
            f"over the groove the side force left over varies by more than {whole.describe()}, so no setting keeps it "
            f"within; allow more, or mend the compensation's course or the bearings first"
        )
    return Tolerance(lower, upper, "mN")


def _force_tolerance(force_range_mn: tuple[float, float] | None) -> Tolerance | None:
    return None if force_range_mn is None else Tolerance(*force_range_mn, "mN")


def _middle(tolerance: Tolerance | None) -> float | None:
    if tolerance is None or tolerance.lower is None or tolerance.upper is None:
        return None
    return (tolerance.lower + tolerance.upper) / 2


def _around(angle_deg: float) -> Tolerance:
    half = VERTICAL_TRACKING_HALF_WIDTH_DEG
    return Tolerance(angle_deg - half, angle_deg + half, "deg")


def _slopes(targets: Targets) -> tuple[float, float]:
    """Return how far the targets of effective length and offset angle move with the distance. [mm/mm], [deg/mm]"""
    short, long = (_at_distance(targets, step) for step in (-DISTANCE_STEP_MM, DISTANCE_STEP_MM))
    span = 2 * DISTANCE_STEP_MM
    return (
        (long.effective_length_mm - short.effective_length_mm) / span,
        (long.offset_angle_deg - short.offset_angle_deg) / span,
    )


def _at_distance(targets: Targets, step_mm: float) -> Geometry:
    distance = Quantity.exact(targets.request.distance.value + step_mm, "mm", how="nearby distance")
    geometry = choose_targets(replace(targets.request, pivot_to_spindle=distance)).geometry
    if geometry is None:
        raise ValueError("a tangential arm has no effective length or offset angle; the bench is for pivoted arms")
    return geometry
