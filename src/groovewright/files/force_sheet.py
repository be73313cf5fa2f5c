"""A force sheet: check weights, scale readings and the maker's range, written down as one TOML file.

The form is described in the guide (force-sheet) and shown by the example that comes with the command.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar, get_args

from groovewright.bench.estimate.job_facts import DEFAULT_RISK, DEFAULT_RULE
from groovewright.bench.forces.force import ForceReading, ForceSession, Place, Surface
from groovewright.gauges.check_weights import CheckWeight, certified_weight, weight_of_class
from groovewright.gauges.scale_calibration import ScaleCheck, WeightReading
from groovewright.measurement.conformity import DecisionRule
from groovewright.measurement.parsing import parse_quantity
from groovewright.measurement.quantity import Quantity

LARGEST_SHEET_BYTES = 100_000
MOST_READINGS = 1000

Made = TypeVar("Made")

_PER_MM = re.compile(r"\s*(?:/\s*mm|per\s+mm)\s*$")


@dataclass(frozen=True)
class ForceSheet:
    """What a force sheet says: the session to assess, and the decision rule for its verdict."""

    session: ForceSession
    rule: DecisionRule


@dataclass(frozen=True)
class _Table:
    """One table of the sheet, which refuses whatever it does not know."""

    name: str
    entries: dict[str, Any]

    def refuse_unknown(self, *known: str) -> None:
        for key in self.entries:
            if key in known:
                continue
            near = get_close_matches(key, known, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else f"; it may hold {', '.join(known)}"
            raise ValueError(f"{self.name} does not know {key!r}{hint}")

    def text(self, key: str, example: str) -> str:
        if key not in self.entries:
            raise ValueError(f"{self.name} lacks {key!r}; write {key} = {example!r}")
        entry = self.entries[key]
        if not isinstance(entry, str):
            raise ValueError(f"{self.name}, {key}: write text in quotes with its unit, such as {example!r}")
        return entry

    def optional_text(self, key: str, example: str) -> str | None:
        return self.text(key, example) if key in self.entries else None

    def one_of(self, key: str, choices: tuple[str, ...]) -> str:
        entry = self.text(key, choices[0])
        if entry not in choices:
            raise ValueError(f"{self.name}, {key}: {entry!r} is not known; write one of {', '.join(choices)}")
        return entry

    def flag(self, key: str) -> bool:
        entry = self.entries.get(key, False)
        if not isinstance(entry, bool):
            raise ValueError(f"{self.name}, {key}: write true or false, without quotes")
        return entry

    def texts(self, key: str, example: str) -> list[str]:
        entry = self.entries.get(key)
        if not isinstance(entry, list) or not all(isinstance(item, str) for item in entry):
            raise ValueError(f"{self.name}, {key}: write a list of texts in quotes, such as {key} = {example}")
        return entry

    def quantity(self, key: str, kind: str, example: str) -> Quantity:
        return _parsed(self.text(key, example), kind, f"{self.name}, {key}", example)

    def plain(self, key: str, kind: str, example: str) -> float:
        return _plain(self.text(key, example), kind, f"{self.name}, {key}", example)

    def optional_plain(self, key: str, kind: str, example: str) -> float | None:
        return self.plain(key, kind, example) if key in self.entries else None

    def indications_mn(self) -> list[float]:
        shown = self.texts("indications", '["1.85 g", "1.86 g"]')
        if not shown:
            raise ValueError(f"{self.name}, indications: the list is empty; write down what the scale showed")
        return [_plain(text, "force", f"{self.name}, indications", "1.85 g") for text in shown]


def load_force_sheet(path: Path) -> ForceSheet:
    """Return what a force sheet file says.

    Raises
    ------
    ValueError
        If it cannot be read or says something impossible: one sentence that names the file, and the table and key.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_SHEET_BYTES + 1)
    except OSError as failure:
        raise ValueError(f"{path} cannot be read: {(failure.strerror or 'unknown reason').lower()}") from failure
    if len(content) > LARGEST_SHEET_BYTES:
        raise ValueError(f"{path} is larger than {LARGEST_SHEET_BYTES // 1000} kB; a force sheet is a page of text")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        raise ValueError(f"{path} is not a text file in UTF-8; a force sheet is plain TOML text") from failure
    try:
        return read_force_sheet(text)
    except ValueError as refusal:
        raise ValueError(f"{path}: {refusal}") from refusal


def read_force_sheet(text: str) -> ForceSheet:
    """Return what the text of a force sheet says.

    Raises
    ------
    ValueError
        One sentence that names the table and the key, and says what would be right.
    """
    sheet = _Table("the sheet", _toml(text))
    sheet.refuse_unknown(
        "scale", "weights", "check_before", "check_after", "maker", "record", "readings", "complaint", "decision"
    )
    weights = _weights(sheet)
    session = ForceSession(
        readings=_readings(sheet),
        check_before=_check(sheet, "check_before", "before the readings", weights),
        check_after=_check(sheet, "check_after", "after the readings", weights),
        **_record(sheet),
        **_maker(sheet),
        mistracking_reported=_complaint(sheet),
        stage="force sheet",
    )
    return ForceSheet(session, _rule(sheet))


def _toml(text: str) -> dict[str, Any]:
    if not text.strip():
        raise ValueError("the sheet is empty; start from the example in the guide")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as failure:
        raise ValueError(f"the sheet is not valid TOML: {failure}") from failure
    except RecursionError as failure:
        raise ValueError("the sheet is nested too deeply; a force sheet has tables and lists only") from failure


def _table(sheet: _Table, key: str) -> _Table | None:
    entry = sheet.entries.get(key)
    if entry is None:
        return None
    if not isinstance(entry, dict):
        raise ValueError(f"{key} must be a table: write [{key}] on a line of its own, and its entries below")
    return _Table(f"[{key}]", entry)


def _tables(parent: _Table, key: str, header: str) -> list[_Table]:
    entry = parent.entries.get(key, [])
    if not isinstance(entry, list) or not all(isinstance(item, dict) for item in entry):
        raise ValueError(f"{header} must be a list of tables: write [[{header}]] above each of them")
    return [_Table(f"[[{header}]] number {number}", item) for number, item in enumerate(entry, start=1)]


def _weights(sheet: _Table) -> dict[str, CheckWeight]:
    weights: dict[str, CheckWeight] = {}
    for table in _tables(sheet, "weights", "weights"):
        table.refuse_unknown("name", "nominal", "class", "certified_mass", "certificate")
        weight = _weight(table)
        if weight.name in weights:
            raise ValueError(f"{table.name}: there is a weight {weight.name!r} already; give every weight its own name")
        weights[weight.name] = weight
    return weights


def _weight(table: _Table) -> CheckWeight:
    name = table.text("name", "2 g")
    if "certified_mass" not in table.entries:
        nominal_g = table.plain("nominal", "mass", "2 g")
        accuracy_class = table.text("class", "M1")
        return _within(table, lambda: weight_of_class(name, nominal_g=nominal_g, accuracy_class=accuracy_class))
    if "class" in table.entries or "nominal" in table.entries:
        raise ValueError(f"{table.name}: give either certified_mass, or nominal and class, not both")
    mass = table.quantity("certified_mass", "mass", "2.0003 g +- 0.0003 g (k=2)")
    if mass.standard_uncertainty is None:
        raise ValueError(
            f"{table.name}, certified_mass: write the certificate's uncertainty too, such as "
            f"'2.0003 g +- 0.0003 g (k=2)'"
        )
    expanded_mg = 1000 * mass.standard_uncertainty
    certificate = table.optional_text("certificate", "4411") or ""
    return _within(
        table,
        lambda: certified_weight(
            name,
            mass_g=mass.value,
            expanded_uncertainty_mg=expanded_mg,
            coverage_factor=1.0,
            certificate=certificate,
        ),
    )


def _check(sheet: _Table, key: str, occasion: str, weights: dict[str, CheckWeight]) -> ScaleCheck | None:
    table = _table(sheet, key)
    if table is None:
        return None
    table.refuse_unknown("loads")
    scale = _table(sheet, "scale")
    if scale is None:
        raise ValueError(f"[{key}] needs a table [scale] with the scale's name and resolution")
    scale.refuse_unknown("name", "resolution", "repeatability")
    readings = [
        WeightReading(_load(load, weights), shown_mn)
        for load in _tables(table, "loads", f"{key}.loads")
        for shown_mn in load.indications_mn()
    ]
    _refuse_too_many(len(readings), f"[{key}]")
    return ScaleCheck(
        scale=scale.text("name", "Scale 2"),
        occasion=occasion,
        resolution_mn=_above_zero(scale, "resolution", scale.plain("resolution", "force", "0.01 g")),
        readings=tuple(readings),
        stated_repeatability_mn=scale.optional_plain("repeatability", "force", "0.004 g"),
    )


def _load(table: _Table, weights: dict[str, CheckWeight]) -> tuple[CheckWeight, ...]:
    table.refuse_unknown("weights", "indications")
    names = table.texts("weights", '["2 g"], or [] for the empty pan')
    for name in names:
        if name not in weights:
            listed = ", ".join(repr(known) for known in weights) or "none yet"
            raise ValueError(f"{table.name}, weights: no weight is named {name!r}; [[weights]] names {listed}")
    return tuple(weights[name] for name in names)


def _readings(sheet: _Table) -> tuple[ForceReading, ...]:
    readings = []
    for number, table in enumerate(_tables(sheet, "readings", "readings"), start=1):
        table.refuse_unknown("place", "platform_height", "at_record_height", "surface", "indications")
        place: Any = table.one_of("place", get_args(Place))
        surface: Any = table.one_of("surface", get_args(Surface)) if "surface" in table.entries else "platter"
        height = _platform_height(table, number)
        readings += [ForceReading(shown_mn, place, height, surface) for shown_mn in table.indications_mn()]
    if not readings:
        raise ValueError(
            "the sheet lacks readings of the stylus: write [[readings]] with place and indications below it"
        )
    _refuse_too_many(len(readings), "[[readings]]")
    return tuple(readings)


def _platform_height(table: _Table, number: int) -> Quantity | None:
    at_record_height = table.flag("at_record_height")
    if at_record_height and "platform_height" in table.entries:
        raise ValueError(f"{table.name}: give either platform_height or at_record_height = true, not both")
    if at_record_height:
        return None
    if "platform_height" not in table.entries:
        raise ValueError(
            f"{table.name} lacks the height: write platform_height = '2.7 mm +- 0.1 mm' or at_record_height = true"
        )
    example = "2.7 mm +- 0.1 mm"
    text = table.text("platform_height", example)
    source = f"platform height of readings {number}"
    return _parsed(text, "length", f"{table.name}, platform_height", example, source=source)


def _record(sheet: _Table) -> dict[str, Quantity | None]:
    table = _table(sheet, "record")
    if table is None:
        return {}
    table.refuse_unknown("height", "force_slope")
    height = table.quantity("height", "length", "1.5 mm +- 0.1 mm") if "height" in table.entries else None
    slope_text = table.optional_text("force_slope", "0.005 g +- 0.002 g per mm")
    return {"record_height": height, "height_slope": None if slope_text is None else _slope(table, slope_text)}


def _slope(table: _Table, text: str) -> Quantity:
    if not _PER_MM.search(text):
        raise ValueError(f"{table.name}, force_slope: end {text!r} with 'per mm', such as '0.005 g +- 0.002 g per mm'")
    force = _parsed(_PER_MM.sub("", text), "force", f"{table.name}, force_slope", "0.005 g +- 0.002 g per mm")
    return Quantity(force.value, "mN/mm", force.components, force.why_unknown, force.how)


def _maker(sheet: _Table) -> dict[str, Quantity]:
    table = _table(sheet, "maker")
    if table is None:
        return {}
    table.refuse_unknown("minimum", "maximum")
    limits_mn = {key: table.plain(key, "force", "1.8 g") for key in ("minimum", "maximum") if key in table.entries}
    if len(limits_mn) == 2 and not limits_mn["minimum"] < limits_mn["maximum"]:
        raise ValueError("[maker]: minimum must be below maximum")
    return {f"maker_{key}": Quantity.exact(value, "mN", how="maker's range") for key, value in limits_mn.items()}


def _complaint(sheet: _Table) -> bool:
    table = _table(sheet, "complaint")
    if table is None:
        return False
    table.refuse_unknown("mistracking")
    return table.flag("mistracking")


def _rule(sheet: _Table) -> DecisionRule:
    table = _table(sheet, "decision")
    if table is None:
        return DEFAULT_RULE
    table.refuse_unknown("rule", "guard_factor")
    rule: Any = table.optional_text("rule", "guarded acceptance") or "guarded acceptance"
    factor = table.entries.get("guard_factor")
    if factor is None:
        return _within(table, lambda: DecisionRule.of_maximum_risk(DEFAULT_RISK, rule))
    if isinstance(factor, bool) or not isinstance(factor, int | float):
        raise ValueError("[decision], guard_factor: write a plain number without quotes, such as 1.645")
    return _within(table, lambda: DecisionRule(rule, float(factor)))


def _within(table: _Table, make: Callable[[], Made]) -> Made:
    try:
        return make()
    except ValueError as refusal:
        raise ValueError(f"{table.name}: {refusal}") from refusal


def _parsed(text: str, kind: str, where: str, example: str, *, source: str | None = None) -> Quantity:
    try:
        return parse_quantity(text, kind, source=source or where, example=example)
    except ValueError as refusal:
        raise ValueError(f"{where}: {refusal}") from refusal


def _plain(text: str, kind: str, where: str, example: str) -> float:
    quantity = _parsed(text, kind, where, example)
    if quantity.components is not None:
        raise ValueError(f"{where}: write {text!r} without its ±; its uncertainty is worked out from the checks")
    return quantity.value


def _above_zero(table: _Table, key: str, value: float) -> float:
    if not value > 0:
        raise ValueError(f"{table.name}, {key}: must be above 0")
    return value


def _refuse_too_many(count: int, where: str) -> None:
    if count > MOST_READINGS:
        raise ValueError(f"{where} holds {count} readings; at most {MOST_READINGS} are taken")
