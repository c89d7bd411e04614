"""What is asked about shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from dyehouse.ledger.models import Place
from dyehouse.studio.keys import KeyField
from dyehouse.studio.money import MoneyField
from dyehouse.studio.widgets import Stepper
from inventory.shows.after import SortResult
from inventory.shows.planning import LONGEST_NAME, LONGEST_NOTE, MOST_PIECES
from inventory.shows.queries import NormalPage
from inventory.shows.things import Named, Sort, sort_from

WHERE_IT_LAY = "home"


class ShowForm(forms.Form):
    """What a show is called, where and when it is."""

    name = forms.CharField(
        label="Called", max_length=LONGEST_NAME, error_messages={"required": "Write what the show is called."}
    )
    where = forms.CharField(label="Where", max_length=80, required=False)
    starts_on = forms.DateField(
        label="First day",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "Write the day it starts.",
            "invalid": "Write the day as year-month-day, for example 2027-05-15.",
        },
    )
    ends_on = forms.DateField(
        label="Last day",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Empty: it is one day.",
        error_messages={"invalid": "Write the day as year-month-day, for example 2027-05-16."},
    )
    note = forms.CharField(
        label="Note", max_length=LONGEST_NOTE, required=False, help_text="The booth’s number, when to set up."
    )


class CloseForm(forms.Form):
    """Where what came back goes, and what is known of what did not."""

    key = KeyField()
    to = forms.ChoiceField(label="What came back goes", required=False)
    rest_is_gone = forms.BooleanField(label="What was not counted did not come back", required=False)
    why = forms.CharField(
        label="What is known of what is missing",
        max_length=300,
        required=False,
        help_text="Needed where anything is missing, for example “taken from the booth on Sunday”.",
    )

    def __init__(self, *args: Any, places: Sequence[Place], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.places = {str(place.pk): place for place in places}
        choice: forms.ChoiceField = self.fields["to"]  # type: ignore[assignment]
        choice.choices = [
            (WHERE_IT_LAY, "back to where each piece lay"),
            *((pk, f"all to {place.name}") for pk, place in self.places.items()),
        ]

    @property
    def chosen_place(self) -> Place | None:
        return self.places.get(self.cleaned_data["to"])


class WhyForm(forms.Form):
    """Something is taken back, with a reason."""

    key = KeyField()
    why = forms.CharField(
        label="Why",
        max_length=300,
        error_messages={"required": "Say why this is taken back, in a word or two."},
    )


class TakingsForm(forms.Form):
    """What a show took in money."""

    minor = MoneyField(label="Takings", required_words="Write what was taken, for example 1240.50.")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: MoneyField = self.fields["minor"]  # type: ignore[assignment]
        field.currency = currency


class NumbersForm(forms.Form):
    """Normal numbers, row by row; 0 forgets one."""

    def __init__(self, *args: Any, rows: Sequence[tuple[Sort, Named, int]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sorts: dict[str, Sort] = {}
        self.named: dict[str, Named] = {}
        for sort, named, pieces in rows:
            name = f"n_{sort.key}"
            self.sorts[name], self.named[name] = sort, named
            self.fields[name] = forms.IntegerField(
                label=str(named),
                min_value=0,
                max_value=MOST_PIECES,
                initial=pieces,
                widget=forms.NumberInput(attrs={"class": "input count-number", "inputmode": "numeric"}),
                error_messages={
                    "required": "Write a whole number, 0 for none.",
                    "invalid": "Write a whole number, 0 for none.",
                },
            )

    @property
    def number_fields(self) -> list[tuple[Named, forms.BoundField]]:
        return [(named, self[name]) for name, named in self.named.items()]

    @property
    def numbers(self) -> dict[Sort, int]:
        return {sort: self.cleaned_data[name] for name, sort in self.sorts.items()}


class NormalForm(NumbersForm):
    """The normal numbers, and one more sort."""

    more = forms.ChoiceField(label="Also", required=False)
    more_pieces = forms.IntegerField(
        label="How many of it",
        required=False,
        min_value=1,
        max_value=MOST_PIECES,
        widget=Stepper(attrs={"min": 1, "max": MOST_PIECES}),
    )

    def __init__(self, *args: Any, page: NormalPage, **kwargs: Any) -> None:
        rows = [(row.sort, row.named, row.pieces) for row in page.rows]
        super().__init__(*args, rows=rows, **kwargs)
        choice: forms.ChoiceField = self.fields["more"]  # type: ignore[assignment]
        choice.choices = [("", "nothing more"), *page.choices]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("more") and not said.get("more_pieces") and "more_pieces" not in self.errors:
            self.add_error("more_pieces", "Write how many of it usually go.")
        if said.get("more_pieces") and not said.get("more") and "more" not in self.errors:
            self.add_error("more", "Choose what these are of.")
        return said

    @property
    def numbers(self) -> dict[Sort, int]:
        more = sort_from(self.cleaned_data.get("more") or "")
        numbers = super().numbers
        return numbers if more is None else {**numbers, more: self.cleaned_data["more_pieces"]}


class NextForm(NumbersForm):
    """What a show suggests as normal numbers."""

    def __init__(self, *args: Any, sorts: Sequence[SortResult], **kwargs: Any) -> None:
        rows = [(each.sort, each.named, each.next.value) for each in sorts]
        super().__init__(*args, rows=rows, **kwargs)
        self.results = list(sorts)

    @property
    def lines(self) -> list[tuple[SortResult, forms.BoundField]]:
        return [(result, field) for result, (_, field) in zip(self.results, self.number_fields, strict=True)]
