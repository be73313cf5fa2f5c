"""The customer's part: what was wrong, what was done, what it means. Plain words, and no instruction to a bench.

Each function returns what the template prints, as JSON types.
"""

from __future__ import annotations

from typing import Any

from groovewright.bench.estimate.groove import Interval
from groovewright.bench.estimate.setting_state import DeckState, SettingState
from groovewright.bench.estimate.settings import SETTINGS, SettingKey
from groovewright.bench.job_steps import outcomes_in_words
from groovewright.measurement.conformity import UNDECIDED
from groovewright.report.cells import minus, setting_limits, setting_value
from groovewright.report.parts import AS_FOUND, AS_LEFT, ReportContents
from groovewright.report.tracks_svg import marks_of, setting_track
from groovewright.report.wording import day, listed

NOT_LEFT = "nothing was changed or read as left yet"
NOT_RECORDED = "not recorded"

FROM_TARGET = ("effective_length", "zenith")
"""Settings whose value is how far they are from their target."""


def customer_part(contents: ReportContents) -> dict[str, Any]:
    """Return all that the customer's part says."""
    words = contents.words
    return {
        "complaint": contents.complaint,
        "answer": answer(contents),
        "done": done(contents),
        "parts_fitted": list(words.parts_fitted),
        "time_spent": words.time_spent,
        "settings": setting_rows(contents),
        "is_left": contents.state is not None and contents.state.as_left is not None,
        "not_left": NOT_LEFT,
        "ear": to_the_ear(contents),
        "open": still_open(contents),
        "faults": list(contents.faults),
        "come_back": come_back(contents),
        "facts": [
            *({"label": e.kind, "text": e.name or NOT_RECORDED} for e in contents.equipment),
            {"label": "Owner", "text": contents.owner or NOT_RECORDED},
            {"label": "Taken in", "text": NOT_RECORDED if contents.taken_in is None else day(contents.taken_in)},
        ],
    }


def answer(contents: ReportContents) -> str:
    """Return the answer to "is my player right now?", in the words of the bench."""
    state = contents.state
    if state is None:
        return "No verdict yet."
    return f"{AS_FOUND if state.as_left is None else AS_LEFT}: {outcomes_in_words(state.now)}.".capitalize()


def done(contents: ReportContents) -> list[str]:
    """Return what was done, a sentence each."""
    sentences = list(contents.words.done)
    if contents.adjusted:
        sentences.append(f"Adjusted: {listed(contents.adjusted)}.")
    return sentences


def setting_rows(contents: ReportContents) -> list[dict[str, Any]]:
    """Return the seven settings as found and as left, each with its track."""
    state = contents.state
    if state is None:
        return []
    rows = []
    for k, found in enumerate(state.as_found.settings):
        left = None if state.as_left is None else state.as_left.settings[k]
        limits = setting_limits(left or found)
        is_last = k == len(state.as_found.settings) - 1
        stages = [(AS_FOUND, found), *([] if left is None else [(AS_LEFT, left)])]
        rows.append(
            {
                "title": SETTINGS[found.key].title,
                "limits": f"{limits or 'no limits'}{' from target' if limits and found.key in FROM_TARGET else ''}",
                "found": _cell(found),
                "left": None if left is None else _cell(left),
                "track": {
                    "svg": setting_track((left or found).tolerance, *marks_of(found, left), is_last=is_last),
                    "alt": f"{SETTINGS[found.key].title}, limits {limits or 'none'}: "
                    + "; ".join(f"{stage} {setting_value(one)}, {one.outcome}" for stage, one in stages),
                },
            }
        )
    return rows


def _cell(setting: SettingState) -> dict[str, str]:
    verdict = setting.verdict
    return {
        "value": setting_value(setting),
        "verdict": "" if verdict is None else verdict.outcome,
        "words": setting.outcome if setting.quantity is not None else "",
        "basis": "calculated" if setting.basis == "calculated" else "",
    }


def to_the_ear(contents: ReportContents) -> str:
    """Return what the setting of the arm means to the ear, in one sentence with a figure."""
    found, left = (contents.grooves.get(stage) for stage in (AS_FOUND, AS_LEFT))
    is_left = contents.state is not None and contents.state.as_left is not None
    told = [course for course in (found, left) if course is not None]
    if not told:
        return ""
    taken = "" if all(course.offset_is_read for course in told) else (
        "; the angle of the cartridge was not measured and is taken to be right"
    )  # fmt: skip
    begin = "On loud passages the angle of the arm adds distortion: at its greatest over the groove it"
    if found is not None and left is not None:
        return (
            f"{begin} was {_percent(found.peak_distortion)} as the player came in, and is "
            f"{_percent(left.peak_distortion)} now{taken}."
        )
    if left is not None:
        return f"{begin} is {_percent(left.peak_distortion)} now; what it was before cannot be told{taken}."
    after = "; what it is now cannot be told" if is_left else ""
    return f"{begin} was {_percent(told[0].peak_distortion)} as the player came in{after}{taken}."


def _percent(peak: Interval) -> str:
    if peak.low is None or peak.high is None:
        return f"{peak.value:.1f} % (how exactly, nobody knows)"
    return f"{peak.value:.1f} % ({peak.low:.1f} to {peak.high:.1f} %)"


def still_open(contents: ReportContents) -> list[str]:
    """Return what is undecided, and why, a sentence each."""
    if contents.state is None:
        return [contents.why_no_state] if contents.why_no_state else []
    now = contents.state.now
    sentences = []
    told: set[SettingKey] = set()
    for disagreement in now.unresolved:
        about = [key for key in disagreement.settings if now.setting(key).outcome == UNDECIDED]
        if about and len(disagreement.labels) > 1:
            told |= set(about)
            sentences.append(f"{_titles(about)}: {listed(disagreement.labels)} do not agree.")
    for why, keys in _reasons(now, told, has_targets=contents.targets is not None).items():
        sentences.append(f"{_titles(keys)}: {why}.")
    return sentences


def _reasons(deck: DeckState, told: set[SettingKey], *, has_targets: bool) -> dict[str, list[SettingKey]]:
    by_reason: dict[str, list[SettingKey]] = {}
    for setting in deck.settings:
        why = _why_open(setting, has_targets=has_targets)
        if why and setting.key not in told:
            by_reason.setdefault(why, []).append(setting.key)
    return by_reason


def _why_open(setting: SettingState, *, has_targets: bool) -> str:
    changed = "not measured after the last change" if has_targets else "no targets were chosen to judge it by"
    by_basis = {
        "does not apply": "",
        "not read": changed if setting.reason else "not measured",
        "calculated": "calculated after an adjustment, not measured again since",
    }
    if setting.basis in by_basis:
        return by_basis[setting.basis]
    if setting.verdict is None or setting.quantity is None:
        return "no limits are known to judge it by"
    if setting.outcome != UNDECIDED:
        return ""
    if setting.quantity.components is None:
        return "nobody knows how exact the gauge is that it was measured with"
    return "the readings do not agree on it" if setting.reason else "too near a limit to tell with the gauges used"


def _titles(keys: list[SettingKey]) -> str:
    titles = [SETTINGS[key].title.lower() for key in keys]
    words = listed(titles)
    return words[:1].upper() + words[1:]


def come_back(contents: ReportContents) -> str:
    """Return when to come back; empty where nothing was said of it."""
    words, hours = contents.words, contents.words.come_back_hours
    parts = []
    if hours is not None:
        played = contents.stylus_hours
        total = "" if played is None else f" (the stylus will then have played {played + hours:g} hours)"
        parts.append(f"after {hours:g} more hours of playing{total}")
    if words.come_back_on is not None:
        parts.append(f"by {day(words.come_back_on)}")
    if not parts:
        return ""
    sooner = ", whichever is sooner" if len(parts) > 1 else ""
    return f"Come back {' or '.join(parts)}{sooner}."


def full_texts(contents: ReportContents) -> dict[str, str]:
    """Return every text that someone typed, by the name of its field, to be checked before it is printed."""
    words = contents.words
    texts = {
        "the name of the workshop": contents.head.name,
        "the address of the workshop": "\n".join(contents.head.lines),
        "the owner's name": contents.owner or "",
        "the complaint": contents.complaint,
        "what was done": "\n".join(words.done),
        "parts fitted": "\n".join(words.parts_fitted),
        "time spent": words.time_spent,
        "a caption of a photo": "\n".join(photo.caption for photo in contents.photos),
        "a fault": "\n".join(contents.faults),
    }
    for equipment in contents.equipment:
        facts = [fact.value for fact in equipment.facts if isinstance(fact.value, str)]
        texts[f"the {equipment.kind.lower()}"] = "\n".join([equipment.name or "", *facts])
    texts |= {f"reading {r.number}": "\n".join((r.typed, r.note, r.gauge, r.where)) for r in contents.readings}
    texts |= {f"the gauge “{g.name}”": "\n".join((g.name, g.certificate or "", g.note)) for g in contents.gauges}
    texts |= {f"move {move.number}": f"{move.text}\n{move.note}" for move in contents.moves}
    return {field: minus(text) for field, text in texts.items()}
