"""Money as people type and read it. Amounts are whole numbers of a currency's smallest unit (cents), with its three letters."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from dyehouse.studio.widgets import Amount
from recipes.dyeing.units import NumberUnclear, parse_decimal, whole

# Currencies that are not counted in hundredths (ISO 4217, from memory); all others have two places.
PLACES: dict[str, int] = {
    **dict.fromkeys(("CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}
#: Ten thousand million: far above any price here, far below what the database holds.
LARGEST_MINOR = 10**12


def places_of(currency: str) -> int:
    """How many decimals a currency has: 2 for most, 0 for yen."""
    return PLACES.get(currency, 2)


def format_money(minor: int, currency: str) -> str:
    """An amount with its currency: 12.50 EUR, −3.00 EUR, 1200 JPY."""
    places = places_of(currency)
    text = f"{Decimal(abs(minor)).scaleb(-places):.{places}f}"
    return f"{'−' if minor < 0 else ''}{text} {currency}"


def in_currency(minor: int, *, of: str, to: str, rate: Fraction) -> int:
    """An amount in another currency, to its nearest smallest unit. `rate` is how many of `to` one of `of` is worth."""
    return whole(Fraction(minor) * rate * Fraction(10) ** (places_of(to) - places_of(of)))


class MoneyField(forms.Field):
    """Money typed with a comma or a point, cleaned to whole smallest units of its currency; None when left empty.

    Set `currency` in the form's `__init__` where it is known only then.
    """

    def __init__(
        self,
        *,
        currency: str = "EUR",
        least_minor: int = 0,
        required_words: str = "Write an amount of money, for example 12.50.",
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("widget", Amount(currency))
        super().__init__(**kwargs)
        self.least_minor = least_minor
        self.currency = currency
        self.error_messages["required"] = required_words

    @property
    def currency(self) -> str:
        """The three letters of what the amount is in."""
        return self._currency

    @currency.setter
    def currency(self, letters: str) -> None:
        self._currency = letters
        if isinstance(self.widget, Amount):
            self.widget.unit = letters

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or not str(value).strip():
            return None
        typed = str(value).strip()
        if typed.upper().endswith(self.currency):
            typed = typed[: -len(self.currency)]
        try:
            number = parse_decimal(typed)
        except NumberUnclear as unclear:
            raise forms.ValidationError(str(unclear)) from None
        minor = number.scaleb(places_of(self.currency))
        if minor != minor.to_integral_value():
            places = places_of(self.currency)
            raise forms.ValidationError(
                f"{self.currency} has {places} decimals. Write the amount without more."
                if places
                else f"{self.currency} has no decimals. Write a whole number."
            )
        if minor < self.least_minor:
            raise forms.ValidationError(
                f"This must be at least {format_money(self.least_minor, self.currency)}."
            )
        if minor > LARGEST_MINOR:
            raise forms.ValidationError("This is more money than a yarn order costs. Check the number.")
        return int(minor)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            places = places_of(self.currency)
            return f"{Decimal(value).scaleb(-places):.{places}f}"
        return value
