"""Captures: a recording of test tones, the band sheets it is read with, and what each reading of it showed."""

from __future__ import annotations

from django.db import models

from groovewright.jobbook.models.job import Job, Stage, TargetChoice
from groovewright.jobbook.models.record import Record


class Capture(Record):
    """A recording of test tones, kept under the hash of its content. It stays here when its job goes elsewhere."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="captures")
    number = models.CharField(max_length=40)
    stage = models.CharField(max_length=12, choices=Stage)
    name = models.CharField(max_length=200)
    size = models.PositiveBigIntegerField()
    file_sha256 = models.CharField(max_length=64)

    class Meta:
        """A number stands once in a job."""

        constraints = (models.UniqueConstraint(fields=["job", "number"], name="one_capture_per_number"),)

    def __str__(self) -> str:
        return f"capture {self.number}"


class CaptureSheet(Record):
    """A band sheet that a capture is analysed with, once. To move a band is to write a new one; the newest stands."""

    class Origin(models.TextChoices):
        """Where the sheet came from."""

        GIVEN = "given"
        MOVED = "bands moved by hand"
        REPEATED = "analysed anew"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    capture = models.ForeignKey(Capture, on_delete=models.PROTECT, related_name="sheets")
    origin = models.CharField(max_length=24, choices=Origin)
    text = models.TextField()
    text_sha256 = models.CharField(max_length=64)
    # The targets that the errors are errors against; None where none were chosen.
    choice = models.ForeignKey(TargetChoice, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"band sheet of {self.capture}"


class CaptureAnalysis(Record):
    """What a capture showed under one band sheet, or the sentence that says why it showed nothing."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="capture_analyses")
    sheet = models.OneToOneField(CaptureSheet, on_delete=models.PROTECT, related_name="analysis")
    program = models.CharField(max_length=40)
    # As `capture_record` writes it; None where the recording or its sheet was refused.
    result = models.JSONField(null=True)
    refusal = models.TextField(blank=True)
    # Arrays of the pictures in a kept file; empty where the recording could not even be read.
    pictures_sha256 = models.CharField(max_length=64, blank=True)

    def __str__(self) -> str:
        return f"analysis of {self.sheet.capture}"
