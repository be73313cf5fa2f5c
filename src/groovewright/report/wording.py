"""Sentences of the report that depend on what was found."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

# What each verdict means, in the words of the reader.
VERDICT_MEANINGS = {
    IN_TOLERANCE: "The measurement shows that the setting keeps its limits, with the certainty the rule asks for.",
    OUT_OF_TOLERANCE: "The measurement shows that the setting does not keep its limits.",
    UNDECIDED: "The measurement is not sharp enough to say either. It is neither a pass nor a fault: it takes a better "
    "measurement, or a setting nearer to the middle.",
}

HOW_TO_READ = (
    "The number after ± is the typical error (one standard uncertainty): 2 readings in 3 fall this near to the true "
    "value, and 19 in 20 within about twice as much. “Exact” marks what was chosen or defined, not measured. Where "
    "nobody knows how far a value may be off, the report says so and draws no conclusion from it.",
    "The chance that a setting is within limits (probability of conformity) is as it is after all readings together.",
    "A setting that a move touched after it was read is calculated, and not in tolerance before it is read again.",
    "Forces on the scale are given in grams (1 g of force is 9.80665 mN).",
)


def day(date: datetime.date) -> str:
    """Return a date as it is printed.

    Examples
    --------
    >>> day(datetime.date(2031, 5, 4))
    '4 May 2031'
    """
    return f"{date.day} {MONTHS[date.month - 1]} {date.year}"


def minute(moment: datetime.datetime) -> str:
    """Return the day and minute of a reading, on the clock of its own time zone.

    Examples
    --------
    >>> minute(datetime.datetime(2031, 5, 4, 9, 7))
    '4 May 2031, 09:07'
    """
    return f"{day(moment.date())}, {moment:%H:%M}"


def speed(rpm: float) -> str:
    """Return a platter speed as text.

    Examples
    --------
    >>> speed(100 / 3), speed(45.0)
    ('33⅓ rpm', '45 rpm')
    """
    return "33⅓ rpm" if abs(rpm - 100 / 3) < 0.005 else f"{rpm:.4g} rpm"


def chance(probability: float | None) -> str:
    """Return a probability of conformity as text.

    Examples
    --------
    >>> chance(0.9731), chance(0.99999), chance(0.0), chance(None)
    ('97.3 %', 'over 99.9 %', 'under 0.1 %', 'not known')
    """
    if probability is None:
        return "not known"
    if probability > 0.999:
        return "over 99.9 %"
    if probability < 0.001:
        return "under 0.1 %"
    return f"{100 * probability:.1f} %"


def listed(words: Sequence[str]) -> str:
    """Return words joined as in a sentence.

    Examples
    --------
    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
