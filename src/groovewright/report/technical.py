"""The technical part: all that the verdicts rest on, as JSON types with texts and aligned columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from groovewright.bench.estimate.groove import GrooveCourse
from groovewright.bench.estimate.setting_state import DeckState, SettingState
from groovewright.bench.estimate.settings import SETTINGS
from groovewright.measurement.coverage import coverage_interval
from groovewright.measurement.formatting import format_uncertainty, split_quantity
from groovewright.measurement.quantity import Quantity, unknown_sentence
from groovewright.measurement.units import printed_unit
from groovewright.report.cells import (
    align_decimals,
    minus,
    quantity_cell,
    quantity_text,
    setting_limits,
    setting_spread,
    setting_unit,
    setting_value,
    tolerance_text,
)
from groovewright.report.curves_svg import Curve, Point, groove_plot
from groovewright.report.customer import NOT_LEFT, NOT_RECORDED
from groovewright.report.parts import (
    AS_FOUND,
    AS_LEFT,
    CAUTIONS,
    Equipment,
    Fact,
    GaugeLine,
    ReadingLine,
    ReportContents,
    Resonance,
    TargetSet,
    VisitBefore,
)
from groovewright.report.wording import HOW_TO_READ, VERDICT_MEANINGS, chance, day, minute

MAIN_SOURCES = 6
"""Of an uncertainty, listed one by one; the smaller ones stand together."""

MIN_SHARE = 0.005
"""Of the variance: below half a percent a share is printed as 0."""


def technical_part(contents: ReportContents) -> dict[str, Any]:
    """Return all that the technical part says."""
    by_gauge = [r for r in contents.readings if not r.is_of_capture]
    captured = [r for r in contents.readings if r.is_of_capture]
    return {
        "complaint": contents.complaint or NOT_RECORDED,
        "done": [*contents.words.done, *contents.work],
        "faults": [] if contents.state is None else list(contents.state.now.faults),
        "dates": [
            {"label": label, "text": NOT_RECORDED if date is None else day(date)}
            for label, date in (("Taken in", contents.taken_in), ("Last read as left", contents.left_on))
        ],
        "records": [
            {"label": "Records", "text": contents.records_played or NOT_RECORDED},
            {"label": "Groove range", "text": groove_range_text(contents)},
        ],
        "equipment": [equipment_section(e) for e in contents.equipment],
        "targets": target_section(contents.targets),
        "curves": curve_pictures(contents),
        "no_curves": [f"{stage.capitalize()}: {minus(why)}." for stage, why in contents.no_grooves.items()],
        "settings": deck_sections(contents),
        "why_no_settings": contents.why_no_state,
        "rule": contents.rule,
        "budgets": budgets(contents),
        "moves": [
            {
                "number": str(move.number),
                "text": minus(move.text),
                "amounts": [minus(amount) for amount in move.amounts],
                "made_at": minute(move.made_at),
                "note": move.note,
            }
            for move in contents.moves
        ],
        "visit_before": visit_section(contents.visit_before),
        "missing": [minus(sentence) for sentence in contents.missing],
        "readings": readings_by_stage(by_gauge),
        "captures": readings_by_stage(captured) if captured else [],
        "gauges": [gauge_section(g) for g in contents.gauges],
        "plates": [
            {
                "number": p.number,
                "kind": p.kind,
                "issued": NOT_RECORDED if p.issued is None else day(p.issued),
                "scale_x": f"{p.scale_x:.4f}",
                "scale_y": f"{p.scale_y:.4f}",
                "note": p.note,
            }
            for p in contents.plates
        ],
        "resonance": resonance_section(contents.resonance),
        "cautions": list(CAUTIONS),
        "how_to_read": list(HOW_TO_READ),
        "meanings": [{"outcome": word, "text": text} for word, text in VERDICT_MEANINGS.items()],
    }


def fact_row(fact: Fact) -> dict[str, str]:
    """Return a fact as label and text."""
    if isinstance(fact.value, Quantity):
        return {"label": fact.label, "text": quantity_text(fact.value)}
    return {"label": fact.label, "text": fact.value or NOT_RECORDED}


def groove_range_text(contents: ReportContents) -> str:
    """Return the groove range as printed."""
    if contents.innermost_mm is None or contents.outermost_mm is None:
        return NOT_RECORDED
    return f"{contents.innermost_mm:g} to {contents.outermost_mm:g} mm from the spindle"


def equipment_section(equipment: Equipment) -> dict[str, Any]:
    """Return one piece of equipment with its facts."""
    facts = [fact_row(f) for f in equipment.facts]
    return {"kind": equipment.kind, "name": equipment.name or NOT_RECORDED, "facts": facts}


def gauge_section(gauge: GaugeLine) -> dict[str, Any]:
    """Return one gauge with its calibration."""
    return {
        "name": gauge.name,
        "certificate": gauge.certificate or NOT_RECORDED,
        "facts": [fact_row(f) for f in gauge.calibration],
        "note": gauge.note,
    }


def target_section(targets: TargetSet | None) -> dict[str, Any] | None:
    """Return the targets as a table, or None if none were chosen."""
    if targets is None:
        return None
    rows = [
        quantity_cell(f.value) | {"label": f.label}
        if isinstance(f.value, Quantity)
        else {"label": f.label, "value": f.value or NOT_RECORDED, "spread": "", "unit": "", "also": ""}
        for f in targets.quantities
    ]
    align_decimals(rows, "value", "spread")
    return {"criterion": targets.criterion, "why": targets.why, "rows": rows, "notes": list(targets.notes)}


def deck_sections(contents: ReportContents) -> list[dict[str, Any]]:
    """Return the seven settings at both stages, with what disagrees and what else to know."""
    state = contents.state
    if state is None:
        return []
    left = state.as_left
    return [
        _deck_section(AS_FOUND, state.as_found),
        {"stage": AS_LEFT, "rows": [], "notes": [f"{NOT_LEFT.capitalize()}."]}
        if left is None
        else _deck_section(AS_LEFT, left),
    ]


def _deck_section(stage: str, deck: DeckState) -> dict[str, Any]:
    notes = [
        *(f"Readings disagree. {one.sentence}" for one in deck.disagreements),
        *(f"{SETTINGS[one.key].title}: {one.reason}" for one in deck.settings if one.reason),
        *deck.notes,
    ]
    together = deck.probability_all_conform
    if together is not None:
        notes.append(f"Chance that all seven are within limits: {chance(together)}.")
    return {
        "stage": stage,
        "rows": [_setting_row(one) for one in deck.settings],
        "notes": [minus(note) for note in dict.fromkeys(notes)],
    }


def _setting_row(setting: SettingState) -> dict[str, str]:
    verdict = setting.verdict
    outcome = "" if verdict is None else verdict.outcome
    return {
        "setting": SETTINGS[setting.key].title,
        "meaning": SETTINGS[setting.key].meaning,
        "value": setting_value(setting),
        "spread": setting_spread(setting),
        "limits": setting_limits(setting) or "no limits",
        "outcome": outcome,
        "words": outcome or ("" if setting.quantity is None else setting.outcome),
        "chance": "" if verdict is None else chance(verdict.probability_of_conformity),
        "basis": "calculated" if setting.basis == "calculated" else "",
    }


def budgets(contents: ReportContents) -> list[dict[str, Any]]:
    """Return, for each setting, where its uncertainty comes from at both stages."""
    state = contents.state
    if state is None:
        return []
    decks = [(AS_FOUND, state.as_found), *([] if state.as_left is None else [(AS_LEFT, state.as_left)])]
    sections = []
    for k, found in enumerate(state.as_found.settings):
        parts = [
            budget(stage, deck.settings[k].quantity, setting_unit(found.key))
            for stage, deck in decks
            if deck.settings[k].quantity is not None
        ]
        if parts:
            sections.append({"setting": SETTINGS[found.key].title, "parts": parts})
    return sections


def budget(stage: str, quantity: Quantity | None, unit: str) -> dict[str, Any]:
    """Return the main sources of an uncertainty, in `unit`, with their shares of the variance."""
    assert quantity is not None
    total, components = quantity.standard_uncertainty, quantity.components
    if components is None:
        return {"stage": stage, "rows": [], "none": f"{unknown_sentence(quantity)}.", "total": ""}
    if not total:
        return {"stage": stage, "rows": [], "none": "The value is exact, so it has no uncertainty.", "total": ""}
    ranked = sorted(((abs(c), s.label) for s, c in components.items()), key=lambda pair: (-pair[0], pair[1]))
    parts = [(label, size) for size, label in ranked if size > 0]
    main = [part for part in parts[:MAIN_SOURCES] if (part[1] / total) ** 2 >= MIN_SHARE]
    smaller = parts[len(main) :]
    if len(smaller) > 1:
        rest = sum(size**2 for _, size in smaller) ** 0.5
        parts = [*main, (f"{len(smaller)} smaller sources together", rest)]
    rows: list[dict[str, Any]] = []
    for label, size in parts:
        # To the digits of the whole.
        contribution = Quantity.measured(size, quantity.unit, standard_uncertainty=total, source=label)
        rows.append(
            {
                "source": minus(label),
                "size": split_quantity(contribution, unit)[0],
                "unit": printed_unit(unit),
                "share": f"{100 * (size / total) ** 2:.0f}",
                "fraction": round((size / total) ** 2, 4),
            }
        )
    align_decimals(rows, "size")
    return {
        "stage": stage,
        "rows": rows,
        "none": "",
        "total": f"± {format_uncertainty(total, quantity.unit, shown_unit=unit)}",
    }


def curve_pictures(contents: ReportContents) -> list[dict[str, str]]:
    """Return both plots over the groove with their 95 % bands, the readings at radii, and what they show in words."""
    if not contents.grooves:
        return []
    errors = [
        _curve(stage, c, c.tracking_error_deg, c.tracking_error_low_deg, c.tracking_error_high_deg)
        for stage, c in contents.grooves.items()
    ]
    distortions = [
        _curve(stage, c, c.distortion_percent, c.distortion_low_percent, c.distortion_high_percent)
        for stage, c in contents.grooves.items()
    ]
    target = contents.target_curves
    if target is not None:
        errors.append(Curve("target", tuple(target.radius_mm), tuple(target.tracking_error_deg)))
        distortions.append(Curve("target", tuple(target.radius_mm), tuple(target.distortion_percent)))
    said = " ".join(course.describe(stage.capitalize()) for stage, course in contents.grooves.items())
    points = [
        Point(
            read.stage,
            read.radius_mm,
            read.angle.value,
            coverage_interval(read.angle) if read.angle.standard_uncertainty else None,
        )
        for read in contents.null_readings
    ]
    shown = "tracking error, degrees; dots: read at a radius" if points else "tracking error, degrees"
    return [
        {
            "svg": groove_plot(errors, title=shown.capitalize(), readings=points),
            "alt": f"Tracking error over the groove radius. {said}",
        },
        {
            "svg": groove_plot(distortions, title="Second-harmonic distortion, %", zero_based=True),
            "alt": f"Second-harmonic distortion over the groove radius. {said}",
            "said": minus(said),
        },
    ]


def _curve(stage: str, course: GrooveCourse, middle: Any, low: Any, high: Any) -> Curve:
    band = None if course.why_unknown else (tuple(map(float, low)), tuple(map(float, high)))
    return Curve(stage, tuple(map(float, course.radius_mm)), tuple(map(float, middle)), band)


def readings_by_stage(readings: Sequence[ReadingLine]) -> list[dict[str, Any]]:
    """Return readings grouped by stage, each group as table rows."""
    groups = [(stage, [r for r in readings if r.stage == stage]) for stage in (AS_FOUND, AS_LEFT)]
    groups.append(("at no stage", [r for r in readings if r.stage not in (AS_FOUND, AS_LEFT)]))
    return [{"stage": stage, "rows": reading_rows(rows)} for stage, rows in groups if rows]


def reading_rows(readings: Sequence[ReadingLine]) -> list[dict[str, Any]]:
    """Return readings as table rows with aligned decimals."""
    rows = []
    for reading in readings:
        marks = [reading.where, reading.note]
        if reading.corrects is not None:
            marks.append(f"{'withdraws' if reading.quantity is None else 'corrects'} no. {reading.corrects}")
        if reading.corrected_by is not None:
            marks.append(f"does not count, see no. {reading.corrected_by}")
        cell = {"value": "", "spread": "withdrawn", "unit": "", "also": ""}
        indication = {"spread": "as shown"} if reading.is_indication and reading.quantity is not None else {}
        rows.append(
            (cell if reading.quantity is None else quantity_cell(reading.quantity))
            | indication
            | {
                "typed": f"typed “{reading.typed}”" if reading.typed else "",
                "number": str(reading.number),
                "what": reading.what,
                "gauge": reading.gauge or NOT_RECORDED,
                "marks": "; ".join(m for m in marks if m),
                "read_at": "" if reading.read_at is None else minute(reading.read_at),
                "struck": reading.corrected_by is not None,
            }
        )
    align_decimals(rows, "value", "spread")
    return rows


def resonance_section(resonance: Resonance | None) -> dict[str, Any] | None:
    """Return the resonance, or None where it was not worked out."""
    if resonance is None:
        return None
    verdict = resonance.verdict
    return {
        "frequency": quantity_text(verdict.measured),
        "outcome": verdict.outcome,
        "aim": tolerance_text(verdict.tolerance),
        "chance": chance(verdict.probability_of_conformity),
        "facts": [fact_row(f) for f in resonance.inputs],
        "notes": list(resonance.notes),
    }


def visit_section(before: VisitBefore | None) -> dict[str, Any] | None:
    """Return the comparison with the visit before, or None."""
    if before is None:
        return None
    return {
        "sentence": before.sentence,
        "rows": [
            {
                "setting": line.setting,
                "left": "not read" if line.left is None else quantity_text(line.left),
                "found": "not read" if line.found is None else quantity_text(line.found),
                "sentence": minus(line.sentence),
            }
            for line in before.changes
        ],
        "notes": [minus(note) for note in before.notes],
    }
