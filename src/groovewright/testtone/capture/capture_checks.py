"""What a recording confirms of its sheet before anything is measured, and what is withheld for what it does not."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from groovewright.testtone.capture.capture_findings import Findings, sentence
from groovewright.testtone.capture.recording import Recording
from groovewright.testtone.checks.band_check import (
    BandCheck,
    checked_bands,
    doubts_of_channels,
    doubts_of_levels,
    doubts_of_starts,
    wide_tuning,
)
from groovewright.testtone.checks.doubts import Doubt
from groovewright.testtone.checks.events import RecordedEvent, bursts_of, events_of, without_events
from groovewright.testtone.checks.served import EVERYTHING, LEVEL_FREE, served_by
from groovewright.testtone.finding.band_edges import between_its_edges
from groovewright.testtone.finding.band_features import Features, signal_features, tuning_of
from groovewright.testtone.finding.band_finder import LocatedBand
from groovewright.testtone.finding.clipping import Clipping
from groovewright.testtone.sheet.band_sheet import BandSheet

MIN_TOLD_S = 0.3
"""Length of what is cut off a band that is told. [s]"""

MIN_PART_S = 0.8
"""Length of what events must leave of a tone for it to be used. [s]"""


@dataclass(frozen=True, eq=False)
class Confirmed:
    """What a recording confirms of its sheet.

    Attributes
    ----------
    bands : tuple of LocatedBand
        Those that may be used, with what holds nothing of them cut off.
    every : tuple of LocatedBand
        All, as they were located.
    reasons : mapping of str to str
        Why each band that is not used is not, by its name.
    doubts : tuple of Doubt
    events : tuple of RecordedEvent
    checks : tuple of BandCheck
    """

    bands: tuple[LocatedBand, ...]
    every: tuple[LocatedBand, ...]
    reasons: Mapping[str, str]
    doubts: tuple[Doubt, ...]
    events: tuple[RecordedEvent, ...]
    checks: tuple[BandCheck, ...]


def confirmed_bands(
    recording: Recording, sheet: BandSheet, located: Sequence[LocatedBand], clipping: Clipping, agreed: Collection[str]
) -> Confirmed:
    """Return which bands the recording confirms, and what is doubtful of its sheet.

    Parameters
    ----------
    recording : Recording
        With two channels.
    sheet : BandSheet
    located : sequence of LocatedBand
        In the order in which they play.
    clipping : Clipping
        What is clipped.
    agreed : collection of str
        Keys of doubts that somebody has settled in favour of the sheet.
    """
    wide = wide_tuning(recording.sample_rate_hz)
    tunings = {tuning_of(at.band) for at in located if at.band.kind != "silence"}
    features = signal_features(recording, {wide, *tunings})
    checks = checked_bands(features, wide, located)
    doubts = [
        doubt
        for doubt in _doubts(checks, located, clipping, sheet, features=features, agreed=agreed)
        if doubt.key not in agreed
    ]
    misplaced = any(doubt.fact == "starts" for doubt in doubts)
    reasons = {check.at.band.name: check.reason for check in checks if check.reason}
    events: list[RecordedEvent] = []
    kept: list[LocatedBand] = []
    for check in checks:
        at = check.at
        if check.reason:
            continue
        if at.band.kind == "tone" and not misplaced:
            played = between_its_edges(recording, at)
            own = (*events_of(recording, played, turn_s=60 / sheet.speed_rpm), *bursts_of(features, played))
            events += own
            at = without_events(played, own) if own else at
            if at.duration_s < min(MIN_PART_S, check.at.duration_s / 2):
                reasons[at.band.name] = (
                    f"band {at.band.name!r} holds no {MIN_PART_S:g} s without a dropout or a skip; clean record and "
                    "stylus and record it again"
                )
                continue
        kept.append(at)
    return Confirmed(tuple(kept), tuple(located), reasons, tuple(doubts), tuple(events), checks)


def _doubts(
    checks: Sequence[BandCheck],
    located: Sequence[LocatedBand],
    clipping: Clipping,
    sheet: BandSheet,
    *,
    features: Features,
    agreed: Collection[str],
) -> list[Doubt]:
    """Return what is doubtful by the features of all bands.

    Where all starts are off, nothing else can be told before they are right. A channel that is dead, or in both,
    leaves no level as it should be, and so does clipping.
    """
    starts = [doubt for doubt in doubts_of_starts(checks) if doubt.key not in agreed]
    if starts:
        return starts
    channels = doubts_of_channels(checks, channels_alike=features.channels_alike)
    of_clipping = _of_clipping(checks, located, clipping)
    clipped = {doubt.band for doubt in of_clipping}
    levels = [] if channels else doubts_of_levels([c for c in checks if c.at.band.name not in clipped], sheet)
    return [*channels, *levels, *of_clipping]


def _of_clipping(checks: Sequence[BandCheck], located: Sequence[LocatedBand], clipping: Clipping) -> list[Doubt]:
    """Return a doubt for every band that is clipped: a tone's speed stays right, its levels and harmonics don't."""
    found = []
    for check in checks:
        at = check.at
        if check.reason or at.band.kind == "silence" or not clipping.meets(at.start_s, at.start_s + at.duration_s):
            continue
        if at.band.kind == "sweep":
            what = f"{at.band.name} is clipped, which flattens the peak of a resonance; record it at a lower level."
        else:
            what = f"Band {at.band.name!r} is clipped, which bends level and harmonics; record it at a lower level."
        withheld = tuple(name for name in served_by(at, located) if name not in LEVEL_FREE)
        found.append(Doubt("clipping", at.band.name, what, {}, withheld))
    return found


def with_doubts(found: Findings, confirmed: Confirmed, doubts: Iterable[Doubt]) -> Findings:
    """Return findings without what a doubt withholds, or what only bands serve that are not used, each with its cause.

    Parameters
    ----------
    found : Findings
    confirmed : Confirmed
    doubts : iterable of Doubt
        Those of the recording and those that turned up in measuring.
    """
    shown_or_refused = {*found.quantities, *found.not_shown}
    reasons: dict[str, str] = {}
    for at in confirmed.every:
        if at.band.name in confirmed.reasons:
            for name in served_by(at, confirmed.every):
                if name not in found.quantities:
                    reasons.setdefault(name, sentence(confirmed.reasons[at.band.name]))
    withheld: dict[str, str] = {}
    possible = {*shown_or_refused, *reasons}
    for doubt in doubts:
        for name in doubt.withheld:
            if name in possible:
                withheld.setdefault(name, sentence(doubt.what))
    notes = [sentence(reason) for reason in confirmed.reasons.values()]
    notes += [
        f"Band {check.at.band.name!r} holds its tone from {check.at.start_s:.2f} to "
        f"{check.at.start_s + check.at.duration_s:.2f} s only; the rest of it is cut off."
        for check, at in zip(confirmed.checks, confirmed.every, strict=True)
        if not check.reason and check.at.duration_s < at.duration_s - MIN_TOLD_S
    ]
    notes += [sentence(doubt.what) for doubt in doubts]
    notes += [_told(event) for event in confirmed.events]
    return replace(
        found,
        quantities={name: held for name, held in found.quantities.items() if name not in withheld},
        not_shown={
            name: why
            for name in EVERYTHING
            if (why := withheld.get(name, reasons.get(name, found.not_shown.get(name, ""))))
        },
        notes=tuple(dict.fromkeys([*notes, *found.notes])),
    )


def _told(event: RecordedEvent) -> str:
    lasts = f", {1000 * event.duration_s:.0f} ms" if event.duration_s < 1 else f", {event.duration_s:.1f} s"
    return f"At {event.start_s:.2f} s in {event.band}: {event.kind}{lasts}; it is cut out."
