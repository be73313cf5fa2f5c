"""Tables of a TOML sheet that refuse, in one sentence, whatever they do not know."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

MOST_TABLES = 400
LARGEST_SHEET_CHARACTERS = 100_000


@dataclass(frozen=True)
class SheetTable:
    """One table of a sheet: its name for refusals, and its entries."""

    name: str
    entries: dict[str, Any]

    def refuse_unknown(self, *known: str) -> None:
        """Refuse a key that is none of these, with the nearest one that is."""
        for key in self.entries:
            if key in known:
                continue
            near = get_close_matches(key[:80], known, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else f"; it may hold {', '.join(known)}"
            raise ValueError(f"{self.name} does not know {_shown(key)}{hint}")

    def text(self, key: str, example: str) -> str:
        """Return a text that must be there."""
        entry = self._required(key, repr(example))
        if not isinstance(entry, str):
            raise ValueError(f"{self.name}, {key}: write text in quotes, such as {example!r}")
        return entry

    def one_of(self, key: str, choices: tuple[str, ...]) -> str:
        """Return a text that must be one of the choices."""
        entry = self.text(key, choices[0])
        if entry not in choices:
            raise ValueError(f"{self.name}, {key}: {_shown(entry)} is not known; write one of {', '.join(choices)}")
        return entry

    def flag(self, key: str) -> bool:
        """Return true or false, which must be there."""
        entry = self._required(key, "true or false")
        if not isinstance(entry, bool):
            raise ValueError(f"{self.name}, {key}: write true or false, without quotes")
        return entry

    def number(self, key: str, example: str, *, lowest: float, highest: float) -> float:
        """Return a number that must be there and within these limits."""
        return self._number(key, self._required(key, example), example, lowest=lowest, highest=highest)

    def optional_number(self, key: str, example: str, *, lowest: float, highest: float) -> float | None:
        """Return a number within these limits, or None where there is none."""
        return self.number(key, example, lowest=lowest, highest=highest) if key in self.entries else None

    def numbers(self, key: str, count: int, example: str, *, lowest: float, highest: float) -> tuple[float, ...]:
        """Return a list of exactly so many numbers, each within these limits."""
        entry = self._required(key, example)
        if not isinstance(entry, list) or len(entry) != count:
            raise ValueError(f"{self.name}, {key}: write a list of {count} numbers, such as {key} = {example}")
        return tuple(self._number(key, item, example, lowest=lowest, highest=highest) for item in entry)

    def table(self, key: str) -> SheetTable | None:
        """Return the table of this name, or None where there is none."""
        entry = self.entries.get(key)
        if entry is None:
            return None
        if not isinstance(entry, dict):
            raise ValueError(f"{key} must be a table: write [{key}] on a line of its own, and its entries below")
        return SheetTable(f"[{key}]", entry)

    def tables(self, key: str, *, most: int = MOST_TABLES) -> list[SheetTable]:
        """Return the list of tables of this name, in the order written; empty where there is none."""
        entry = self.entries.get(key, [])
        if not isinstance(entry, list) or not all(isinstance(item, dict) for item in entry):
            raise ValueError(f"{key} must be a list of tables: write [[{key}]] above each of them")
        if len(entry) > most:
            raise ValueError(f"{key} holds {len(entry)} tables; at most {most} are taken")
        return [SheetTable(f"[[{key}]] number {number}", item) for number, item in enumerate(entry, start=1)]

    def _required(self, key: str, example: str) -> Any:
        if key not in self.entries:
            raise ValueError(f"{self.name} lacks {key!r}; write {key} = {example}")
        return self.entries[key]

    def _number(self, key: str, entry: object, example: str, *, lowest: float, highest: float) -> float:
        if isinstance(entry, bool) or not isinstance(entry, int | float):
            raise ValueError(f"{self.name}, {key}: write a plain number without quotes, such as {key} = {example}")
        if isinstance(entry, float) and math.isnan(entry):
            raise ValueError(f"{self.name}, {key}: nan is not a number; write one such as {key} = {example}")
        if not lowest <= entry <= highest:
            raise ValueError(f"{self.name}, {key}: {_shown(entry)} is outside {lowest:g} to {highest:g}")
        return float(entry)


def sheet_table(text: str, what: str) -> SheetTable:
    """Return the outermost table of a sheet; `what` names it in refusals, such as "a band sheet".

    Raises
    ------
    ValueError
        If the text is empty, too long or not TOML: one sentence.
    """
    if not text.strip():
        raise ValueError(f"the sheet is empty; start from the example of {what} in the guide")
    if len(text) > LARGEST_SHEET_CHARACTERS:
        raise ValueError(f"the sheet is longer than {LARGEST_SHEET_CHARACTERS} characters; {what} is a page of text")
    try:
        return SheetTable("the sheet", tomllib.loads(text))
    except RecursionError as failure:
        raise ValueError(f"the sheet is nested too deeply; {what} has tables and lists only") from failure
    except ValueError as failure:
        # tomllib also lets through plain ValueErrors of its number and date readers.
        reason = " ".join(str(failure).split())[:200]
        raise ValueError(f"the sheet is not valid TOML: {reason}") from failure


def _shown(entry: object) -> str:
    if isinstance(entry, int) and abs(entry) >= 10**15:
        return "a number of more than 15 digits"
    shown = repr(entry)
    return shown if len(shown) <= 60 else f"{shown[:57]}..."
