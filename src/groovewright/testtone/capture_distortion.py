"""Harmonics and intermodulation of a capture, band by band."""

from __future__ import annotations

import math

import numpy as np

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.band_finder import LocatedBand
from groovewright.testtone.capture_bands import of_kind, off_the_ladders
from groovewright.testtone.capture_findings import Findings, Found, joined, none_of
from groovewright.testtone.capture_result import ListedQuantity
from groovewright.testtone.capture_task import CaptureTask
from groovewright.testtone.equalisation import equalisation_response
from groovewright.testtone.intermodulation import Intermodulation, intermodulation_of
from groovewright.testtone.tone_fit import ToneFit

CHANNELS = ("left", "right")

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
    return Quantity.exact(sum(ends_mm) / 2, "mm", how="middle of the band, from the band sheet")


def _intermodulation(task: CaptureTask) -> Findings:
    bands = of_kind(task.bands, "two-tone")
    if not bands:
        return Findings()
    entries: list[ListedQuantity] = []
    reasons: list[str] = []
    notes: list[str] = []
    for at in bands:
        try:
            channels = intermodulation_of(task.recording, at)
        except ValueError as refusal:
            reasons.append(str(refusal))
            continue
        for channel in channels:
            notes += channel.notes
            if "total" in channel.quantities:
                entries.append(_entry(channel, at))
            else:
                reasons.append(f"{at.band.name}, {channel.channel}: {channel.not_shown['total']}")
    quantities: dict[str, Found] = {"intermodulation": tuple(entries)} if entries else {}
    refused = none_of(["intermodulation"], reasons[0]) if reasons and not entries else Findings(notes=tuple(reasons))
    return joined([Findings(quantities, notes=tuple(notes)), refused])


def _entry(channel: Intermodulation, at: LocatedBand) -> ListedQuantity:
    return ListedQuantity(channel.quantities["total"], _radius(at.band.radius_mm), at.band.name, channel.channel)
