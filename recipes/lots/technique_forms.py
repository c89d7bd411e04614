"""What is touched and typed of a technique at the pot, cleaned to the fields of a log entry."""

from __future__ import annotations

from typing import Any

from django import forms

from dyehouse.studio.amounts import CentimetresField
from recipes.dyeing.potline.doing import MOST_HANKS, MOST_MILLIMETRES, MOST_SECONDS
from recipes.dyeing.potline.sections import LONGEST_SECTION
from recipes.dyeing.techniques import BY_SLUG, TECHNIQUES, Takes
from recipes.lots.technique_taps import read_usual


def _whole(most: int, example: str, what: str) -> forms.IntegerField:
    return forms.IntegerField(
        min_value=1,
        max_value=most,
        required=False,
        error_messages={
            "invalid": f"Write whole {what}, for example {example}.",
            "min_value": f"Write at least 1, for example {example}.",
            "max_value": f"That is more {what} than one would expect. Check the number.",
        },
    )


class TechniqueForm(forms.Form):
    """One technique with its details: those of a usual button, or typed ones."""

    technique = forms.ChoiceField(
        choices=[(each.slug, each.name) for each in TECHNIQUES],
        error_messages={"invalid_choice": "Choose what was done to the yarn."},
    )
    usual = forms.CharField(max_length=40, required=False)
    cm = CentimetresField(most=MOST_MILLIMETRES, required=False)
    seconds = _whole(MOST_SECONDS, "30", "seconds")
    minutes = _whole(MOST_SECONDS // 60, "30", "minutes")
    hanks = _whole(MOST_HANKS, "2", "hanks")
    what = forms.CharField(max_length=60, required=False)
    section = forms.CharField(max_length=LONGEST_SECTION, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        slug = cleaned.get("technique")
        if self.errors or slug is None:
            return cleaned
        typed = {
            "seconds": cleaned["seconds"] or (cleaned["minutes"] * 60 if cleaned["minutes"] else None),
            "millimetres": cleaned["cm"],
            "hanks": cleaned["hanks"],
        }
        usual = read_usual(cleaned["usual"])
        # A length that was typed goes with the usual seconds that were touched.
        details = {name: usual.get(name) or said for name, said in typed.items()}
        if slug == "hold" and not details["seconds"]:
            self.add_error("minutes", "Write how many minutes, for example 20.")
        takes = BY_SLUG[slug].takes
        section = cleaned["section"] if Takes.SECTION in takes and slug not in ("enter", "lift") else ""
        cleaned["fields"] = {**details, "technique": slug, "section": section, "name": cleaned["what"]}
        return cleaned
