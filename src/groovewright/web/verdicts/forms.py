"""What is typed on the verdicts page: faults that setting up cannot mend."""

from __future__ import annotations

from django import forms

from groovewright.web.readings.forms import STAGES


class FaultForm(forms.Form):
    """Something found faulty."""

    text = forms.CharField(
        label="Fault",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="A plain sentence, as the owner will read it in the report.",
        error_messages={"required": "Say what is faulty."},
    )
    found = forms.ChoiceField(label="Found", choices=list(STAGES.items()), widget=forms.RadioSelect)
