"""Crosstalk, azimuth, balance and polarity of a capture, from its left-only and right-only tones."""

from __future__ import annotations

from groovewright.testtone.capture.capture_bands import ChannelPair, channel_pairs, off_the_ladders, tones
from groovewright.testtone.capture.capture_findings import Findings, joined, none_of
from groovewright.testtone.capture.capture_task import CaptureTask
from groovewright.testtone.channels.channels import ChannelMatrix, channel_matrix, channel_polarity
from groovewright.testtone.tones.tone_fit import ToneFit

NAMES = (
    "crosstalk_left_into_right",
    "crosstalk_right_into_left",
    "azimuth_rotation",
    "crosstalk_leak",
    "crosstalk_at_best_azimuth",
    "channel_balance",
)

SAME, OPPOSED = "same", "opposed"


def channel_findings(task: CaptureTask) -> Findings:
    """Return what the pair of left and right tones nearest to 1 kHz says, and the polarity of the channels."""
    pairs = channel_pairs(task.bands)
    reference = _reference(task, pairs[0].frequency_hz if pairs else 1000.0)
    parts = [_polarity(reference)]
    if pairs:
        parts.append(_of_pair(task, pairs, reference))
    elif tones(task.bands, "left", "right"):
        parts.append(none_of(NAMES, "Crosstalk needs one tone cut left and one cut right, both of one frequency"))
    return joined(parts)


def _reference(task: CaptureTask, frequency_hz: float) -> ToneFit | None:
    """Return the lateral or else vertical tone that tells the polarity, that of the pair's frequency before others."""
    fits = task.fitted(off_the_ladders(task.bands, "lateral", "vertical"))
    fits.sort(key=lambda fit: (abs(fit.band.frequency_hz[0] / frequency_hz - 1), fit.band.cut))
    for fit in fits:
        try:
            channel_polarity(fit)
        except ValueError:
            # A band that cannot tell, such as one with a dead channel, is no reference.
            continue
        return fit
    return None


def _polarity(reference: ToneFit | None) -> Findings:
    if reference is None:
        return Findings()
    if channel_polarity(reference) > 0:
        return Findings(channel_polarity=SAME)
    return Findings(
        channel_polarity=OPPOSED,
        notes=("the channels have opposite polarity: the leads of one are swapped at the cartridge or behind it",),
    )


def _of_pair(task: CaptureTask, pairs: tuple[ChannelPair, ...], reference: ToneFit | None) -> Findings:
    reasons = []
    for pair in pairs:
        refusal = task.first_refusal((pair.left, pair.right))
        if refusal:
            reasons.append(refusal)
            continue
        left, right = task.fitted((pair.left, pair.right))
        try:
            return _shown(
                channel_matrix(
                    left,
                    right,
                    reference,
                    allowances=task.sheet.allowances,
                    equalised=task.sheet.equalised,
                    record_name=task.record_name,
                )
            )
        except ValueError as error:
            reasons.append(str(error))
    return none_of(NAMES, reasons[0])


def _shown(matrix: ChannelMatrix) -> Findings:
    about = f"crosstalk and azimuth are those at {matrix.frequency_hz:.0f} Hz"
    bounds = [
        f"{name.replace('_', ' ')}: {getattr(matrix, name).why_unknown}"
        for name in NAMES
        if getattr(matrix, name).why_unknown
    ]
    return Findings(quantities={name: getattr(matrix, name) for name in NAMES}, notes=(about, *matrix.notes, *bounds))
