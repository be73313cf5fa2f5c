"""From the contents of a report to what its template prints: texts, aligned columns and pictures, as JSON types."""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter
from typing import Any

from groovewright.measurement.conformity import IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED, Tolerance, Verdict, decide
from groovewright.measurement.formatting import format_number
from groovewright.measurement.quantity import Quantity, unknown_sentence
from groovewright.measurement.units import in_unit, printed_unit
from groovewright.report.bench_layout import move_rows, setting_rows, visit_section
from groovewright.report.cells import (
    align_decimals,
    limits_shown,
    minus,
    quantity_cell,
    quantity_text,
    shown_unit,
    tolerance_text,
)
from groovewright.report.curves_svg import Curve, groove_plot
from groovewright.report.drawing import PALETTE
from groovewright.report.glyphs import FONT_FAMILY, printable
from groovewright.report.parts import (
    AS_FOUND,
    AS_LEFT,
    Equipment,
    Fact,
    GaugeLine,
    Judgement,
    ReadingLine,
    ReportContents,
    SettingLine,
    TargetSet,
)
from groovewright.report.verdict_svg import ScaleRow, verdict_scale, verdict_shape
from groovewright.report.wording import HOW_TO_READ, VERDICT_MEANINGS, bar_meaning, chance, day, headline, minute

NOT_RECORDED = "not recorded"
NOT_MEASURED = "not measured"
COVERAGE_FACTOR_95 = 1.959964
MAIN_SOURCES = 6


def opening(text: str) -> str:
    """Return a text with a capital letter at its start."""
    return text[:1].upper() + text[1:]


def fact_row(fact: Fact) -> dict[str, str]:
    """Return a fact as label and text."""
    if isinstance(fact.value, Quantity):
        return {"label": fact.label, "text": quantity_text(fact.value)}
    return {"label": fact.label, "text": fact.value or NOT_RECORDED}


def verdict_row(judgement: Judgement) -> dict[str, Any]:
    """Return one verdict as a row of the evidence."""
    verdict = judgement.verdict
    return {
        "stage": judgement.stage,
        "measured": quantity_cell(verdict.measured),
        "outcome": verdict.outcome,
        "chance": chance(verdict.probability_of_conformity),
        "reason": minus(reason_shown(verdict)),
        "consequence": minus(judgement.consequence),
        "notes": [minus(note) for note in judgement.notes],
    }


def reason_shown(verdict: Verdict) -> str:
    """Return the reason of a verdict, in the unit in which the report prints its value."""
    if verdict.measured.unit != "mN":
        return verdict.reason
    tolerance = Tolerance(*limits_shown(verdict.tolerance), "g")
    return decide(in_unit(verdict.measured, "g"), tolerance, verdict.rule).reason


def settings_of(judgements: Sequence[Judgement]) -> list[tuple[str, list[Judgement]]]:
    """Return the judgements grouped by setting, as found before as left."""
    names = list(dict.fromkeys(j.setting for j in judgements))
    order = {AS_FOUND: 0, AS_LEFT: 1}
    return [(n, sorted((j for j in judgements if j.setting == n), key=lambda j: order[j.stage])) for n in names]


def glance_row(
    setting: str, judgements: Sequence[Judgement], joint: SettingLine | None = None, joint_stage: str = ""
) -> dict[str, Any]:
    """Return one setting as a row of the first page; all readings together outweigh a judgement by some of them."""
    by_stage = {j.stage: verdict_row(j) for j in judgements}
    if joint is not None:
        by_stage[joint_stage] = _joint_reading(joint)
    return {
        "setting": opening(setting),
        "tolerance": tolerance_text(judgements[-1].verdict.tolerance),
        "aim": judgements[-1].aim,
        "found": by_stage.get(AS_FOUND),
        "left": by_stage.get(AS_LEFT),
    }


def glance_line(line: SettingLine, stage: str, as_found: SettingLine | None = None) -> dict[str, Any]:
    """Return a setting of the joint estimate as a row of the first page, with how it was found if that is another."""
    row = setting_rows((line,))[0]
    read = None if line.quantity is None else _joint_reading(line)
    return {
        "setting": line.setting,
        "tolerance": row["tolerance"],
        "aim": row["aim"],
        "found": read if stage == AS_FOUND else None if as_found is None else _joint_reading(as_found),
        "left": read if stage == AS_LEFT else None,
    }


def _joint_reading(line: SettingLine) -> dict[str, Any]:
    row = setting_rows((line,))[0]
    return {"measured": row, "outcome": row["outcome"]}


def verdict_picture(setting: str, judgements: Sequence[Judgement]) -> dict[str, str]:
    """Return the scale of one setting with what it shows in words."""
    tolerance = judgements[-1].verdict.tolerance
    rows = []
    for judgement in judgements:
        verdict = judgement.verdict
        half_bar = None
        if verdict.measured.standard_uncertainty is not None:
            band = verdict.rule.guard_band(verdict.measured)
            half_bar = band or COVERAGE_FACTOR_95 * verdict.measured.standard_uncertainty
        scale = in_unit(Quantity.exact(1.0, tolerance.unit), shown_unit(tolerance.unit)).value
        rows.append(ScaleRow(judgement.stage, verdict.measured.value * scale, half_bar and half_bar * scale))
    lower, upper = limits_shown(tolerance)
    svg = verdict_scale(rows, Tolerance(lower, upper, printed_unit(shown_unit(tolerance.unit))))
    words = "; ".join(f"{j.stage} {quantity_text(j.verdict.measured)}, {j.verdict.outcome}" for j in judgements)
    return {"svg": svg, "alt": f"{opening(setting)}, tolerance {tolerance_text(tolerance)}: {words}."}


def verdict_section(
    setting: str, judgements: Sequence[Judgement], joint: SettingLine | None = None, joint_stage: str = ""
) -> dict[str, Any]:
    """Return all that is said of one setting: picture, rows, the rule and the main sources of uncertainty."""
    rows = [verdict_row(j) for j in judgements]
    for row in rows:
        if joint is not None and joint.quantity is not None and row["stage"] == joint_stage:
            outcome = "" if joint.verdict is None else f", {joint.verdict.outcome}"
            row["notes"].append(
                f"This rests on the readings of this setting alone. All readings of the job together give "
                f"{minus(quantity_text(joint.quantity))}{outcome}."
            )
    align_decimals([r["measured"] for r in rows], "value", "spread")
    rule = judgements[-1].verdict.rule
    return {
        "setting": opening(setting),
        "aim": judgements[-1].aim,
        "tolerance": tolerance_text(judgements[-1].verdict.tolerance),
        "picture": verdict_picture(setting, judgements),
        "rows": rows,
        "rule": rule.describe(),
        "bar": bar_meaning(rule),
        "budgets": [budget(j) for j in judgements],
    }


def budget(judgement: Judgement) -> dict[str, Any]:
    """Return the main sources of a result's uncertainty with their shares of the variance."""
    measured = judgement.verdict.measured
    shown = in_unit(measured, shown_unit(measured.unit))
    total = shown.standard_uncertainty
    if shown.components is None:
        return {"stage": judgement.stage, "rows": [], "none": f"{unknown_sentence(shown)}."}
    if not total:
        return {"stage": judgement.stage, "rows": [], "none": "The value is exact, so it has no uncertainty."}
    ranked = sorted(((abs(c), s.label) for s, c in shown.components.items()), key=lambda pair: (-pair[0], pair[1]))
    parts = [(label, size) for size, label in ranked if size > 0]
    if len(parts) > MAIN_SOURCES + 1:
        rest = sum(size**2 for _, size in parts[MAIN_SOURCES:]) ** 0.5
        parts = [*parts[:MAIN_SOURCES], (f"{len(parts) - MAIN_SOURCES} smaller sources together", rest)]
    rows: list[dict[str, Any]] = [
        {
            "source": label,
            "size": format_number(size, total, unit="gf" if shown.unit == "g" else shown.unit),
            "unit": printed_unit(shown.unit),
            "share": f"{100 * (size / total) ** 2:.0f}",
            "fraction": round((size / total) ** 2, 4),
        }
        for label, size in parts
    ]
    align_decimals(rows, "size")
    return {"stage": judgement.stage, "rows": rows, "none": "", "total": quantity_text(measured)}


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


def curve_pictures(contents: ReportContents) -> list[dict[str, str]]:
    """Return both plots over the groove with what they show in words."""
    if not contents.curves:
        return []
    pictures = []
    for title, values, zero_based, unit in (
        ("Tracking error, degrees", attrgetter("tracking_error_deg"), False, "degrees"),
        ("Second-harmonic distortion, %", attrgetter("distortion_percent"), True, "%"),
    ):
        lines = [Curve(c.stage, c.radius_mm, values(c)) for c in contents.curves]
        peaks = "; ".join(f"{c.label} up to {max(map(abs, c.height)):.2f} {unit}" for c in lines)
        pictures.append(
            {
                "svg": groove_plot(lines, title=title, zero_based=zero_based),
                "alt": f"{title} over the groove radius: {peaks}.",
                "peaks": peaks,
            }
        )
    return pictures


def equipment_section(equipment: Equipment) -> dict[str, Any]:
    """Return one piece of equipment with its facts."""
    return {
        "kind": equipment.kind,
        "name": equipment.name or NOT_RECORDED,
        "facts": [fact_row(f) for f in equipment.facts],
    }


def gauge_section(gauge: GaugeLine) -> dict[str, Any]:
    """Return one gauge with its calibration."""
    return {
        "name": gauge.name,
        "certificate": gauge.certificate or NOT_RECORDED,
        "facts": [fact_row(f) for f in gauge.calibration],
        "note": gauge.note,
    }


def groove_range_text(contents: ReportContents) -> str:
    """Return the groove range as printed."""
    if contents.innermost_mm is None or contents.outermost_mm is None:
        return NOT_RECORDED
    return f"{contents.innermost_mm:g} to {contents.outermost_mm:g} mm from the spindle"


def printable_tree(tree: Any) -> Any:
    """Return JSON data with every text made printable; pictures, which hold only our own words, are left alone."""
    if isinstance(tree, str):
        return printable(tree)
    if isinstance(tree, list):
        return [printable_tree(branch) for branch in tree]
    if isinstance(tree, dict):
        return {key: branch if key == "svg" else printable_tree(branch) for key, branch in tree.items()}
    return tree


def lay_out(contents: ReportContents) -> dict[str, Any]:
    """Return everything the template prints, as JSON types."""
    settings = settings_of(contents.judgements)
    joint = {line.setting: line for line in contents.settings if line.quantity is not None}
    found = {line.setting: line for line in contents.settings_as_found if line.quantity is not None}
    judged = {opening(name) for name, _ in settings}
    dates = (("Taken in", contents.taken_in), ("Last read as left", contents.left_on))
    stages = (AS_FOUND, AS_LEFT)
    by_gauge = [r for r in contents.readings if not r.is_of_capture]
    other = [r for r in by_gauge if r.stage not in stages]
    captured = {stage: [r for r in contents.readings if r.is_of_capture and r.stage == stage] for stage in stages}
    tree = {
        "font": FONT_FAMILY,
        "palette": dict(PALETTE),
        "title": contents.title,
        "language": contents.language,
        "paper": contents.paper,
        "date": [contents.report_date.year, contents.report_date.month, contents.report_date.day],
        "date_text": day(contents.report_date),
        "workshop": contents.workshop,
        "workshop_lines": list(contents.workshop_lines),
        "job_number": contents.job_number,
        "record_number": contents.record_number,
        "record_hash": contents.record_hash,
        "dates": [{"label": label, "text": NOT_RECORDED if d is None else day(d)} for label, d in dates],
        "owner": contents.owner or NOT_RECORDED,
        "headline": headline(contents.judgements, contents.settings, joint_stage=contents.settings_stage),
        "glance": [
            glance_row(name, group, joint.get(opening(name)), contents.settings_stage) for name, group in settings
        ]
        + [
            glance_line(line, contents.settings_stage, found.get(line.setting))
            for line in contents.settings
            if line.setting not in judged
        ],
        "not_measured": NOT_MEASURED,
        "done": list(contents.done),
        "faults": list(contents.faults),
        "missing": list(contents.missing),
        "equipment": [equipment_section(e) for e in contents.equipment],
        "complaint": contents.complaint or NOT_RECORDED,
        "records_played": contents.records_played or NOT_RECORDED,
        "groove_range": groove_range_text(contents),
        "targets": target_section(contents.targets),
        "curves": curve_pictures(contents),
        "curves_note": contents.curves_note,
        "verdicts": [
            verdict_section(name, group, joint.get(opening(name)), contents.settings_stage) for name, group in settings
        ],
        "settings": setting_rows(contents.settings),
        "settings_stage": contents.settings_stage,
        "settings_notes": [minus(note) for note in contents.settings_notes],
        "moves": move_rows(contents.moves),
        "visit_before": visit_section(contents.visit_before),
        "readings": [
            {"stage": stage, "rows": reading_rows([r for r in by_gauge if r.stage == stage])} for stage in stages
        ]
        + ([{"stage": "at no stage", "rows": reading_rows(other)}] if other else []),
        "captures": [{"stage": stage, "rows": reading_rows(rows)} for stage, rows in captured.items() if rows],
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
        "resonance": None
        if contents.resonance is None
        else {
            "frequency": quantity_text(contents.resonance.verdict.measured),
            "outcome": contents.resonance.verdict.outcome,
            "aim": tolerance_text(contents.resonance.verdict.tolerance),
            "chance": chance(contents.resonance.verdict.probability_of_conformity),
            "facts": [fact_row(f) for f in contents.resonance.inputs],
            "notes": list(contents.resonance.notes),
        },
        "cautions": list(contents.cautions),
        "how_to_read": list(HOW_TO_READ),
        "meanings": [{"outcome": word, "text": text} for word, text in VERDICT_MEANINGS.items()],
        "shapes": {w: {"svg": verdict_shape(w)} for w in (IN_TOLERANCE, OUT_OF_TOLERANCE, UNDECIDED)},
    }
    return {name: printable_tree(branch) for name, branch in tree.items()}
