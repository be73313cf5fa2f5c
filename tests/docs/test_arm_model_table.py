"""The table of couplings in the arm model's page holds what the model gives."""

import re
from pathlib import Path

import numpy as np

from groovewright.tonearm.arm_build import usual_build
from groovewright.tonearm.arm_model import couplings
from groovewright.tonearm.arm_state import ADJUSTERS, STATE
from groovewright.tonearm.geometry import Geometry

PAGE = Path(__file__).parents[2] / "docs" / "design" / "arm-model.md"


def test_couplings_of_the_usual_arm_are_those_printed():
    chapter = PAGE.read_text(encoding="utf-8").split("## How the usual arm couples")[1].split("What hangs on")[0]
    rows = [line.strip("| ").split(" | ") for line in chapter.splitlines() if re.match(r"\| \w", line)]
    printed = np.array([[float(cell) for cell in row[1:]] for row in rows])
    assert printed.shape == (len(STATE), len(ADJUSTERS))
    assert [row[0].split(",")[0].split("-")[0].split()[0] for row in rows] == [name.split("_")[0] for name in STATE]
    build = usual_build(Geometry(222, 239.2961, 22.9855))
    np.testing.assert_allclose(couplings(build), printed, rtol=0, atol=0.00005)
