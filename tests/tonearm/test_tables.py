"""The tables of adjusters and of ranges: whole, and in the order that arrays rely on."""

from __future__ import annotations

import pytest

from groovewright.measurement.units import canonical_unit
from groovewright.tonearm import input_ranges
from groovewright.tonearm.adjusters import ADJUSTER_TABLE
from groovewright.tonearm.arm_state import ADJUSTERS
from groovewright.tonearm.input_ranges import InputRange

KIND_OF_UNIT = {"mm": "length", "deg": "angle", "mN": "force"}
RANGES = {name: found for name, found in vars(input_ranges).items() if isinstance(found, InputRange)}


def test_every_adjuster_has_its_row_in_the_order_of_the_arrays():
    assert tuple(ADJUSTER_TABLE) == ADJUSTERS


@pytest.mark.parametrize("adjuster", ADJUSTER_TABLE.values(), ids=lambda adjuster: adjuster.key)
def test_an_adjuster_goes_no_farther_than_any_of_its_kind_and_names_its_unit(adjuster):
    lowest, highest = adjuster.usual_range
    assert -adjuster.max_travel <= lowest <= 0 <= highest <= adjuster.max_travel
    assert 0 < adjuster.repeatability < adjuster.max_travel
    assert adjuster.key.endswith(f"_{adjuster.unit.lower()}")
    assert canonical_unit(KIND_OF_UNIT[adjuster.unit]) == adjuster.unit


@pytest.mark.parametrize("name", RANGES)
def test_a_range_runs_upward_and_says_why(name):
    found = RANGES[name]
    assert found.lowest < found.highest
    assert found.reason
    assert found.holds(found.lowest)
    assert not found.holds(found.highest + 1)
