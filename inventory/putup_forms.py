"""What is asked when pieces are wound off into other put-ups."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Stepper
from inventory.putups import LONGEST_REASON, MOST_PIECES, choices_words
from recipes.models import PutUp


class WindForm(forms.Form):
    """How many pieces are taken, how many of each other put-up come of them, and why anything is lost."""

    key = KeyField()
    pieces = forms.IntegerField(
        label="Taken",
        min_value=1,
        max_value=MOST_PIECES,
        initial=1,
        widget=Stepper(attrs={"min": 1, "max": MOST_PIECES}),
        error_messages={"required": "Write how many are taken.", "min_value": "Take at least one piece."},
    )
    why = forms.CharField(
        label="Why grams are lost",
        max_length=LONGEST_REASON,
        required=False,
        help_text="For example “ties and ends”, “a knot cut out”. Needed where anything is lost.",
    )

    def __init__(self, *args: Any, free: int, put_ups: Sequence[PutUp], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.put_ups = list(put_ups)
        self.fields["pieces"].help_text = f"{free} free."
        for put_up, words in zip(self.put_ups, choices_words(self.put_ups), strict=True):
            self.fields[self.count_name(put_up)] = forms.IntegerField(
                label=words,
                min_value=0,
                max_value=MOST_PIECES,
                required=False,
                widget=Stepper(attrs={"min": 0, "max": MOST_PIECES}),
            )

    @staticmethod
    def count_name(put_up: PutUp) -> str:
        return f"made_{put_up.pk}"

    @property
    def count_fields(self) -> list[forms.BoundField]:
        return [self[self.count_name(put_up)] for put_up in self.put_ups]

    @property
    def made(self) -> dict[PutUp, int]:
        """The new pieces by put-up, those of none left out; of what could be read so far."""
        said = getattr(self, "cleaned_data", {})
        counts = {put_up: said.get(self.count_name(put_up)) or 0 for put_up in self.put_ups}
        return {put_up: count for put_up, count in counts.items() if count}
