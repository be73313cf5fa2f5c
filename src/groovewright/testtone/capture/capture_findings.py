"""What one part of the analysis of a capture found, and how the parts are joined."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field, fields, replace

from groovewright.measurement.quantity import Quantity, Source
from groovewright.testtone.capture.capture_pictures import CapturePictures
from groovewright.testtone.capture.capture_result import CAPTURE_NAMES, ListedQuantity
from groovewright.testtone.sheet.allowances import cut_source

Found = Quantity | tuple[ListedQuantity, ...]


@dataclass(frozen=True)
class Findings:
    """Quantities by name, reasons for those that could not be shown, notes and pictures of one part."""

    quantities: Mapping[str, Found] = field(default_factory=dict)
    not_shown: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    pictures: CapturePictures = field(default_factory=CapturePictures)
    channel_polarity: str = ""


def none_of(names: Iterable[str], why: str) -> Findings:
    """Return findings that show none of these quantities, for one reason."""
    return Findings(not_shown=dict.fromkeys(names, sentence(why)))


def joined(parts: Iterable[Findings]) -> Findings:
    """Return the findings of all parts, quantities in the order of `CAPTURE_NAMES` and each note once.

    Lists of one name become one list.
    """
    every = list(parts)
    quantities: dict[str, Found] = {}
    for part in every:
        for name, held in part.quantities.items():
            quantities[name] = _longer(quantities.get(name, ()), held)
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
        channel_polarity="".join(part.channel_polarity for part in every),
    )


def _longer(before: Found, more: Found) -> Found:
    return before + more if isinstance(before, tuple) and isinstance(more, tuple) else more


def with_own_sources(
    found: Findings, capture_name: str, shared: Collection[str], record_name: str = "this test record"
) -> Findings:
    """Return findings whose sources of uncertainty name the capture, all but those that captures share.

    Bands have the same names in every capture of a record; noise that named its band alone would be taken for one
    error in two captures. What the record's cut is off by is one error in all of them.
    """

    def own(quantity: Quantity) -> Quantity:
        return _own(
            quantity, capture_name, lambda label: label in shared or label.endswith(cut_source("", record_name))
        )

    return replace(
        found,
        quantities={
            name: own(held)
            if isinstance(held, Quantity)
            else tuple(
                replace(
                    entry,
                    quantity=own(entry.quantity),
                    at=own(entry.at),
                )
                for entry in held
            )
            for name, held in found.quantities.items()
        },
    )


def _own(quantity: Quantity, capture_name: str, is_shared: Callable[[str], bool]) -> Quantity:
    if quantity.components is None:
        return quantity
    return replace(
        quantity,
        components={
            source if is_shared(source.label) else _named(source, capture_name): contribution
            for source, contribution in quantity.components.items()
        },
    )


def _named(source: Source, capture_name: str) -> Source:
    label, ensemble = (
        text if not text or capture_name in text else f"{text}, {capture_name}"
        for text in (source.label, source.ensemble)
    )
    return replace(source, label=label, ensemble=ensemble)


def sentence(text: str) -> str:
    """Return a text with a capital at its start and a full stop at its end.

    >>> sentence("band 'A' is silent; check where it starts")
    "Band 'A' is silent; check where it starts."
    """
    return text[:1].upper() + text[1:].rstrip(".") + "."
