"""One assessment of a whole job, the same for page, command and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from groovewright.bench.force import ForceResult
from groovewright.bench.job_inputs import (
    ArmFacts,
    CartridgeFacts,
    IssuedPlate,
    IssuedReport,
    JobInputs,
    StageReadings,
)
from groovewright.bench.joined_readings import JoinedReadings
from groovewright.bench.length import LengthResult
from groovewright.bench.targets import Targets
from groovewright.tonearm.resonance import Resonance

__all__ = [
    "ArmFacts",
    "Assessment",
    "CartridgeFacts",
    "IssuedPlate",
    "IssuedReport",
    "JobInputs",
    "Problem",
    "StageReadings",
    "StageResult",
    "Step",
]

StepKey = Literal["take in", "choose", "plate", "readings", "verdicts", "report"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the job and how it stands.

    Attributes
    ----------
    key, title : str
        Which step, and how it is called on screen.
    state : str
        done; next: the first that can be worked on; open: later; stale: done once, but what it rests on changed.
    detail : str
        What is missing or what it rests on, in one or two sentences.
    """

    key: StepKey
    title: str
    state: Literal["done", "next", "open", "stale"]
    detail: str


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a result could not be computed: which (``"as left: tracking force"``), and one sentence for the user."""

    about: str
    sentence: str


@dataclass(frozen=True)
class StageResult:
    """Results of one stage; None where there are no readings or a problem stands in the way."""

    stage: Literal["as found", "as left"]
    length: LengthResult | None
    force: ForceResult | None


@dataclass(frozen=True)
class Assessment:
    """What the readings of a job mean together, and what is still to do.

    Attributes
    ----------
    pivot_to_spindle : JoinedReadings or None
        All readings of it joined; `.quantity` is what new targets should be chosen from. [mm]
    targets : Targets or None
        The targets chosen.
    resonance : Resonance or None
        Of arm and cartridge, when mass and compliance are known.
    as_found, as_left : StageResult
        Results of both stages.
    problems : tuple of Problem
        What could not be computed, and why.
    faults : tuple of str
        Faults written down by hand, then those the readings show.
    missing : tuple of Step
        All six steps in order, each with its state.
    """

    pivot_to_spindle: JoinedReadings | None
    targets: Targets | None
    resonance: Resonance | None
    as_found: StageResult
    as_left: StageResult
    problems: tuple[Problem, ...]
    faults: tuple[str, ...]
    missing: tuple[Step, ...]
