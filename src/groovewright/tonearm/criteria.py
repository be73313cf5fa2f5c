"""Criteria for choosing a geometry, and the four that have a closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass

from groovewright.tonearm.geometry import Geometry, geometry_from_nulls
from groovewright.tonearm.groove_ranges import check_groove_range
from groovewright.tonearm.tracking import groove_angle


@dataclass(frozen=True)
class Criterion:
    """A rule for choosing effective length and offset angle.

    Parameters
    ----------
    key : str
        The word typed at the command line.
    label : str
        What is minimised, with the papers' authors.
    minimises : str
        The same in a full sentence.
    """

    key: str
    label: str
    minimises: str


CRITERIA: dict[str, Criterion] = {
    criterion.key: criterion
    for criterion in (
        Criterion(
            "minimax",
            "Least peak of error over radius, classic formula (Löfgren 1938, Baerwald 1941)",
            "The largest tracking error divided by radius over the groove range is made as small as it can be, "
            "in the classic small-angle formula.",
        ),
        Criterion(
            "least-squares",
            "Least mean square of error over radius, classic formula (Löfgren 1938, second solution)",
            "The mean square of tracking error divided by radius is made as small as it can be with the linear "
            "offset of the minimax formula, in the classic small-angle formula.",
        ),
        Criterion(
            "inner-null",
            "Null at the innermost groove, least peak of error over radius beyond it (Stevenson 1966)",
            "The tracking error is zero at the innermost groove, and the largest tracking error divided by radius "
            "over the rest is made as small as it can be, in the classic small-angle formula.",
        ),
        Criterion(
            "angle-minimax",
            "Least peak of the tracking error itself (Wilson 1924)",
            "The largest tracking error over the groove range is made as small as it can be, whatever its radius.",
        ),
        Criterion(
            "exact-peak",
            "Least peak of distortion, true angles",
            "The largest tangent of the tracking error divided by radius is made as small as it can be, by search "
            "with the true angles.",
        ),
        Criterion(
            "exact-rms",
            "Least rms of distortion, true angles",
            "The root mean square over radius of the tangent of the tracking error divided by radius is made as "
            "small as it can be, by search with the true angles.",
        ),
    )
}


def minimax_null_radii(*, innermost_mm: float, outermost_mm: float) -> tuple[float, float]:
    """Return the null radii that minimise the peak of |tracking error| / radius, for small angles.

    Parameters
    ----------
    innermost_mm, outermost_mm : float
        Groove range. [mm]

    Returns
    -------
    tuple of two float
        Null radii, the smaller first. [mm]

    References
    ----------
    .. [1] E. Loefgren, Akust. Z. 3, 350 (1938).
    .. [2] H. G. Baerwald, J. Soc. Motion Picture Eng. 37, 591 (1941).
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    # In x = 1/r the error over radius is a parabola, so its nulls are those of the Chebyshev polynomial T2.
    middle = (1 / innermost_mm + 1 / outermost_mm) / 2
    reach = (1 / innermost_mm - 1 / outermost_mm) / 2 / math.sqrt(2)
    return 1 / (middle + reach), 1 / (middle - reach)


def least_squares_null_radii(*, innermost_mm: float, outermost_mm: float) -> tuple[float, float]:
    """Return the null radii that minimise the mean square of error / radius at the minimax linear offset.

    Parameters
    ----------
    innermost_mm, outermost_mm : float
        Groove range. [mm]

    Returns
    -------
    tuple of two float
        Null radii, the smaller first. [mm]

    References
    ----------
    .. [1] E. Loefgren, Akust. Z. 3, 350 (1938), second solution.
    """
    offset = sum(minimax_null_radii(innermost_mm=innermost_mm, outermost_mm=outermost_mm)) / 2
    # (2 h I_3 - I_2) / I_4, where I_k is the integral of r^-k over the range, whose width cancels.
    both, sum_of_both = innermost_mm * outermost_mm, innermost_mm + outermost_mm
    product = 3 * both * (offset * sum_of_both - both) / (sum_of_both**2 - both)
    spread = math.sqrt(offset**2 - product)
    return offset - spread, offset + spread


def inner_null_null_radii(*, innermost_mm: float, outermost_mm: float) -> tuple[float, float]:
    """Return the innermost radius, and the second null that minimises the peak of |error| / radius beyond it.

    Parameters
    ----------
    innermost_mm, outermost_mm : float
        Groove range. [mm]

    Returns
    -------
    tuple of two float
        Null radii, the smaller first. [mm]

    References
    ----------
    .. [1] J. K. Stevenson, Wireless World, May and June 1966.
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    # The parabola in 1/r is as high at the outermost groove as it is deep between its nulls.
    second = 1 / outermost_mm + (3 - 2 * math.sqrt(2)) * (1 / innermost_mm - 1 / outermost_mm)
    return innermost_mm, 1 / second


def angle_minimax_geometry(*, pivot_to_spindle_mm: float, innermost_mm: float, outermost_mm: float) -> Geometry:
    """Return the geometry with the least peak of |tracking error|; exact, not only for small angles.

    Parameters
    ----------
    pivot_to_spindle_mm : float
        Pivot to spindle centre, horizontal. [mm]
    innermost_mm, outermost_mm : float
        Groove range. [mm]

    References
    ----------
    .. [1] P. Wilson, The Gramophone (1924).
    """
    check_groove_range(innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    length = math.sqrt(pivot_to_spindle_mm**2 + innermost_mm * outermost_mm)
    # Both ends then have the same groove angle and the least lies at the geometric mean of the radii.
    highest, lowest = groove_angle(
        [innermost_mm, math.sqrt(innermost_mm * outermost_mm)],
        effective_length_mm=length,
        pivot_to_spindle_mm=pivot_to_spindle_mm,
    )
    return Geometry(pivot_to_spindle_mm, length, float(highest + lowest) / 2)


CLOSED_FORM_NULL_RADII = {
    "minimax": minimax_null_radii,
    "least-squares": least_squares_null_radii,
    "inner-null": inner_null_null_radii,
}
CLOSED_FORMS = (*CLOSED_FORM_NULL_RADII, "angle-minimax")


def closed_form_geometry(
    criterion: str, *, pivot_to_spindle_mm: float, innermost_mm: float, outermost_mm: float
) -> Geometry:
    """Return the geometry that a criterion's closed form gives.

    Parameters
    ----------
    criterion : str
        One of `CLOSED_FORMS`.
    pivot_to_spindle_mm : float
        Pivot to spindle centre, horizontal. [mm]
    innermost_mm, outermost_mm : float
        Groove range. [mm]

    Raises
    ------
    ValueError
        If the criterion has no closed form, the range is none, or no arm at this distance can have it.
    """
    if criterion == "angle-minimax":
        return angle_minimax_geometry(
            pivot_to_spindle_mm=pivot_to_spindle_mm, innermost_mm=innermost_mm, outermost_mm=outermost_mm
        )
    if criterion not in CLOSED_FORM_NULL_RADII:
        raise ValueError(f"{criterion!r} has no closed form; those that have one are {', '.join(CLOSED_FORMS)}")
    nulls = CLOSED_FORM_NULL_RADII[criterion](innermost_mm=innermost_mm, outermost_mm=outermost_mm)
    return geometry_from_nulls(pivot_to_spindle_mm=pivot_to_spindle_mm, null_radii_mm=nulls)
