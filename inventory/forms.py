"""What is asked when dyed yarn is put away, counted, or written down from before the house."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.ledger.models import Place
from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented, Stepper
from inventory.queries import Lying

MOST_PIECES = 9_999
STAYS, BOOK_IS_WRONG = "stays", "gone"


class PutAwayForm(forms.Form):
    """How many of each put-up and grade go to which shelf place: the count of what is in the hand."""

    key = KeyField()
    place = forms.ChoiceField(
        label="To", widget=Segmented, error_messages={"required": "Choose the place they go to."}
    )
    rest = forms.ChoiceField(
        label="Where fewer are counted, the rest",
        choices=((STAYS, "stays where it is"), (BOOK_IS_WRONG, "is not there: the book is wrong")),
        initial=STAYS,
        widget=Segmented,
        required=False,
    )
    why = forms.CharField(
        label="Why the book is wrong",
        max_length=300,
        required=False,
        help_text="In a few words, for example “one was given away”. Then the book follows the count.",
    )

    def __init__(self, *args: Any, lying: Sequence[Lying], places: Sequence[Place], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lying = list(lying)
        self.places = {str(place.pk): place for place in places}
        choice: forms.ChoiceField = self.fields["place"]  # type: ignore[assignment]
        choice.choices = [(pk, place.name) for pk, place in self.places.items()]
        for row in self.lying:
            self.fields[self.count_name(row)] = forms.IntegerField(
                label=f"{row.dyed.put_up.base.name}, {row.dyed.put_up.nominal_milligrams // 1000} g, {row.grade}",
                min_value=0,
                max_value=MOST_PIECES,
                initial=row.pieces,
                widget=Stepper(attrs={"min": 0, "max": MOST_PIECES}),
                error_messages={"required": "Write how many there are, 0 for none."},
                help_text=f"{row.pieces} by the book, {row.place.name.lower()}.",
            )

    @staticmethod
    def count_name(row: Lying) -> str:
        return f"count_{row.dyed.pk}_{row.place.pk}"

    @property
    def count_fields(self) -> list[forms.BoundField]:
        return [self[self.count_name(row)] for row in self.lying]

    @property
    def chosen_place(self) -> Place:
        return self.places[self.cleaned_data["place"]]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        reason = said.get("why", "").strip()
        if said.get("rest") == BOOK_IS_WRONG and not reason:
            self.add_error("why", "Say in a few words why the book is wrong.")
        for row in self.lying:
            counted = said.get(self.count_name(row))
            if counted is not None and counted > row.pieces and not reason:
                self.add_error(
                    self.count_name(row),
                    f"{counted} are counted and the book has {row.pieces} {row.grade} in {row.place.name}. "
                    "Count again, or say below why the book is wrong.",
                )
        return said

    @property
    def book_follows(self) -> bool:
        """Whether the count is right and the book is not."""
        more = any(self.counts[row.dyed.pk, row.place.pk] > row.pieces for row in self.lying)
        return self.cleaned_data["rest"] == BOOK_IS_WRONG or more

    @property
    def counts(self) -> dict[tuple[int, int], int]:
        """Pieces by the ids of their DyedYarn and of the place they lie at."""
        return {
            (row.dyed.pk, row.place.pk): self.cleaned_data.get(self.count_name(row)) or 0
            for row in self.lying
        }


class CountForm(forms.Form):
    """A count that differs from the book, with its reason."""

    key = KeyField()
    counted = forms.IntegerField(
        label="Really there",
        min_value=0,
        max_value=MOST_PIECES,
        widget=Stepper(attrs={"min": 0, "max": MOST_PIECES}),
        error_messages={"required": "Write how many are really there."},
    )
    why = forms.CharField(
        label="Why",
        max_length=300,
        error_messages={
            "required": "Say in a few words why the count differs, for example “sold at the door”."
        },
    )


class PlaceForm(forms.Form):
    """A new shelf place."""

    name = forms.CharField(
        label="Name of the place",
        max_length=60,
        help_text="As it is written on the shelf, bin or box.",
        error_messages={"required": "Write the name of the place, for example “Shelf A3”."},
    )
