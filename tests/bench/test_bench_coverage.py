"""The joint estimate is honest: the benchmark's simulated decks, fewer of them."""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path

import pytest

DECKS = 300
BENCHMARK = Path(__file__).parents[2] / "benchmarks" / "bench_coverage.py"


@pytest.fixture(scope="module")
def benchmark():
    spec = importlib.util.spec_from_file_location("bench_coverage", BENCHMARK)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


@pytest.fixture(scope="module")
def tallies(benchmark):
    return benchmark.run(DECKS, first_seed=10_000)


def test_intervals_of_all_seven_hold_the_truth(tallies):
    for key, tally in tallies.items():
        assert tally.stated > DECKS / 2
        # Within three standard deviations of a count of so many intervals at 95 %.
        room = 3 * math.sqrt(0.95 * 0.05 / tally.stated)
        assert abs(tally.held / tally.stated - 0.95) < room, key


def test_in_tolerance_is_wrong_no_more_often_than_stated(tallies, benchmark):
    said = sum(tally.in_tolerance for tally in tallies.values())
    assert said > DECKS
    assert sum(tally.false for tally in tallies.values()) <= benchmark.RISK * said
