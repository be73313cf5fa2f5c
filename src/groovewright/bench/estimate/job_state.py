"""The state of a job: its seven settings as found and as left. Page, command and report print this and no other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from groovewright.bench.estimate.setting_state import DeckState


@dataclass(frozen=True)
class JobState:
    """A deck's settings at one job.

    Attributes
    ----------
    as_found : DeckState
        By what was read as found.
    as_left : DeckState or None
        By all that was read and moved; None until something was moved or read as left.
    """

    as_found: DeckState
    as_left: DeckState | None

    @property
    def now(self) -> DeckState:
        """The deck as it is now."""
        return self.as_found if self.as_left is None else self.as_left

    def settings_json(self) -> dict[str, Any]:
        """Return the seven settings as found and as left, as plain JSON types; null where nothing is left yet."""
        return {
            "as_found": self.as_found.settings_json(),
            "as_left": None if self.as_left is None else self.as_left.settings_json(),
        }

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types; what is not known is null."""
        return {
            "settings": self.settings_json(),
            "as_found": _besides(self.as_found),
            "as_left": None if self.as_left is None else _besides(self.as_left),
        }


def _besides(deck: DeckState) -> dict[str, Any]:
    """Return what is known of a deck besides its settings."""
    return {name: part for name, part in deck.as_json().items() if name != "settings"}
