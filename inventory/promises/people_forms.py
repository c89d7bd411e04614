"""What is asked of a person: name and e-mail, the address as the country writes it, likes and what is avoided."""

from __future__ import annotations

from typing import Any

from django import forms

from dyehouse.studio.regions import countries
from dyehouse.studio.widgets import Segmented, SegmentedMany
from inventory.promises.addresses import fields_of, knows_country
from inventory.promises.models import Person
from inventory.promises.people import PersonFacts
from recipes.dyeing.families import FAMILIES
from recipes.dyeing.fibres import FIBRES

FAMILY_CHOICES = [(family.slug, family.name) for family in FAMILIES]
FIBRE_CHOICES = [(fibre.slug, fibre.name) for fibre in FIBRES]
DOUBLES = [("", "no wish"), *Person.Doubles.choices]
OFF = {"autocomplete": "off"}


def _line(label: str, longest: int, **more: Any) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=longest, required=False, widget=forms.TextInput(attrs=OFF), **more
    )


class PersonForm(forms.Form):
    """One person. `address_fields` are those of the chosen country, in its order."""

    name = _line("Name", 120)
    email = forms.CharField(
        label="E-mail",
        max_length=254,
        required=False,
        help_text="One e-mail address is one person.",
        widget=forms.EmailInput(attrs=OFF),
    )
    kind = forms.ChoiceField(
        label="It is a", choices=Person.Kind.choices, initial=Person.Kind.PERSON, widget=Segmented
    )
    phone = _line("Phone", 40, help_text="For the carrier, where one asks for it.")
    country = forms.ChoiceField(label="Country", required=False)
    company = _line("Company", 120)
    street = forms.CharField(
        label="Street and house",
        max_length=500,
        required=False,
        help_text="One line under another.",
        widget=forms.Textarea(attrs={**OFF, "rows": 2}),
    )
    city_area = _line("Area", 80)
    city = _line("Town or city", 80)
    country_area = _line("Area", 80)
    postcode = _line("Postcode", 20)
    sorting_code = _line("Sorting code", 20)
    avoids_fibres = forms.MultipleChoiceField(
        label="Fibres to avoid", choices=FIBRE_CHOICES, required=False, widget=SegmentedMany
    )
    avoids_families = forms.MultipleChoiceField(
        label="Colours to avoid", choices=FAMILY_CHOICES, required=False, widget=SegmentedMany
    )
    likes_families = forms.MultipleChoiceField(
        label="Colours they like", choices=FAMILY_CHOICES, required=False, widget=SegmentedMany
    )
    doubles = forms.ChoiceField(
        label="Two of one colourway", choices=DOUBLES, required=False, widget=Segmented
    )
    ships_apart = forms.BooleanField(
        label="Each promise in a parcel of its own",
        required=False,
        help_text="Else all that is ready goes together.",
    )
    note = forms.CharField(
        label="Note", max_length=500, required=False, widget=forms.Textarea(attrs={**OFF, "rows": 2})
    )
    came_back = forms.BooleanField(label="They asked to be erased, and came back themselves", required=False)

    def __init__(self, *args: Any, asks_came_back: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        country: forms.ChoiceField = self.fields["country"]  # type: ignore[assignment]
        country.choices = [("", "not said"), *countries()]
        if not asks_came_back and not self.data.get("came_back"):
            del self.fields["came_back"]
        self._as_the_country_writes()

    @property
    def address_fields(self) -> list[forms.BoundField]:
        """The fields of the address, in the country's order."""
        return [self[each.name] for each in fields_of(self.chosen_country)]

    @property
    def chosen_country(self) -> str:
        """The country chosen now, empty where none is."""
        said = self.data.get("country", "") if self.is_bound else self.initial.get("country", "")
        return said if knows_country(said) else ""

    def _as_the_country_writes(self) -> None:
        for each in fields_of(self.chosen_country):
            field = self.fields[each.name]
            field.label = each.label
            if each.example:
                field.help_text = f"For example {each.example}."

    @property
    def facts(self) -> PersonFacts:
        """What was said. Fields that the country does not have are dropped with it."""
        said = {name: value for name, value in self.cleaned_data.items() if name != "came_back"}
        has = {each.name for each in fields_of(self.chosen_country)}
        for name in ("company", "street", "city_area", "city", "country_area", "postcode", "sorting_code"):
            if name not in has and self.chosen_country:
                said[name] = ""
        return PersonFacts(**said)


class EraseForm(forms.Form):
    """Erasing is said twice: a tick, and what becomes of what is still promised."""

    sure = forms.BooleanField(
        label="Erase everything personal for good",
        error_messages={"required": "Tick this to erase. It cannot be taken back."},
    )
    withdraw = forms.BooleanField(
        label="End the memberships and withdraw the boxes that are still promised", required=False
    )
