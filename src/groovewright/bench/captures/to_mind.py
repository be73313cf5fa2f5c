"""At most three things to mind of a capture, out of all that its analysis remarks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

MAX_TO_MIND = 3

# How remarks begin that only say how a figure was computed; `capture_methods` explains the figures.
_OF_METHOD = (
    "Compliance at the resonance follows",
    "Crosstalk and azimuth are those at",
    "Speed is told against",
    "Speed, wow and flutter are those of",
    "The arm's geometry is not given",
    "The fit rests on as few",
    "The lateral resonance is from",
    "The peak velocities of the",
    "The recording is not equalised",
    "The vertical resonance is from",
    "The vertical tracking angle error is against",
    "The weighting's numbers are from memory",
    "Noise is the band level",
    "Not used, since no other",
    "Response to",
    "Sweep ",
    "Unsteady flutter of up to",
    "Weighted noise is",
    "What repeats each turn",
    "What the motor adds",
    "What the stylus of a pivoted arm",
)
_BESIDE = (" shows a subsonic filter", " shows a speed error of")

# The most pressing first: what makes figures wrong, then what is wrong on the deck.
_PRESSING = ("Clipped", "The channels have opposite polarity", "The sheet", "The recording")


@dataclass(frozen=True)
class ToMind:
    """The remarks of an analysis, sorted.

    Attributes
    ----------
    first : tuple of str
        At most `MAX_TO_MIND`, the most pressing first.
    others : tuple of str
        All further ones, in the order of the analysis.
    """

    first: tuple[str, ...]
    others: tuple[str, ...]


def to_mind(notes: Sequence[str]) -> ToMind:
    """Return what to mind of a capture, from its remarks."""
    minded = sorted((note for note in notes if not _is_of_method(note)), key=_rank)[:MAX_TO_MIND]
    return ToMind(tuple(minded), tuple(note for note in notes if note not in minded))


def _is_of_method(note: str) -> bool:
    return note.startswith(_OF_METHOD) or any(words in note for words in _BESIDE)


def _rank(note: str) -> int:
    return next((place for place, words in enumerate(_PRESSING) if note.startswith(words)), len(_PRESSING))
