"""What one part of the analysis of a capture found, and how the parts are joined."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields

from groovewright.measurement.quantity import Quantity
from groovewright.testtone.capture_pictures import CapturePictures
from groovewright.testtone.capture_result import CAPTURE_NAMES, ListedQuantity

Found = Quantity | tuple[ListedQuantity, ...]


@dataclass(frozen=True)
class Findings:
    """Quantities by name, reasons for those that could not be shown, notes and pictures of one part."""

    quantities: Mapping[str, Found] = field(default_factory=dict)
    not_shown: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    pictures: CapturePictures = field(default_factory=CapturePictures)


def none_of(names: Iterable[str], why: str) -> Findings:
    """Return findings that show none of these quantities, for one reason."""
    return Findings(not_shown=dict.fromkeys(names, sentence(why)))


def joined(parts: Iterable[Findings]) -> Findings:
    """Return the findings of all parts, quantities in the order of `CAPTURE_NAMES` and each note once."""
    every = list(parts)
    quantities = {name: held for part in every for name, held in part.quantities.items()}
    reasons = {name: why for part in every for name, why in part.not_shown.items()}
    order = [known.name for known in CAPTURE_NAMES]
    return Findings(
        quantities={name: quantities[name] for name in order if name in quantities},
        not_shown={name: reasons[name] for name in order if name in reasons and name not in quantities},
        notes=tuple(dict.fromkeys(sentence(note) for part in every for note in part.notes)),
        pictures=CapturePictures(
            **{
                picture.name: tuple(drawn for part in every for drawn in getattr(part.pictures, picture.name))
                for picture in fields(CapturePictures)
            }
        ),
    )


def sentence(text: str) -> str:
    """Return a text with a capital at its start and a full stop at its end.

    >>> sentence("band 'A' is silent; check where it starts")
    "Band 'A' is silent; check where it starts."
    """
    return text[:1].upper() + text[1:].rstrip(".") + "."
