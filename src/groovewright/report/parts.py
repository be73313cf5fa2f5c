"""What a report says: plain data from which its pages are made, and nothing that must still be worked out."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field

from groovewright.bench.estimate.job_state import JobState
from groovewright.measurement.conformity import Tolerance, Verdict
from groovewright.measurement.quantity import Quantity

AS_FOUND = "as found"
AS_LEFT = "as left"
TARGET = "target"

DETAILS_DELETED = "details deleted on request"

# Where work on a player can hurt someone or its parts.
CAUTIONS = (
    "Mains voltage can kill. Pull the plug of the player and of the amplifier from the wall before a cover is "
    "opened or a wire is touched, and leave work on mains parts to someone who is trained for it.",
    "A bare stylus pierces skin and breaks at a touch. Keep its guard on while anything else is done, lock the arm "
    "in its rest, and never test the stylus with a finger.",
    "Test tones into an open amplifier can damage ears and loudspeakers. Turn the volume right down before the "
    "stylus is lowered or lifted, and before a cable is plugged or unplugged.",
)


@dataclass(frozen=True)
class Fact:
    """A label with what was recorded under it; None where nothing was."""

    label: str
    value: str | Quantity | None


@dataclass(frozen=True)
class Equipment:
    """A deck, an arm or a cartridge with the facts that are known of it."""

    kind: str
    name: str | None
    facts: tuple[Fact, ...] = ()


@dataclass(frozen=True)
class TargetSet:
    """What the player was set up for.

    Parameters
    ----------
    criterion : str
        What is minimised, in words.
    why : str
        Why this criterion, and under which limits.
    quantities : tuple of Fact
        The targets, each a quantity.
    notes : tuple of str
        What whoever reads the targets should know.
    """

    criterion: str
    why: str
    quantities: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Judgement:
    """One verdict with the setting it is about, the stage it was taken at, and what it means in use.

    Parameters
    ----------
    setting : str
        For example "effective length error". Judgements of one setting are shown side by side.
    stage : str
        `AS_FOUND` or `AS_LEFT`.
    aim : str
        What was aimed for inside the tolerance, in words.
    consequence : str
        What the measured value costs in use; empty if nothing can be said.
    notes : tuple of str
        What else to mind about it.
    """

    setting: str
    stage: str
    aim: str
    verdict: Verdict
    consequence: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReadingLine:
    """One reading as it stands in the record.

    Parameters
    ----------
    number : int
        Its number in the job.
    quantity : Quantity or None
        None for a line that withdraws an earlier reading.
    typed : str
        What was typed at the bench; empty if that is not kept.
    is_indication : bool
        Whether the quantity is what the gauge showed, before its calibration was taken into account.
    is_of_capture : bool
        Whether a recording of test tones showed it.
    corrects, corrected_by : int, optional
        Number of the reading it replaces, and of the one that replaced it.
    """

    number: int
    stage: str
    what: str
    quantity: Quantity | None
    gauge: str
    where: str = ""
    read_at: datetime.datetime | None = None
    typed: str = ""
    is_indication: bool = False
    corrects: int | None = None
    corrected_by: int | None = None
    note: str = ""
    is_of_capture: bool = False


@dataclass(frozen=True)
class GaugeLine:
    """A gauge or scale with its calibration; an empty tuple of facts means that none is on record."""

    name: str
    certificate: str | None
    calibration: tuple[Fact, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class GrooveCurve:
    """Tracking error and second-harmonic distortion over the groove at one stage, or at the target."""

    stage: str
    radius_mm: tuple[float, ...]
    tracking_error_deg: tuple[float, ...]
    distortion_percent: tuple[float, ...]

    def __post_init__(self) -> None:
        if self.stage not in (AS_FOUND, AS_LEFT, TARGET):
            raise ValueError(f"a curve is {AS_FOUND!r}, {AS_LEFT!r} or {TARGET!r}, not {self.stage!r}")
        if not len(self.radius_mm) == len(self.tracking_error_deg) == len(self.distortion_percent) >= 2:
            raise ValueError(f"the curve {self.stage!r} needs as many errors and distortions as radii, two or more")


@dataclass(frozen=True)
class PlateLine:
    """A plate that was issued for the job, with the factors that corrected it for the printer."""

    number: str
    kind: str
    issued: datetime.date | None
    scale_x: float
    scale_y: float
    note: str = ""


@dataclass(frozen=True)
class Resonance:
    """The arm's resonance with its verdict, what it was worked out from, and what to mind about it."""

    verdict: Verdict
    inputs: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class SettingLine:
    """One of the seven settings by all readings together.

    Parameters
    ----------
    setting : str
        What it is, for example "Zenith error".
    quantity : Quantity or None
        None where it was not read.
    aim : Quantity or None
        What it was to be set to.
    tolerance : Tolerance or None
        None where it has no limits.
    verdict : Verdict or None
        None where it was not read or has no limits.
    note : str
        What to mind, such as that a move changed it since.
    """

    setting: str
    quantity: Quantity | None
    aim: Quantity | None
    tolerance: Tolerance | None
    verdict: Verdict | None
    note: str = ""


@dataclass(frozen=True)
class MoveLine:
    """A move that was made; an empty list of amounts withdraws an earlier one."""

    number: int
    text: str
    amounts: tuple[Fact, ...]
    made_at: datetime.datetime
    note: str = ""


@dataclass(frozen=True)
class ChangeLine:
    """One setting as left at the visit before, as found at this one, and its change where both were read."""

    setting: str
    left: Quantity | None
    found: Quantity | None
    change: Quantity | None
    sentence: str


@dataclass(frozen=True)
class VisitBefore:
    """How the player had changed since the visit before."""

    sentence: str
    changes: tuple[ChangeLine, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReportContents:
    """Everything a report says.

    Parameters
    ----------
    title : str
        Title of the document, also in its properties.
    report_date : date
        Date printed and written into the file. It comes from the record, so that the same report has the same bytes.
    workshop : str
        Who did the work; may be empty.
    job_number : str
        The job's number at the workshop.
    record_number, record_hash : str
        Last entry of the job's record that went into the report, and its hash.
    owner : str, optional
        The owner's name, `DETAILS_DELETED`, or None if none was recorded.
    taken_in, left_on : date, optional
        When the player came in, and when it was last read as left.
    innermost_mm, outermost_mm : float, optional
        Groove range that is played. [mm]
    curves_note : str
        What the curves take for granted.
    settings : tuple of SettingLine
        The seven by all readings together; empty where no more than length and force was read.
    settings_stage : str
        `AS_FOUND` or `AS_LEFT`.
    settings_as_found : tuple of SettingLine
        The same settings as they were found; empty where `settings` is that already.
    settings_notes : tuple of str
        What to mind about them.
    state : JobState or None
        The seven as found and as left, from which `settings` are printed; None where they cannot be told.
    moves : tuple of MoveLine
        In the order in which they were made.
    visit_before : VisitBefore or None
        None where there was none, or it tells nothing.
    done, faults, missing : tuple of str
        What was done, what was found faulty, and what is still open, each a sentence.
    language : str
        Language of the text, as a two-letter code.
    paper : str
        "a4" or "us-letter".
    """

    title: str
    report_date: datetime.date
    workshop: str
    job_number: str
    record_number: str
    record_hash: str
    workshop_lines: tuple[str, ...] = ()
    taken_in: datetime.date | None = None
    left_on: datetime.date | None = None
    owner: str | None = None
    equipment: tuple[Equipment, ...] = ()
    complaint: str = ""
    records_played: str = ""
    innermost_mm: float | None = None
    outermost_mm: float | None = None
    targets: TargetSet | None = None
    judgements: tuple[Judgement, ...] = ()
    readings: tuple[ReadingLine, ...] = ()
    gauges: tuple[GaugeLine, ...] = ()
    curves: tuple[GrooveCurve, ...] = ()
    curves_note: str = ""
    plates: tuple[PlateLine, ...] = ()
    settings: tuple[SettingLine, ...] = ()
    settings_as_found: tuple[SettingLine, ...] = ()
    settings_stage: str = AS_LEFT
    settings_notes: tuple[str, ...] = ()
    state: JobState | None = None
    moves: tuple[MoveLine, ...] = ()
    visit_before: VisitBefore | None = None
    resonance: Resonance | None = None
    done: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = field(default=CAUTIONS)
    language: str = "en"
    paper: str = "a4"

    def __post_init__(self) -> None:
        if not self.title.strip():
            raise ValueError("a report needs a title")
        if self.paper not in ("a4", "us-letter"):
            raise ValueError(f"a report is printed on a4 or us-letter, not on {self.paper!r}")
