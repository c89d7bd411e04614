"""What is asked when pieces turn out to be something else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from dyehouse.ledger.models import Balance, Held
from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented, Stepper
from inventory.queries import Lying
from inventory.stages import ANOTHER, LONGEST_REASON, Instead

FREE = "free"


class AnotherForm(forms.Form):
    """How many, what they are now, why; and for held ones, what is held in their place."""

    key = KeyField()
    pieces = forms.IntegerField(
        label="Pieces", min_value=1, initial=1, error_messages={"required": "Write how many."}
    )
    outcome = forms.ChoiceField(
        label="They are now", widget=Segmented, error_messages={"required": "Choose what they are now."}
    )
    why = forms.CharField(
        label="Why",
        max_length=LONGEST_REASON,
        error_messages={"required": "Say in a few words why, for example “a streak shows in daylight”."},
    )
    of = forms.ChoiceField(label="Which of them", widget=Segmented, initial=FREE, required=False)
    instead = forms.ChoiceField(label="Held in their place", required=False)

    def __init__(
        self,
        *args: Any,
        row: Lying,
        held: Sequence[Held],
        instead: Mapping[int, Sequence[Instead]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.held = {str(each.pk): each for each in held}
        self.in_place = {str(each.row.pk): each.row for found in instead.values() for each in found}
        self.fields["pieces"].widget = Stepper(attrs={"min": 1, "max": row.pieces})
        free = row.pieces - row.held
        self.fields["pieces"].help_text = f"{row.pieces} are here, {free} free."
        outcome: forms.ChoiceField = self.fields["outcome"]  # type: ignore[assignment]
        outcome.choices = [(slug, words) for slug, words in ANOTHER.items() if slug != row.dyed.grade]
        if not held:
            del self.fields["of"], self.fields["instead"]
            return
        which: forms.ChoiceField = self.fields["of"]  # type: ignore[assignment]
        which.choices = [
            (FREE, f"{free} free"),
            *((pk, f"held for {each.claim}") for pk, each in self.held.items()),
        ]
        words = {str(each.row.pk): each.words for found in instead.values() for each in found}
        choice: forms.ChoiceField = self.fields["instead"]  # type: ignore[assignment]
        choice.choices = [("", "choose"), *words.items()]

    @property
    def chosen_held(self) -> Held | None:
        return self.held.get(self.cleaned_data.get("of", ""))

    @property
    def chosen_instead(self) -> Balance | None:
        return self.in_place.get(self.cleaned_data.get("instead", ""))
