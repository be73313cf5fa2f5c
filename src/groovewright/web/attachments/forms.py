"""What is uploaded to a job."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.web.attachments.file_types import ALLOWED, LARGEST_BYTES, media_type_of

LONGEST_NAME = 150


class AttachmentForm(forms.Form):
    """One file, checked by its content."""

    file = forms.FileField(
        label="Photo or file",
        help_text=f"{ALLOWED[0].upper()}{ALLOWED[1:]}, up to {LARGEST_BYTES // 1024**2} MB.",
        error_messages={
            "required": "Choose a file first.",
            "empty": "The file is empty; choose it again.",
            "max_length": "The name of the file is too long; shorten it.",
        },
    )

    def clean_file(self) -> Any:
        """Refuse what is too large or no kind of file that a job keeps."""
        upload = self.cleaned_data["file"]
        name = PurePosixPath(upload.name).name[-LONGEST_NAME:]
        if upload.size > LARGEST_BYTES:
            raise ValidationError(
                f"{name} has {upload.size / 1024**2:.0f} MB; a job keeps files of up to {LARGEST_BYTES // 1024**2} MB. "
                "Shorten it or save it smaller."
            )
        content = upload.read()
        media_type = media_type_of(content)
        if media_type is None:
            raise ValidationError(f"{name} is none of the files a job keeps: {ALLOWED}. Save it as one of these.")
        return {"name": name, "media_type": media_type, "content": content}
