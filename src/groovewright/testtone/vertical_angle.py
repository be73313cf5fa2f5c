"""Vertical tracking angle error from the signed second harmonics of vertical tones over the record.

A cantilever that stands steeper or flatter than the cutter did reads a vertical tone with e = (v / V) tan(error), the
same error at every radius. The groove speed V falls toward the label, the generator's own second harmonic does not
change, so two radii tell them apart. The curve rises the same way for either sign: which it is follows from the
polarity that the lateral tones of the same recording have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture_pictures import RadiusFit
from groovewright.testtone.harmonics import SignedHarmonic
from groovewright.testtone.radius_bands import RadiusBands, distinct_radii, radius_bands
from groovewright.testtone.second_harmonic_fit import LeastSquares, fitted_quantities, least_squares, widening
from groovewright.testtone.tracking_error_fit import (
    COVERAGE_FACTOR,
    LEVEL_STANDARD_UNCERTAINTY_DB,
    MOST_LIKELY_TO_BE_WRONG,
    Polarity,
)
from groovewright.tonearm.distortion import second_harmonic_ratio

FEWEST_RADII = 2
MOST_ANGLE_DEG = 5.0
"""Standard uncertainty above which a result says nothing."""

WANTED = "two or more vertical tones of one frequency, one near the rim and one near the label, would do"

ANGLE, LEVEL = 0, 1
CURVE_POINTS = 81


@dataclass(frozen=True, eq=False)
class VerticalAngleFit:
    """What vertical tones say of the vertical tracking angle.

    Attributes
    ----------
    not_shown : str
        Why nothing can be said and what would do, a sentence; empty when the quantity is given.
    vertical_tracking_angle_error : Quantity or None
        Angle of playback less that of cutting. [deg]
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
    level_standard_uncertainty_db: float = LEVEL_STANDARD_UNCERTAINTY_DB,
    generator_standard_uncertainty_percent: float | None = None,
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
    noise_source, level_source, level_standard_uncertainty_db, generator_standard_uncertainty_percent
        As in `fit_tracking_error`.

    Returns
    -------
    VerticalAngleFit

    Raises
    ------
    ValueError
        If a band is not vertical or states no peak velocity.
    """
    generator_known = generator_standard_uncertainty_percent is not None
    bands, notes = radius_bands(harmonics, cut="vertical", speed_rpm=speed_rpm, keep_lone=generator_known)
    too_few = _too_few(bands, generator_known)
    if too_few:
        return VerticalAngleFit(too_few, notes=notes)
    beliefs = bands.beliefs(
        LEVEL,
        level_db=level_standard_uncertainty_db,
        level_source=level_source,
        generator_percent=generator_standard_uncertainty_percent,
    )
    ratios, noise = bands.in_phase(1 if polarity is None else polarity.sign)

    def model(parameters: NDArray[np.float64]) -> NDArray[np.float64] | None:
        angle, level = (parameters[:, k, np.newaxis, np.newaxis] for k in (ANGLE, LEVEL))
        index = np.exp(level) * bands.steepness() * np.tan(np.radians(angle))
        if not (np.abs(index) < 1).all():
            return None
        return bands.band_mean(second_harmonic_ratio(index)) + bands.generator(parameters[:, LEVEL + 1 :])

    steps = np.array([0.05, 0.002] + [1e-3] * len(bands.frequencies_hz))
    fit = least_squares(model, ratios, noise, start=np.zeros(steps.size), beliefs=beliefs, steps=steps)
    if fit is None:
        return VerticalAngleFit(f"These vertical tones lie too close to each other in radius: {WANTED}.", notes=notes)
    degrees_of_freedom = ratios.size - (fit.parameters.size - len(beliefs))
    factor = widening(fit.chi_square, degrees_of_freedom)
    fit = fit.with_uncertainty(
        LEVEL,
        bands.level_ratio(
            level_db=level_standard_uncertainty_db, generator_percent=generator_standard_uncertainty_percent
        ),
    )
    angle, _, *generator = fitted_quantities(
        fit,
        beliefs,
        units=["deg", "1"] + ["1"] * len(bands.frequencies_hz),
        noise_source=noise_source,
        variance_factor=factor,
        how=f"fitted to the second harmonics of {ratios.size} vertical tones",
    )
    uncertainty = angle.standard_uncertainty or 0.0
    if uncertainty > MOST_ANGLE_DEG:
        return VerticalAngleFit(
            f"These vertical tones leave the vertical tracking angle uncertain by {uncertainty:.2g} degrees, which "
            f"says nothing. {bands.places} Bands farther apart, louder or longer are needed: {WANTED}.",
            notes=notes,
        )
    if polarity is None or polarity.probability_wrong > MOST_LIKELY_TO_BE_WRONG:
        return VerticalAngleFit(
            f"The vertical tracking angle is off by {abs(angle.value):.2f} degrees, but which way is not shown: the "
            "polarity of the recording follows from lateral tones at three or more radii of the same recording.",
            notes=notes,
        )
    return VerticalAngleFit(
        "",
        vertical_tracking_angle_error=angle,
        generator=bands.generator_percent(generator),
        picture=_picture(bands, fit, ratios, noise, angle),
        notes=notes + bands.fit_notes(degrees_of_freedom, factor, level_standard_uncertainty_db),
    )


def _too_few(bands: RadiusBands, generator_known: bool) -> str:
    count = distinct_radii(bands.middle_mm)
    nuisances = 0 if generator_known else len(bands.frequencies_hz)
    if count >= FEWEST_RADII and bands.middle_mm.size >= 1 + nuisances:
        return ""
    return (
        f"Vertical tones at {count} {'radius' if count == 1 else 'radii'} can't tell an error of the vertical tracking "
        f"angle from the generator's own second harmonic: {WANTED}."
    )


def _picture(
    bands: RadiusBands, fit: LeastSquares, ratios: NDArray[np.float64], noise: NDArray[np.float64], angle: Quantity
) -> RadiusFit:
    level = float(np.exp(fit.parameters[LEVEL]))
    lean = ratios - bands.generator(fit.parameters[LEVEL + 1 :])
    error, uncertainty = bands.angles(lean, noise, level)
    fit_radius = np.linspace(bands.middle_mm.min(), bands.middle_mm.max(), CURVE_POINTS)
    fit_error = np.full(CURVE_POINTS, angle.value)
    half = COVERAGE_FACTOR * (angle.standard_uncertainty or 0.0)
    fit_index = level * bands.steepest_at(fit_radius) * np.tan(np.radians(fit_error))
    return RadiusFit(
        what="vertical tracking angle error",
        bands=bands.names,
        radius_mm=bands.middle_mm,
        error_deg=error,
        standard_uncertainty_deg=uncertainty,
        distortion_percent=100 * lean,
        fit_radius_mm=fit_radius,
        fit_error_deg=fit_error,
        fit_low_deg=fit_error - half,
        fit_high_deg=fit_error + half,
        fit_distortion_percent=100 * second_harmonic_ratio(fit_index),
        target_error_deg=np.zeros(CURVE_POINTS),
    )
