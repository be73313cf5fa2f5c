"""Vertical tracking angle error from the signed second harmonics of vertical tones over the record.

A stylus that rises by z about its cantilever's pivot is carried z tan(theta) along with the record, so at time t it
reads s = V t - z tan(theta); the cutter wrote with its own angle in the same way. A vertical tone, up positive, is
therefore read as u = sin(w t - e u) with e = (v / V) (tan(theta) - tan(theta_cut)): an angle too steep by some degrees
counts about 1 / cos(theta_cut)^2 as much as a tracking error, with the opposite sign. With the right channel on the
outer wall, up is left less right where outward is left plus right, so the left channel is the one that both share.

The error is the same at every radius. The groove speed V falls toward the label, the generator's own second harmonic
does not change, so two radii tell them apart. The curve rises the same way for either sign: which it is follows from
the polarity that the lateral tones of the same recording have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_pictures import RadiusFit
from groovewright.testtone.sheet.band_sheet import USUAL_CUTTING_ANGLE_DEG
from groovewright.testtone.tones.harmonics import SignedHarmonic
from groovewright.testtone.tracking.radius_bands import RadiusBands, distinct_radii, radius_bands
from groovewright.testtone.tracking.second_harmonic_fit import Belief, LeastSquares, least_squares
from groovewright.testtone.tracking.tracking_error_fit import (
    CHECK_SHEET,
    COVERAGE_FACTOR,
    LEVEL_STANDARD_UNCERTAINTY_DB,
    MOST_LIKELY_TO_BE_WRONG,
    Polarity,
    beyond_any_generator,
)
from groovewright.tonearm.distortion import second_harmonic_ratio

FEWEST_RADII = 2
MAX_ANGLE_ERROR_DEG = 20.0
"""Beyond which no cartridge is off: cuts of 15 to 24 degrees and pick-ups of 22 to 35 were measured (A. Woodard, AES
preprint 1940, 1982)."""

MOST_ANGLE_DEG = 5.0
"""Standard uncertainty above which a result says nothing."""

WANTED = "two or more vertical tones of one frequency, one near the rim and one near the label, would do"

USUAL_CUTTING_ANGLE_STANDARD_UNCERTAINTY_DEG = 5.0 / np.sqrt(3)
"""Root of the mean square by which an angle that may be anything from 20 to 25 degrees lies off 20. [deg]"""

STATED_CUTTING_ANGLE_STANDARD_UNCERTAINTY_DEG = 0.5 / np.sqrt(3)
"""Of an angle that a record's maker states to the nearest degree. [deg]"""

STEEPEST_DEG = 80.0

ANGLE, CUTTING, LEVEL = 0, 1, 2
CURVE_POINTS = 81


@dataclass(frozen=True, eq=False)
class VerticalAngleFit:
    """What vertical tones say of the vertical tracking angle.

    Attributes
    ----------
    not_shown : str
        Why nothing can be said and what would do, a sentence; empty when the quantity is given.
    vertical_tracking_angle_error : Quantity or None
        Angle of playback less that at which the record was cut. [deg]
    generator : tuple of (float, Quantity)
        By frequency in Hz, the in-phase part of the generator's own second harmonic at 10 cm/s. [%]
    picture : RadiusFit or None
        Points and fitted curve.
    notes : tuple of str
        What to mind, a sentence each.
    """

    not_shown: str
    vertical_tracking_angle_error: Quantity | None = None
    generator: tuple[tuple[float, Quantity], ...] = ()
    picture: RadiusFit | None = None
    notes: tuple[str, ...] = ()


def fit_vertical_angle(
    harmonics: Sequence[SignedHarmonic],
    *,
    speed_rpm: float,
    polarity: Polarity | None,
    noise_source: str,
    level_source: str,
    cutting_source: str,
    cutting_angle_deg: float | None = None,
    level_standard_uncertainty_db: float = LEVEL_STANDARD_UNCERTAINTY_DB,
    generator_standard_uncertainty_percent: float | None = None,
    band_level_db: float = 0.0,
) -> VerticalAngleFit:
    """Fit the vertical tracking angle error to the signed second harmonics of vertical tones.

    Only the part in phase with a lean is used. What the stylus's own roundness adds to a vertical tone stands in
    quadrature to it and doesn't disturb.

    Parameters
    ----------
    harmonics : sequence of SignedHarmonic
        Of vertical tones, in any order; each band states its peak velocity and radius.
    speed_rpm : float
        Speed at which the record was cut. [rpm]
    polarity : Polarity or None
        From `fit_tracking_error` on the same recording; None where it is not known, and then the sign isn't either.
    noise_source, level_source, level_standard_uncertainty_db, generator_standard_uncertainty_percent, band_level_db
        As in `fit_tracking_error`.
    cutting_source : str
        Label of this record's vertical cutting angle, so that two captures of one record share its error.
    cutting_angle_deg : float, optional
        At which the record was cut, as stated to the nearest degree; left out, the 20 degrees with a tolerance of
        +5 and -0 of IEC 60098, alike likely in all of it. [deg]

    Returns
    -------
    VerticalAngleFit

    Raises
    ------
    ValueError
        If a band is not vertical or states no peak velocity.
    """
    generator_known = generator_standard_uncertainty_percent is not None
    bands, notes = radius_bands(
        harmonics, cut="vertical", speed_rpm=speed_rpm, keep_lone=generator_known, band_level_db=band_level_db
    )
    too_few = _too_few(bands, generator_known)
    if too_few:
        return VerticalAngleFit(too_few, notes=notes)
    beliefs = bands.beliefs(
        LEVEL,
        level_db=level_standard_uncertainty_db,
        level_source=level_source,
        generator_percent=generator_standard_uncertainty_percent,
    )
    beliefs[CUTTING] = _cutting_angle(cutting_angle_deg, cutting_source)
    ratios, noise = bands.in_phase(1 if polarity is None else polarity.sign)

    def model(parameters: NDArray[np.float64]) -> NDArray[np.float64] | None:
        angle, cutting, level = (parameters[:, k, np.newaxis, np.newaxis] for k in (ANGLE, CUTTING, LEVEL))
        if not (np.abs(cutting + angle) < STEEPEST_DEG).all():
            return None
        index = np.exp(level) * bands.steepness() * _skew(angle, cutting)
        if not (np.abs(index) < 1).all():
            return None
        return bands.band_mean(second_harmonic_ratio(index)) + bands.generator(parameters[:, LEVEL + 1 :])

    steps = np.array([0.05, 0.05, 0.002] + [1e-3] * len(bands.frequencies_hz))
    start = np.zeros(steps.size)
    start[CUTTING] = beliefs[CUTTING].value
    fit = least_squares(model, ratios, noise, start=start, beliefs=beliefs, steps=steps)
    if fit is None:
        return VerticalAngleFit(f"These vertical tones lie too close to each other in radius: {WANTED}.", notes=notes)
    (angle, _, _, *generator), fit_notes = bands.concluded(
        fit,
        beliefs,
        level=LEVEL,
        level_db=level_standard_uncertainty_db,
        generator_percent=generator_standard_uncertainty_percent,
        units=["deg", "deg", "1"],
        noise_source=noise_source,
        sign=1 if polarity is None else polarity.sign,
    )
    beyond = beyond_any_generator(generator, bands.frequencies_hz, "vertical")
    if beyond or abs(angle.value) > MAX_ANGLE_ERROR_DEG:
        why = beyond or (
            f"These vertical tones would need a vertical tracking angle that is {angle.value:+.0f} degrees off, which "
            f"no cartridge has. {CHECK_SHEET}"
        )
        return VerticalAngleFit(why, notes=notes)
    uncertainty = angle.standard_uncertainty or 0.0
    if uncertainty > MOST_ANGLE_DEG:
        return VerticalAngleFit(
            f"These vertical tones leave the vertical tracking angle uncertain by {uncertainty:.2g} degrees, which "
            f"says nothing. {bands.places} Bands farther apart, louder or longer are needed: {WANTED}.",
            notes=notes,
        )
    if polarity is None or polarity.probability_wrong > MOST_LIKELY_TO_BE_WRONG:
        mirrored_deg = _angle_of(-_skew(angle.value, fit.parameters[CUTTING]), fit.parameters[CUTTING])
        return VerticalAngleFit(
            f"The vertical tracking angle is off by {angle.value:+.2f} or by {mirrored_deg:+.2f} degrees, but which is "
            "not shown: the polarity of the recording follows from lateral tones at three or more radii of the same "
            "recording.",
            notes=notes,
        )
    return VerticalAngleFit(
        "",
        vertical_tracking_angle_error=angle,
        generator=bands.generator_percent(generator),
        picture=_picture(bands, fit, ratios, noise, angle),
        notes=notes + fit_notes + (_cutting_note(cutting_angle_deg),),
    )


def _cutting_angle(stated_deg: float | None, source: str) -> Belief:
    if stated_deg is None:
        return Belief(USUAL_CUTTING_ANGLE_DEG, USUAL_CUTTING_ANGLE_STANDARD_UNCERTAINTY_DEG, source)
    return Belief(stated_deg, STATED_CUTTING_ANGLE_STANDARD_UNCERTAINTY_DEG, source, rectangular=True)


def _cutting_note(stated_deg: float | None) -> str:
    against = "The vertical tracking angle error is against the record as it was cut, at "
    if stated_deg is not None:
        return f"{against}{stated_deg:g} degrees as its sheet states, taken as rounded to a degree."
    return (
        f"{against}20 to 25 degrees by IEC 60098; 20 are taken, which may make the error seem too large by up to 8 %. "
        "Where the record's own angle is known, write vertical_cutting_angle_deg on its sheet."
    )


def _skew(angle_deg: ArrayLike, cutting_deg: ArrayLike) -> NDArray[np.float64]:
    """Return e over peak velocity and groove speed, signed as the e of a tracking error is in the left channel."""
    cutting_rad = np.radians(cutting_deg)
    return np.asarray(np.tan(cutting_rad) - np.tan(cutting_rad + np.radians(angle_deg)))


def _angle_of(skew: ArrayLike, cutting_deg: float) -> NDArray[np.float64]:
    """Return the angle error of a skew, the inverse of `_skew`. [deg]"""
    return np.asarray(np.degrees(np.arctan(np.tan(np.radians(cutting_deg)) - np.asarray(skew))) - cutting_deg)


def _too_few(bands: RadiusBands, generator_known: bool) -> str:
    count = distinct_radii(bands.middle_mm)
    nuisances = 0 if generator_known else len(bands.frequencies_hz)
    if count >= FEWEST_RADII and bands.middle_mm.size >= 1 + nuisances:
        return ""
    if count == 0:
        return f"No two vertical tones have one frequency: {WANTED}."
    return (
        f"Vertical tones at {count} {'radius' if count == 1 else 'radii'} can't tell an error of the vertical tracking "
        f"angle from the generator's own second harmonic: {WANTED}."
    )


def _picture(
    bands: RadiusBands, fit: LeastSquares, ratios: NDArray[np.float64], noise: NDArray[np.float64], angle: Quantity
) -> RadiusFit:
    level = float(np.exp(fit.parameters[LEVEL]))
    lean = ratios - bands.generator(fit.parameters[LEVEL + 1 :])
    cutting_deg = float(fit.parameters[CUTTING])
    skew, uncertainty = bands.tangents(lean, noise, level)
    error = _angle_of(skew, cutting_deg)
    fit_radius = np.linspace(bands.middle_mm.min(), bands.middle_mm.max(), CURVE_POINTS)
    fit_error = np.full(CURVE_POINTS, angle.value)
    half = COVERAGE_FACTOR * (angle.standard_uncertainty or 0.0)
    fit_index = level * bands.steepest_at(fit_radius) * _skew(fit_error, cutting_deg)
    return RadiusFit(
        what="vertical tracking angle error",
        bands=bands.names,
        radius_mm=bands.middle_mm,
        error_deg=error,
        standard_uncertainty_deg=np.degrees(uncertainty * np.cos(np.radians(cutting_deg + error)) ** 2),
        distortion_percent=100 * lean,
        fit_radius_mm=fit_radius,
        fit_error_deg=fit_error,
        fit_low_deg=fit_error - half,
        fit_high_deg=fit_error + half,
        fit_distortion_percent=100 * second_harmonic_ratio(fit_index),
        target_error_deg=np.zeros(CURVE_POINTS),
    )
