"""Noise and hum of a capture, from its longest silent band."""

from __future__ import annotations

from dataclasses import replace

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture_bands import middle_of, of_kind, tones
from groovewright.testtone.capture.capture_findings import Findings, Found, joined, none_of
from groovewright.testtone.capture.capture_pictures import CapturePictures
from groovewright.testtone.capture.capture_result import ListedQuantity
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.noise.level_reference import FULL_SCALE, LevelReference, reference_from_tone
from groovewright.testtone.noise.noise import HumLine, NoiseResult, noise_of, weighted_noise_of
from groovewright.testtone.noise.noise_spectrum import noise_spectrum
from groovewright.testtone.tones.tone_fit import ToneFit

EDGE_S = 0.1
"""Left off a silent band at either end, where its neighbours may still sound."""

LONGEST_S = 120.0
"""Of a longer silence the middle is measured. [s]"""

MOST_WEIGHTED_CYCLES = 62_500
"""Of a weighting's highest frequency: the higher it reaches, the shorter the stretch that memory allows."""

NAMES = ("rumble_band_level", "hum")


def noise_findings(task: CaptureTask, *, turn_s: float | None) -> Findings:
    """Return the level of the noise and the lines of hum; `turn_s` is what a turn of the platter took, where known."""
    silences = of_kind(task.bands, "silence")
    if not silences:
        return Findings()
    at = _inside(middle_of(silences[0], LONGEST_S))
    reference = _reference(task)
    name = f"{at.band.name} of {task.capture_name}"
    try:
        noise = noise_of(
            task.recording,
            start_s=at.start_s,
            duration_s=at.duration_s,
            equalised=task.sheet.equalised,
            reference=reference,
            turn_s=turn_s,
            name=name,
        )
    except ValueError as refusal:
        return none_of(NAMES, str(refusal))
    curves = noise_spectrum(
        task.recording, start_s=at.start_s, duration_s=at.duration_s, reference=reference, band=at.band.name
    )
    return joined(
        [
            _levels(noise),
            Findings(
                quantities={"hum": tuple(_hum(line, at.band.name) for line in noise.hum)},
                pictures=CapturePictures(noise_spectra=curves),
            ),
            _weighted(task, at, reference, name),
        ]
    )


def _inside(at: LocatedBand) -> LocatedBand:
    edge_s = min(EDGE_S, at.duration_s / 20)
    return replace(at, start_s=at.start_s + edge_s, duration_s=at.duration_s - 2 * edge_s)


def _reference(task: CaptureTask) -> LevelReference:
    """Return the level of the lateral tone nearest to 1 kHz whose velocity is stated, or full scale."""
    stated = [at for at in tones(task.bands, "lateral") if isinstance(at.band.peak_velocity_cm_s, float)]
    fits = sorted(task.fitted(stated), key=lambda fit: abs(fit.band.frequency_hz[0] / 1000 - 1))
    for fit in fits:
        try:
            return _from_tone(task, fit)
        except ValueError:
            # A dead channel holds no level; another tone, or full scale, will do.
            continue
    return FULL_SCALE


def _from_tone(task: CaptureTask, fit: ToneFit) -> LevelReference:
    velocity = fit.band.peak_velocity_cm_s
    assert isinstance(velocity, float)
    left, right = (
        Quantity.measured(
            abs(fit.amplitude(channel)),
            "1",
            standard_uncertainty=fit.standard_uncertainty(channel),
            source=f"noise on {fit.band.name} of {task.capture_name}, channel {channel}",
        )
        for channel in (0, 1)
    )
    return reference_from_tone(
        amplitude_left=left,
        amplitude_right=right,
        frequency_hz=fit.frequency_hz,
        peak_velocity_cm_s=velocity,
        equalised=task.sheet.equalised,
    )


def _levels(noise: NoiseResult) -> Findings:
    wanted = {
        "rumble_band_level": noise.band_level.get("lateral"),
        "rumble_band_level_vertical": noise.band_level.get("vertical"),
        "rumble_band_level_without_hum": noise.band_level_without_hum.get("lateral"),
        "turn_synchronous_noise": noise.turn_synchronous.get("lateral"),
    }
    quantities: dict[str, Found] = {key: level for key, level in wanted.items() if level is not None}
    reasons = {
        "rumble_band_level": noise.not_shown.get("band_level lateral"),
        "rumble_band_level_vertical": noise.not_shown.get("band_level vertical"),
        "turn_synchronous_noise": noise.not_shown.get("turn_synchronous lateral")
        or noise.not_shown.get("turn_synchronous"),
    }
    about = f"noise is the {noise.label}, {noise.reference}"
    refused = (none_of([key], why) for key, why in reasons.items() if why is not None)
    return joined([Findings(quantities, notes=(about, *noise.notes)), *refused])


def _weighted(task: CaptureTask, at: LocatedBand, reference: LevelReference, name: str) -> Findings:
    if task.weighting is None:
        return Findings()
    at = middle_of(at, MOST_WEIGHTED_CYCLES / task.weighting.frequency_hz[-1])
    try:
        noise = weighted_noise_of(
            task.recording,
            task.weighting,
            start_s=at.start_s,
            duration_s=at.duration_s,
            equalised=task.sheet.equalised,
            reference=reference,
            name=name,
        )
    except ValueError as refusal:
        return none_of(["weighted_noise_level"], str(refusal))
    level = noise.band_level.get("lateral")
    if level is None:
        return none_of(["weighted_noise_level"], noise.not_shown["band_level lateral"])
    return Findings({"weighted_noise_level": level}, notes=(f"weighted noise is the {noise.label}",))


def _hum(line: HumLine, band: str) -> ListedQuantity:
    """Return one entry for a line: lateral where it shows there, otherwise where it is strongest."""
    channel = "lateral" if "lateral" in line.level else max(line.level, key=lambda held: line.level[held].value)
    return ListedQuantity(line.level[channel], line.frequency, band, channel)
