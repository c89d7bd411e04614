"""What is asked for stock from before the house: a list to choose, and dyed yarn typed in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.ledger.models import Place
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import User
from dyehouse.studio.widgets import Segmented
from inventory.opening.cells import LONGEST_CODE, Cells
from inventory.opening.rows import GRADES
from inventory.queries import shelf_places
from recipes.models import Colourway, PutUp
from recipes.yarn_forms import pieces_field, put_up_words

NEW = "new"


class DyedForm(forms.Form):
    """Dyed yarn that was there before the house."""

    key = KeyField()
    colourway = forms.ChoiceField(label="Colourway", error_messages={"required": "Choose the colourway."})
    name = forms.CharField(
        label="Name of the new colourway", max_length=80, required=False, help_text="Where it is a new one."
    )
    put_up = forms.ChoiceField(label="Yarn", error_messages={"required": "Choose the base and its put-up."})
    pieces = pieces_field(initial=1)
    grade = forms.ChoiceField(
        label="How it came out",
        choices=[(grade, grade) for grade in GRADES],
        initial="good",
        widget=Segmented,
    )
    lot = forms.CharField(
        label="Code of the dye lot",
        max_length=30,
        required=False,
        help_text=f"Up to {LONGEST_CODE} letters and figures. Empty takes a new code to write on the tag.",
    )
    place = forms.ChoiceField(label="Where it is", required=False)
    dyed_on = forms.DateField(
        label="Dyed on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2026-03-14."},
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.colourways = {str(each.pk): each for each in Colourway.objects.filter(retired_at=None)}
        put_ups = PutUp.objects.filter(retired_at=None, base__retired_at=None).select_related("base", "item")
        self.put_ups = {str(each.pk): each for each in put_ups.order_by("base__name", "-nominal_milligrams")}
        self.places = {str(each.pk): each for each in shelf_places()}
        named = sorted(
            ((pk, each.shown_name(user)) for pk, each in self.colourways.items()),
            key=lambda one: one[1].casefold(),
        )
        self._choose("colourway", [(NEW, "a new one, named below"), *named])
        self._choose(
            "put_up", [(pk, f"{each.base.name}, {put_up_words(each)}") for pk, each in self.put_ups.items()]
        )
        self._choose(
            "place",
            [("", "dry, waits for a shelf"), *((pk, place.name) for pk, place in self.places.items())],
        )

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def clean_lot(self) -> str:
        cells = Cells(0, {"lot": self.cleaned_data["lot"]})
        code = cells.code("lot")
        if cells.wrong:
            raise forms.ValidationError(cells.wrong[0].sentence)
        return code

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        dyed_on = said.get("dyed_on")
        if dyed_on is not None and dyed_on > timezone.localdate():
            self.add_error("dyed_on", "This day is still to come. Write the day on which it was dyed.")
        if said.get("colourway") == NEW and not said.get("name", "").strip():
            self.add_error("name", "Write the name of the new colourway, or choose one above.")
        return said

    @property
    def chosen_colourway(self) -> Colourway | None:
        """The colourway chosen from the list; None for a new one."""
        return self.colourways.get(self.cleaned_data["colourway"])

    @property
    def chosen_put_up(self) -> PutUp:
        return self.put_ups[self.cleaned_data["put_up"]]

    @property
    def chosen_place(self) -> Place | None:
        return self.places.get(self.cleaned_data["place"])
