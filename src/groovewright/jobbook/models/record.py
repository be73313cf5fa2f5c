"""What every row of the record has: an identity, a time, and quantities that keep their sources."""

from __future__ import annotations

import json
import uuid
from datetime import datetime
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models

from groovewright.measurement.quantity import Quantity

QUANTITIES_REMEMBERED = 16_384


@lru_cache(maxsize=QUANTITIES_REMEMBERED)
def _quantity_of(stored: str) -> Quantity | None:
    """Return the quantity that a stored text stands for; a job's pages and the list read the same rows again."""
    record = json.loads(stored)
    return None if record is None else Quantity.from_record(record)


class QuantityField(models.JSONField):
    """A column that holds a `Quantity` with all its sources, and gives a `Quantity` back."""

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Quantity | None:
        """Return the quantity that a stored record stands for."""
        if isinstance(value, str):
            return _quantity_of(value)
        # PostgreSQL's driver may hand over the record itself.
        record = super().from_db_value(value, expression, connection)
        return None if record is None else Quantity.from_record(record)

    def get_prep_value(self, value: Any) -> Any:
        """Return what is stored: the record with all sources."""
        return super().get_prep_value(value.as_record() if isinstance(value, Quantity) else value)


class Record(models.Model):
    """A row that is written once and never changed.

    `recorded_at` is when it was first written down; `recorded_zone` is the time zone of the bench where that was,
    so that a job brought in from another place still shows the hour its reader saw.
    """

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    recorded_at = models.DateTimeField()
    recorded_zone = models.CharField(max_length=64)

    class Meta:
        """Not a table of its own."""

        abstract = True

    @property
    def recorded_local(self) -> datetime:
        """The time of the entry on the clock of the bench where it was made."""
        return self.recorded_at.astimezone(ZoneInfo(self.recorded_zone))


class Correctable(Record):
    """A record that a later row may correct. A row is corrected at most once; correct the correction after that."""

    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    class Meta:
        """Not a table of its own."""

        abstract = True

    @property
    def is_current(self) -> bool:
        """Whether no later row corrects this one."""
        return not hasattr(self, "corrected_by")

    def current(self) -> Correctable:
        """Return the row that stands now: this one, or the last of those that correct it."""
        row = self
        while not row.is_current:
            row = row.corrected_by
        return row
