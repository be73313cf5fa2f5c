"""Sentences of the report that depend on what was found."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, DecisionRule
from groovewright.report.parts import AS_FOUND, AS_LEFT, Judgement, SettingLine

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
    "The number after ± is one standard uncertainty: in about two cases of three the true value lies that close to "
    "the value given, and in 95 of 100 within about twice as much. “Exact” marks what was chosen or defined, not "
    "measured. Where nobody knows the uncertainty, the report says so and draws no conclusion from the value.",
    "The probability of conformity is how likely it is, after the measurement, that the true value keeps its limits.",
    "Forces are given in grams as on a stylus scale (1 g of force is 9.80665 mN).",
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


def headline(judgements: Sequence[Judgement], joint: Sequence[SettingLine] = (), *, joint_stage: str = "") -> str:
    """Return the answer to "is my player right now?" in one or two sentences.

    Parameters
    ----------
    judgements : sequence of Judgement
    joint : sequence of SettingLine
        Settings by all readings together, which outweigh a judgement by some of them; one not read has no part.
    joint_stage : str
        Stage at which those stand.
    """
    together = {
        f"{line.setting[0].lower()}{line.setting[1:]}": line.verdict.outcome
        for line in joint
        if line.verdict is not None
    }
    verdicts = [
        (j.stage, j.setting, j.verdict.outcome)
        for j in judgements
        if j.stage != joint_stage or j.setting.lower() not in together
    ]
    verdicts += [(joint_stage, setting, outcome) for setting, outcome in together.items()]
    as_left = [(setting, outcome) for stage, setting, outcome in verdicts if stage == AS_LEFT]
    if not as_left and any(stage == AS_FOUND for stage, _, _ in verdicts):
        return "There are verdicts as found only: nothing shows yet how the player was left."
    if not as_left:
        return "There is no verdict yet: nothing was measured that could be judged."
    if all(outcome == IN_TOLERANCE for _, outcome in as_left):
        return f"In tolerance as left: {listed([setting for setting, _ in as_left])}."
    sentences = []
    for outcome, words in (
        (OUT_OF_TOLERANCE, "Out of tolerance as left"),
        (UNDECIDED, "Undecided"),
        (IN_TOLERANCE, "In tolerance as left"),
    ):
        settings = [setting for setting, found in as_left if found == outcome]
        if settings:
            sentences.append(f"{words}: {listed(settings)}.")
    return " ".join(sentences)


def bar_meaning(rule: DecisionRule) -> str:
    """Return what the bar in the picture of a verdict stands for under a rule."""
    if rule.kind == "simple acceptance" or rule.guard_factor == 0:
        return "Dot: the measured value, which alone decides. Bar: where the true value lies in 95 of 100 such cases."
    return (
        "Dot: the measured value. Bar: the guard band of the rule on both sides of it. Shaded: the tolerance between "
        "its posts."
    )
