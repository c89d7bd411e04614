"""The form for a mix: its volume, and a row for each jar or bottle that goes into it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.utils import timezone

from dyehouse.studio.amounts import AmountField, GramsField, MillilitresField
from dyehouse.studio.keys import KeyField
from recipes.dyeing.units import format_grams, format_millilitres
from recipes.mixes import Part
from recipes.models import Jar, StockBottle
from recipes.queries import bottles_in_store, dyes_in_store
from recipes.stock_forms import MOST_MICROLITRES
from recipes.way_words import strength_words

MOST_MILLIGRAMS = 10_000_000
ROWS_AT_FIRST = 3
MOST_ROWS = 24

Choices = list[tuple[str, str] | tuple[str, list[tuple[str, str]]]]


@dataclass(frozen=True, slots=True)
class OnTheBench:
    """The open jars and bottles that a part can come from, by the name that the form sends: jar-3, bottle-7."""

    jars: dict[str, tuple[Jar, int]]
    bottles: dict[str, tuple[StockBottle, int]]
    choices: Choices

    @classmethod
    def now(cls) -> OnTheBench:
        """What stands open, by dye; jars before bottles. Three queries."""
        jars: dict[str, tuple[Jar, int]] = {}
        bottles: dict[str, tuple[StockBottle, int]] = {}
        by_dye: dict[str, list[tuple[str, str]]] = {}
        for there in dyes_in_store():
            for one in there.jars:
                slug = f"jar-{one.jar.pk}"
                jars[slug] = (one.jar, one.milligrams)
                words = f"{there.dye.name}, {one.jar.label}, in g: {format_grams(one.milligrams)} left"
                by_dye.setdefault(there.dye.name, []).append((slug, words))
        for stock in bottles_in_store():
            slug = f"bottle-{stock.bottle.pk}"
            bottles[slug] = (stock.bottle, stock.microlitres)
            strength = strength_words(stock.bottle.strength_mg_per_litre)
            words = f"{stock.bottle.dye.name} {strength}, in ml: {format_millilitres(stock.microlitres)} left"
            by_dye.setdefault(stock.bottle.dye.name, []).append((slug, words))
        choices: Choices = [("", "Choose a jar or a bottle"), *by_dye.items()]
        return cls(jars, bottles, choices)


class MixForm(forms.Form):
    """The finished mix: how much, what it is called, when it was made."""

    key = KeyField()
    microlitres = MillilitresField(
        label="Finished mix",
        most=MOST_MICROLITRES,
        help_text="All dyes in it and filled up with water, for example 1 l.",
        required_words="Write how many millilitres the finished mix has.",
    )
    name = forms.CharField(
        label="What you call it",
        max_length=60,
        required=False,
        help_text="For the pot line, for example evening: “50 ml of jug evening”. It may stay empty: it has a code.",
    )
    made_on = forms.DateField(
        label="Made on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "invalid": "Write the day like 2026-03-14.",
            "required": "Write the day on which it was made.",
        },
    )
    best_before = forms.DateField(
        label="Best before",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Write the day like 2026-03-14."},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["made_on"].initial = timezone.localdate

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        made_on, best = said.get("made_on"), said.get("best_before")
        if made_on and made_on > timezone.localdate():
            self.add_error("made_on", "This day is still to come. Write the day on which it was made.")
        elif made_on and best and best < made_on:
            self.add_error("best_before", "This is before the day on which it was made.")
        return said

    @property
    def volume_microlitres(self) -> int | None:
        """The volume so far."""
        return self.cleaned_data.get("microlitres") if self.is_bound else None

    @property
    def day_made(self) -> dt.date:
        """The day so far; today while none is written."""
        written = self.cleaned_data.get("made_on") if self.is_bound else None
        return written or timezone.localdate()

    @property
    def made_at(self) -> dt.datetime:
        """Now when made today, else noon of its day."""
        day = self.cleaned_data["made_on"]
        if day == timezone.localdate():
            return timezone.now()
        return timezone.make_aware(dt.datetime.combine(day, dt.time(12)))


class PartForm(forms.Form):
    """One jar or bottle and how much of it: grams of powder, millilitres of stock."""

    of = forms.ChoiceField(
        label="Jar or bottle",
        error_messages={
            "required": "Choose the jar or bottle that this came from.",
            "invalid_choice": "That one is finished or gone. Choose another jar or bottle.",
        },
    )
    amount = forms.CharField(
        label="Grams or millilitres",
        max_length=30,
        error_messages={"required": "Write how much of it went in."},
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )

    def __init__(self, *args: Any, bench: OnTheBench, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bench = bench
        self.stored: int | None = None
        field = self.fields["of"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = bench.choices

    def clean(self) -> dict[str, Any]:
        of, typed = self.cleaned_data.get("of"), self.cleaned_data.get("amount")
        if of and typed:
            field: AmountField = (
                GramsField(most=MOST_MILLIGRAMS)
                if of in self.bench.jars
                else MillilitresField(most=MOST_MICROLITRES)
            )
            try:
                self.stored = field.clean(typed)
            except forms.ValidationError as wrong:
                self.add_error("amount", wrong)
        return self.cleaned_data

    @property
    def part(self) -> Part | None:
        """The part as far as it is written; None for an empty row or a wrong one."""
        if not self.is_bound or self.stored is None:
            return None
        of = self.cleaned_data.get("of", "")
        if of in self.bench.jars:
            return Part(jar=self.bench.jars[of][0], milligrams=self.stored)
        return Part(bottle=self.bench.bottles[of][0], microlitres=self.stored)

    @property
    def short_of(self) -> tuple[Part, int] | None:
        """The part, with what the book says is there, where it takes more than that."""
        part = self.part
        if part is None:
            return None
        of = self.cleaned_data["of"]
        left = self.bench.jars[of][1] if part.jar is not None else self.bench.bottles[of][1]
        return (part, left) if self.stored is not None and self.stored > left else None


class PartsOfMix(BaseFormSet[PartForm]):
    """The rows; empty ones are passed over."""

    @property
    def parts(self) -> list[Part]:
        """What is written so far, row by row."""
        return [form.part for form in self.forms if form.part is not None]


PartRows = cast(
    type[PartsOfMix],
    formset_factory(PartForm, formset=PartsOfMix, extra=ROWS_AT_FIRST, max_num=MOST_ROWS, validate_max=True),
)
