"""What is typed of the letterhead, scales, gauges and owners."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from groovewright.jobbook.models import Gauge, Letterhead, Owner, Scale
from groovewright.measurement.quantity import Quantity
from groovewright.report.pictures import LOGO_RULE, printable_logo
from groovewright.tonearm.input_ranges import GAUGE_UNCERTAINTY, SCALE_REPEATABILITY, SCALE_STEP, STYLUS_HEIGHT
from groovewright.web.intake.beside_others import BesideOthersForm
from groovewright.web.intake.forms import paragraph, words
from groovewright.web.intake.quantity_field import QuantityField, typed_again

MAX_LOGO_BYTES = 5 * 1024**2
"""A logo is drawn a few centimetres wide."""


class LetterheadForm(BesideOthersForm):
    """The letterhead of every report from now on."""

    name = words("Name", longest=200, required=True, example="Your workshop")
    address = paragraph("Address", rows=4, help_text="Each line as it is printed.")
    logo = forms.FileField(
        label="Logo of your own",
        required=False,
        help_text=f"{LOGO_RULE[0].upper()}{LOGO_RULE[1:]}; an SVG with its text as outlines.",
        error_messages={"empty": "The file is empty; choose it again."},
    )
    without_logo = forms.BooleanField(label="No logo", required=False)

    @classmethod
    def of(cls, row: Letterhead | None, data: Any = None, files: Any = None) -> LetterheadForm:
        """Return the form as it begins for a letterhead, with what was typed in it if anything was."""
        return cls(data, files=files, initial={} if row is None else {"name": row.name, "address": row.address})

    def clean_name(self) -> str:
        """Refuse a name of spaces alone."""
        name: str = self.cleaned_data["name"].strip()
        return name

    def clean_logo(self) -> tuple[bytes, str] | None:
        """Return the logo as it is kept, with its media type."""
        upload = self.cleaned_data["logo"]
        if upload is None:
            return None
        if upload.size > MAX_LOGO_BYTES:
            raise ValidationError(f"{upload.name} has {upload.size / 1024**2:.0f} MB; a logo has 5 MB at most.")
        content = upload.read()
        try:
            return printable_logo(content, upload.name)
        except ValueError as refusal:
            raise ValidationError(f"{refusal}") from refusal

    def facts(self) -> dict[str, Any]:
        """Return the letterhead as the job book enters one."""
        typed = self.cleaned_data
        facts = {"name": typed["name"], "address": typed["address"], "keep_logo": not typed["without_logo"]}
        if typed["logo"] is not None and not typed["without_logo"]:
            facts["logo"], facts["logo_media_type"] = typed["logo"]
        return facts


class ScaleForm(BesideOthersForm):
    """A scale for the tracking force."""

    description = words("Scale", required=True, example="Scale 2, the flat one")
    resolution = QuantityField(
        "force",
        label="Last step of its display",
        source="resolution of the scale",
        example="0.01 g",
        **SCALE_STEP.ends,
        show_unit="g",
    )
    repeatability = QuantityField(
        "force",
        label="Repeatability",
        source="repeatability of the scale",
        example="0.005 g",
        help_text="One standard deviation, as its maker states it. Used while nothing was read twice.",
        required=False,
        **SCALE_REPEATABILITY.ends,
        show_unit="g",
    )
    platform_height = QuantityField(
        "length",
        label="Height of its platform",
        source="platform height of the scale",
        example="1.9 mm",
        required=False,
        **STYLUS_HEIGHT.ends,
    )
    note = paragraph("Note", rows=2)

    @classmethod
    def of(cls, scale: Scale, data: Any = None) -> ScaleForm:
        """Return the form as it stands for a scale, with what was typed in it if anything was."""
        quantities = ("resolution", "repeatability", "platform_height")
        fields = {name: typed_again(getattr(scale, name)) for name in quantities}
        return cls(data, initial={"description": scale.description, "note": scale.note, **fields})


class GaugeForm(BesideOthersForm):
    """Something that lengths are read with."""

    description = words("Gauge", required=True, example="Steel rule, 300 mm")
    certificate = words("Certificate", longest=200, example="Number and date")
    standard_uncertainty = QuantityField(
        "length",
        label="Standard uncertainty",
        source="standard uncertainty of the gauge",
        example="0.1 mm",
        help_text="Of one reading with it; half of what a certificate states for k = 2.",
        required=False,
        **GAUGE_UNCERTAINTY.ends,
    )
    note = paragraph("Note", rows=2)

    @classmethod
    def of(cls, gauge: Gauge, data: Any = None) -> GaugeForm:
        """Return the form as it stands for a gauge, with what was typed in it if anything was."""
        uncertainty = gauge.standard_uncertainty
        return cls(
            data,
            initial={
                "description": gauge.description,
                "certificate": gauge.certificate,
                "standard_uncertainty": "" if uncertainty is None else _own_uncertainty(uncertainty),
                "note": gauge.note,
            },
        )

    def facts(self) -> dict[str, Any]:
        """Return the gauge as the job book keeps one: an error of 0 that all its readings share."""
        typed = dict(self.cleaned_data)
        stated = typed["standard_uncertainty"]
        if stated is not None:
            # Two gauges of one kind are told apart by their certificates.
            named = ", ".join(part for part in (typed["description"], typed["certificate"]) if part)
            source = f"{named}, its own error"
            typed["standard_uncertainty"] = Quantity.measured(
                0.0, stated.unit, standard_uncertainty=stated.value, source=source, how=stated.how
            )
        return typed


class OwnerForm(BesideOthersForm):
    """Who an owner is."""

    name = words("Name", longest=200)
    contact = paragraph("Contact", rows=3)

    @classmethod
    def of(cls, owner: Owner, data: Any = None) -> OwnerForm:
        """Return the form as it stands for an owner, with what was typed in it if anything was."""
        details = getattr(owner, "details", None)
        return cls(data, initial={"name": details.name, "contact": details.contact} if details else {})


class EraseForm(forms.Form):
    """That the owner really wants it."""

    sure = forms.BooleanField(
        label="The owner has asked for it, and I know that it cannot be undone.",
        error_messages={"required": "Tick the box to delete the details; nothing was deleted."},
    )


def _own_uncertainty(error: Quantity) -> str:
    return f"{error.standard_uncertainty:.6g} {error.unit}"
