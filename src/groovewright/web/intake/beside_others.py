"""What one tab typed, put beside what another has stored since: no one's entry is taken back unseen."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django.http import QueryDict

AS_SHOWN = "as_shown"


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
