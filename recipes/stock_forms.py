"""The form for a bottle of stock solution."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.studio.amounts import MillilitresField, ScaledField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.widgets import Segmented
from recipes.dyeing.stock_life import best_before
from recipes.dyeing.units import format_grams
from recipes.models import Dye, Jar
from recipes.queries import JarInStore, dyes_in_store

MOST_MICROLITRES = 50_000_000
OTHER = "other"
# By milligrams a litre: a stock of 1 % w/v has 10,000.
STRENGTHS = (
    ("1000", "0.1 %"),
    ("5000", "0.5 %"),
    ("10000", "1 %"),
    ("20000", "2 %"),
    ("50000", "5 %"),
    (OTHER, "another"),
)
USUAL = frozenset(strength for strength, _ in STRENGTHS if strength != OTHER)
STRONGEST = 500_000
NO_JAR = "dye-"
MADE, BEFORE = "now", "before"


def asked_for(*, jar: str, strength_mg_per_litre: str) -> dict[str, Any]:
    """What an address that leads to the form fills in: a jar, and a strength, also one that is not among the usual ones."""
    asked: dict[str, Any] = {"jar": jar} if jar else {}
    if strength_mg_per_litre in USUAL:
        asked["strength"] = strength_mg_per_litre
    elif strength_mg_per_litre.isdecimal() and 1 <= int(strength_mg_per_litre[:9]) <= STRONGEST:
        asked |= {"strength": OTHER, "other_strength": int(strength_mg_per_litre[:9])}
    return asked


class StockForm(forms.Form):
    """Which powder, how strong, how much. The jar says the dye."""

    key = KeyField()
    jar = forms.ChoiceField(
        label="Powder from",
        error_messages={
            "required": "Choose the jar that the powder comes from.",
            "invalid_choice": "That jar is finished or gone. Choose another one.",
        },
    )
    strength = forms.ChoiceField(label="Strength, w/v", choices=STRENGTHS, initial="10000", widget=Segmented)
    other_strength = ScaledField(
        label="Another strength",
        places=4,
        least=Decimal("0.0001"),
        most=Decimal(50),
        unit="%",
        required=False,
        help_text="Grams of dye in 100 ml of finished stock.",
    )
    microlitres = MillilitresField(
        label="Finished stock",
        most=MOST_MICROLITRES,
        initial=500_000,
        required_words="Write how many millilitres the finished stock has.",
    )
    came = forms.ChoiceField(
        label="Since when",
        choices=((MADE, "Made now or lately"), (BEFORE, "Was there before the house")),
        initial=MADE,
        widget=Segmented,
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
    fridge = forms.BooleanField(
        label="Kept in the fridge",
        required=False,
        help_text="A stock of cold reactive dye keeps there for weeks instead of days.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["made_on"].initial = timezone.localdate
        self.dyes: dict[int, Dye] = {}
        self.jars: dict[int, JarInStore] = {}
        choices: list[tuple[str, str] | tuple[str, list[tuple[str, str]]]] = [("", "Choose a jar")]
        for there in dyes_in_store():
            dye = there.dye
            self.dyes[dye.pk] = dye
            self.jars |= {one.jar.pk: one for one in there.jars}
            of_it = [
                (str(one.jar.pk), f"{dye.name}, {one.jar.label}: {format_grams(one.milligrams)} left")
                for one in there.jars
            ]
            choices.append((dye.name, [*of_it, (f"{NO_JAR}{dye.pk}", f"{dye.name}, no jar known")]))
        field = self.fields["jar"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if (
            said.get("strength") == OTHER
            and said.get("other_strength") is None
            and "other_strength" not in self.errors
        ):
            self.add_error("other_strength", "Write the strength in percent, for example 1.5.")
        made_on, best = said.get("made_on"), said.get("best_before")
        if made_on and made_on > timezone.localdate():
            self.add_error("made_on", "This day is still to come. Write the day on which it was made.")
        elif made_on and best and best < made_on:
            self.add_error("best_before", "This is before the day on which it was made.")
        jar = said.get("jar", "")
        if jar.startswith(NO_JAR) and said.get("came") == MADE:
            self.add_error(
                "jar",
                "Choose the jar that the powder comes from; only stock from before the house may have none.",
            )
        return said

    @property
    def dye(self) -> Dye | None:
        """The dye that is chosen, also while the rest is still being filled in."""
        chosen = str(self["jar"].value() or "")
        if chosen.startswith(NO_JAR):
            return next((dye for pk, dye in self.dyes.items() if f"{NO_JAR}{pk}" == chosen), None)
        return None if self.in_jar is None else self.in_jar.jar.dye

    @property
    def in_jar(self) -> JarInStore | None:
        """The jar that is chosen with what is in it, also while the rest is still being filled in."""
        chosen = str(self["jar"].value() or "")
        return next((one for pk, one in self.jars.items() if str(pk) == chosen), None)

    @property
    def chosen_jar(self) -> Jar | None:
        """The jar of a valid form, where one is known."""
        return None if self.in_jar is None else self.in_jar.jar

    @property
    def chosen_dye(self) -> Dye:
        """The dye of a valid form."""
        dye = self.dye
        assert dye is not None
        return dye

    @property
    def strength_mg_per_litre(self) -> int | None:
        """The strength so far, in mg per litre."""
        chosen = self.cleaned_data.get("strength", "") if self.is_bound else self["strength"].value()
        if chosen == OTHER:
            # Four decimals of a percent are milligrams a litre.
            return (
                self.cleaned_data.get("other_strength") if self.is_bound else self["other_strength"].initial
            )
        return int(chosen) if chosen else None

    @property
    def chosen_strength(self) -> int:
        """The strength of a valid form, in mg per litre."""
        strength = self.strength_mg_per_litre
        assert strength is not None
        return strength

    @property
    def volume_microlitres(self) -> int | None:
        """The volume so far."""
        return self.cleaned_data.get("microlitres") if self.is_bound else self.fields["microlitres"].initial

    @property
    def day_made(self) -> dt.date:
        """The day so far; today while none is written."""
        written = self.cleaned_data.get("made_on") if self.is_bound else None
        return written or timezone.localdate()

    @property
    def in_fridge(self) -> bool:
        """Whether it is kept in the fridge, so far."""
        return bool(self.is_bound and self.cleaned_data.get("fridge"))

    @property
    def made_at(self) -> dt.datetime:
        """Now when made today, else noon of its day."""
        day = self.cleaned_data["made_on"]
        if day == timezone.localdate():
            return timezone.now()
        return timezone.make_aware(dt.datetime.combine(day, dt.time(12)))

    @property
    def best_before_day(self) -> dt.date | None:
        """What was written; else the published day for this class, where there is one."""
        written = self.cleaned_data["best_before"]
        if written is not None or self.dye is None:
            return written
        return best_before(self.dye.dye_class, self.cleaned_data["made_on"], in_fridge=self.in_fridge)
