"""The tables of the job book."""

from groovewright.jobbook.models.job import (
    ArchiveImport,
    Attachment,
    ComplaintCorrection,
    Fault,
    Intake,
    IssuedPlate,
    IssuedReport,
    Job,
    Reading,
    ScaleCheck,
    Stage,
    TargetChoice,
)
from groovewright.jobbook.models.ledger import LedgerEntry
from groovewright.jobbook.models.record import Correctable, QuantityField, Record
from groovewright.jobbook.models.workshop import (
    Arm,
    Cartridge,
    Deck,
    Gauge,
    Owner,
    OwnerDetails,
    OwnerDetailsChange,
    Scale,
)

# Parents before children: the order in which an archive can be written row by row.
RECORD_MODELS: tuple[type[Record], ...] = (
    Owner,
    OwnerDetailsChange,
    Deck,
    Arm,
    Cartridge,
    Gauge,
    Scale,
    Job,
    ComplaintCorrection,
    Intake,
    TargetChoice,
    ScaleCheck,
    IssuedPlate,
    Reading,
    Fault,
    IssuedReport,
    Attachment,
    ArchiveImport,
)

__all__ = [
    "RECORD_MODELS",
    "ArchiveImport",
    "Arm",
    "Attachment",
    "Cartridge",
    "ComplaintCorrection",
    "Correctable",
    "Deck",
    "Fault",
    "Gauge",
    "Intake",
    "IssuedPlate",
    "IssuedReport",
    "Job",
    "LedgerEntry",
    "Owner",
    "OwnerDetails",
    "OwnerDetailsChange",
    "QuantityField",
    "Reading",
    "Record",
    "Scale",
    "ScaleCheck",
    "Stage",
    "TargetChoice",
]
