"""What is typed before a report is issued."""

from __future__ import annotations

from django import forms

PAPERS = {"a4": "A4", "us-letter": "Letter"}


class IssueForm(forms.Form):
    """Who did the work, what was done besides, and the paper."""

    workshop = forms.CharField(
        label="Workshop",
        max_length=200,
        help_text="As it stands at the head of the report.",
        error_messages={"required": "A report says who made it: type the name of the workshop."},
    )
    done = forms.CharField(
        label="What was done besides",
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="A sentence a line. What the readings show stands in the report already.",
    )
    paper = forms.ChoiceField(label="Paper", choices=list(PAPERS.items()))

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)
        self.fields["workshop"].widget.attrs.pop("maxlength")
        self.fields["done"].widget.attrs.pop("maxlength")

    def facts(self) -> dict[str, object]:
        """Return what the report needs besides the record."""
        typed = self.cleaned_data
        lines = tuple(line.strip() for line in typed["done"].splitlines() if line.strip())
        return {"workshop": typed["workshop"], "done": lines, "paper": typed["paper"]}
