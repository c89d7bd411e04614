"""Invented things for the page of components."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.studio.drawing import ICONS
from dyehouse.studio.widgets import Amount, Segmented, Stepper
from recipes.dyeing.working import Source, Standing, Working


class ShownForm(forms.Form):
    """One of each kind of field, two of them with something wrong."""

    name = forms.CharField(
        label="Name of the base", help_text="As you call it. It can be changed.", max_length=40
    )
    spun_in = forms.CharField(label="Spun in", required=False)
    dry = forms.DecimalField(
        label="Dry weight", widget=Amount("g"), help_text="All pieces together, before soaking."
    )
    pieces = forms.IntegerField(label="Pieces", min_value=1, max_value=40, initial=5, widget=Stepper)
    bath = forms.ChoiceField(
        label="How the bath came out",
        choices=[("clear", "Clear"), ("tinted", "Tinted"), ("coloured", "Coloured")],
        initial="clear",
        widget=Segmented,
    )
    dye_class = forms.ChoiceField(
        label="Class", choices=[("a", "acid, class unknown"), ("b", "milling acid")]
    )
    words = forms.CharField(label="In words", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    photo = forms.FileField(label="Photo in daylight", required=False)
    superwash = forms.BooleanField(label="Superwash", required=False)


@dataclass(frozen=True)
class ShownColourway:
    name: str
    code: str
    chips: tuple[str, ...]
    words: str


COLOURWAYS = (
    ShownColourway("Quince Paste", "K7M2X", ("#b9541f", "#d98a3d", "#8c3a1c"), "semi-solid"),
    ShownColourway("Slack Water", "T4HQ9", ("#2f5d6b", "#7fa3a6", "#c9cfc4", "#1d3a4a"), "variegated"),
    ShownColourway("Sloe", "W3PDA", ("#3b2a4f",), "tonal"),
    ShownColourway("Lichen on Slate", "R8CFN", ("#5b6266", "#c3b546", "#8d9399"), "speckled"),
)

DEPTH = Working(
    title="Dye for the pot",
    formula="dry weight × depth of shade",
    substitution="500 g × 1.5 %",
    result="7.5 g",
    source=Source("Depth of shade is a share of the dry fibre's weight", Standing.DERIVED),
)


def everything() -> dict[str, Any]:
    """What the page of components shows."""
    now = timezone.now()
    return {
        "form": ShownForm(),
        "wrong_form": ShownForm(
            {"name": "", "dry": "a lot", "pieces": "5", "bath": "tinted", "dye_class": "a"}
        ),
        "colourways": COLOURWAYS,
        "depth": DEPTH,
        "icons": list(ICONS),
        "now": now,
        "yesterday": now - timedelta(days=1),
        "last_week": now - timedelta(days=6),
    }
