"""Rows as plain JSON, with identities in place of keys, and back again with every field checked."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Callable
from typing import Any
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.dateparse import parse_date, parse_datetime

from groovewright.files.archive import ArchiveRefused
from groovewright.jobbook.models import (
    RECORD_MODELS,
    ArchiveImport,
    Letterhead,
    OwnerDetailsChange,
    QuantityField,
    Record,
)
from groovewright.measurement.quantity import Quantity

# What concerns this book alone does not travel: a job that goes to another workshop takes no letterhead along.
OF_THIS_BOOK = (ArchiveImport, OwnerDetailsChange, Letterhead)

TABLES: dict[str, type[Record]] = {
    model._meta.model_name: model for model in RECORD_MODELS if model not in OF_THIS_BOOK
}

# Columns that archives made before them lack: empty then, as in the rows of that time.
_ADDED_LATER = {
    "arm": ("build", "adjuster_limits"),
    "intake": ("maximum_risk", "tolerances", "stylus_hours"),
    "reading": ("analysis", "radius_mm", "bearing_deg", "laying"),
}


def plain_row(row: Record) -> dict[str, Any]:
    """Return a row as JSON types; a reference is the identity of the row it names."""
    return {field.name: _plain_value(field, row) for field in row._meta.concrete_fields if field.name != "id"}


def _plain_value(field: models.Field[Any, Any], row: Record) -> Any:
    value = getattr(row, field.name)
    if value is None:
        return None
    if isinstance(field, models.ForeignKey):
        return str(value.uid)
    if isinstance(value, Quantity):
        return json.loads(json.dumps(value.as_record()))
    if isinstance(value, datetime.datetime):
        return value.astimezone(datetime.UTC).isoformat(timespec="microseconds")
    if isinstance(field, models.UUIDField | models.DateField):
        return str(value)
    return value


def row_from_plain(model: type[Record], plain: dict[str, Any], row_named: Callable[[str], Record]) -> Record:
    """Return a new row from JSON types.

    Parameters
    ----------
    row_named : callable
        Gives the row with an identity, or raises ArchiveRefused.

    Raises
    ------
    ArchiveRefused
        If a field is missing, unknown or not of its kind.
    """
    fields = {field.name: field for field in model._meta.concrete_fields if field.name != "id"}
    plain = dict.fromkeys(_ADDED_LATER.get(str(model._meta.model_name), ())) | plain
    odd = set(fields) ^ set(plain)
    if odd:
        raise ArchiveRefused(f"a {model._meta.verbose_name} in the archive lacks or adds the field {min(odd)!r}")
    row = model(**{name: _value(field, plain[name], row_named) for name, field in fields.items()})
    unchecked = [name for name, field in fields.items() if isinstance(field, models.ForeignKey | models.JSONField)]
    try:
        row.clean_fields(exclude=["id", *unchecked])
    except ValidationError as error:
        name, messages = next(iter(error.message_dict.items()))
        raise ArchiveRefused(
            f"a {model._meta.verbose_name} in the archive has an impossible {name} ({messages[0]})"
        ) from error
    if row.recorded_zone not in available_timezones():
        raise ArchiveRefused(f"a row of the archive names the time zone {row.recorded_zone[:40]!r}, which is none")
    return row


def _value(field: models.Field[Any, Any], value: Any, row_named: Callable[[str], Record]) -> Any:
    if value is None:
        if not field.null:
            raise _impossible(field, value)
        return None
    if isinstance(field, models.ForeignKey):
        return _reference(field, value, row_named)
    kind = next(kind for kind in _READERS if isinstance(field, kind))
    read = _READERS[kind](value)
    if read is None:
        raise _impossible(field, value)
    return read


def _reference(field: models.ForeignKey[Any, Any], value: Any, row_named: Callable[[str], Record]) -> Record:
    if not isinstance(value, str):
        raise _impossible(field, value)
    row = row_named(value)
    if not isinstance(row, field.related_model):
        raise ArchiveRefused(f"{field.name} in the archive names a {row._meta.verbose_name}")
    return row


def _impossible(field: models.Field[Any, Any], value: Any) -> ArchiveRefused:
    return ArchiveRefused(
        f"{field.model._meta.verbose_name} in the archive: {field.name} cannot be {str(value)[:60]!r}"
    )


def _quantity(value: Any) -> Quantity | None:
    try:
        quantity = Quantity.from_record(value)
        quantity.standard_uncertainty  # noqa: B018 - overflows here rather than on a page
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        return None
    texts = (quantity.unit, quantity.why_unknown, quantity.how)
    return quantity if all(isinstance(text, str) for text in texts) else None


def _number(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) < 1e300 and math.isfinite(value) else None


def _whole_number(value: Any) -> int | None:
    whole = isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**31
    return value if whole else None


def _text(value: Any) -> str | None:
    # PostgreSQL keeps no NUL in a text.
    return value if isinstance(value, str) and "\0" not in value else None


def _parsed(parse: Callable[[str], Any]) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        try:
            return parse(value) if isinstance(value, str) else None
        except ValueError:
            return None

    return read


def _time(text: str) -> datetime.datetime | None:
    time = parse_datetime(text)
    return time if time is not None and time.tzinfo is not None else None


# The first that fits a field reads it, so what is special stands before what is general.
_READERS: dict[type[models.Field[Any, Any]], Callable[[Any], Any]] = {
    QuantityField: _quantity,
    models.JSONField: lambda value: value,
    models.UUIDField: _parsed(str),
    models.DateTimeField: _parsed(_time),
    models.DateField: _parsed(parse_date),
    models.BooleanField: lambda value: value if isinstance(value, bool) else None,
    models.IntegerField: _whole_number,
    models.FloatField: _number,
    models.TextField: _text,
    models.CharField: _text,
}
