"""How honest differences between two plays are, on rough decks that the analysis knows nothing of.

    .venv/bin/python benchmarks/rough_pairs.py [--decks 40] [--seed 3] [--kept FOLDER]

Each deck of `rough_coverage` plays one record twice as it is, and once more after a known change: the generator turned
by a degree, the platter 0.2 % faster, the cartridge turned by 0.8 degrees and slid by 0.8 mm, its vertical angle 1.5
degrees steeper. Between plays the record is put down anew, so that it lies off centre otherwise.

For each quantity: how often the 95 % interval of the difference holds the true difference (goal 92 to 98 %), how often
a change is said to be shown where there was none and where there was one, and how much of the variance cancels.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from rough_coverage import RPM, arm, drawn, record, truths
from rough_deck import RATE_HZ, recording_of

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture.capture import analyse_capture
from groovewright.testtone.capture.capture_result import ListedQuantity
from groovewright.testtone.capture.recording import ArrayRecording
from groovewright.testtone.sheet.band_sheet import BandSheet

PLAYS = ("first", "again", "changed")
CENTRING_MM = 0.05
"""Of a record put down anew, either way: half the play between spindle and hole."""


def put_down(deck, rng):
    """The deck with its record put down anew."""
    off = deck.eccentricity * np.exp(1j * math.radians(deck.eccentricity_phase))
    off += complex(*rng.normal(0, CENTRING_MM, 2))
    return replace(
        deck, eccentricity=abs(off), eccentricity_phase=math.degrees(np.angle(off)), starts_off_s=rng.uniform(-0.1, 0.1)
    )


def changed(deck):
    return replace(
        deck,
        azimuth=deck.azimuth + 1.0,
        speed_percent=deck.speed_percent + 0.2,
        offset_angle=deck.offset_angle + 0.8,
        effective_length=deck.effective_length + 0.8,
        vertical_angle=deck.vertical_angle + 1.5,
    )


def measured(seed, number, deck, target):
    """What one play shows, as plain JSON types."""
    rng = np.random.default_rng((73, seed, number))
    cut = record()
    samples = recording_of(deck, cut, rng, np.random.default_rng((74, seed)))
    pace = 1 + deck.speed_percent / 100
    bands = tuple(
        replace(b, start_s=max(0.0, b.start_s / pace + deck.starts_off_s + rng.uniform(-0.03, 0.03))) for b in cut
    )
    found = analyse_capture(
        ArrayRecording(samples, RATE_HZ),
        BandSheet(True, RPM, bands),
        geometry=target,
        progress=lambda share, doing: None,
        capture_name=f"play {PLAYS[number]}",
        record_name="the record",
    )
    return {name: written(shown) for name, shown in found.quantities.items()}


def written(shown):
    if isinstance(shown, Quantity):
        return shown.as_record()
    return [[one.quantity.as_record(), one.at.as_record(), one.band, one.channel] for one in shown]


def read(shown):
    if isinstance(shown, dict):
        return Quantity.from_record(shown)
    return tuple(ListedQuantity(Quantity.from_record(q), Quantity.from_record(at), *rest) for q, at, *rest in shown)


def plays_of(seed, folder):
    """Truth and quantities of the three plays of a deck; kept in the folder, since they take a minute or two."""
    path = None if folder is None else Path(folder) / f"{seed}.json"
    if path is not None and path.exists():
        return json.loads(path.read_text())
    rng = np.random.default_rng((75, seed))
    deck = drawn(rng)
    target = arm(deck, rng)
    decks = (put_down(deck, rng), put_down(deck, rng), put_down(changed(deck), rng))
    found = [
        {
            "truth": {k: float(v) for k, v in truths(one, target, np.random.default_rng((76, seed)))[0].items()},
            "shown": measured(seed, number, one, target),
        }
        for number, one in enumerate(decks)
    ]
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(found))
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--decks", type=int, default=40)
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--kept", help="folder in which what the plays show is kept from one run to the next")
    given = parser.parse_args()
    began = time.perf_counter()
    for seed in range(given.seed * 10_000, given.seed * 10_000 + given.decks):
        plays_of(seed, given.kept)
        print(f"{seed} {time.perf_counter() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
