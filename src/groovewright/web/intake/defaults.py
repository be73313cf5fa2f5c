"""What holds at take-in where nothing was typed: shown in the fields, and named as the usual."""

from __future__ import annotations

DEFAULTS: dict[str, str] = {
    "arm_kind": "offset",
    "groove": "12 inch|RIAA 1963",
    "speed": "33 1/3 rpm",
    "length_tolerance": "-0.5:0.5 mm",
    "decision_rule": "guarded acceptance",
    "risk": "5 %",
}
NOT_NAMED = "not named"
"""What the record keeps as the name of an arm or a cartridge that nobody named."""
