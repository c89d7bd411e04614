"""What is asked about kits: their parts in order, how many to build, and what to put into one of a kind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms

from dyehouse.ledger.models import Place
from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented, Stepper
from inventory.kits import MOST_AT_ONCE, PartWanted
from inventory.models import Kit
from inventory.queries import Lying
from recipes.models import Colourway, PutUp

EMPTY_ROWS = 6
MOST_PARTS = 60
MOST_PIECES = 50


class KitForm(forms.Form):
    """A kit's name and what it is."""

    name = forms.CharField(
        label="Called",
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write what the kit is called."},
    )
    kind = forms.ChoiceField(
        label="It is a", choices=Kit.Kind.choices, initial=Kit.Kind.KIT, widget=Segmented
    )


class KitPartForm(forms.Form):
    """One place in the order: a colourway on a yarn, so many pieces. A row left empty is no part."""

    colourway = forms.ModelChoiceField(
        label="Colourway", queryset=Colourway.objects.none(), required=False, empty_label="none"
    )
    put_up = forms.ModelChoiceField(
        label="Yarn", queryset=PutUp.objects.none(), required=False, empty_label="none"
    )
    pieces = forms.IntegerField(
        label="Pieces",
        min_value=1,
        max_value=MOST_PIECES,
        initial=1,
        required=False,
        widget=Stepper(attrs={"min": 1, "max": MOST_PIECES}),
    )

    def __init__(self, *args: Any, choices: KitChoices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choices = choices
        colourway: forms.ModelChoiceField = self.fields["colourway"]  # type: ignore[assignment]
        colourway.queryset = choices.all_colourways
        colourway.choices = [("", "none"), *choices.colourways]
        put_up: forms.ModelChoiceField = self.fields["put_up"]  # type: ignore[assignment]
        put_up.queryset = choices.all_put_ups
        put_up.choices = [("", "none"), *choices.put_ups]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        colourway, put_up = said.get("colourway"), said.get("put_up")
        if colourway and not put_up and "put_up" not in self.errors:
            self.add_error("put_up", "Choose the yarn of this part, or empty the row.")
        if put_up and not colourway and "colourway" not in self.errors:
            self.add_error("colourway", "Choose the colourway of this part, or empty the row.")
        return said


class KitChoices:
    """The colourways and put-ups that a part may be of, read once for all rows."""

    def __init__(self, colourways: Sequence[tuple[Colourway, str]], put_ups: Sequence[PutUp]) -> None:
        self.colourways = [(each.pk, name) for each, name in colourways]
        self.put_ups = [(each.pk, str(each)) for each in put_ups]
        self.all_colourways = Colourway.objects.filter(retired_at__isnull=True)
        self.all_put_ups = PutUp.objects.filter(retired_at__isnull=True).select_related("base")


KitParts = forms.formset_factory(KitPartForm, extra=EMPTY_ROWS, max_num=MOST_PARTS)


def parts_wanted(rows: Iterable[forms.Form]) -> list[PartWanted]:
    """The parts that were written, in their order."""
    return [
        PartWanted(said["colourway"], said["put_up"], said.get("pieces") or 1)
        for said in (row.cleaned_data for row in rows)
        if said.get("colourway") and said.get("put_up")
    ]


class BuildForm(forms.Form):
    """How many kits, and where they go."""

    key = KeyField()
    count = forms.IntegerField(
        label="Kits",
        min_value=1,
        max_value=MOST_AT_ONCE,
        initial=1,
        error_messages={"required": "Write how many to build."},
    )
    place = forms.ChoiceField(
        label="They go to", widget=Segmented, error_messages={"required": "Choose where they go."}
    )

    def __init__(self, *args: Any, places: Sequence[Place], most: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.places = {str(place.pk): place for place in places}
        place: forms.ChoiceField = self.fields["place"]  # type: ignore[assignment]
        place.choices = [(pk, each.name) for pk, each in self.places.items()]
        place.initial = next(iter(self.places), None)
        self.fields["count"].widget = Stepper(attrs={"min": 1, "max": max(1, min(most, MOST_AT_ONCE))})
        self.fields["count"].initial = max(1, min(most, MOST_AT_ONCE))

    @property
    def chosen_place(self) -> Place:
        return self.places[self.cleaned_data["place"]]


class OneKitForm(forms.Form):
    """The pieces of a one-of-a-kind kit: how many of each that lies there."""

    key = KeyField()
    name = forms.CharField(
        label="Called",
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write what the kit is called."},
    )
    place = forms.ChoiceField(
        label="It goes to", widget=Segmented, error_messages={"required": "Choose where it goes."}
    )

    def __init__(self, *args: Any, lying: Sequence[Lying], places: Sequence[Place], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lying = list(lying)
        self.places = {str(place.pk): place for place in places}
        place: forms.ChoiceField = self.fields["place"]  # type: ignore[assignment]
        place.choices = [(pk, each.name) for pk, each in self.places.items()]
        place.initial = next(iter(self.places), None)
        for row in self.lying:
            free = row.pieces - row.held
            self.fields[self.count_name(row)] = forms.IntegerField(
                label=f"{row.name}, {row.dyed.put_up}, lot {row.lot.code}",
                help_text=f"{free} free in {row.place.name}.",
                min_value=0,
                max_value=free,
                initial=0,
                required=False,
                widget=Stepper(attrs={"min": 0, "max": free}),
                error_messages={"max_value": f"Only {free} of these are free."},
            )

    @staticmethod
    def count_name(row: Lying) -> str:
        return f"take_{row.dyed.pk}_{row.lot.pk}_{row.place.pk}"

    @property
    def count_fields(self) -> list[forms.BoundField]:
        return [self[self.count_name(row)] for row in self.lying]

    @property
    def chosen(self) -> list[tuple[Lying, int]]:
        return [
            (row, pieces)
            for row in self.lying
            if (pieces := self.cleaned_data.get(self.count_name(row)) or 0)
        ]

    @property
    def chosen_place(self) -> Place:
        return self.places[self.cleaned_data["place"]]
