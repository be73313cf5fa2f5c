"""Speed, wow and flutter and eccentricity of a capture, from the longest tone that was cut for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.measurement.formatting import format_quantity
from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.capture.capture_bands import middle_of, speed_bands, tones
from groovewright.testtone.capture.capture_findings import Findings, Found, joined, none_of
from groovewright.testtone.capture.capture_pictures import CapturePictures, RasterPicture, SpeedCurve, SpeedSpectrum
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.sheet.allowances import CLOCK_SOURCE, cut_source
from groovewright.testtone.speed.arm_path import with_doubt_of_the_arm
from groovewright.testtone.speed.speed import SpeedResult, speed_baseband, speed_of, speed_trace
from groovewright.testtone.speed.speed_spectrum import speed_spectrum
from groovewright.testtone.speed.turn_raster import turn_raster
from groovewright.testtone.speed.unsteady import with_unsteadiness
from groovewright.testtone.speed.wow_flutter import WowFlutter, wow_flutter

NAMES = (
    "speed_error",
    "eccentricity",
    "wow_flutter_weighted_2sigma",
    "wow_flutter_weighted_quasi_peak",
    "wow_flutter_unweighted_2sigma",
)

OF_AN_UNKNOWN_ARM = (
    "The arm's geometry is not given, so speed and eccentricity are those for a stylus that moves along a radius. A "
    "pivoted arm's goes along the groove as well: its record is up to 10 % less off centre and its platter some "
    "thousandths of a percent faster. Half of that is in their uncertainty; give the pivot-to-spindle distance to have "
    "it taken off"
)
OF_A_KNOWN_ARM = (
    "What the stylus of a pivoted arm goes along the groove as the arm moves is taken off speed and eccentricity, with "
    "the groove angle that the arm should have there"
)

EDGE_S = 0.05
"""Left off a band at either end, where its cut swells and fades."""

LONGEST_S = 480.0
"""Of all bands together, so that memory stays bounded; of a longer band the middle is measured. [s]"""

FEWEST_TURNS_OF_A_RASTER = 2


@dataclass(frozen=True, eq=False)
class _Measured:
    band: LocatedBand
    speed: SpeedResult
    flutter: WowFlutter | None
    why_no_flutter: str


def speed_findings(task: CaptureTask) -> tuple[Findings, SpeedResult | None]:
    """Return what the tones say of the speed, and the speed of the longest one if that is shown."""
    found, refusals = [], []
    told: SpeedResult | None = None
    for at in _within_memory(speed_bands(task.bands)):
        try:
            measured = _measured(task, at)
        except ValueError as refusal:
            refusals.append(str(refusal))
            continue
        if told is not None:
            found.append(Findings(notes=_beside(measured), pictures=_pictures(measured)))
            continue
        told = measured.speed
        found.append(_shown(measured))
    if told is not None:
        return joined([*found, Findings(notes=tuple(refusals))]), told
    if refusals:
        return none_of(NAMES, refusals[0]), None
    if tones(task.bands):
        return none_of(["speed_error"], "Speed needs a tone of 300 Hz or more, best one of 3150 Hz"), None
    return Findings(), None


def _within_memory(bands: Sequence[LocatedBand]) -> list[LocatedBand]:
    """Return the middle of the first band, and as many others as fit into what is left of the memory."""
    kept: list[LocatedBand] = []
    left_s = LONGEST_S
    for at in bands:
        shortened = middle_of(at, LONGEST_S)
        if shortened.duration_s <= left_s:
            kept.append(shortened)
            left_s -= shortened.duration_s
    return kept


def _noise_source(task: CaptureTask, at: LocatedBand) -> str:
    return f"noise on {at.band.name} of {task.capture_name}"


def _speed_within(
    task: CaptureTask, at: LocatedBand, played_s: float, edge_s: float
) -> tuple[SpeedResult, tuple[float, float]]:
    """Return the speed of a band that plays for so long, its edges left off, and the radii between which it is read."""
    (nominal_hz,) = at.band.frequency_hz
    shares = np.array([edge_s, played_s - edge_s]) / played_s
    start_mm, end_mm = at.band.radius_mm
    first_mm, last_mm = (start_mm + (end_mm - start_mm) * shares).tolist()
    baseband = speed_baseband(
        task.recording,
        start_s=at.start_s + edge_s,
        duration_s=played_s - 2 * edge_s,
        mix=channel_mix(task, at),
        nominal_hz=nominal_hz,
    )
    speed = speed_of(
        baseband,
        nominal_hz,
        task.sheet.speed_rpm,
        radius_mm=(first_mm, last_mm),
        geometry=task.geometry,
        source=_noise_source(task, at),
    )
    return speed, (first_mm, last_mm)


def _measured(task: CaptureTask, at: LocatedBand) -> _Measured:
    edge_s = min(EDGE_S, at.duration_s / 20)
    speed, radius_mm = _speed_within(task, at, at.duration_s, edge_s)
    # On a platter that runs fast a band is over before its time is.
    faster = max(speed.speed_error.value / 100, 0.0)
    played_s = at.duration_s / (1 + faster)
    if at.duration_s - played_s > edge_s / 2:
        speed, radius_mm = _speed_within(task, at, played_s, edge_s)
    source = _noise_source(task, at)
    error, eccentricity = with_doubt_of_the_arm(
        speed.speed_error,
        speed.eccentricity,
        radius_mm=radius_mm,
        turns=speed.fit.turns,
        geometry=task.geometry,
    )
    error = _against_clock_and_cut(task, error)
    sway_mm = task.sheet.allowances.once_per_turn_mm
    if eccentricity is not None and eccentricity.components is not None and sway_mm:
        added = {Source("sway once a turn of warp and platter"): sway_mm}
        eccentricity = replace(eccentricity, components={**eccentricity.components, **added})
    about = OF_AN_UNKNOWN_ARM if task.geometry is None else OF_A_KNOWN_ARM
    speed = replace(speed, speed_error=error, eccentricity=eccentricity, notes=(*speed.notes, about))
    try:
        flutter = wow_flutter(speed, source=source)
    except ValueError as refusal:
        return _Measured(at, speed, None, str(refusal))
    unsteady = with_unsteadiness(
        flutter, speed, allowances=task.sheet.allowances, source=source, record_name=task.record_name
    )
    return _Measured(at, speed, unsteady, "")


def _against_clock_and_cut(task: CaptureTask, error: Quantity) -> Quantity:
    """Return a speed error with what the recorder's clock and the frequency that was cut are off by."""
    if error.components is None:
        return error
    allowances = task.sheet.allowances
    added = {
        Source(CLOCK_SOURCE): 1e-4 * allowances.clock_ppm,
        Source(cut_source("frequency", task.record_name)): allowances.cut_speed_percent,
    }
    return replace(error, components={**error.components, **added})


def channel_mix(task: CaptureTask, at: LocatedBand) -> tuple[float, float]:
    """Return weights of both channels that add what they hold of the tone, whatever the polarity of the leads."""
    if at.band.cut == "left":
        return 1.0, 0.0
    if at.band.cut == "right":
        return 0.0, 1.0
    fit = task.fits.get(at.band.name)
    if fit is None:
        return 0.5, 0.5 if at.band.cut == "lateral" else -0.5
    opposed = (fit.amplitude(1) * fit.amplitude(0).conjugate()).real < 0
    return 0.5, -0.5 if opposed else 0.5


def _shown(measured: _Measured) -> Findings:
    speed, flutter = measured.speed, measured.flutter
    quantities: dict[str, Found] = {"speed_error": speed.speed_error}
    parts = []
    if speed.eccentricity is not None:
        quantities["eccentricity"] = speed.eccentricity
    else:
        parts.append(none_of(["eccentricity"], _reason(speed.not_shown[0])))
    names = [name for name in NAMES if name.startswith("wow_flutter")]
    if flutter is None:
        parts.append(none_of(names, measured.why_no_flutter))
    elif flutter.not_shown:
        parts.append(none_of(names, _reason(flutter.not_shown[0])))
    else:
        for name in names:
            for suffix in ("", "_without_eccentricity"):
                quantity = getattr(flutter, name.removeprefix("wow_flutter_") + suffix)
                if quantity is not None:
                    quantities[name + suffix] = quantity
    about = f"speed, wow and flutter are those of {measured.band.band.name}, the longest tone for them"
    notes = (about, *speed.notes, *(() if flutter is None else flutter.notes))
    return joined([Findings(quantities, notes=notes, pictures=_pictures(measured)), *parts])


def _reason(not_shown: str) -> str:
    """Return the reason alone, of a sentence that says what is not shown before it."""
    return not_shown.partition(" is not shown: ")[2]


def _beside(measured: _Measured) -> tuple[str, ...]:
    """Return what a further tone says, as a sentence."""
    found = f"{measured.band.band.name} shows a speed error of {format_quantity(measured.speed.speed_error)}"
    if measured.speed.eccentricity is None:
        return (found,)
    return (f"{found} and an eccentricity of {format_quantity(measured.speed.eccentricity)}",)


def _pictures(measured: _Measured) -> CapturePictures:
    name, fit = measured.band.band.name, measured.speed.fit
    time_s, deviation = _course(measured)
    angle = np.interp(time_s, fit.times_s, fit.angle_rad)
    radius_mm = np.interp(time_s, fit.times_s, fit.radius_mm)
    cosine, sine = fit.once_per_turn
    once = 100 * (cosine * np.cos(angle) + sine * np.sin(angle)) / radius_mm
    spectrum = speed_spectrum(measured.speed)
    return CapturePictures(
        speed=(SpeedCurve(name, time_s, deviation, deviation - once),),
        speed_spectra=(SpeedSpectrum(name, spectrum.frequency_hz, spectrum.peak_percent),),
        rasters=_raster(measured),
    )


def _raster(measured: _Measured) -> tuple[RasterPicture, ...]:
    if measured.speed.fit.angle_rad[-1] < FEWEST_TURNS_OF_A_RASTER * 2 * np.pi:
        return ()
    raster = turn_raster(measured.speed)
    turn = np.arange(1.0, raster.start_s.size + 1)
    return (RasterPicture(measured.band.band.name, raster.angle_deg, turn, raster.speed_percent),)


def _course(measured: _Measured) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return time and deviation from the nominal speed: drift and all that is flutter, without the noise above it."""
    fit, flutter = measured.speed.fit, measured.flutter
    if flutter is None:
        return speed_trace(measured.speed)
    mean = fit.speed_error + fit.drift_per_s * (flutter.times_s - fit.middle_s)
    return flutter.times_s, 100 * mean + flutter.unweighted_percent
