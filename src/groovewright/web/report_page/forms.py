"""What is typed before a report is issued."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.jobbook.models import Attachment
from groovewright.report.parts import MAX_PHOTOS, HandOver
from groovewright.report.pictures import PICTURE_TYPES
from groovewright.tonearm.input_ranges import STYLUS_HOURS
from groovewright.web.intake.forms import paragraph, words

PAPERS = {"a4": "A4", "us-letter": "Letter"}
PARTS = {
    "both": "The customer's part, then the technical part",
    "customer": "The customer's part alone, two pages at most",
    "technical": "The technical part alone",
}
RULE_OF_THUMB = "Rule of thumb: have the stylus looked at every 500 hours and the set-up checked once a year."


class IssueForm(forms.Form):
    """Who did the work, what was done besides, when to come back, the photos, and what is printed."""

    workshop = words("Name of the workshop", longest=200, required=True, example="Your workshop")
    workshop.error_messages["required"] = "A report says who made it: type the name of the workshop."
    done = paragraph("What was done besides", help_text="A sentence a line. Moves and readings are in the record.")
    parts_fitted = paragraph("Parts fitted", rows=2, help_text="One a line.")
    time_spent = words("Time spent", longest=100, example="2 h 30 min")
    come_back_hours = forms.IntegerField(
        label="Come back after, hours of playing",
        required=False,
        min_value=1,
        max_value=int(STYLUS_HOURS.highest),
        help_text=f"{RULE_OF_THUMB} Leave both empty to say nothing.",
        error_messages={"invalid": "Type whole hours, for example 500."},
    )
    come_back_on = forms.DateField(
        label="or by",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Type a day as year-month-day, for example 2031-05-04."},
    )
    part = forms.ChoiceField(label="Print", choices=list(PARTS.items()), initial="both", required=False)
    paper = forms.ChoiceField(label="Paper", choices=list(PAPERS.items()), initial="a4", required=False)
    print_codes = forms.BooleanField(
        label="Print the code of each such character in its place, for example ‹U+1E900›.", required=False
    )

    def __init__(
        self, *args: Any, attachments: Sequence[Attachment] = (), has_letterhead: bool = False, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.pictures = [row for row in attachments if row.media_type in PICTURE_TYPES]
        if has_letterhead:
            del self.fields["workshop"]
        for row in self.pictures:
            self.fields[f"photo-{row.pk}"] = forms.BooleanField(label=row.name, required=False)
            self.fields[f"caption-{row.pk}"] = words(f"Caption of {row.name}", longest=200, example="What it shows")

    @classmethod
    def beginning_with(cls, said: HandOver, **options: Any) -> IssueForm:
        """Return the form as it begins: with what was said before, or what is proposed."""
        form = cls(**options)
        form.initial = {
            "done": "\n".join(said.done),
            "parts_fitted": "\n".join(said.parts_fitted),
            "time_spent": said.time_spent,
            "come_back_hours": None if said.come_back_hours is None else round(said.come_back_hours),
            "come_back_on": said.come_back_on,
            "part": said.part,
            "paper": said.paper,
        }
        for row in form.pictures:
            if str(row.uid) in said.photos:
                form.initial[f"photo-{row.pk}"] = True
                form.initial[f"caption-{row.pk}"] = said.photos[str(row.uid)]
        return form

    @property
    def photo_fields(self) -> list[tuple[Attachment, Any, Any]]:
        """Each photo of the job with its box and its caption."""
        return [(row, self[f"photo-{row.pk}"], self[f"caption-{row.pk}"]) for row in self.pictures]

    def clean(self) -> dict[str, Any]:
        """Refuse more photos than the customer's part can hold."""
        typed = super().clean() or {}
        chosen = [row for row in self.pictures if typed.get(f"photo-{row.pk}")]
        if len(chosen) > MAX_PHOTOS:
            raise ValidationError(
                f"{len(chosen)} photos are chosen; the customer's part has room for {MAX_PHOTOS}. Leave some out."
            )
        return typed

    def hand_over(self) -> HandOver:
        """Return what the report says besides the record."""
        typed = self.cleaned_data
        return HandOver(
            done=_lines(typed["done"]),
            parts_fitted=_lines(typed["parts_fitted"]),
            time_spent=typed["time_spent"].strip(),
            come_back_hours=typed["come_back_hours"],
            come_back_on=typed["come_back_on"],
            photos={
                str(row.uid): typed[f"caption-{row.pk}"].strip() for row in self.pictures if typed[f"photo-{row.pk}"]
            },
            part=typed["part"] or "both",
            paper=typed["paper"] or "a4",
        )


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())
