"""The ledger: one line for every row of the record, each line sealed with the one before."""

from __future__ import annotations

from django.db import models


class LedgerEntry(models.Model):
    """One line. `digest` seals this line and, through `previous_digest`, all before it."""

    sequence = models.BigIntegerField(primary_key=True)
    table = models.CharField(max_length=64)
    row_key = models.BigIntegerField()
    content_digest = models.CharField(max_length=64)
    previous_digest = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)

    class Meta:
        """A row of the record has one line."""

        db_table = "jobbook_ledger"
        constraints = (models.UniqueConstraint(fields=["table", "row_key"], name="one_ledger_line_per_row"),)

    def __str__(self) -> str:
        return f"line {self.sequence}: {self.table} row {self.row_key}"
