"""The folds of the take-in: what is beyond the first screen, by subject, and in a few words what each holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django import forms
from django.forms.boundfield import BoundField

from groovewright.measurement.parsing import split_range
from groovewright.web.intake.arm_fields import BUILD_FIELDS, REACH_FIELDS
from groovewright.web.intake.defaults import DEFAULTS
from groovewright.web.intake.setting_fields import SETTING_FIELDS

MAX_WORDS = 4
"""More entries than these make a summary longer than a line of a phone."""


@dataclass(frozen=True, slots=True)
class Subject:
    """What one fold is about.

    Parameters
    ----------
    key : str
        Of its template and its drawing.
    title : str
    without : str
        What its summary says while nothing is entered.
    fields : tuple of (str, str)
        Name of each field, and the words before its entry in the summary.
    is_drawn : bool
        Whether a drawing shows what its numbers mean.
    """

    key: str
    title: str
    without: str
    fields: tuple[tuple[str, str], ...]
    is_drawn: bool = True


@dataclass(frozen=True, slots=True)
class Fold:
    """One fold as it is on the page: whether it opens by itself, and its summary."""

    subject: Subject
    is_open: bool
    words: str

    @property
    def template(self) -> str:
        """Name of the template of its fields."""
        return f"intake/fold_{self.subject.key}.html"


SUBJECTS: tuple[Subject, ...] = (
    Subject(
        "arm_drawing",
        "Arm by the maker's drawing",
        "not known",
        (
            ("drawn_pivot_to_spindle", "pivot to spindle"),
            ("drawn_effective_length", "length"),
            ("drawn_overhang", "overhang"),
            ("drawn_offset_angle", "offset angle"),
        ),
    ),
    Subject(
        "headshell_limits",
        "What the headshell allows",
        "no limits known",
        (
            ("length_limits", "length"),
            ("length_fixed", "length fixed"),
            ("angle_limits", "angle"),
            ("angle_fixed", "angle fixed"),
        ),
    ),
    Subject(
        "arm_build",
        "How the arm is built",
        "taken as usual",
        (("effective_mass", "effective mass"), *((name, "") for name in BUILD_FIELDS)),
    ),
    Subject(
        "adjuster_reach",
        "How far its adjusters go",
        "taken as usual",
        tuple((name, name.removeprefix("reach_").rpartition("_")[0].replace("_", " ")) for name in REACH_FIELDS),
    ),
    Subject(
        "cartridge",
        "Cartridge in detail",
        "not known",
        (
            ("cartridge_mass", ""),
            ("fasteners_mass", "fasteners"),
            ("compliance", "compliance"),
            ("compliance_at", "at"),
            ("stylus_hours", "hours on the stylus:"),
            ("recommended_loading", ""),
        ),
    ),
    Subject(
        "records",
        "Records in detail",
        "",
        (("speed", ""), ("record_thickness", "thickness"), ("force_per_mm", "force per mm")),
    ),
    Subject(
        "limits",
        "Limits and decision rule",
        "",
        (
            ("length_tolerance", "length"),
            ("decision_rule", ""),
            ("risk", "risk"),
            *((name, name.replace("_", " ")) for name in SETTING_FIELDS),
        ),
    ),
    Subject(
        "contact",
        "Contact of the owner, note on the deck",
        "none",
        (("owner_contact", "contact"), ("deck_note", "note")),
        is_drawn=False,
    ),
)


def folds(form: forms.Form, *, told_before: Iterable[str] = ()) -> list[Fold]:
    """Return the folds of a form; one with an error, or with an entry that is not the default, opens by itself.

    `told_before` are fields that show what they were at the visit before.
    """
    return [
        Fold(subject, _opens(_of(form, subject), frozenset(told_before)), summary(form, subject))
        for subject in SUBJECTS
    ]


def summary(form: forms.Form, subject: Subject) -> str:
    """Return in a few words what is entered in a fold, and that it is the usual where it is."""
    fields = _of(form, subject)
    entered = [text for field, before in fields if (text := _entry(field, before))]
    words = ", ".join(entered[:MAX_WORDS])
    if len(entered) > MAX_WORDS:
        words += f" and {len(entered) - MAX_WORDS} more"
    if not words:
        return subject.without
    return words if any(_differs(field) for field, _ in fields) else f"as usual: {words}"


def _of(form: forms.Form, subject: Subject) -> list[tuple[BoundField, str]]:
    return [(form[name], before) for name, before in subject.fields if name in form.fields]


def _opens(fields: list[tuple[BoundField, str]], told_before: frozenset[str]) -> bool:
    return any(field.errors or _differs(field) or field.name in told_before for field, _ in fields)


def _differs(field: BoundField) -> bool:
    value = field.value()
    return bool(value) and value != DEFAULTS.get(field.name)


def _entry(field: BoundField, before: str) -> str:
    value = field.value()
    if not value:
        return ""
    if value is True or isinstance(field.field, forms.BooleanField):
        return before
    if isinstance(field.field.widget, forms.Textarea):
        # Long words are not for a summary.
        return before
    text = str(value)
    if isinstance(field.field, forms.ChoiceField):
        text = str(dict(field.field.choices).get(value, value))
        text = f"{text[0].lower()}{text[1:]}"
    return f"{before} {_in_words(text)}".strip()


def _in_words(text: str) -> str:
    """Return a range, or a value without its uncertainty, as it is said.

    >>> _in_words("236:243 mm"), _in_words("-0.5:0.5 mm"), _in_words("12 g +- 0.5 g"), _in_words(":0.5 deg")
    ('236 to 243 mm', '±0.5 mm', '12 g', 'up to 0.5 deg')
    """
    ends = split_range(text)
    if ends is None:
        # The field has the uncertainty beside it; a summary names the value alone.
        return text.partition("+-")[0].strip()
    lower, upper = ends
    if lower == f"-{upper.partition(' ')[0]}":
        return f"±{upper}"
    if not lower or not upper:
        return f"up to {upper}" if upper else f"from {lower}"
    return f"{lower} to {upper}"
