"""What is asked when a pot becomes a way of dyeing, when a way is corrected, and of a colourway itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from django import forms

from dyehouse.studio.amounts import GramsField, LitresField, ScaledField
from dyehouse.studio.keys import KeyField
from dyehouse.studio.models import Vessel
from recipes.dyeing.scaling import Basis
from recipes.dyeing.units import whole
from recipes.lots.proposing import ProposedRule
from recipes.models import Rule
from recipes.way_words import rule_name
from recipes.ways import RuleDraft

MOST_RATE = Decimal(1_000_000)


def chosen_bases(data: Any, rules: Sequence[ProposedRule]) -> dict[UUID, str]:
    """The basis chosen for each addition, by its entry's key; what is none of the choices is left out."""
    chosen: dict[UUID, str] = {}
    for rule in rules:
        said = data.get(f"basis_{rule.entry.key}", "")
        if rule.is_addition and said in {value for value, _ in rule.choices}:
            chosen[rule.entry.key] = said
    return chosen


class AnswerForm(forms.Form):
    """One thing that was missing, answered there and then."""

    key = KeyField()
    slug = forms.CharField(max_length=20)
    text = forms.CharField(max_length=300, required=False)
    grams = GramsField(required=False, most=100_000_000)
    litres = LitresField(required=False)
    minutes = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=20_000,
        error_messages={
            "invalid": "Write whole minutes, for example 30.",
            "min_value": "Minutes are 0 or more.",
        },
    )
    vessel = forms.ModelChoiceField(Vessel.objects.filter(retired_at__isnull=True), required=False)
    degrees = ScaledField(places=2, least=Decimal(0), most=Decimal(300), required=False)
    clock = forms.RegexField(
        r"^([01]?\d|2[0-3])[:.][0-5]\d$",
        required=False,
        error_messages={"invalid": "Write the clock time as 14:20."},
    )

    def sentences(self) -> list[str]:
        """What is wrong, a sentence each."""
        return [str(error) for errors in self.errors.values() for error in errors]


class CorrectForm(forms.Form):
    """A way as it should be: amounts and bases step by step, steps left out, and why."""

    key = KeyField()
    why = forms.CharField(
        label="Why it departs",
        max_length=300,
        error_messages={"required": "Say why it departs, for example “came out too blue”."},
    )

    def __init__(self, *args: Any, rules: Sequence[Rule], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rules = list(rules)
        for rule in self.rules:
            self.fields[f"keep_{rule.pk}"] = forms.BooleanField(
                label="Keep this step", required=False, initial=True
            )
            if rule.thousandths is not None:
                self.fields[f"rate_{rule.pk}"] = forms.DecimalField(
                    label=f"{rule_name(rule)}: {_rate_words(rule)}",
                    min_value=Decimal(0),
                    max_value=MOST_RATE,
                    initial=_rate(rule),
                    widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
                    localize=False,
                    error_messages={"required": "Write an amount, or leave the step out."},
                )
            if rule.kind == Rule.Kind.TEMPERATURE:
                self.fields[f"degrees_{rule.pk}"] = ScaledField(
                    label="Degrees Celsius",
                    places=2,
                    least=Decimal(0),
                    most=Decimal(300),
                    initial=rule.centi_celsius,
                )

    @property
    def rows(self) -> list[tuple[Rule, forms.BoundField, forms.BoundField | None]]:
        """Each rule with its box to keep it and its amount or degrees."""
        rows = []
        for rule in self.rules:
            name = next((n for n in (f"rate_{rule.pk}", f"degrees_{rule.pk}") if n in self.fields), None)
            rows.append((rule, self[f"keep_{rule.pk}"], self[name] if name else None))
        return rows

    def drafts(self) -> list[RuleDraft]:
        """The steps as they should be."""
        drafts = []
        for rule in self.rules:
            if not self.cleaned_data.get(f"keep_{rule.pk}"):
                continue
            draft = RuleDraft.of(rule)
            rate = self.cleaned_data.get(f"rate_{rule.pk}")
            # What was not touched stays as it is to its last digit.
            if rate is not None and rate != _rate(rule):
                draft = replace(draft, thousandths=whole(Fraction(rate) * _thousandths_a_unit(rule)))
            degrees = self.cleaned_data.get(f"degrees_{rule.pk}")
            if degrees is not None:
                draft = replace(draft, centi_celsius=degrees)
            drafts.append(draft)
        return drafts


def _rate_words(rule: Rule) -> str:
    if rule.basis in (Basis.FIBRE, Basis.READING):
        return "% of dry fibre" if rule.unit == "mg" else "ml on 100 g of dry fibre"
    return f"{'g' if rule.unit == 'mg' else 'ml'} {Basis(rule.basis).words}"


def _thousandths_a_unit(rule: Rule) -> int:
    """Micrograms (nanolitres) a kilogram in one percent (ml on 100 g); a litre, piece or pot in one gram (millilitre)."""
    return 10_000_000 if rule.basis in (Basis.FIBRE, Basis.READING) else 1_000_000


def _rate(rule: Rule) -> Decimal:
    value = Decimal(rule.thousandths or 0) / _thousandths_a_unit(rule)
    return value.quantize(Decimal("0.0001")).normalize() + Decimal(0)


class NameForm(forms.Form):
    """A colourway's name."""

    name = forms.CharField(
        label="Name", max_length=80, required=False, help_text="Empty: it goes by its code."
    )


class SecretForm(forms.Form):
    """Until when a colourway is secret."""

    until = forms.DateField(
        label="Secret until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="Until that day helpers, paper and exports show its code. Empty: it is no secret.",
        error_messages={"invalid": "Choose a day."},
    )
