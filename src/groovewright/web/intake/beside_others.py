"""What one tab typed, put beside what another has stored since: no one's entry is taken back unseen."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.html import format_html
from django.utils.safestring import SafeString

AS_SHOWN = "as_shown"


class BesideOthersForm(forms.Form):
    """A form that edits what is stored: the second of two people is told what the first stored, and loses nothing.

    `initial` is what is stored now. A field that was left as the page showed it follows what is stored; one that both
    changed is asked back, and stored on a second press of the same button.
    """

    def __init__(self, data: Any = None, *, initial: Mapping[str, Any] | None = None, **options: Any) -> None:
        known = dict(initial or {})
        self._stored_meanwhile: dict[str, str] = {}
        if data is not None and AS_SHOWN in data:
            self._stored_meanwhile = changed_by_both(data, known)
            data = beside_others(data, known)
        super().__init__(data, initial=known, **options)

    @property
    def as_shown_field(self) -> SafeString:
        """Draw what goes with the form, so that it is known later what the page showed."""
        return format_html('<input type="hidden" name="{}" value="{}">', AS_SHOWN, as_shown(self.initial))

    def clean(self) -> dict[str, Any]:
        """Say beside each field that both changed what the other one stored."""
        typed: dict[str, Any] = super().clean() or {}
        for name, stored in self._stored_meanwhile.items():
            if name in self.fields and name not in self.errors:
                sentence = (
                    f"Meanwhile this was changed to {self._as_words(name, stored)}. What you typed is still here: "
                    "press the same button again to store yours, or write theirs."
                )
                self.add_error(name, ValidationError(sentence, code="changed"))
        return typed

    def _as_words(self, name: str, stored: str) -> str:
        field = self.fields[name]
        if isinstance(field, forms.BooleanField):
            return "ticked" if stored else "not ticked"
        if isinstance(field, forms.ChoiceField) and isinstance(field.choices, list):
            return f"“{dict(field.choices).get(stored, stored)}”"
        return f"“{stored}”" if stored else "nothing"


def changed_by_both(posted: QueryDict, known: Mapping[str, Any]) -> dict[str, str]:
    """Return of each field that was changed here and is stored otherwise since, and not alike, what is stored now."""
    found = {}
    for name, before in _shown_before(posted).items():
        now, mine = _text(known.get(name)), posted.get(name, "")
        if name in known and now.split() != before.split() and mine.split() not in (before.split(), now.split()):
            found[name] = now
    return found


def as_shown(known: Mapping[str, Any]) -> str:
    """Return what the fields of a page show, as the text that goes with the form and comes back with it."""
    return json.dumps({name: _text(value) for name, value in known.items()})


def beside_others(posted: QueryDict, known: Mapping[str, Any]) -> QueryDict:
    """Return what was posted, each field that was left as the page showed it being as the record has it now.

    Parameters
    ----------
    posted : QueryDict
        A form that came back, with what `as_shown` gave when its page was made.
    known : mapping of str to str, bool or None
        The fields as the record has them now.
    """
    beside = posted.copy()
    for name, before in _shown_before(posted).items():
        # A browser ends lines its own way; that is no new wording.
        if name in known and posted.get(name, "").split() == before.split():
            beside[name] = _text(known[name])
    return beside


def _shown_before(posted: QueryDict) -> dict[str, str]:
    try:
        shown = json.loads(posted.get(AS_SHOWN, "{}"))
    except ValueError:
        return {}
    if not isinstance(shown, dict):
        return {}
    return {name: text for name, text in shown.items() if isinstance(text, str)}


def _text(value: Any) -> str:
    """Return a value as the browser sends it back; a box that is not ticked sends nothing."""
    if isinstance(value, bool):
        return "on" if value else ""
    return "" if value is None else str(value)
