"""Whose bath is used again, and what is told of the dye in it: grams, or a share of what that pot took."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from dyehouse.studio.amounts import MASS_WORDS, AmountUnclear, read_amount
from dyehouse.studio.models import User
from dyehouse.studio.widgets import Amount
from recipes.dyeing.reuse import share_of_taken_micrograms, usual_fixation
from recipes.dyeing.units import MASS_UNITS, NumberUnclear, format_grams, format_number, parse_decimal, whole
from recipes.lots.baths import UsedBath
from recipes.lots.beside import BathBefore
from recipes.lots.load_forms import BesideForm
from recipes.lots.models import Pot
from recipes.models import Dye

MICROGRAMS_IN_GRAM = 1_000_000


class BathForm(BesideForm):
    """Whose bath a pot in work was filled with. The one that was told before stays among the choices."""

    def __init__(
        self,
        *args: Any,
        pot: Pot,
        baths: Sequence[UsedBath],
        now: UsedBath | None,
        user: User,
        **kwargs: Any,
    ) -> None:
        if now is not None and now.pot.pk not in {bath.pot.pk for bath in baths}:
            baths = [now, *baths]
        kwargs.setdefault("initial", {})
        if now is not None:
            litres = now.microlitres // 1000 if now.microlitres else None
            kwargs["initial"] = {"bath_from": now.pot.code, "bath_litres": litres, **kwargs["initial"]}
        super().__init__(*args, baths=baths, user=user, **kwargs)
        del self.fields["strip"]


class LeftField(forms.Field):
    """How much of a dye is left: grams, or % of what the pot before took; cleaned to whole micrograms, None when not told."""

    def __init__(self, *, dye: Dye, took: Any, **kwargs: Any) -> None:
        super().__init__(label=dye.name, required=False, widget=Amount(), **kwargs)
        self.took = took
        usual = usual_fixation(dye.dye_class)
        self.help_text = f"That pot took {format_grams(took)}. Grams, or % of it; 0 for none."
        if usual is not None:
            self.help_text += f" {usual.sentence(took)} {usual.source}."

    def to_python(self, value: Any) -> int | None:
        typed = str(value or "").strip()
        if not typed:
            return None
        if typed.endswith("%"):
            return self._share(typed[:-1])
        try:
            grams = read_amount(typed, words=MASS_WORDS, sizes=MASS_UNITS, plain="g", example="0.2 g or 10 %")
        except AmountUnclear as unclear:
            raise forms.ValidationError(str(unclear)) from None
        micrograms = whole(grams / MASS_UNITS["g"] * MICROGRAMS_IN_GRAM)
        if micrograms < 0:
            raise forms.ValidationError("An amount of dye cannot be below zero.")
        return micrograms

    def _share(self, typed: str) -> int:
        try:
            percent = parse_decimal(typed.strip())
        except NumberUnclear as unclear:
            raise forms.ValidationError(str(unclear)) from None
        if not 0 <= percent <= 100:
            raise forms.ValidationError("A share of what that pot took lies between 0 and 100 %.")
        return share_of_taken_micrograms(taken_milligrams=self.took, percent=percent)


class LeftForm(forms.Form):
    """One field for each dye that the pot before took; an empty one leaves it unknown, or as it was told before."""

    def __init__(self, *args: Any, before: BathBefore, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.before = before
        told = {left.dye_id: left.micrograms for left in before.told}
        for dye, took in before.took.items():
            field = LeftField(dye=dye, took=took)
            if dye.pk in told:
                field.initial = f"{format_number(Decimal(told[dye.pk]) / MICROGRAMS_IN_GRAM, 6)} g"
            self.fields[f"left_{dye.pk}"] = field

    @property
    def left(self) -> list[tuple[Dye, int]]:
        """Micrograms by dye, of what was told."""
        told = [(dye, self.cleaned_data[f"left_{dye.pk}"]) for dye in self.before.took]
        return [(dye, micrograms) for dye, micrograms in told if micrograms is not None]
