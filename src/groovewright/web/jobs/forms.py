"""What is typed on the list of jobs, and the archive that is brought in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

LARGEST_ARCHIVE_BYTES = 256 * 1024**2


class SearchForm(forms.Form):
    """Words to find, and the page of the list."""

    search = forms.CharField(required=False, max_length=200)
    page = forms.IntegerField(required=False, min_value=1, max_value=1_000_000)


class ArchiveForm(forms.Form):
    """One archive of jobs."""

    archive = forms.FileField(
        label="Archive",
        help_text=f"A zip file that was saved from a report page, up to {LARGEST_ARCHIVE_BYTES // 1024**2} MB.",
        error_messages={"required": "Choose an archive first.", "empty": "The archive is empty; save it again."},
    )

    def clean_archive(self) -> Any:
        """Refuse what is too large before it is read."""
        upload = self.cleaned_data["archive"]
        if upload.size > LARGEST_ARCHIVE_BYTES:
            raise ValidationError(
                f"The archive has {upload.size / 1024**2:.0f} MB; {LARGEST_ARCHIVE_BYTES // 1024**2} MB is the most "
                "that is taken here. Use the command: groovewright job import FILE."
            )
        return upload.read()
