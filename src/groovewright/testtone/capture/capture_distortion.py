"""Harmonics and intermodulation of a capture, band by band."""

from __future__ import annotations

import math

import numpy as np

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_bands import middle_of, of_kind, off_the_ladders
from groovewright.testtone.capture.capture_findings import Findings, Found, joined, none_of
from groovewright.testtone.capture.capture_result import ListedQuantity
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.tones.equalisation import equalisation_response
from groovewright.testtone.tones.intermodulation import Intermodulation, intermodulation_of
from groovewright.testtone.tones.tone_fit import ToneFit

CHANNELS = ("left", "right")

LONGEST_S = 60.0
"""Of a longer band of two tones the middle is measured. [s]"""

FIGURES = {"intermodulation": "total", "intermodulation_of_amplitude": "amplitude_modulation"}
"""What each name is in the results of the two-tone methods."""

LEAST_SIGMAS = 3.0
"""A distortion below this many standard uncertainties is not told from none."""


def distortion_findings(task: CaptureTask) -> Findings:
    """Return total harmonic distortion of the lateral tones and intermodulation of the two-tone bands."""
    return joined([_harmonics(task), _intermodulation(task)])


def _harmonics(task: CaptureTask) -> Findings:
    lateral = off_the_ladders(task.bands, "lateral")
    if not lateral:
        return Findings()
    name = "total_harmonic_distortion"
    entries = tuple(
        entry
        for fit in task.fitted(lateral)
        for channel in (0, 1)
        if (entry := _of_fit(fit, channel, equalised=task.sheet.equalised)) is not None
    )
    if not entries:
        why = task.first_refusal(lateral) or "the harmonics of the lateral tones do not stand out of the noise"
        return none_of([name], why)
    return Findings({name: entries})


def _of_fit(fit: ToneFit, channel: int, *, equalised: bool) -> ListedQuantity | None:
    """Return the root of the summed squares of the harmonics over the fundamental; None where the noise hides it."""
    above = [n for n in fit.harmonics if n > 1]
    fundamental = abs(fit.amplitude(channel))
    if not above or fundamental == 0:
        return None
    gain = np.ones(len(above))
    if equalised:
        hz = fit.frequency_hz * np.array([1.0, *above])
        response = np.abs(equalisation_response(hz))
        gain = response[1:] / response[0]
    sizes = np.array([abs(fit.amplitude(channel, n)) for n in above]) / fundamental / gain
    noise = np.array([fit.standard_uncertainty(channel, n) for n in above]) / fundamental / gain
    # Noise adds the variance of both parts to the square of a magnitude.
    square = float((sizes**2 - 2 * noise**2).sum())
    spread = float(np.sqrt((4 * sizes**2 * noise**2 + 4 * noise**4).sum()))
    if square <= LEAST_SIGMAS * spread:
        return None
    distortion = math.sqrt(square)
    quantity = Quantity.measured(
        100 * distortion,
        "%",
        standard_uncertainty=100 * spread / (2 * distortion),
        source=f"noise on the harmonics of {fit.band.name}, {CHANNELS[channel]}",
        how=f"harmonics {', '.join(map(str, above))}",
    )
    return ListedQuantity(quantity, _radius(fit.band.radius_mm), fit.band.name, CHANNELS[channel])


def _radius(ends_mm: tuple[float, float]) -> Quantity:
    return Quantity.exact(round(sum(ends_mm) / 2, 2), "mm", how="middle of what was read, by the band sheet")


def _intermodulation(task: CaptureTask) -> Findings:
    return joined(_of_two_tones(task, at) for at in of_kind(task.bands, "two-tone"))


def _of_two_tones(task: CaptureTask, at: LocatedBand) -> Findings:
    try:
        channels = intermodulation_of(task.recording, middle_of(at, LONGEST_S))
    except ValueError as refusal:
        return none_of(["intermodulation"], str(refusal))
    notes = [note for channel in channels for note in channel.notes]
    quantities: dict[str, Found] = {}
    for name, figure in FIGURES.items():
        entries = tuple(_entry(channel, figure, at) for channel in channels if figure in channel.quantities)
        if entries:
            quantities[name] = entries
        notes += [
            f"{name.replace('_', ' ')}, {at.band.name}, {channel.channel}: {channel.not_shown[figure]}"
            for channel in channels
            if figure in channel.not_shown
        ]
    return Findings(quantities, notes=tuple(notes))


def _entry(channel: Intermodulation, figure: str, at: LocatedBand) -> ListedQuantity:
    return ListedQuantity(channel.quantities[figure], _radius(at.band.radius_mm), at.band.name, channel.channel)
