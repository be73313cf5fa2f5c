"""A gauge as a chain of joints: each with its play and distribution, and what of the set-up it bears on.

Frame of a gauge: the spindle is the origin and the aiming line runs from it to the pivot. A joint's error is what the
set-up that the gauge gives is off by, so a gauge without errors sets the arm exactly to its aim.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from groovewright.measurement.distributions import Arcsine, Distribution, Normal, Rectangular, Triangular

SetsBy = Literal["mark", "trace", "two nulls"]
DistributionName = Literal["rectangular", "normal", "triangular", "arcsine"]
GivenAs = Literal["tolerance", "clearance", "standard uncertainty"]
Mark = Literal["overhang", "inner null", "outer null"]
BearsOn = Literal[
    "pivot_to_spindle",
    "effective_length",
    "offset_angle",
    "stylus_radius",
    "stylus_across",
    "bearing",
    "pivot_across",
    "print_scale",
    "trace_reading",
    "inner_null_radius",
    "outer_null_radius",
    "inner_null_angle",
    "outer_null_angle",
]

SETS_BY: dict[SetsBy, str] = {
    "mark": "the stylus is set on one mark and the cantilever along the gauge's lines",
    "trace": "the stylus is led along an arc until it follows, and the cantilever is set at a null",
    "two nulls": "the cantilever is set along the lines at both nulls",
}
DISTRIBUTIONS: tuple[DistributionName, ...] = get_args(DistributionName)
NORMAL_FACTOR = 2.0
"""A normal error has no limits; as its tolerance stand two standard uncertainties, which hold 95 % of it."""
MOST_JOINTS = 40
MOST_PLACES = 50
FEWEST_PLACES = 3


@dataclass(frozen=True, slots=True)
class Dimension:
    """Something that a joint's error can bear on: its words, its unit, and the gauges that have it."""

    meaning: str
    unit: str
    sets_by: tuple[SetsBy, ...]


DIMENSIONS: dict[BearsOn, Dimension] = {
    "pivot_to_spindle": Dimension("true pivot-to-spindle distance less the gauge's", "mm", get_args(SetsBy)),
    "effective_length": Dimension("distance from pivot to stylus", "mm", ("mark", "trace")),
    "offset_angle": Dimension("cantilever against the gauge's lines", "deg", ("mark", "trace")),
    "stylus_radius": Dimension("stylus off the mark, away from the spindle", "mm", ("mark",)),
    "stylus_across": Dimension("stylus off the mark, square to the line from the spindle", "mm", ("mark",)),
    "bearing": Dimension("gauge turned about the spindle", "deg", ("mark",)),
    "pivot_across": Dimension("aiming line beside the pivot", "mm", ("mark",)),
    "print_scale": Dimension("everything drawn, larger than meant", "%", get_args(SetsBy)),
    "trace_reading": Dimension("stylus beside the arc, at each place by itself", "mm", ("trace",)),
    "inner_null_radius": Dimension("stylus off the inner null, away from the spindle", "mm", ("two nulls",)),
    "outer_null_radius": Dimension("stylus off the outer null, away from the spindle", "mm", ("two nulls",)),
    "inner_null_angle": Dimension("cantilever against the lines at the inner null", "deg", ("two nulls",)),
    "outer_null_angle": Dimension("cantilever against the lines at the outer null", "deg", ("two nulls",)),
}


@dataclass(frozen=True, slots=True)
class Joint:
    """One joint of a gauge, or one reading by eye.

    Parameters
    ----------
    name : str
        What it is, such as ``"bush on the spindle"``.
    tolerance : float
        How far it may be off either way; two standard uncertainties if the distribution is normal. [mm, deg or %]
    bears_on : str
        A key of `DIMENSIONS`.
    distribution : str
        ``"rectangular"``, ``"normal"``, ``"triangular"`` or ``"arcsine"``.
    sensitivity : float
        What the dimension changes by for 1 of the error, with its sign. [1]
    lever_mm : float or None
        Where an error of length turns something: the length over which it does, so that the error is in mm and the
        dimension in degrees. [mm]
    nominal : float
        Known part of the error that nobody takes off. [as `tolerance`]
    given_as : str
        How `tolerance` was written down; a clearance is the whole play, hole less pin, and thus twice the tolerance.

    Raises
    ------
    ValueError
        In one sentence that begins with the joint's name.
    """

    name: str
    tolerance: float
    bears_on: BearsOn
    distribution: DistributionName = "rectangular"
    sensitivity: float = 1.0
    lever_mm: float | None = None
    nominal: float = 0.0
    given_as: GivenAs = "tolerance"

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueError("a joint needs a name that tells it from the others")
        if self.bears_on not in DIMENSIONS:
            raise ValueError(f"{self.name}: {self.bears_on!r} is not known; it may bear on {', '.join(DIMENSIONS)}")
        if self.distribution not in DISTRIBUTIONS:
            raise ValueError(
                f"{self.name}: {self.distribution!r} is no distribution; use one of {', '.join(DISTRIBUTIONS)}"
            )
        if not (math.isfinite(self.tolerance) and self.tolerance >= 0):
            raise ValueError(f"{self.name}: its play must be 0 or more and finite, not {self.tolerance:g} {self.unit}")
        if not (math.isfinite(self.sensitivity) and math.isfinite(self.nominal)):
            raise ValueError(f"{self.name}: sensitivity and known error must be finite")
        if self.lever_mm is not None:
            if DIMENSIONS[self.bears_on].unit != "deg":
                raise ValueError(f"{self.name}: a lever turns a length into an angle, and {self.bears_on} is none")
            if not (math.isfinite(self.lever_mm) and self.lever_mm > 0):
                raise ValueError(f"{self.name}: its lever must be above 0 mm, not {self.lever_mm:g} mm")
        if self.given_as == "standard uncertainty" and self.distribution != "normal":
            raise ValueError(
                f"{self.name}: only a normal error is given by its standard uncertainty; give the tolerance of a "
                f"{self.distribution} one"
            )

    @property
    def unit(self) -> str:
        """Unit of `tolerance`, `nominal` and `amount`."""
        return "mm" if self.lever_mm is not None else DIMENSIONS[self.bears_on].unit

    @property
    def amount(self) -> float:
        """The play in the way in which it was given. [`unit`]"""
        return self.tolerance * _TOLERANCES[self.given_as]

    @property
    def slope(self) -> float:
        """What the dimension changes by for 1 of the error. [unit of the dimension per `unit`]"""
        return self.sensitivity if self.lever_mm is None else self.sensitivity * math.degrees(1 / self.lever_mm)

    @property
    def standard_uncertainty(self) -> float:
        """Of the error itself. [`unit`]"""
        known = self.spread
        return 0.0 if known is None else known.standard_deviation

    @property
    def spread(self) -> Distribution | None:
        """Distribution of the error about `nominal`; None if there is no play. [`unit`]"""
        if self.tolerance == 0:
            return None
        if self.distribution == "normal":
            return Normal(0.0, self.tolerance / NORMAL_FACTOR)
        return _BETWEEN_LIMITS[self.distribution](-self.tolerance, self.tolerance)


_TOLERANCES: dict[GivenAs, float] = {"tolerance": 1.0, "clearance": 2.0, "standard uncertainty": 1 / NORMAL_FACTOR}
_BETWEEN_LIMITS: dict[str, type[Rectangular] | type[Triangular] | type[Arcsine]] = {
    "rectangular": Rectangular,
    "triangular": Triangular,
    "arcsine": Arcsine,
}


def joint_of(name: str, amount: float, bears_on: BearsOn, *, given_as: GivenAs, **options: Any) -> Joint:
    """Return a joint whose play is given as a tolerance, a clearance or a standard uncertainty; see `Joint`."""
    return Joint(name, amount / _TOLERANCES[given_as], bears_on, given_as=given_as, **options)


@dataclass(frozen=True)
class GaugeChain:
    """A gauge: how an arm is set by it, and its joints.

    Parameters
    ----------
    name : str
    sets_by : str
        A key of `SETS_BY`.
    joints : tuple of Joint
        Their errors are independent of each other.
    mark : str or float
        Where the stylus stands when the cantilever is set: ``"inner null"``, ``"outer null"``, a radius in mm, or
        ``"overhang"``, beyond the spindle on the aiming line. Of no meaning for two nulls. [mm]
    places : int
        Readings of a trace, at radii spaced evenly over the groove range.
    about : str
        One sentence on what the gauge is.

    Raises
    ------
    ValueError
        In one sentence, naming the joint that is wrong.
    """

    name: str
    sets_by: SetsBy
    joints: tuple[Joint, ...]
    mark: Mark | float = "outer null"
    places: int = 9
    about: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueError("a gauge needs a name that tells it from the others")
        if self.sets_by not in SETS_BY:
            raise ValueError(f"{self.sets_by!r} is no way to set an arm by a gauge; use one of {', '.join(SETS_BY)}")
        if not 1 <= len(self.joints) <= MOST_JOINTS:
            raise ValueError(f"a gauge has 1 to {MOST_JOINTS} joints, not {len(self.joints)}")
        if not FEWEST_PLACES <= self.places <= MOST_PLACES:
            raise ValueError(f"a trace is read at {FEWEST_PLACES} to {MOST_PLACES} places, not at {self.places}")
        if isinstance(self.mark, str) and self.mark not in get_args(Mark):
            raise ValueError(f"{self.mark!r} is no mark; use {', '.join(get_args(Mark))} or a groove radius in mm")
        if isinstance(self.mark, float | int) and not (math.isfinite(self.mark) and self.mark > 0):
            raise ValueError(f"the mark's radius must be above 0 mm, not {self.mark:g} mm")
        if self.mark == "overhang" and self.sets_by == "trace":
            raise ValueError("a trace sets the cantilever at a groove radius; name a null or a radius as its mark")
        self._check_joints()

    def _check_joints(self) -> None:
        names = [joint.name for joint in self.joints]
        for joint in self.joints:
            if names.count(joint.name) > 1:
                raise ValueError(f"two joints are named {joint.name!r}; give every joint its own name")
            if self.sets_by not in DIMENSIONS[joint.bears_on].sets_by:
                has = ", ".join(dimensions_of(self.sets_by))
                raise ValueError(
                    f"{joint.name}: {joint.bears_on} plays no part where the gauge sets by {self.sets_by!r}; there a "
                    f"joint bears on {has}"
                )
        if self.sets_by == "trace" and not any(joint.bears_on == "trace_reading" for joint in self.joints):
            raise ValueError("a trace needs a joint that bears on trace_reading: how well the eye sees the stylus")


def dimensions_of(sets_by: SetsBy) -> list[BearsOn]:
    """Return what the joints of such a gauge may bear on."""
    return [key for key, dimension in DIMENSIONS.items() if sets_by in dimension.sets_by]


@dataclass(frozen=True, slots=True)
class StackResult:
    """What joints that bear on one and the same dimension add up to.

    Attributes
    ----------
    nominal : float
        Sum of the known errors.
    worst_case : float
        Sum of all tolerances: no further off than this either way.
    root_sum_square : float
        Root of the sum of their squares, the usual statistical tolerance.
    standard_uncertainty : float
        By each joint's own distribution.
    """

    nominal: float
    worst_case: float
    root_sum_square: float
    standard_uncertainty: float


def stack(joints: Sequence[Joint]) -> StackResult:
    """Return what joints add up to along one dimension, each with its sensitivity and sign.

    Parameters
    ----------
    joints : sequence of Joint
        All bearing on the same dimension.

    Raises
    ------
    ValueError
        If they bear on different dimensions, or there are none.

    Examples
    --------
    >>> found = stack([Joint(f"plate {k}", 0.1, "effective_length") for k in range(10)])
    >>> round(found.worst_case, 3), round(found.root_sum_square, 3)
    (1.0, 0.316)
    """
    if len({joint.bears_on for joint in joints}) != 1:
        raise ValueError("joints add up along one dimension only; stack those that bear on the same one")
    return stack_with([(joint, joint.slope) for joint in joints])


def stack_with(parts: Sequence[tuple[Joint, float]]) -> StackResult:
    """Return what joints add up to, each with the slope by which its error enters the result.

    A joint may come more than once, for parts of it that err independently.
    """
    tolerances = [abs(slope) * joint.tolerance for joint, slope in parts]
    return StackResult(
        nominal=math.fsum(slope * joint.nominal for joint, slope in parts),
        worst_case=math.fsum(tolerances),
        root_sum_square=math.hypot(*tolerances),
        standard_uncertainty=math.hypot(*(slope * joint.standard_uncertainty for joint, slope in parts)),
    )
