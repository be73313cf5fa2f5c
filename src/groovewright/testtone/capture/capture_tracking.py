"""Tracking error, its causes, and the vertical tracking angle, from the second harmonics of a capture's tones."""

from __future__ import annotations

from collections.abc import Iterable

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_bands import off_the_ladders
from groovewright.testtone.capture.capture_distance import with_distance
from groovewright.testtone.capture.capture_findings import Findings, Found, joined, none_of
from groovewright.testtone.capture.capture_pictures import CapturePictures, RadiusFit
from groovewright.testtone.capture.capture_result import ListedQuantity
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.tones.harmonics import SignedHarmonic, signed_second_harmonic
from groovewright.testtone.tracking.tracking_error_fit import Polarity, TrackingErrorFit, fit_tracking_error
from groovewright.testtone.tracking.vertical_angle import fit_vertical_angle
from groovewright.tonearm.geometry import Geometry

LATERAL = ("tracking_error", "effective_length_error", "zenith_error")
VERTICAL = ("vertical_tracking_angle_error",)

NEEDS_GEOMETRY = (
    "Tracking error is told from the shape of a curve that depends on the arm, so give the pivot-to-spindle distance."
)


def tracking_findings(task: CaptureTask) -> Findings:
    """Return what the lateral tones say of the alignment, and the vertical ones of the vertical tracking angle."""
    lateral, vertical = (off_the_ladders(task.bands, cut) for cut in ("lateral", "vertical"))
    if task.geometry is None:
        names = (*(LATERAL if lateral else ()), *(VERTICAL if vertical else ()))
        return none_of(names, NEEDS_GEOMETRY)
    parts = []
    polarity = None
    if lateral:
        fit, part = _lateral(task, lateral, task.geometry)
        polarity = None if fit is None else fit.polarity
        parts.append(part)
    if vertical:
        parts.append(_vertical(task, vertical, polarity))
    return joined(parts)


def _lateral(
    task: CaptureTask, bands: tuple[LocatedBand, ...], geometry: Geometry
) -> tuple[TrackingErrorFit | None, Findings]:
    harmonics, notes = _harmonics(task, bands)
    if not harmonics:
        return None, joined([none_of(LATERAL, notes[0]), Findings(notes=notes[1:])])
    fit = _fitted(task, harmonics, geometry)
    if fit.not_shown:
        return fit, joined([none_of(LATERAL, fit.not_shown), Findings(notes=notes + fit.notes)])
    farther = None if task.target_shift is None else _fitted(task, harmonics, task.target_shift.farther)
    shown = Findings(_lateral_quantities(fit), notes=notes + fit.notes, pictures=_picture(fit.picture))
    if task.target_shift is None or farther is None or farther.not_shown:
        return fit, shown
    return fit, with_distance(shown, _lateral_quantities(farther), task.target_shift.distance)


def _fitted(task: CaptureTask, harmonics: tuple[SignedHarmonic, ...], geometry: Geometry) -> TrackingErrorFit:
    return fit_tracking_error(
        harmonics,
        geometry,
        speed_rpm=task.sheet.speed_rpm,
        noise_source=f"noise of {task.capture_name}, lateral tones",
        level_source=task.level_source,
        level_standard_uncertainty_db=task.level_standard_uncertainty_db,
        band_level_db=task.sheet.allowances.cut_band_db,
    )


def _lateral_quantities(fit: TrackingErrorFit) -> dict[str, Found]:
    assert fit.effective_length_error is not None
    assert fit.zenith_error is not None
    how = "middle of what was read, by the band sheet"
    errors = tuple(
        ListedQuantity(at.angle_error, Quantity.exact(at.radius_mm, "mm", how=how), at.band)
        for at in fit.tracking_errors
    )
    return {
        "tracking_error": errors,
        "effective_length_error": fit.effective_length_error,
        "zenith_error": fit.zenith_error,
    }


def _vertical(task: CaptureTask, bands: tuple[LocatedBand, ...], polarity: Polarity | None) -> Findings:
    harmonics, notes = _harmonics(task, bands)
    if not harmonics:
        return joined([none_of(VERTICAL, notes[0]), Findings(notes=notes[1:])])
    fit = fit_vertical_angle(
        harmonics,
        speed_rpm=task.sheet.speed_rpm,
        polarity=polarity,
        cutting_angle_deg=task.sheet.vertical_cutting_angle_deg,
        noise_source=f"noise of {task.capture_name}, vertical tones",
        level_source=task.level_source,
        cutting_source=task.cutting_source,
        level_standard_uncertainty_db=task.level_standard_uncertainty_db,
        band_level_db=task.sheet.allowances.cut_band_db,
    )
    if fit.vertical_tracking_angle_error is None:
        return joined([none_of(VERTICAL, fit.not_shown), Findings(notes=notes + fit.notes)])
    return Findings(
        quantities={VERTICAL[0]: fit.vertical_tracking_angle_error},
        notes=notes + fit.notes,
        pictures=_picture(fit.picture),
    )


def _picture(fit: RadiusFit | None) -> CapturePictures:
    return CapturePictures() if fit is None else CapturePictures(radius_fits=(fit,))


def _harmonics(task: CaptureTask, bands: Iterable[LocatedBand]) -> tuple[tuple[SignedHarmonic, ...], tuple[str, ...]]:
    """Return the signed second harmonics of these tones, and why each that has none was left out."""
    harmonics, left_out = [], []
    for at in bands:
        if at.band.peak_velocity_cm_s is None:
            left_out.append(f"band {at.band.name!r} has no peak_velocity_cm_s on its sheet, so it tells no angle")
        elif at.band.name in task.refused:
            left_out.append(task.refused[at.band.name])
        else:
            try:
                harmonics.append(
                    signed_second_harmonic(
                        task.fits[at.band.name],
                        equalised=task.sheet.equalised,
                        speed_rpm=task.sheet.speed_rpm,
                        equalisation_percent=task.sheet.allowances.equalisation_percent,
                        subsonic=task.subsonic,
                    )
                )
            except ValueError as refusal:
                left_out.append(str(refusal))
    return tuple(harmonics), tuple(left_out)
