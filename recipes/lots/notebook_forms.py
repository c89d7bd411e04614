"""One recipe from a notebook, typed in: what it is of, what its amounts are for, and a row for each thing that goes in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, cast

from django import forms
from django.forms.formsets import BaseFormSet, formset_factory
from django.utils import timezone

from dyehouse.studio.amounts import GramsField
from dyehouse.studio.images import CleanPhoto, PhotoRefused, accept_photo
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import User
from dyehouse.studio.widgets import Amount, Segmented
from recipes.colourways import LONGEST_SNIP
from recipes.lots.correct_forms import MOST_MICROLITRES, BathField
from recipes.lots.notebook.reading import LONGEST_STEP, NotedPot, NotedRow, WrongCell
from recipes.lots.notebook.taking import Recipe
from recipes.lots.notebook.text import MOST_ROWS
from recipes.lots.notebook.things import IT_IS, Things
from recipes.models import Base, Colourway

NEW = "new"
LONGEST_NOTES = 10_000
FIRST_ROWS = 4
MORE_ROWS = 4


class NotebookForm(forms.Form):
    """Everything of a recipe but its rows."""

    key = KeyField()
    colourway = forms.ChoiceField(label="Colourway")
    name = forms.CharField(
        label="Name of the new colourway",
        max_length=80,
        required=False,
        help_text="Where it is a new one. Empty: it goes by its code.",
    )
    base = forms.ChoiceField(label="Dyed on", error_messages={"required": "Choose the base."})
    per = forms.ChoiceField(
        label="The amounts are for",
        choices=[("100 g", "100 g of dry yarn"), ("pot", "one pot")],
        initial="100 g",
        widget=Segmented,
    )
    dry = GramsField(
        label="Dry weight of the pot", required=False, most=100_000_000, help_text="As far as known."
    )
    bath = BathField(label="Bath", required=False, most=MOST_MICROLITRES)
    pieces = forms.IntegerField(
        label="Pieces in the pot",
        required=False,
        min_value=1,
        max_value=10_000,
        widget=Amount(),
        error_messages={"invalid": "Write a whole number, such as 5."},
    )
    noted_on = forms.DateField(
        label="Written on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2024-03-14."},
    )
    presoak = forms.IntegerField(
        label="Pre-soak",
        required=False,
        min_value=0,
        max_value=20_000,
        widget=Amount("min"),
        error_messages={"invalid": "Write whole minutes, for example 30."},
    )
    vessel = forms.CharField(label="Vessel", max_length=40, required=False)
    lay = forms.CharField(label="How it lies", max_length=300, required=False)
    cooling = forms.CharField(label="Cooling", max_length=120, required=False)
    snip = forms.CharField(label="Where its snip is", max_length=LONGEST_SNIP, required=False)
    words = forms.CharField(
        label="The notes' own words",
        max_length=LONGEST_NOTES,
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="They are kept as they stand. Its lines can be read into rows, one thing a line as at the pot.",
    )
    photo = forms.FileField(
        label="A photo of the page",
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )

    def __init__(self, *args: Any, user: User, things: Things, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.things = things
        self.cleaned_photo: CleanPhoto | None = None
        self.colourways: dict[str, Colourway] = {
            str(each.pk): each for each in things.colourways.values() if each.retired_at is None
        }
        named = sorted(
            ((pk, each.shown_name(user)) for pk, each in self.colourways.items()),
            key=lambda one: one[1].casefold(),
        )
        self._choose("colourway", [(NEW, "a new one"), *named])
        self.bases: dict[str, Base] = {
            str(each.pk): each for each in things.bases.values() if each.retired_at is None
        }
        on = sorted(((pk, each.name) for pk, each in self.bases.items()), key=lambda one: one[1].casefold())
        self._choose("base", [("", "Choose the base"), *on])

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def clean_noted_on(self) -> Any:
        day = self.cleaned_data["noted_on"]
        if day is not None and day > timezone.localdate():
            raise forms.ValidationError("This day is still to come. Write the day of the notes.")
        return day

    def clean_photo(self) -> Any:
        upload = self.cleaned_data["photo"]
        if upload:
            try:
                self.cleaned_photo = accept_photo(upload)
            except PhotoRefused as refused:
                raise forms.ValidationError(str(refused)) from None
        return upload

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if said.get("per") == "100 g":
            for name in ("dry", "pieces"):
                if said.get(name):
                    self.add_error(name, "The amounts are for 100 g. Empty this, or choose one pot above.")
        if said.get("colourway") != NEW and said.get("name"):
            self.add_error("name", "An old colourway is chosen above. Empty this, or choose a new one.")
        return said

    @property
    def pot(self) -> NotedPot:
        said = self.cleaned_data
        return NotedPot(
            per_100g=said["per"] == "100 g",
            dry_milligrams=said["dry"],
            bath_microlitres=said["bath"],
            pieces=said["pieces"],
            presoak_minutes=said["presoak"],
            vessel_name=said["vessel"],
            lay=said["lay"],
            cooling=said["cooling"],
        )

    def recipe(self, rows: Iterable[NotedRow]) -> Recipe:
        """The recipe, once the form is valid."""
        said = self.cleaned_data
        return Recipe(
            base=self.bases[said["base"]],
            pot=self.pot,
            rows=list(rows),
            colourway=self.colourways.get(said["colourway"]),
            new_name=said["name"],
            noted_on=said["noted_on"],
            as_written=said["words"].strip(),
            snip=said["snip"],
        )


class RowForm(forms.Form):
    """One thing that goes in, with its amount; or a step in words."""

    what = forms.CharField(
        label="What goes in",
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs={"list": "things", "autocomplete": "off", "autocapitalize": "none"}),
    )
    amount = forms.CharField(
        label="How much",
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    strength = forms.CharField(
        label="Stock strength",
        max_length=20,
        required=False,
        widget=Amount("%"),
    )
    it_is = forms.ChoiceField(
        label="A new name is",
        required=False,
        choices=[("", "in the store already"), *((words, words) for words in IT_IS)],
    )
    goes = forms.ChoiceField(
        label="Goes with",
        required=False,
        choices=[
            ("", "as such a thing usually goes"),
            ("fibre", "the dry fibre"),
            ("bath", "the litres of bath"),
            ("piece", "the pieces"),
            ("pot", "the pot: the same in each"),
        ],
    )
    minute = forms.CharField(label="At minute", max_length=10, required=False, widget=Amount("min"))
    step = forms.CharField(
        label="Or a step in words",
        max_length=LONGEST_STEP,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    question = ""

    @property
    def goes_in(self) -> list[forms.BoundField]:
        return [self[name] for name in ("what", "amount", "strength")]

    @property
    def besides(self) -> list[forms.BoundField]:
        return [self[name] for name in ("it_is", "minute", "goes")]

    @property
    def more_open(self) -> bool:
        """Whether what is seldom wanted is said or wrong, or a name is not known, so that it stands open."""
        return "what" in self.errors or any(field.value() or field.errors for field in self.besides)


class BaseRows(BaseFormSet):
    """The rows of a recipe; an empty one says nothing."""

    def noted(self) -> list[NotedRow]:
        """The rows as typed, numbered from 1 as they stand."""
        return [
            NotedRow(at, **{name: form.cleaned_data.get(name, "") for name in RowForm.base_fields})
            for at, form in enumerate(self.forms, 1)
        ]

    def say(self, wrong: Iterable[WrongCell]) -> None:
        """Put what is wrong beside its field."""
        for cell in wrong:
            self.forms[cell.row - 1].add_error(cell.column, cell.sentence)


Rows = cast(
    type[BaseRows], formset_factory(RowForm, formset=BaseRows, extra=0, max_num=MOST_ROWS, validate_max=True)
)


class NotesPhotoForm(forms.Form):
    """A photo of the page that a way is from."""

    key = KeyField()
    photo = forms.FileField(
        label="A photo of the page",
        widget=forms.FileInput(attrs={"accept": "image/*"}),
        error_messages={"required": "Take or choose a photo first."},
    )
