"""An entry that does not fit what is known is asked back beside its field, and stored on a second press."""

from __future__ import annotations

import copy
from typing import Any, Self

from django import forms
from django.core.exceptions import ValidationError
from django.utils.html import format_html
from django.utils.safestring import SafeString

CONFIRMED = "_confirmed"
DOUBTFUL = "doubtful"
PRESS_AGAIN = "Correct it, or press the same button again to keep it as typed."


class ConfirmedInput(forms.TextInput):
    """A field that was asked back; beside it goes the very text that a second press confirms."""

    def __init__(self, typed: str, attrs: dict[str, Any]) -> None:
        super().__init__(attrs)
        self.typed = typed

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        """Draw the field and the hidden text."""
        field = super().render(name, value, attrs, renderer)
        return format_html('{}<input type="hidden" name="{}" value="{}">', field, f"{name}{CONFIRMED}", self.typed)


class SecondThoughtsForm(forms.Form):
    """A form that can ask an entry back. Another text than the one that was asked back is asked back again."""

    def as_confirmed(self) -> Self | None:
        """Return the form as a second press would send it where all it has is asked back, else None.

        What a page computes from the entries is computed with this one, so that its buttons stay where they are.
        """
        kinds = {error.code for errors in self.errors.as_data().values() for error in errors}
        if kinds != {DOUBTFUL}:
            return None
        asked = [self.add_prefix(name) for name in self.errors]
        confirmed = {f"{key}{CONFIRMED}": self.data.get(key) for key in asked}
        again = copy.copy(self)
        again.data = {**self.data.dict(), **confirmed} if hasattr(self.data, "dict") else {**self.data, **confirmed}
        again.fields = copy.deepcopy(self.fields)
        again._bound_fields_cache = {}
        again.full_clean()
        return again if again.is_valid() else None

    def ask_back(self, name: str, sentence: str | None) -> None:
        """Put a sentence beside a field unless there is none or just this text was confirmed."""
        if sentence is None or name in self.errors:
            return
        key = self.add_prefix(name)
        typed = str(self.data.get(key, "")).strip()
        field = self.fields[name]
        field.widget = ConfirmedInput(typed, field.widget.attrs)
        if str(self.data.get(f"{key}{CONFIRMED}", "")).strip() != typed:
            self.add_error(name, ValidationError(f"{sentence} {PRESS_AGAIN}", code=DOUBTFUL))
