"""What a report says: plain data from which its pages are made, and nothing that must still be worked out."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from groovewright.bench.estimate.groove import GrooveCourse
from groovewright.bench.estimate.job_state import JobState
from groovewright.bench.targets.target_curves import Curves
from groovewright.measurement.conformity import Verdict
from groovewright.measurement.quantity import Quantity

AS_FOUND = "as found"
AS_LEFT = "as left"

DETAILS_DELETED = "details deleted on request"

PartChosen = Literal["customer", "technical", "both"]
PARTS: tuple[PartChosen, ...] = ("both", "customer", "technical")
PAPERS = ("a4", "us-letter")

MAX_PHOTOS = 6
"""More would not fit beside the rest on the two pages of the customer's part."""

CAUTIONS = (
    "Mains voltage can kill. Pull the plug of the player and of the amplifier from the wall before a cover is "
    "opened or a wire is touched, and leave work on mains parts to someone who is trained for it.",
    "A bare stylus pierces skin and breaks at a touch. Keep its guard on while anything else is done, lock the arm "
    "in its rest, and never test the stylus with a finger.",
    "Test tones into an open amplifier can damage ears and loudspeakers. Turn the volume right down before the "
    "stylus is lowered or lifted, and before a cable is plugged or unplugged.",
)
"""Where work on a player can hurt someone or its parts."""


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
class Head:
    """The letterhead: name, lines of the address, and the logo as a picture that can be printed."""

    name: str
    lines: tuple[str, ...] = ()
    logo: bytes | None = None
    logo_suffix: str = "png"


@dataclass(frozen=True)
class Photo:
    """A photo of the job, ready to be printed (JPEG), with its caption."""

    content: bytes
    caption: str


@dataclass(frozen=True)
class HandOver:
    """What the workshop says when it hands a job over; kept with the report that is issued.

    Parameters
    ----------
    done : tuple of str
        What was done besides what the record shows, a sentence each.
    parts_fitted : tuple of str
        One each.
    time_spent : str
        In words, as it is printed.
    come_back_hours : float, optional
        After how many more hours of playing to come back. [h]
    come_back_on : date, optional
        And by when at the latest.
    photos : mapping of str to str
        Identity of an attachment to its caption, in the order in which they are printed.
    part : str
        Which part of the report is made.
    paper : str
        "a4" or "us-letter".
    """

    done: tuple[str, ...] = ()
    parts_fitted: tuple[str, ...] = ()
    time_spent: str = ""
    come_back_hours: float | None = None
    come_back_on: datetime.date | None = None
    photos: Mapping[str, str] = field(default_factory=dict)
    part: PartChosen = "both"
    paper: str = "a4"

    def __post_init__(self) -> None:
        if self.part not in PARTS:
            raise ValueError(f"a report has the part customer, technical or both, not {self.part!r}")
        if self.paper not in PAPERS:
            raise ValueError(f"a report is printed on a4 or us-letter, not on {self.paper!r}")

    def as_json(self) -> dict[str, Any]:
        """Return one object of plain JSON types."""
        return {
            "done": list(self.done),
            "parts_fitted": list(self.parts_fitted),
            "time_spent": self.time_spent,
            "come_back_hours": self.come_back_hours,
            "come_back_on": None if self.come_back_on is None else self.come_back_on.isoformat(),
            "photos": dict(self.photos),
            "part": self.part,
            "paper": self.paper,
        }


@dataclass(frozen=True)
class TargetSet:
    """What the player was set up for: the criterion, why and under which limits, the targets, and notes on them."""

    criterion: str
    why: str
    quantities: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReadingLine:
    """One reading of the record.

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
class NullReading:
    """A tracking error that was read at a radius. [mm], [deg]"""

    stage: str
    radius_mm: float
    angle: Quantity


@dataclass(frozen=True)
class GaugeLine:
    """A gauge or scale with its calibration; an empty tuple of facts means that none is on record."""

    name: str
    certificate: str | None
    calibration: tuple[Fact, ...] = ()
    note: str = ""


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
    """The arm's resonance with its verdict, what it was worked out from, and notes."""

    verdict: Verdict
    inputs: tuple[Fact, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class MoveLine:
    """A move that was made, with its amounts in words."""

    number: int
    text: str
    amounts: tuple[str, ...]
    made_at: datetime.datetime
    note: str = ""


@dataclass(frozen=True)
class ChangeLine:
    """One setting as left at the visit before and as found at this one, with what that means."""

    setting: str
    left: Quantity | None
    found: Quantity | None
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
    report_number : str
        Under which it is issued; empty for a preview.
    report_date : date
        Printed and written into the file. It comes from the record, so that the same report has the same bytes.
    record_number, record_hash : str
        Last entry of the job's record that went into the report, and its hash.
    owner : str, optional
        The owner's name, `DETAILS_DELETED`, or None if none was recorded.
    taken_in, left_on : date, optional
        When the player came in, and when it was last read as left.
    stylus_hours : float, optional
        That the stylus had played when the player came in. [h]
    state : JobState or None
        The seven settings; None where they cannot be told, for `why_no_state`.
    grooves : mapping of stage to GrooveCourse
        Tracking error and distortion, for the stages where they can be told.
    no_grooves : mapping of stage to str
        Why they cannot, for the others.
    target_curves : Curves or None
        Of the targets, where there are any and the arm has a pivot.
    null_readings : tuple of NullReading
    adjusted : tuple of str
        What was adjusted, in words of the customer.
    faults : tuple of str
        Faults in words of the customer; all of them are in `state`.
    missing : tuple of str
        What is still open, each a sentence.
    """

    report_date: datetime.date
    head: Head
    job_number: str
    record_number: str
    record_hash: str
    report_number: str = ""
    words: HandOver = field(default_factory=HandOver)
    taken_in: datetime.date | None = None
    left_on: datetime.date | None = None
    owner: str | None = None
    equipment: tuple[Equipment, ...] = ()
    stylus_hours: float | None = None
    complaint: str = ""
    records_played: str = ""
    innermost_mm: float | None = None
    outermost_mm: float | None = None
    targets: TargetSet | None = None
    state: JobState | None = None
    why_no_state: str = ""
    rule: str = ""
    grooves: Mapping[str, GrooveCourse] = field(default_factory=dict)
    no_grooves: Mapping[str, str] = field(default_factory=dict)
    target_curves: Curves | None = None
    null_readings: tuple[NullReading, ...] = ()
    readings: tuple[ReadingLine, ...] = ()
    gauges: tuple[GaugeLine, ...] = ()
    plates: tuple[PlateLine, ...] = ()
    adjusted: tuple[str, ...] = ()
    moves: tuple[MoveLine, ...] = ()
    visit_before: VisitBefore | None = None
    resonance: Resonance | None = None
    work: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    photos: tuple[Photo, ...] = ()

    @property
    def title(self) -> str:
        """Title of the document, also in its properties."""
        return f"Set-up report {self.report_number}".rstrip()
