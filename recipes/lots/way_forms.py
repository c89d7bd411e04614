"""What is asked when a pot becomes a way of dyeing, when a way is corrected, and of a colourway itself."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from django import forms

from dyehouse.studio.amounts import GramsField, LitresField, ScaledField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import Vessel
from dyehouse.studio.widgets import Amount, SegmentedMany
from recipes.colourways import LONGEST_SNIP
from recipes.dyeing.families import FAMILIES
from recipes.dyeing.units import centi_celsius
from recipes.lots.missing import Missing
from recipes.lots.proposing import ProposedRule


def chosen_bases(data: Any, rules: Sequence[ProposedRule]) -> dict[UUID, str]:
    """The basis chosen for each addition, by its entry's key; what is none of the choices is left out."""
    chosen: dict[UUID, str] = {}
    for rule in rules:
        said = data.get(f"basis_{rule.entry.key}", "")
        if rule.is_addition and said in {value for value, _ in rule.choices}:
            chosen[rule.entry.key] = said
    return chosen


ASKED = {
    "text": ("text",),
    "line": ("text",),
    "minutes": ("minutes",),
    "grams": ("grams",),
    "litres": ("litres",),
    "vessel": ("vessel",),
    "heat": ("degrees", "clock", "minutes"),
    "photo": ("photo",),
}
MOST_MINUTES = 20_000


class AnswerForm(forms.Form):
    """One thing that was missing, answered there and then; it has only the fields that it is answered by."""

    key = KeyField()
    slug = forms.CharField(max_length=20, widget=forms.HiddenInput)
    text = forms.CharField(
        max_length=300,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write it in a few words."},
    )
    grams = GramsField(
        label="Weighed dry", most=100_000_000, required_words="Write the grams that the scale shows."
    )
    litres = LitresField(
        label="Litres of bath", required_words="Write the litres of the bath, for example 12."
    )
    degrees = ScaledField(
        places=2, most=Decimal(500), required_words="Write how hot the bath was, for example 85."
    )
    clock = forms.TimeField(
        label="Reached at",
        input_formats=["%H:%M", "%H.%M"],
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={
            "required": "Write when it was reached, for example 14:20.",
            "invalid": "Write the clock time as 14:20.",
        },
    )
    minutes = forms.IntegerField(
        min_value=0,
        max_value=MOST_MINUTES,
        widget=Amount("min"),
        error_messages={
            "required": "Write the minutes, or 0 for not at all.",
            "invalid": "Write whole minutes, for example 30.",
            "min_value": "Minutes are 0 or more.",
            "max_value": "That is more than thirteen days. Check the minutes.",
        },
    )
    vessel = forms.ModelChoiceField(
        Vessel.objects.filter(retired_at__isnull=True).order_by("name"),
        empty_label="Choose the vessel",
        error_messages={"required": "Choose the vessel.", "invalid_choice": "Choose a vessel of the studio."},
    )
    photo = forms.FileField(
        widget=forms.FileInput(attrs={"accept": "image/*"}),
        error_messages={"required": "Take or choose a photo first."},
    )

    def __init__(self, *args: Any, missing: Missing, fahrenheit: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "auto_id": f"{missing.slug}-%s"})
        self.missing, self.fahrenheit = missing, fahrenheit
        asked = ASKED.get(missing.how, ())
        for name in [name for name in self.fields if name not in ("key", "slug", *asked)]:
            del self.fields[name]
        self.fields["slug"].initial = missing.slug
        if "text" in asked:
            self.fields["text"].label = missing.name
            self.fields["text"].widget.attrs["placeholder"] = missing.example
            if missing.choices:
                self.fields["text"].widget.attrs["list"] = f"choices-{missing.slug}"
        if missing.how == "heat":
            self.fields["degrees"].label = "Reached, °F" if fahrenheit else "Reached, °C"
            self.fields["minutes"].label = "Held for"
        elif "minutes" in asked:
            self.fields["minutes"].label = missing.name

    @property
    def asked(self) -> list[forms.BoundField]:
        """The fields in sight."""
        return self.visible_fields()

    def answer(self) -> dict[str, Any]:
        """What was said, as answer_missing takes it."""
        said = self.cleaned_data
        litres, degrees, clock = said.get("litres"), said.get("degrees"), said.get("clock")
        return {
            "text": said.get("text", ""),
            "milligrams": said.get("grams"),
            "microlitres": None if litres is None else litres * 1000,
            "minutes": said.get("minutes"),
            "vessel": said.get("vessel"),
            "centi_celsius": None
            if degrees is None
            else centi_celsius(Decimal(degrees) / 100, fahrenheit=self.fahrenheit),
            "clock": "" if clock is None else f"{clock:%H:%M}",
            "fahrenheit": self.fahrenheit,
        }


class NameForm(forms.Form):
    """A colourway's name."""

    name = forms.CharField(
        label="Name", max_length=80, required=False, help_text="Empty: it goes by its code."
    )


class FamiliesForm(forms.Form):
    """Which colour families a colourway is of."""

    families = forms.MultipleChoiceField(
        label="Colour families",
        required=False,
        choices=[(family.slug, family.name) for family in FAMILIES],
        widget=SegmentedMany,
        help_text="One or more, to find it by.",
    )


class SnipForm(forms.Form):
    """Where the snip of a colourway is kept."""

    snip = forms.CharField(
        label="Where its snip is",
        max_length=LONGEST_SNIP,
        required=False,
        help_text="The book and page, the tin, the ring. Empty: there is none.",
    )


class SecretForm(forms.Form):
    """Until when a colourway is secret."""

    until = forms.DateField(
        label="Secret until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="Until that day helpers, paper and exports show its code. Empty: it is no secret.",
        error_messages={"invalid": "Choose a day."},
    )
