"""Effective length error and zenith error from the signed second harmonics of lateral tones over the record.

A stylus that leans by the tracking error alpha reads a lateral tone with e = (v / V) tan(alpha), and alpha follows
from the arm's geometry at each radius. Beside both errors the fit has three nuisances: the generator's own second
harmonic, the level of the record, and the polarity of the recording. The last is told by the curve's shape:
tan(alpha) / r holds the constant 1 / (2 L), whatever the errors, and a turned polarity would need a generator that
distorts by twice that much, and an arm tens of millimetres too short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from groovewright.measurement.propagation import propagate
from groovewright.measurement.quantity import Quantity, covariance
from groovewright.testtone.capture.capture_pictures import RadiusFit
from groovewright.testtone.tones.harmonics import SignedHarmonic
from groovewright.testtone.tracking.radius_bands import (
    REFERENCE_VELOCITY_CM_S,
    RadiusBands,
    distinct_radii,
    radius_bands,
)
from groovewright.testtone.tracking.second_harmonic_fit import (
    NEAR_ENOUGH,
    Belief,
    LeastSquares,
    least_squares,
    probability_of_the_other,
)
from groovewright.tonearm.distortion import CM_TO_MM, groove_speed, second_harmonic_ratio
from groovewright.tonearm.geometry import Geometry
from groovewright.tonearm.tracking import tracking_error

LEVEL_STANDARD_UNCERTAINTY_DB = 0.5
"""Assumed of the peak velocities that a test record states, one error common to all its bands."""

PLAUSIBLE_LENGTH_MM, PLAUSIBLE_ZENITH_DEG, PLAUSIBLE_GENERATOR = 10.0, 5.0, 0.03
"""Standard deviations, the last of the generator's second harmonic at 10 cm/s, that decide on the polarity only."""

PLAUSIBLE_SCATTER = 3e-4
"""What else a cut and a groove do to a second harmonic, so that no polarity is thought surer than a record is good."""

MOST_LIKELY_TO_BE_WRONG = 1e-3
"""Probability of the other polarity above which none is given."""

FEWEST_RADII = 3
MOST_LENGTH_MM, MOST_ZENITH_DEG = 5.0, 5.0
"""Standard uncertainties above which a result says nothing."""

OUT_OF_STEP, OUT_OF_STEP_SIGMAS = 0.35, 4.0
"""Tangent of the phase by which second harmonics may stand beside that of a lean, and how clearly to refuse them."""

WANTED = "four or more lateral tones of one frequency from the rim to the label, near 140, 115, 90 and 65 mm, would do"

MAX_LENGTH_ERROR_MM, MAX_ZENITH_ERROR_DEG = 20.0, 12.0
"""Beyond which an arm cannot be off: slots of headshells are shorter, and the eye sees such an angle. Rule of thumb."""

MAX_GENERATOR_PERCENT = 8.0
"""Second harmonic at 10 cm/s that no cartridge in order has: they are built for 1 %, worn ones have some percent. Rule
of thumb."""

CHECK_SHEET = "Check their frequencies, radii and velocities on the sheet."

NEAR_ENOUGH_TO_CHOOSE = 1e-3
"""As `NEAR_ENOUGH`, where only the odds of two polarities are wanted."""

LENGTH, ZENITH, LEVEL = 0, 1, 2
CURVE_POINTS = 81
COVERAGE_FACTOR = 1.959963985


@dataclass(frozen=True)
class AngleAtRadius:
    """An angle error at the middle radius of one band, to a hundredth of a mm, from the fit to all of them."""

    band: str
    radius_mm: float
    angle_error: Quantity


@dataclass(frozen=True)
class Polarity:
    """Sign of the whole recording.

    Attributes
    ----------
    sign : int
        1, or -1 for a recording that is upside down.
    probability_wrong : float
        That it is the other.
    """

    sign: int
    probability_wrong: float


@dataclass(frozen=True, eq=False)
class TrackingErrorFit:
    """What lateral tones say of the alignment.

    Attributes
    ----------
    not_shown : str
        Why nothing can be said and what would do, a sentence; empty when the quantities are given.
    effective_length_error, zenith_error : Quantity or None
        True effective length and offset angle less those of the target; they share their sources. [mm], [deg]
    correlation : float or None
        Between the two.
    tracking_errors : tuple of AngleAtRadius
        From the outermost radius inward.
    generator : tuple of (float, Quantity)
        By frequency in Hz, the in-phase part of the generator's own second harmonic at 10 cm/s. [%]
    polarity : Polarity or None
        None where it could not be told.
    picture : RadiusFit or None
        Points and fitted curve.
    notes : tuple of str
        What to mind, a sentence each.
    """

    not_shown: str
    effective_length_error: Quantity | None = None
    zenith_error: Quantity | None = None
    correlation: float | None = None
    tracking_errors: tuple[AngleAtRadius, ...] = ()
    generator: tuple[tuple[float, Quantity], ...] = ()
    polarity: Polarity | None = None
    picture: RadiusFit | None = None
    notes: tuple[str, ...] = ()


def fit_tracking_error(
    harmonics: Sequence[SignedHarmonic],
    target: Geometry,
    *,
    speed_rpm: float,
    noise_source: str,
    level_source: str,
    level_standard_uncertainty_db: float = LEVEL_STANDARD_UNCERTAINTY_DB,
    generator_standard_uncertainty_percent: float | None = None,
    band_level_db: float = 0.0,
) -> TrackingErrorFit:
    """Fit effective length error and zenith error to the signed second harmonics of lateral tones.

    An error of the target's pivot-to-spindle distance hardly matters to either: like an arc trace, the tones
    show L^2 - D^2 and L sin(beta), so the target that goes with the true distance moves along.

    Parameters
    ----------
    harmonics : sequence of SignedHarmonic
        Of lateral tones, in any order; each band states its peak velocity and radius.
    target : Geometry
        What the arm should be set to.
    speed_rpm : float
        Speed at which the record was cut. [rpm]
    noise_source, level_source : str
        Labels of this capture's noise and of this record's level, so that two captures of one record share the level.
    level_standard_uncertainty_db : float
        Of the stated peak velocities, one error for all; 0 for a record whose levels were measured. A wrong level
        can't be told from a generator's second harmonic: 0.5 dB shifts the tracking error by up to a degree. [dB]
    generator_standard_uncertainty_percent : float, optional
        Where the generator is known to be this linear: its second harmonic at 10 cm/s is 0 with this standard
        uncertainty, which then helps to settle the level. Left out, nothing is assumed. [%]
    band_level_db : float
        Standard uncertainty of each band's own level, beside the error that all share. [dB]

    Returns
    -------
    TrackingErrorFit

    Raises
    ------
    ValueError
        If a band is not lateral or states no peak velocity.
    """
    generator_known = generator_standard_uncertainty_percent is not None
    bands, notes = radius_bands(
        harmonics, cut="lateral", speed_rpm=speed_rpm, keep_lone=generator_known, band_level_db=band_level_db
    )
    too_few = _too_few(bands, generator_known)
    if too_few:
        return TrackingErrorFit(too_few, notes=notes)
    polarity, start = _polarity(bands, target, level_standard_uncertainty_db)
    _, noise = bands.in_phase(polarity.sign)
    if polarity.probability_wrong > MOST_LIKELY_TO_BE_WRONG:
        return TrackingErrorFit(
            f"The polarity of the recording can't be told (the less likely one still has "
            f"{100 * polarity.probability_wrong:.2g} %), and with it the sign of the tracking error: second harmonics "
            f"known to {100 * noise.max():.2g} % show too little of their curve over radius. {bands.places} "
            f"Bands farther apart, louder or longer are needed: {WANTED}.",
            notes=notes,
        )
    beliefs = bands.beliefs(
        LEVEL,
        level_db=level_standard_uncertainty_db,
        level_source=level_source,
        generator_percent=generator_standard_uncertainty_percent,
    )
    fit = _fitted(bands, target, polarity.sign, start=start, beliefs=beliefs)
    if fit is None:
        return TrackingErrorFit(f"No geometry gives these second harmonics. {bands.places} {CHECK_SHEET}", notes=notes)
    out_of_step = _out_of_step(bands, fit, polarity.sign)
    if out_of_step:
        return TrackingErrorFit(out_of_step, polarity=polarity, notes=notes)
    (length, zenith, _, *generator), fit_notes = bands.concluded(
        fit,
        beliefs,
        level=LEVEL,
        level_db=level_standard_uncertainty_db,
        generator_percent=generator_standard_uncertainty_percent,
        units=["mm", "deg", "1"],
        noise_source=noise_source,
        sign=polarity.sign,
    )
    refusal = (
        beyond_any_generator(generator, bands.frequencies_hz, "lateral")
        or _beyond_any_arm(length, zenith, bands)
        or _vague(length, zenith, bands)
    )
    if refusal:
        return TrackingErrorFit(refusal, polarity=polarity, notes=notes)
    return TrackingErrorFit(
        "",
        effective_length_error=length,
        zenith_error=zenith,
        correlation=_correlation(length, zenith),
        tracking_errors=tuple(
            AngleAtRadius(name, radius, _angle(target, radius, length, zenith))
            for name, radius in zip(bands.names, bands.middle_mm.round(2).tolist(), strict=True)
        ),
        generator=bands.generator_percent(generator),
        polarity=polarity,
        picture=_picture(bands, fit, polarity.sign, target=target, length=length, zenith=zenith),
        notes=notes + fit_notes,
    )


def beyond_any_generator(ratios: Sequence[Quantity], frequencies_hz: Sequence[float], cut: str) -> str:
    """Return a reason where tones would need a generator that distorts as none does; empty where they don't.

    Parameters
    ----------
    ratios : sequence of Quantity
        Second harmonic at 10 cm/s, one for each frequency. [1]
    frequencies_hz : sequence of float
        [Hz]
    cut : str
        Of the tones.
    """
    for ratio, hz in zip(ratios, frequencies_hz, strict=True):
        surely = abs(ratio.value) - COVERAGE_FACTOR * (ratio.standard_uncertainty or 0.0)
        if 100 * surely > MAX_GENERATOR_PERCENT:
            return (
                f"The {cut} tones of {hz:g} Hz would need a generator with a second harmonic of "
                f"{100 * abs(ratio.value):.0f} % at 10 cm/s, which none has. {CHECK_SHEET}"
            )
    return ""


def _tracking_error(
    target: Geometry, radii_mm: ArrayLike, length_error_mm: ArrayLike, zenith_error_deg: ArrayLike
) -> NDArray[np.float64]:
    return tracking_error(
        radii_mm,
        effective_length_mm=target.effective_length_mm + np.asarray(length_error_mm),
        pivot_to_spindle_mm=target.pivot_to_spindle_mm,
        offset_angle_deg=target.offset_angle_deg + np.asarray(zenith_error_deg),
    )


def _too_few(bands: RadiusBands, generator_known: bool) -> str:
    count = distinct_radii(bands.middle_mm)
    nuisances = 0 if generator_known else len(bands.frequencies_hz)
    if count >= FEWEST_RADII and bands.middle_mm.size >= 2 + nuisances:
        return ""
    if count == 0:
        return f"No two lateral tones have one frequency: {WANTED}."
    return (
        f"Lateral tones at {count} {'radius' if count == 1 else 'radii'} can't tell an error of effective length, one "
        f"of zenith and the generator's own second harmonic apart: {WANTED}."
    )


def _lean(bands: RadiusBands, target: Geometry, parameters: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Return the ratios that the tracking error gives, shape (sets of parameters, bands); None beyond reach."""
    length, zenith, level = (parameters[:, k, np.newaxis, np.newaxis] for k in (LENGTH, ZENITH, LEVEL))
    try:
        alpha = _tracking_error(target, bands.radii_mm, length, zenith)
    except ValueError:
        return None
    index = np.exp(level) * bands.steepness() * np.tan(np.radians(alpha))
    return bands.band_mean(second_harmonic_ratio(index)) if (np.abs(index) < 1).all() else None


def _fitted(
    bands: RadiusBands,
    target: Geometry,
    sign: int,
    *,
    start: NDArray[np.float64],
    beliefs: dict[int, Belief],
    scatter: float = 0.0,
    near_enough: float = NEAR_ENOUGH,
) -> LeastSquares | None:
    """Return the fit for one polarity, the bands allowed some scatter beside their noise."""

    def model(parameters: NDArray[np.float64]) -> NDArray[np.float64] | None:
        lean = _lean(bands, target, parameters)
        return None if lean is None else lean + bands.generator(parameters[:, LEVEL + 1 :])

    ratios, noise = bands.in_phase(sign)
    steps = np.array([0.05, 0.05, 0.002] + [1e-3] * len(bands.frequencies_hz))
    return least_squares(
        model,
        ratios,
        np.hypot(noise, scatter),
        start=start,
        beliefs=beliefs,
        steps=steps,
        near_enough=near_enough,
    )


def _polarity(bands: RadiusBands, target: Geometry, level_db: float) -> tuple[Polarity, NDArray[np.float64]]:
    """Return the likelier polarity and the parameters that go with it.

    Each polarity is fitted from the target and from its mirror, a shorter arm turned the other way.
    """
    beliefs = bands.beliefs(LEVEL, level_db=level_db, level_source="level", generator_percent=100 * PLAUSIBLE_GENERATOR)
    beliefs[LENGTH] = Belief(0.0, PLAUSIBLE_LENGTH_MM, "plausible length")
    beliefs[ZENITH] = Belief(0.0, PLAUSIBLE_ZENITH_DEG, "plausible zenith")
    count = len(bands.frequencies_hz)
    length, mounting = target.effective_length_mm, target.pivot_to_spindle_mm
    mirrored = np.sqrt(max(2 * mounting**2 - length**2, 1.0)) - length
    # What the constant 1 / (2 L) in tan(alpha) / r comes to, which a mirrored arm needs twice over from the generator.
    constant = CM_TO_MM * REFERENCE_VELOCITY_CM_S / float(groove_speed(2 * length, speed_rpm=bands.speed_rpm))
    starts = (
        np.zeros(3 + count),
        np.array([mirrored, -2 * target.offset_angle_deg, 0.0] + [-2 * constant] * count),
    )
    best = {}
    for sign in (1, -1):
        fits = (
            _fitted(
                bands,
                target,
                sign,
                start=start,
                beliefs=beliefs,
                scatter=PLAUSIBLE_SCATTER,
                near_enough=NEAR_ENOUGH_TO_CHOOSE,
            )
            for start in starts
        )
        best[sign] = min((fit for fit in fits if fit is not None), key=lambda fit: fit.objective, default=None)
    turned = probability_of_the_other(best[1], best[-1])
    sign = 1 if turned <= 0.5 else -1
    likelier = best[sign]
    start = starts[0] if likelier is None else likelier.parameters
    return Polarity(sign, probability_of_the_other(likelier, best[-sign])), start


def _out_of_step(bands: RadiusBands, fit: LeastSquares, sign: int) -> str:
    """Return a reason where the second harmonics stand beside the phase that a lean gives them, as wrong phases do."""
    lean = fit.fitted - bands.generator(fit.parameters[LEVEL + 1 :])
    beside, noise = bands.quadrature(sign)
    constant = (bands.groups[:, np.newaxis] == np.arange(len(bands.frequencies_hz))) * bands.velocities_cm_s[:, None]
    design = np.column_stack((lean, constant)) / noise[:, np.newaxis]
    tangent = float(np.linalg.lstsq(design, beside / noise, rcond=None)[0][0])
    uncertainty = float(np.sqrt(np.linalg.pinv(design.T @ design)[0, 0]))
    if abs(tangent) - OUT_OF_STEP_SIGMAS * uncertainty < OUT_OF_STEP:
        return ""
    return (
        f"The second harmonics stand {np.degrees(np.arctan(tangent)):.0f} degrees beside the phase that tracking error "
        "gives them; check whether the recording went through a playback equalisation, as its sheet says."
    )


def _beyond_any_arm(length: Quantity, zenith: Quantity, bands: RadiusBands) -> str:
    if abs(length.value) <= MAX_LENGTH_ERROR_MM and abs(zenith.value) <= MAX_ZENITH_ERROR_DEG:
        return ""
    return (
        f"These lateral tones would need an arm {length.value:+.0f} mm and {zenith.value:+.0f} degrees off its target, "
        f"which nobody mounts. {bands.places} {CHECK_SHEET}"
    )


def _vague(length: Quantity, zenith: Quantity, bands: RadiusBands) -> str:
    u_length, u_zenith = length.standard_uncertainty or 0.0, zenith.standard_uncertainty or 0.0
    if u_length <= MOST_LENGTH_MM and u_zenith <= MOST_ZENITH_DEG:
        return ""
    return (
        f"These lateral tones leave the effective length uncertain by {u_length:.2g} mm and the zenith by "
        f"{u_zenith:.2g} degrees, which says nothing. {bands.places} Bands farther apart, louder or longer are "
        f"needed: {WANTED}."
    )


def _correlation(first: Quantity, second: Quantity) -> float | None:
    spread = (first.standard_uncertainty or 0.0) * (second.standard_uncertainty or 0.0)
    return covariance(first, second) / spread if spread else None


def _angle(target: Geometry, radius_mm: float, length: Quantity, zenith: Quantity) -> Quantity:
    return propagate(
        lambda length, zenith: float(_tracking_error(target, radius_mm, length, zenith)),
        {"length": length, "zenith": zenith},
        unit="deg",
        how=length.how,
    )


def _slope(
    target: Geometry, radii_mm: NDArray[np.float64], length_error_mm: float, zenith_error_deg: float
) -> NDArray[np.float64]:
    """Return how the tracking error grows with the effective length. [deg/mm]"""
    side = 0.01
    longer, shorter = (
        _tracking_error(target, radii_mm, length_error_mm + sign * side, zenith_error_deg) for sign in (1, -1)
    )
    return (longer - shorter) / (2 * side)


def _picture(
    bands: RadiusBands, fit: LeastSquares, sign: int, *, target: Geometry, length: Quantity, zenith: Quantity
) -> RadiusFit:
    """Return points, the generator's part taken off them, and the curve of the fit with its 95 % band."""
    level = float(np.exp(fit.parameters[LEVEL]))
    ratios, noise = bands.in_phase(sign)
    lean = ratios - bands.generator(fit.parameters[LEVEL + 1 :])
    error, uncertainty = bands.angles(lean, noise, level)
    fit_radius = np.linspace(bands.middle_mm.min(), bands.middle_mm.max(), CURVE_POINTS)
    fit_error = _tracking_error(target, fit_radius, length.value, zenith.value)
    by_length = _slope(target, fit_radius, length.value, zenith.value)
    variance = np.array([[covariance(a, b) for b in (length, zenith)] for a in (length, zenith)])
    # An error of the zenith turns the tracking error back by the same angle at every radius.
    slopes = np.column_stack((by_length, np.full(CURVE_POINTS, -1.0)))
    half = COVERAGE_FACTOR * np.sqrt(np.einsum("ni,ij,nj->n", slopes, variance, slopes))
    fit_index = level * bands.steepest_at(fit_radius) * np.tan(np.radians(fit_error))
    return RadiusFit(
        what="tracking error",
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
        target_error_deg=target.tracking_error_deg(fit_radius),
    )
