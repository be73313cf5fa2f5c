"""The joint estimate: all readings of a deck in one, what they say of the seven settings, and what would help."""

from __future__ import annotations

from groovewright.bench.bench_inputs import BenchInputs
from groovewright.bench.setting_state import BenchState, FurtherReading, Residual, SettingState, Share

__all__ = [
    "BenchInputs",
    "BenchState",
    "FurtherReading",
    "Residual",
    "SettingState",
    "Share",
]
