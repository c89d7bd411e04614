"""What is asked about costs: invoices, what is usual, what a pot took, prices, and which day a year ends on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.utils import timezone

from dyehouse.studio.keys import KeyField
from dyehouse.studio.money import MoneyField
from dyehouse.studio.regions import currency_choices
from dyehouse.studio.widgets import Amount
from inventory.costing.usual import SECONDS, USUAL
from recipes.dyeing.units import NumberUnclear, format_number, parse_decimal, whole
from recipes.models import Colourway

LONGEST_MINUTES = 24 * 60
STAGE_LABELS = {
    "load_seconds": "Load",
    "dye_seconds": "Dye",
    "rinse_seconds": "Rinse",
    "twist_seconds": "Twist",
    "label_seconds": "Label",
    "photograph_seconds": "Photograph",
}


class MinutesField(forms.Field):
    """Minutes as people type them (1.5 is a minute and a half), cleaned to whole seconds; None when left empty."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"required": False, "widget": Amount("min"), **kwargs})

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or not str(value).strip():
            return None
        try:
            minutes = parse_decimal(str(value).strip().removesuffix("min").strip())
        except NumberUnclear as unclear:
            raise forms.ValidationError(str(unclear)) from None
        if not 0 <= minutes <= LONGEST_MINUTES:
            raise forms.ValidationError("Minutes are from 0 to 1440, which is a whole day.")
        return whole(minutes * 60)

    def prepare_value(self, value: Any) -> Any:
        return format_number(Fraction(value, 60), 2) if isinstance(value, int) else value


def _day(label: str, **kwargs: Any) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": "Choose a day.",
            "invalid": "Write the day as year, month and day, for example 2026-03-14.",
        },
        **kwargs,
    )


class PaidForm(forms.Form):
    """An invoice: goods, freight, and the day's rate where it is in another money."""

    key = KeyField()
    goods = MoneyField(
        label="Goods, all of it together", help_text="Without freight, as the invoice says it."
    )
    freight = MoneyField(label="Its share of the freight", required=False)
    currency = forms.ChoiceField(label="Currency of the invoice")
    rate = forms.DecimalField(
        label="Rate of the day",
        required=False,
        min_value=Decimal("0.000000001"),
        max_value=Decimal(100_000_000),
        max_digits=18,
        decimal_places=9,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        error_messages={
            "invalid": "Write the rate as a number, for example 0.8612.",
            "min_value": "The rate is more than nothing.",
            "max_decimal_places": "Write the rate with at most 9 decimals.",
        },
    )
    note = forms.CharField(
        label="Note", max_length=200, required=False, help_text="The invoice's number, for example."
    )

    def __init__(self, *args: Any, own: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = currency_choices()
        if own not in dict(choices):
            choices = [(own, own), *choices]
        currency = self.fields["currency"]
        assert isinstance(currency, forms.ChoiceField)
        currency.choices = choices
        currency.initial = own
        self.fields[
            "rate"
        ].help_text = f"Only for another money than {own}: how much {own} one of it was worth that day. It is kept, never looked up."
        chosen = (self.data.get("currency") if self.is_bound else self.initial.get("currency")) or own
        for name in ("goods", "freight"):
            field = self.fields[name]
            assert isinstance(field, MoneyField)
            field.currency = chosen if chosen in dict(choices) else own


class UsualForm(forms.Form):
    """What work and small things usually cost, from a day on."""

    key = KeyField()
    from_day = _day("From", initial=timezone.localdate)
    wage_minor = MoneyField(
        label="Wage for an hour", required=False, help_text="What an hour of your own work is worth."
    )
    energy_minor = MoneyField(
        label="Energy for a pot", required=False, help_text="Electricity or gas, and water."
    )
    load_seconds = MinutesField(label="Load a pot")
    dye_seconds = MinutesField(label="Dye a pot", help_text="Minutes at the pot, not the time it stands.")
    rinse_seconds = MinutesField(label="Rinse a pot")
    twist_seconds = MinutesField(label="Twist a piece")
    label_seconds = MinutesField(label="Label a piece")
    photograph_seconds = MinutesField(label="Photograph a piece")
    label_minor = MoneyField(label="Label of a piece", required=False)
    kit_seconds = MinutesField(label="Put a kit together")
    kit_minor = MoneyField(label="Wrapping and label of a kit", required=False)
    second_percent = forms.IntegerField(
        label="A second should bring, % of the retail price",
        required=False,
        min_value=0,
        max_value=100,
        widget=Amount("%"),
        help_text="Seconds are valued at this where it is below their cost.",
        error_messages={
            "invalid": "Write a whole number from 0 to 100.",
            "min_value": "A share is from 0 to 100 %%.",
            "max_value": "A second brings at most its full price, 100 %%.",
        },
    )

    pot_fields = ("load_seconds", "dye_seconds", "rinse_seconds", "energy_minor")
    piece_fields = ("twist_seconds", "label_seconds", "photograph_seconds", "label_minor")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, MoneyField):
                field.currency = currency

    @property
    def figures(self) -> dict[str, int | None]:
        """What was said, by the names of what is usual."""
        return {name: self.cleaned_data.get(name) for name in USUAL}


class PotCostsForm(forms.Form):
    """What one pot really took, all its pieces together."""

    key = KeyField()
    energy_minor = MoneyField(label="Energy for this pot", required=False)

    def __init__(self, *args: Any, currency: str, usual: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        energy = self.fields["energy_minor"]
        assert isinstance(energy, MoneyField)
        energy.currency = currency
        energy.help_text = usual.get("energy_minor", "")
        for name in SECONDS:
            self.fields[name] = MinutesField(label=STAGE_LABELS[name], help_text=usual.get(name, ""))

    @property
    def figures(self) -> dict[str, int | None]:
        return {name: self.cleaned_data.get(name) for name in (*SECONDS, "energy_minor")}


class PriceForm(forms.Form):
    """What is asked from a day on; for all colourways, or one of them its own."""

    key = KeyField()
    minor = MoneyField(
        label="Price of a piece", required=False, help_text="Empty: from that day on there is none."
    )
    from_day = _day("From", initial=timezone.localdate)

    def __init__(
        self, *args: Any, currency: str, colourways: Sequence[Colourway] | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        minor = self.fields["minor"]
        assert isinstance(minor, MoneyField)
        minor.currency = currency
        self.by_pk = {str(each.pk): each for each in colourways or ()}
        if colourways:
            self.fields["colourway"] = forms.ChoiceField(
                label="For",
                required=False,
                choices=[("", "All colourways"), *((pk, str(each)) for pk, each in self.by_pk.items())],
            )

    @property
    def colourway(self) -> Colourway | None:
        return self.by_pk.get(self.cleaned_data.get("colourway") or "")


class DayForm(forms.Form):
    """A day to look at."""

    on = _day("As of the end of", required=False)


class CloseForm(forms.Form):
    """The last day of the year that is closed."""

    key = KeyField()
    ends_on = _day("Last day of the year")
    note = forms.CharField(label="Note", max_length=300, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ends_on"].initial = dt.date(timezone.localdate().year - 1, 12, 31)
